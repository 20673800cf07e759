#include "next.h"

#include "advice.h"
#include "facts.h"
#include "fill.h"
#include "names.h"
#include "repair.h"

#include <math.h>
#include <string.h>

#define RUMBLE          3.0     /* dB of level that is worth a word */
#define LEAST_WET       (-40.0) /* dB: a Plate that is hardly heard */
#define LEAST_REDUCTION 1.0     /* dB: hardly any compression */

static NextStep *add(Next *n, const char *what)
{
    NextStep *s = &n->step[n->steps++];
    snprintf(s->what, sizeof s->what, "%s", what);
    s->command[0] = '\0';
    return s;
}

/* ---- At the source ---- */

static void add_sources(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what];
    const Advice *worst = advice_at(r->check, 0), *next = advice_at(r->check, 1);
    if (!worst)
        return;
    snprintf(text, sizeof text,
             "At the source: %s Record it again, then type the same for the new take:", worst->source);
    retype(add(n, text)->command, o, (Change){.replace = true});
    if (!next)
        return;
    snprintf(text, sizeof text, "At the source too: %s%s What to do about each fault, in full:", next->source,
             advice_at(r->check, 2) ? " And there are more faults." : "");
    retype_advise(add(n, text)->command, o);
}

static void add_opposite(Next *n, const Report *r, const Options *o)
{
    bool opposite = false;
    for (uint32_t t = 0; t < r->takes; ++t)
        opposite |= r->take[t].opposite;
    if (opposite)
        retype(
            add(n, "The channels cancel each other: turn the polarity of one of them over, then type the same again:")
                ->command,
            o, (Change){.replace = true});
}

static void add_lone(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what];
    uint32_t t = 0;
    while (t < r->takes && !r->take[t].lone)
        ++t;
    if (t == r->takes)
        return;
    snprintf(text, sizeof text,
             "Only the %s channel of %s sounds: export it as a mono file, then type the same for that:",
             take_side(&r->take[t]), r->take[t].name);
    retype(add(n, text)->command, o, (Change){.replace = true});
}

static void add_late(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what];
    uint32_t t = 0;
    while (t < r->takes && r->take[t].late == 0.0)
        ++t;
    if (t == r->takes)
        return;
    snprintf(text, sizeof text,
             "The %s channel of %s is late by %.1f ms: move it earlier by so much, or export the other one as a mono "
             "file, then type the same for that:",
             take_late_side(&r->take[t]), r->take[t].name, fabs(r->take[t].late));
    retype(add(n, text)->command, o, (Change){.replace = true});
}

/* A louder end is more often the last chorus than talk: the table tells of it, and nothing has to be done. */
static void add_two_levels(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what], at[32];
    uint32_t t = 0;
    while (t < r->takes && !r->take[t].two_levels.before)
        ++t;
    if (t == r->takes)
        return;
    fill_time(r->take[t].two_levels.at, at, sizeof at);
    snprintf(text, sizeof text,
             "%s is louder up to %s, and so the rest lies lower than it should. If that is talk, export the take "
             "without it; or, in your host, learn without it and then hold. Then type the same for that:",
             r->take[t].name, at);
    retype(add(n, text)->command, o, (Change){.replace = true});
}

static void add_voiceless(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what];
    snprintf(text, sizeof text, "%s Then type the same again:", advice_voiceless(r->check));
    retype(add(n, text)->command, o, (Change){.replace = true});
}

/* ---- In the chain ---- */

static float value_of(const StageResult *s, const char *symbol)
{
    const Port *port;
    const Reading *reading = s ? readings_of(&s->effect[0].readings, symbol, &port) : NULL;
    return reading ? reading->last : NAN;
}

/* One control by so much less, to whole steps, but no lower than `least`: less would be none, or hardly any. false:
 * there is no such stage, or it goes no lower. */
static bool turn_down(Next *n, const Report *r, const Options *o, const char *stage, const char *symbol, double by,
                      double least, const char *why)
{
    char set[128];
    const StageResult *s = facts_stage(r, stage, NULL);
    const Port *port = s ? plugin_port(s->effect[0].readings.plugin, symbol) : NULL;
    const double now = (double)value_of(s, symbol), value = fmax(ceil(now - by), least);
    if (!port || isnan(now) || value >= now || value < (double)port->min)
        return false;
    snprintf(set, sizeof set, "%s.%s=%.0f", stage, symbol, value);
    retype(add(n, why)->command, o, (Change){.replace = true, .set = set});
    return true;
}

/* dB over full scale, of the loudest mix; 0 or less: none is. */
static double over_full_scale(const Report *r)
{
    double over = 0.0;
    for (uint32_t t = 0; t < r->takes; ++t)
        if (r->take[t].over[0] + r->take[t].over[1])
            over = fmax(over, fmax(r->stage[r->stages - 1].effect[t].out.peak, r->take[t].delivered[0].true_peak));
    return over;
}

static bool is_fault(const Report *r, const char *port)
{
    return fill_holds(&(Said){.readings = r->check}, port);
}

static void keep_it(Next *n, const Report *r, const Options *o)
{
    char name[64];
    const char *from = name_base(r->take[0].name);
    if (o->preset || (o->ins > 1 && !o->together))
        return;
    snprintf(name, sizeof name, "%.*s", (int)name_stem(from), from);
    NextStep *s = add(n, "Keep what was learned, as presets for your host:");
    retype(s->command, o, (Change){.replace = true, .preset = *name && *name != '-' ? name : "kept"});
}

/* Some repair that Check asks for is there, and not in the chain. */
static bool could_repair(const Report *r, const Options *o)
{
    for (uint32_t i = 0; i < REPAIRS && !o->repairs && !o->repair_none; ++i)
        if (!options_has_stage(o, repairs[i].plugin) && repair_asked(&repairs[i], r->plan, r->check))
            return true;
    return false;
}

static void add_chain(Next *n, const Report *r, const Options *o)
{
    const double over = over_full_scale(r);
    if (over > 0.0 &&
        turn_down(n, r, o, "trim", "target", ceil(over + 1.0), -HUGE_VAL, "The mix is over full scale; lower:"))
        return;
    if (could_repair(r, o)) {
        NextStep *s = add(n, "If this take has to do: the repairs that Check asks for, before the chain:");
        retype(s->command, o, (Change){.replace = true, .repair = true});
        return;
    }
    if (is_fault(r, "roomy") &&
        turn_down(n, r, o, "plate", "wet", 6.0, LEAST_WET, "The take brings its own room; less Plate:"))
        return;
    if (!o->like && is_fault(r, "noisy") &&
        turn_down(n, r, o, "compressor", "wanted_reduction", 3.0, LEAST_REDUCTION,
                  "Less compression, so that the noise is lifted less:"))
        return;
    keep_it(n, r, o);
}

/* dB by which Tone took the level down and not the loudness: what was under its low cut, in the worst take. */
static double under_the_cut(const Report *r)
{
    const StageResult *s = facts_stage(r, "tone", NULL);
    double most = 0.0;
    for (uint32_t t = 0; s && t < r->takes; ++t) {
        const Figures *in = &s->effect[t].in, *out = &s->effect[t].out;
        most = fmax(most, in->level - out->level - (in->loudness - out->loudness));
    }
    return most;
}

/* Rumble counts in the plain RMS that Trim goes by, and only then is cut. */
static void add_rumble(Next *n, const Report *r, const Options *o)
{
    char text[sizeof n->step->what];
    const double under = under_the_cut(r);
    if (under < RUMBLE || o->stages_asked || o->stages_saved || o->backing || o->like)
        return;
    snprintf(
        text, sizeof text,
        "Rumble under the voice counted in its level, so Trim left the voice about %.0f dB too low. Tone's low cut "
        "before it:",
        under);
    retype(add(n, text)->command, o, (Change){.replace = true, .stages = "tone,trim,compressor,esses,plate"});
}

void next_make(Next *n, const Report *r, const Options *options)
{
    n->steps = 0;
    add_opposite(n, r, options);
    add_lone(n, r, options);
    add_late(n, r, options);
    if (report_voiceless(r->check)) {
        add_voiceless(n, r, options);
        return;
    }
    add_two_levels(n, r, options);
    add_sources(n, r, options);
    add_rumble(n, r, options);
    add_chain(n, r, options);
}

void next_print(const Next *n, FILE *to)
{
    if (n->steps)
        fputs("\ndo next\n", to);
    for (uint32_t k = 0; k < n->steps; ++k)
        fprintf(to, "  %u. %s\n%s%s%s", (unsigned)k + 1, n->step[k].what, *n->step[k].command ? "     " : "",
                n->step[k].command, *n->step[k].command ? "\n" : "");
}
