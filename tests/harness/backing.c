#include "backing.h"

#include "low_cut.h"
#include "units.h"

#include <math.h>
#include <string.h>

/* Common practice, from memory; the figures are ours.
 *
 * A backing is to be felt behind the lead and not heard beside it: some 6 to 10 dB under. What lies low adds up with
 * every voice and covers the lead's warmth: the low cut goes up by half an octave or so, but not to where a voice gets
 * thin. Esses are never sung quite together, so a stack of them smears: they are caught earlier. And what has more
 * ambience stands further back. */
#define LEVEL_UNDER     8.0 /* LU */
#define LOW_CUT_TIMES   1.5
#define LOW_CUT_HIGHEST 200.0 /* Hz */
#define CAUGHT_EARLIER  3.0   /* dB */
#define MORE_AMBIENCE   3.0   /* dB */

#define ONE_SPEAKER 3.0103 /* dB that a mono file reads under the same sound on both speakers */

/* ---- The lead's ---- */

/* What a control of a stage stood at; NaN: the stage has none. */
static double value_of(const StageResult *s, const char *symbol)
{
    const Port *port;
    const Reading *reading = readings_of(&s->effect[0].readings, symbol, &port);
    return reading ? (double)reading->last : NAN;
}

/* Hz; NaN: this stage has no low cut for a voice, or it is off. */
static double low_cut_of(const StageResult *s)
{
    const double by = value_of(s, "low_cut_set_by"), found = value_of(s, "found_low_cut");
    if (isnan(by) || value_of(s, "low_cut_slope") <= 0.0)
        return NAN;
    if (by <= 0.0)
        return value_of(s, "low_cut");
    return found > 0.0 ? found : LOW_CUT_UNKNOWN;
}

/* ---- Settings ---- */

static void add_set(Backing *b, const char *stage, const char *symbol, double value)
{
    Setting *s = &b->set[b->sets];
    snprintf(b->value[b->sets], sizeof *b->value, "%.1f", value);
    snprintf(s->plugin, sizeof s->plugin, "%s", stage);
    snprintf(s->symbol, sizeof s->symbol, "%s", symbol);
    s->value = b->value[b->sets++];
}

/* Within the control's range. */
static void move(Backing *b, BackingMove *m, const StageResult *s, const char *symbol, double lead, double here)
{
    const Port *port = plugin_port(s->effect[0].readings.plugin, symbol);
    *m = (BackingMove){s->name, lead, dsp_clamp(here, (double)port->min, (double)port->max)};
    add_set(b, s->name, symbol, m->here);
}

static void follow_stage(Backing *b, const StageResult *s)
{
    const double low_cut = low_cut_of(s), catch = value_of(s, "catch_above"), wet = value_of(s, "wet");
    if (!isnan(low_cut) && !b->low_cut.stage) {
        const double higher = fmin(LOW_CUT_TIMES * low_cut, fmax(LOW_CUT_HIGHEST, low_cut));
        move(b, &b->low_cut, s, "low_cut", low_cut, rint(higher));
        add_set(b, s->name, "low_cut_set_by", 0.0);
    }
    if (!isnan(catch) && !b->sibilance.stage)
        move(b, &b->sibilance, s, "catch_above", catch, catch - CAUGHT_EARLIER);
    if (!isnan(wet) && !b->ambience.stage)
        move(b, &b->ambience, s, "wet", wet, wet + MORE_AMBIENCE);
}

void backing_settle(Backing *b, const Take *lead, const StageResult *result, uint32_t stages)
{
    const double loudness = result[stages - 1].effect[0].out.loudness;
    *b = (Backing){.lead = lead->name, .loudness = LOUDNESS_LOW};
    if (loudness > LOUDNESS_LOW)
        b->loudness = loudness + lead->delivered[0].gain;
    for (uint32_t s = 0; s < stages; ++s)
        if (!report_bypassed(&result[s].effect[0].readings))
            follow_stage(b, &result[s]);
}

Delivery backing_delivery(const Backing *b, uint32_t channels, double peak)
{
    return (Delivery){.by_loudness = b->loudness > LOUDNESS_LOW,
                      .loudness = b->loudness - LEVEL_UNDER - (channels == 1 ? ONE_SPEAKER : 0.0),
                      .peak = peak};
}

/* ---- In words ---- */

static void print_level(const Backing *b, const Take *t, FILE *to)
{
    const Delivered *got = &t->delivered[0];
    const double here = got->loudness + (t->written == 1 ? ONE_SPEAKER : 0.0);
    if (b->loudness <= LOUDNESS_LOW)
        fputs("  level      as it comes: the lead has no loudness\n", to);
    else if (got->loudness <= LOUDNESS_LOW)
        fputs("  level      as it comes: too quiet or too short for one\n", to);
    else
        fprintf(to, "  level      %.1f LU under it: %.1f LUFS, the lead's %.1f, mono counted as on both speakers\n",
                b->loudness - here, here, b->loudness);
}

/* Where nothing moves, that is told here. */
static bool is_moved(const BackingMove *m, const char *what, const char *none, FILE *to)
{
    const bool moved = m->stage && m->here != m->lead;
    if (!moved)
        fprintf(to, "  %-9s  %s\n", what, m->stage ? "the lead's: it goes no further" : none);
    return moved;
}

void backing_print(const Backing *b, const Take *take, FILE *to)
{
    const BackingMove *low = &b->low_cut, *esses = &b->sibilance, *wet = &b->ambience;
    fprintf(to, "\nunder the lead, %s\n", b->lead);
    print_level(b, take, to);
    if (is_moved(low, "low cut", "no stage has one", to))
        fprintf(to, "  low cut    higher: %.0f Hz, the lead's %.0f Hz; low sound of many voices adds up\n", low->here,
                low->lead);
    if (is_moved(esses, "sibilance", "no stage catches it", to))
        fprintf(to,
                "  sibilance  caught earlier: from %+.1f dB over this voice's usual range on, the lead's %+.1f dB\n",
                esses->here, esses->lead);
    if (is_moved(wet, "ambience", "no stage makes any", to))
        fprintf(to, "  ambience   more, to stand further back: %.1f dB, the lead's %.1f dB\n", wet->here, wet->lead);
}
