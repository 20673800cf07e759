#include "compare.h"

#include "check_faults.h"
#include "units.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

/* ---- What counts for how much: common practice, ours ----
 *
 * A point is a step of Check's verdict (check_faults.c): 5 dB of noise, 6 dB too quiet, 3 dB too loud; a pop, half a
 * step there, is one here, as one phrase has it. What is clipped nothing mends: it outweighs all else. Noise 60 dB
 * under a phrase is lost in any mix, and 10 cents off pass for in tune (both from memory). */
#define CLIPPED_POINTS 100.0
#define POP_POINTS     1.0
#define NOISE_NONE     (-60.0) /* dB to the phrase */
#define NOISE_STEP     5.0
#define QUIET_STEP     6.0
#define LOUD_STEP      3.0
#define TUNING_NONE    10.0 /* cents */
#define TUNING_STEP    10.0
#define MARGIN         0.5 /* points: less is no difference */

double compare_points(const PhrasingFigures *f, CompareKind kind)
{
    const double quietest = -check_faults_limit(FAULT_TOO_QUIET), loudest = check_faults_limit(FAULT_TOO_LOUD);
    const bool known = f->level < PHRASING_UNKNOWN;
    switch (kind) {
    case COMPARE_CLIPPING:
        return f->clipped > check_faults_limit(FAULT_CLIPPED) ? CLIPPED_POINTS + f->clipped : 0.0;
    case COMPARE_POPS:
        return POP_POINTS * f->pops;
    case COMPARE_NOISE:
        return f->noise < PHRASING_UNKNOWN ? fmax(f->noise - NOISE_NONE, 0.0) / NOISE_STEP : 0.0;
    case COMPARE_LEVEL:
        return known ? fmax(quietest - f->level, 0.0) / QUIET_STEP + fmax(f->level - loudest, 0.0) / LOUD_STEP : 0.0;
    default:
        return f->cents < PHRASING_UNKNOWN ? fmax(f->cents - TUNING_NONE, 0.0) / TUNING_STEP : 0.0;
    }
}

static bool is_known(const PhrasingFigures *f, CompareKind kind)
{
    return !(kind == COMPARE_NOISE && f->noise >= PHRASING_UNKNOWN) &&
           !(kind == COMPARE_TUNING && f->cents >= PHRASING_UNKNOWN);
}

/* ---- Making it ---- */

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

static CompareCell *cell_at(const Compare *c, size_t row, uint32_t take)
{
    return &c->cell[row * c->takes + take];
}

typedef bool Adding(Align *a, const AlignPhrase *phrase, size_t n);

static bool align_take(Compare *c, uint32_t take, Adding *adding)
{
    const Phrasing *p = c->take[take].phrasing;
    AlignPhrase *phrase = malloc((p->spans + 1) * sizeof *phrase);
    for (size_t k = 0; phrase && k < p->spans; ++k)
        phrase[k] = (AlignPhrase){p->span[k], phrasing_shape(p, k)};
    const uint32_t place = c->align.takes;
    const bool ok = phrase && adding(&c->align, phrase, p->spans);
    CompareOne *one = &c->one[take];
    one->place = place;
    one->apart = c->align.takes == place;
    one->close = one->apart ? c->align.close : one->close;
    free(phrase);
    return ok;
}

/* This take, and all that are of its song. */
static bool align_with(Compare *c, uint32_t base)
{
    align_free(&c->align);
    bool ok = align_start(&c->align, c->takes) && align_take(c, base, align_add);
    for (uint32_t t = 0; ok && t < c->takes; ++t)
        ok = t == base || align_take(c, t, align_try);
    c->together = c->align.takes;
    c->rows = c->align.rows;
    c->base = base;
    return ok;
}

/* Begun with each take in turn, until all go together: as many as can. */
static bool find_song(Compare *c)
{
    uint32_t most = 0, best = 0;
    for (uint32_t t = 0; t < c->takes && most < c->takes; ++t) {
        if (!align_with(c, t))
            return false;
        best = c->together > most ? t : best;
        most = c->together > most ? c->together : most;
    }
    return c->base == best || align_with(c, best);
}

/* Those that are left come behind. */
static bool align(Compare *c)
{
    bool ok = find_song(c);
    for (uint32_t t = 0; ok && t < c->takes; ++t) {
        ok = !c->one[t].apart || align_take(c, t, align_append);
        c->one[t].apart = c->one[t].place >= c->together;
    }
    return ok;
}

/* of: this take; c->takes: all that are together. */
static void find_offset(Compare *c, uint32_t of)
{
    double re = 0.0, im = 0.0;
    bool sung = true;
    for (uint32_t t = 0; t < c->takes; ++t)
        if (t == of || (of == c->takes && !c->one[t].apart)) {
            phrasing_add_tuning(c->take[t].phrasing, &re, &im);
            sung &= c->take[t].sung;
        }
    for (uint32_t t = 0; t < c->takes; ++t)
        if (t == of || (of == c->takes && !c->one[t].apart)) {
            c->one[t].offset = atan2(im, re) / (2.0 * DSP_PI);
            c->one[t].sung = sung;
        }
}

static void find_offsets(Compare *c)
{
    find_offset(c, c->takes);
    for (uint32_t t = 0; t < c->takes; ++t)
        if (c->one[t].apart)
            find_offset(c, t);
}

static void fill_cell(const Compare *c, size_t row, uint32_t take)
{
    CompareCell *cell = cell_at(c, row, take);
    const Phrasing *p = c->take[take].phrasing;
    cell->part = align_part(&c->align, row, c->one[take].place);
    if (!cell->part.count)
        return;
    cell->from = p->span[cell->part.first].from;
    cell->to = p->span[cell->part.first + cell->part.count - 1].to;
    cell->figures = phrasing_figures(p, cell->part.first, cell->part.count, c->one[take].offset);
    if (!c->one[take].sung)
        cell->figures.cents = PHRASING_UNKNOWN;
}

/* In a row, what is not known of one take tells nothing about the others. */
static void count_points(const Compare *c, size_t row)
{
    for (CompareKind k = 0; k < COMPARE_KINDS; ++k) {
        bool known = true;
        for (uint32_t t = 0; t < c->takes; ++t)
            known &= !compare_cell(c, row, t)->part.count || is_known(&compare_cell(c, row, t)->figures, k);
        for (uint32_t t = 0; t < c->takes; ++t) {
            CompareCell *cell = cell_at(c, row, t);
            cell->points[k] = cell->part.count && known ? compare_points(&cell->figures, k) : 0.0;
            cell->sum += cell->points[k];
        }
    }
}

/* The take of a row with the fewest points, COMPARE_NOBODY: it has none. */
static int fewest(const Compare *c, size_t row)
{
    int best = COMPARE_NOBODY;
    for (uint32_t t = 0; t < c->takes; ++t) {
        const CompareCell *cell = compare_cell(c, row, t);
        if (cell->part.count && (best < 0 || cell->sum < compare_cell(c, row, (uint32_t)best)->sum))
            best = (int)t;
    }
    return best;
}

/* How many takes of a row are as good as its best, and how many have the phrase. */
static uint32_t count_near(const Compare *c, size_t row, int best, uint32_t *have)
{
    uint32_t near = 0;
    *have = 0;
    for (uint32_t t = 0; t < c->takes; ++t) {
        const CompareCell *cell = compare_cell(c, row, t);
        *have += cell->part.count > 0;
        near += cell->part.count && cell->sum < compare_cell(c, row, (uint32_t)best)->sum + MARGIN;
    }
    return near;
}

static void find_cleanest(const Compare *c, size_t row)
{
    uint32_t have;
    const int best = fewest(c, row);
    const bool alone = best >= 0 && count_near(c, row, best, &have) == 1 && have > 1;
    c->cleanest[row] = alone ? best : COMPARE_NOBODY;
    if (alone)
        ++c->one[best].wins;
}

bool compare_make(Compare *c, const CompareTake *take, uint32_t takes, Error *e)
{
    *c = (Compare){.take = take, .takes = takes, .one = calloc(takes, sizeof *c->one)};
    if (!c->one || !align(c))
        return no_memory(e);
    find_offsets(c);
    c->cell = calloc(c->align.rows * takes + 1, sizeof *c->cell);
    c->cleanest = calloc(c->align.rows + 1, sizeof *c->cleanest);
    if (!c->cell || !c->cleanest)
        return no_memory(e);
    for (size_t row = 0; row < c->align.rows; ++row) {
        for (uint32_t t = 0; t < takes; ++t)
            fill_cell(c, row, t);
        count_points(c, row);
        find_cleanest(c, row);
    }
    return true;
}

void compare_free(Compare *c)
{
    align_free(&c->align);
    free(c->cell);
    free(c->cleanest);
    free(c->one);
    *c = (Compare){0};
}

/* ---- In words ---- */

static void say(char text[COMPARE_TEXT], const char *format, ...) __attribute__((format(printf, 2, 3)));
static void say(char text[COMPARE_TEXT], const char *format, ...)
{
    const size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + used, COMPARE_TEXT - used, format, arguments);
    va_end(arguments);
}

void compare_figure(const PhrasingFigures *f, CompareKind kind, char text[32])
{
    const double figure[COMPARE_KINDS] = {f->clipped, f->pops, f->noise, f->level, f->cents};
    if (figure[kind] >= PHRASING_UNKNOWN && kind >= COMPARE_NOISE)
        snprintf(text, 32, "-");
    else
        snprintf(text, 32, kind == COMPARE_LEVEL ? "%.1f" : "%.0f", figure[kind]);
}

/* What a take is worst at, against the cleanest. */
static CompareKind worst(const CompareCell *cell, const CompareCell *best)
{
    CompareKind kind = 0;
    for (CompareKind k = 0; k < COMPARE_KINDS; ++k)
        if (cell->points[k] - best->points[k] > cell->points[kind] - best->points[kind])
            kind = k;
    return kind;
}

static void say_fault(char text[COMPARE_TEXT], const char *name, const CompareCell *cell, const CompareCell *best)
{
    const PhrasingFigures *f = &cell->figures, *g = &best->figures;
    const double quietest = -check_faults_limit(FAULT_TOO_QUIET), loudest = check_faults_limit(FAULT_TOO_LOUD);
    switch (worst(cell, best)) {
    case COMPARE_CLIPPING:
        say(text, "; %s clips", name);
        break;
    case COMPARE_POPS:
        say(text, f->pops > 1 ? "; %s pops %u times" : "; %s pops", name, (unsigned)f->pops);
        break;
    case COMPARE_NOISE:
        say(text, "; %s has %.0f dB more noise", name, rint(f->noise) - rint(g->noise));
        break;
    case COMPARE_LEVEL:
        say(text, "; %s is too %s, by %.1f dB", name, f->level < quietest ? "quiet" : "loud",
            fmax(quietest - f->level, f->level - loudest));
        break;
    default:
        say(text, "; held notes of %s lie %.0f cents off, not %.0f", name, f->cents, g->cents);
    }
}

/* Is a take among those of a row that are as clean as its best (near), or among those of its song that have it not? */
static bool is_listed(const Compare *c, size_t row, uint32_t take, int best, bool near)
{
    const CompareCell *cell = compare_cell(c, row, take);
    if (!near || !cell->part.count)
        return !near && !cell->part.count && !c->one[take].apart;
    return cell->sum < compare_cell(c, row, (uint32_t)best)->sum + MARGIN;
}

/* "a.wav, b.wav and c.wav" */
static void say_names(const Compare *c, size_t row, int best, bool near, char text[COMPARE_TEXT])
{
    uint32_t left = 0, said = 0;
    for (uint32_t t = 0; t < c->takes; ++t)
        left += is_listed(c, row, t, best, near);
    for (uint32_t t = 0; t < c->takes; ++t) {
        if (!is_listed(c, row, t, best, near))
            continue;
        --left;
        say(text, "%s%s", !said++ ? "" : left ? ", " : " and ", c->take[t].name);
    }
}

void compare_why(const Compare *c, size_t row, char text[COMPARE_TEXT])
{
    uint32_t have;
    const int best = fewest(c, row);
    text[0] = '\0';
    if (best < 0 || row >= c->rows || c->together < 2)
        return;
    const CompareCell *cleanest = compare_cell(c, row, (uint32_t)best);
    const uint32_t near = count_near(c, row, best, &have);
    say(text, have == 1 ? "only in " : near > 1 ? "as clean as each other: " : "cleanest: ");
    say_names(c, row, best, true, text);
    for (uint32_t t = 0; t < c->takes; ++t) {
        const CompareCell *cell = compare_cell(c, row, t);
        if (cell->part.count && cell->sum >= cleanest->sum + MARGIN)
            say_fault(text, c->take[t].name, cell, cleanest);
    }
    if (have == 1 || have == c->together)
        return;
    say(text, "; not in ");
    say_names(c, row, best, false, text);
}

/* ---- All in all ---- */

static void say_wins(const Compare *c, char text[COMPARE_TEXT])
{
    uint32_t won = 0, said = 0;
    for (uint32_t t = 0; t < c->takes; ++t) {
        if (c->one[t].apart)
            continue;
        say(text, "%s%s %u", said++ ? ", " : "", c->take[t].name, (unsigned)c->one[t].wins);
        won += c->one[t].wins;
    }
    if (c->rows > won)
        say(text, "; in %zu no take is cleaner than all others", c->rows - won);
}

static void say_stranger(const Compare *c, uint32_t take, char text[COMPARE_TEXT])
{
    const size_t close = c->one[take].close;
    say(text, "%s hardly is of the same song as %s: ", c->take[take].name,
        c->together > 1 ? "the others" : c->take[c->base].name);
    if (close)
        say(text, "only %zu", close);
    else
        say(text, "none");
    say(text, " of its %zu phrases %s like one there in length, notes and loudness. ", c->take[take].phrasing->spans,
        close == 1 ? "is" : "are");
}

/* Of those that are compared with no other, every one; where no two go together, the first. */
static void say_strangers(const Compare *c, char text[COMPARE_TEXT])
{
    uint32_t said = 0;
    for (uint32_t t = 0; t < c->takes; ++t)
        if (c->one[t].apart && (!said || c->together > 1)) {
            say(text, "%s", c->together > 1 ? "\n" : "");
            say_stranger(c, t, text);
            ++said;
        }
    if (said)
        say(text, "So %s. Leave it out; or, if it is of that song, cut the takes to the part that all of them have.",
            c->together < 2 ? "no phrases are compared"
            : said > 1      ? "they stand by themselves"
                            : "it stands by itself");
}

static void say_most(const Compare *c, uint32_t most, char text[COMPARE_TEXT])
{
    uint32_t many = 0;
    for (uint32_t t = 0; t < c->takes; ++t)
        many += c->one[t].wins == c->one[most].wins;
    if (!c->one[most].wins) {
        say(text, "No take is cleaner than all others, in any of %zu phrases", c->rows);
        return;
    }
    if (many > 1)
        say(text, "No take has most of the cleanest phrases");
    else
        say(text, "%s has most of the cleanest phrases", c->take[most].name);
    say(text, ", of %zu: ", c->rows);
    say_wins(c, text);
}

void compare_wins(const Compare *c, uint32_t take, char text[COMPARE_TEXT])
{
    const char *name = c->take[take].name;
    text[0] = '\0';
    if (c->together < 2)
        say(text, "%s: %zu phrases", name, c->take[take].phrasing->spans);
    else if (c->one[take].apart)
        say(text, "%s: %zu phrases, hardly of the same song", name, c->take[take].phrasing->spans);
    else if (c->one[take].wins)
        say(text, "%s: cleanest in %u of %zu phrases", name, (unsigned)c->one[take].wins, c->rows);
    else
        say(text, "%s: in none of %zu phrases cleaner than all others", name, c->rows);
}

void compare_summary(const Compare *c, char text[COMPARE_TEXT])
{
    uint32_t most = 0;
    text[0] = '\0';
    if (c->together > 1) {
        for (uint32_t t = 1; t < c->takes; ++t)
            most = c->one[t].wins > c->one[most].wins ? t : most;
        say_most(c, most, text);
        say(text, ". That is about the recording; who sang it best, only ears tell.");
    }
    say_strangers(c, text);
}

/* ---- As a table ---- */

const char compare_legend[] =
    "Level: dB RMS above 100 Hz. Noise: dB of the rests beside the phrase, to its level. Pops: bursts of low sound as\n"
    "loud as the voice. Clipped: samples, or flat tops. Tuning: mean distance of held notes from equal temperament,\n"
    "cents. -: not known, and not judged.\n";

static int name_width(const Compare *c)
{
    size_t width = 8;
    for (uint32_t t = 0; t < c->takes; ++t)
        width = strlen(c->take[t].name) > width ? strlen(c->take[t].name) : width;
    return (int)(width < 32 ? width : 32);
}

static void print_time(double seconds, FILE *to)
{
    const double tenths = rint(seconds * 10.0);
    fprintf(to, " %4.0f:%04.1f", floor(tenths / 600.0), fmod(tenths, 600.0) / 10.0);
}

static void print_cell(const Compare *c, size_t row, uint32_t take, bool first, FILE *to)
{
    static const CompareKind order[] = {COMPARE_LEVEL, COMPARE_NOISE, COMPARE_POPS, COMPARE_CLIPPING, COMPARE_TUNING};
    const CompareCell *cell = compare_cell(c, row, take);
    char number[32] = "", text[32];
    if (first)
        snprintf(number, sizeof number, "%zu", compare_number(c, row, take));
    fprintf(to, "%-6s  %-*s", number, name_width(c), c->take[take].name);
    print_time(cell->from, to);
    fprintf(to, " %6.1f s", cell->to - cell->from);
    for (size_t k = 0; k < sizeof order / sizeof *order; ++k) {
        compare_figure(&cell->figures, order[k], text);
        fprintf(to, " %7s", text);
    }
    fputc('\n', to);
}

void compare_print(const Compare *c, FILE *to)
{
    char text[COMPARE_TEXT];
    fprintf(to, "\n%-6s  %-*s  begins   length   level   noise    pops clipped  tuning\n", "phrase", name_width(c),
            "take");
    for (size_t row = 0; row < c->align.rows; ++row) {
        bool first = true;
        for (uint32_t t = 0; t < c->takes; ++t) {
            if (!compare_cell(c, row, t)->part.count)
                continue;
            print_cell(c, row, t, first, to);
            first = false;
        }
        compare_why(c, row, text);
        if (*text)
            fprintf(to, "        %s\n", text);
    }
    fprintf(to, "%s", compare_legend);
    if (c->one[c->base].sung && c->together > 1)
        fprintf(to, "%s together lie %+.0f cents from A4 = 440 Hz; tuning is counted from there.\n",
                c->together < c->takes ? "The takes of one song" : "All takes", 100.0 * c->one[c->base].offset);
    compare_summary(c, text);
    fprintf(to, "\n%s\n", text);
}
