#include "esses_figures.h"

#include "dsp.h"
#include "units.h"

#include <math.h>

/* Settled on the tests' singer and on synthetic speech: a wider group takes in the sh of a voice whose s is low; with a
 * smaller share a few t or f are taken for the s. How far they can move before that was not noted. */
#define FAINT_UNDER_MEDIAN 6.0  /* dB under the median density: fainter sibilants do not count */
#define GROUP_WIDTH        0.35 /* octaves: width of a group */
#define GROUP_SHARE        0.25 /* share of all that count: least of a group */
#define CENTRE_STEPS       24.0 /* steps in an octave: finer than the width of any bell */

/* Settled on recorded voices, spoken and sung (tests/voices.h, those for tuning); WEAK_UNDER_MEDIAN may be 6 to 9. */
#define WEAK_UNDER_MEDIAN 8.0  /* dB under the median in the band: fainter ones are an f, a breath or the like */
#define LOW_END_SHARE     0.1  /* share of the others that lie under the lower end of the usual range */
#define MIRRORED_SHARE    0.85 /* distance from median to upper end, over that to the lower end, in most voices */
#define LEAST_HALF_RANGE  3.0  /* dB from the median to the upper end: twice what a level over 8 ms varies of itself */

/* A level that a quarter of a voice's sibilants and one more reach is no explosion: some voices have two kinds of s,
 * one of them far louder. Levels are means. The loudest 15 ms, which are what is caught, lie 1 to 4 dB over the mean
 * (10th and 90th percentile, median 2.5, the same voices). */
#define COMMON_SHARE 0.75 /* share of all sibilants that lie under that level */
#define COMMON_OVER  2.5  /* dB over that level: least of the upper end */

/* ---- Medians of values that count more than once ---- */

typedef struct {
    double value, times;
} Counted;

/* Shell sort: no recursion, no memory of its own, and 200 values in some microseconds. */
static void sort(Counted *x, uint32_t n)
{
    for (uint32_t gap = 121; gap > 0; gap /= 3)
        for (uint32_t i = gap; i < n; ++i) {
            const Counted taken = x[i];
            uint32_t at = i;
            for (; at >= gap && x[at - gap].value > taken.value; at -= gap)
                x[at] = x[at - gap];
            x[at] = taken;
        }
}

static double sum_times(const Counted *x, uint32_t from, uint32_t to)
{
    double times = 0.0;
    for (uint32_t i = from; i < to; ++i)
        times += x[i].times;
    return times;
}

/* The two middle values of from..to-1, sorted, at least one; mostly both are the same one. */
static void find_middle(const Counted *x, uint32_t from, uint32_t to, double middle[2])
{
    const double half = 0.5 * sum_times(x, from, to);
    double passed = x[from].times;
    while (passed < half && from + 1 < to)
        passed += x[++from].times;
    middle[0] = x[from].value;
    middle[1] = passed > half || from + 1 == to ? x[from].value : x[from + 1].value;
}

/* dB: the level that this share of the powers from..to-1 lie under, sorted, at least one. Each lies in the middle of
 * what it counts for; in between the level is interpolated in dB. */
static double level_at(const Counted *x, uint32_t from, uint32_t to, double share)
{
    const double wanted = share * sum_times(x, from, to);
    double at = 0.5 * x[from].times, before = at;
    uint32_t i = from;
    while (at < wanted && i + 1 < to) {
        before = at;
        at += 0.5 * (x[i].times + x[i + 1].times);
        ++i;
    }
    const double above = power_to_db(x[i].value), below = power_to_db(x[i > from ? i - 1 : i].value);
    const double into = at > before ? dsp_clamp((wanted - before) / (at - before), 0.0, 1.0) : 1.0;
    return below + into * (above - below);
}

static double median(const Counted *x, uint32_t from, uint32_t to)
{
    double middle[2];
    find_middle(x, from, to, middle);
    return 0.5 * (middle[0] + middle[1]);
}

/* ---- The usual range ---- */

double esses_figures_band(const double power[SIBILANCE_BANDS], const double weight[SIBILANCE_BANDS])
{
    double sum = 0.0;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        sum += weight[b] * power[b];
    return sum;
}

double esses_figures_upper(const EssesMemory *m, const double weight[SIBILANCE_BANDS])
{
    Counted sorted[ESSES_MEMORY];
    for (uint32_t i = 0; i < m->count; ++i)
        sorted[i] = (Counted){esses_figures_band(m->known[i].power, weight), (double)m->known[i].times};
    sort(sorted, m->count);
    const double least = db_to_power(level_at(sorted, 0, m->count, 0.5) - WEAK_UNDER_MEDIAN);
    uint32_t from = 0;
    while (from + 1 < m->count && sorted[from].value < least)
        ++from;
    const double middle = level_at(sorted, from, m->count, 0.5);
    const double mirrored =
        middle + fmax(MIRRORED_SHARE * (middle - level_at(sorted, from, m->count, LOW_END_SHARE)), LEAST_HALF_RANGE);
    const double common = COMMON_SHARE - 1.0 / sum_times(sorted, 0, m->count);
    return fmax(mirrored, level_at(sorted, 0, m->count, common) + COMMON_OVER);
}

/* ---- The centre ---- */

double esses_figures_faintest(const EssesMemory *m)
{
    Counted sorted[ESSES_MEMORY];
    for (uint32_t i = 0; i < m->count; ++i)
        sorted[i] = (Counted){m->known[i].density, (double)m->known[i].times};
    sort(sorted, m->count);
    return median(sorted, 0, m->count) - FAINT_UNDER_MEDIAN;
}

/* Collects where each sibilant that is not too faint is densest, sorted. Returns how many. */
static uint32_t sort_loud(const EssesMemory *m, double faintest, Counted *densest)
{
    uint32_t loud = 0;
    for (uint32_t i = 0; i < m->count; ++i)
        if (m->known[i].density >= faintest)
            densest[loud++] = (Counted){m->known[i].densest, (double)m->known[i].times};
    sort(densest, loud);
    return loud;
}

/* Finds the highest group of the sorted values, from..to-1; all of them where no group is large enough. */
static void find_group(const Counted *sorted, uint32_t n, uint32_t *from, uint32_t *to)
{
    const double enough = GROUP_SHARE * sum_times(sorted, 0, n);
    double times = 0.0;
    *from = n;
    for (*to = n; *to > 0; times -= sorted[--*to].times) {
        while (*from > 0 && sorted[*from - 1].value >= sorted[*to - 1].value - GROUP_WIDTH)
            times += sorted[--*from].times;
        if (times >= enough)
            return;
    }
    *to = n;
}

double esses_figures_centre(const EssesMemory *m, double faintest)
{
    Counted densest[ESSES_MEMORY];
    if (m->count < ESSES_ENOUGH)
        return 0.0;
    const uint32_t loud = sort_loud(m, faintest, densest);
    uint32_t from, to;
    find_group(densest, loud, &from, &to);
    const double centre = round(CENTRE_STEPS * median(densest, from, to)) / CENTRE_STEPS;
    return centre > 0.0 ? dsp_clamp(centre, log2(ESSES_CENTRE_LOWEST), log2(ESSES_CENTRE_HIGHEST)) : 0.0;
}
