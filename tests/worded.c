#include "worded.h"

#include "design.h"
#include "singer/noises.h"
#include "singer/singer.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define FRAME         0.01 /* s */
#define LOUD          20.0 /* dB under the voice: louder is a word's middle */
#define QUIETEST      32.0 /* so far under the voice nothing is a word's, */
#define JOINT         0.02 /* s */
#define OVER_OWN      3.0  /* dB */
#define OVER          3.0
#define OVER_FAINTEST 8.0
#define BREATH        0.35  /* s */
#define BEFORE        0.06  /* s */
#define RUMBLE        150.0 /* Hz: what lies lower is no part of a word */

enum { FRAMES_MOST = 20000, GAP = 25, REST = 12, FAINT = 5 }; /* frames */

static float *floats(uint32_t n)
{
    float *const x = calloc(n + 1, sizeof *x);
    assert_non_null(x);
    return x;
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static uint32_t frames_of(const Spoken *s, double *power)
{
    const uint32_t n = (uint32_t)(FRAME * s->rate), frames = s->n / n;
    Biquad section[2];
    SvfState state[2] = {{0}};
    design_butterworth_high_pass(4, RUMBLE, s->rate, section);
    const Svf filter[] = {svf_from_biquad(&section[0]), svf_from_biquad(&section[1])};
    assert_true(frames <= FRAMES_MOST);
    for (uint32_t f = 0; f < frames; ++f) {
        power[f] = 0.0;
        for (uint32_t i = f * n; i < (f + 1) * n; ++i) {
            const double x = svf_step(&filter[1], &state[1], svf_step(&filter[0], &state[0], (double)s->x[i]));
            power[f] += x * x / n;
        }
    }
    return frames;
}

/* The faintest 50 ms of some frames, dB. */
static double faintest(const double *power, WordedSpan gap)
{
    double least = INFINITY;
    for (uint32_t f = gap.from; f + FAINT <= gap.to; ++f) {
        double mean = 0.0;
        for (uint32_t k = f; k < f + FAINT; ++k)
            mean += power[k] / FAINT;
        least = fmin(least, mean);
    }
    return power_to_db(least);
}

/* Frames between those in which a word is at its loudest. */
static uint32_t find_gaps(const double *power, uint32_t frames, double loud, WordedSpan *gap)
{
    uint32_t n = 0, from = 0;
    for (uint32_t f = 0; f < frames; ++f) {
        if (power_to_db(power[f]) < loud)
            continue;
        if (from && f - from >= GAP && n < WORDED_SPANS)
            gap[n++] = (WordedSpan){from, f};
        from = f + 1;
    }
    return n;
}

/* The longest stretch of a gap in which no frame reaches `least`. */
static WordedSpan longest_rest(const double *power, WordedSpan gap, double least)
{
    WordedSpan longest = {0, 0};
    for (uint32_t f = gap.from, from = f; f <= gap.to; ++f) {
        if (f < gap.to && power_to_db(power[f]) < least)
            continue;
        if (f - from > longest.to - longest.from)
            longest = (WordedSpan){from, f};
        from = f + 1;
    }
    return longest;
}

static double middle_of(const double *value, uint32_t n)
{
    static double sorted[WORDED_SPANS];
    memcpy(sorted, value, n * sizeof *sorted);
    qsort(sorted, n, sizeof *sorted, by_value);
    return n ? sorted[n / 2] : UNITS_DB_FLOOR;
}

static void find_rests(Worded *w, const double *power, uint32_t frames, double noise)
{
    static WordedSpan gap[WORDED_SPANS];
    static double own[WORDED_SPANS];
    const uint32_t gaps = find_gaps(power, frames, w->level - LOUD, gap), frame = (uint32_t)(FRAME * w->rate);
    for (uint32_t i = 0; i < gaps; ++i)
        own[i] = faintest(power, gap[i]);
    w->noise = fmax(w->level - noise, middle_of(own, gaps) + OVER_OWN);
    for (uint32_t i = 0; i < gaps; ++i) {
        const WordedSpan rest =
            longest_rest(power, gap[i], fmax(fmax(w->noise + OVER, own[i] + OVER_FAINTEST), w->level - QUIETEST));
        if (rest.to - rest.from >= REST)
            w->rest[w->rests++] = (WordedSpan){rest.from * frame, rest.to * frame};
    }
}

/* Copies n samples, faded in and out over the joints. */
static void copy_word(Worded *w, const float *x, uint32_t n, bool first, bool last, uint32_t at)
{
    const uint32_t joint = (uint32_t)(JOINT * w->rate);
    for (uint32_t i = 0; i < n; ++i) {
        const float in = first || i >= joint ? 1.f : (float)i / (float)joint;
        const float out = last || n - i > joint ? 1.f : (float)(n - i) / (float)joint;
        w->words[at + i] = x[i] * in * out;
    }
}

/* The words with silence between them, where their rests then lie. */
static void stretch(Worded *w, const Spoken *s, double longer)
{
    const uint32_t more = (uint32_t)(longer * s->rate), joint = (uint32_t)(JOINT * w->rate);
    uint32_t from = 0, at = 0;
    w->n = s->n + w->rests * more;
    w->words = floats(w->n);
    for (uint32_t i = 0; i <= w->rests; ++i) {
        WordedSpan *const rest = &w->rest[i];
        const bool last = i == w->rests;
        const uint32_t to = last ? s->n : rest->from + joint;
        copy_word(w, s->x + from, to - from, i == 0, last, at);
        if (last)
            return;
        const uint32_t length = rest->to - rest->from + more, end = to - joint - from;
        from = rest->to - joint;
        rest->from = at + end;
        rest->to = rest->from + length;
        at = rest->to - joint;
    }
}

static void plant_breaths(Worded *w, double faintest, double loudest, uint32_t seed)
{
    const Recording r = {w->breath, w->n, w->rate};
    Random random = random_stream(seed, 2);
    for (uint32_t i = 0; faintest > 0.0 && i < w->rests; i += 2) {
        const double under = random_between(&random, loudest, faintest);
        const double end = w->rest[i].to / w->rate - BEFORE, start = end - BREATH;
        w->breathes[i] = true;
        w->breathed[w->breaths++] = (WordedSpan){(uint32_t)(start * w->rate), (uint32_t)(end * w->rate)};
        add_breath(r, start, end, db_to_gain(w->level - under), random_stream(seed, 200 + i));
    }
}

void worded_make(Worded *w, const Spoken *words, double longer, double noise, double faintest, double loudest,
                 uint32_t seed)
{
    static double power[FRAMES_MOST];
    memset(w, 0, sizeof *w);
    w->rate = words->rate;
    w->level = singer_level_db(words->x, words->n, words->rate);
    const uint32_t frames = frames_of(words, power);
    find_rests(w, power, frames, noise);
    stretch(w, words, longer);
    w->breath = floats(w->n);
    w->take = floats(w->n);
    plant_breaths(w, faintest, loudest, seed);
    add_hiss((Recording){w->take, w->n, w->rate}, db_to_gain(w->noise), random_stream(seed, 5));
    for (uint32_t i = 0; i < w->n; ++i)
        w->take[i] += w->words[i] + w->breath[i];
}

void worded_free(Worded *w)
{
    free(w->take);
    free(w->words);
    free(w->breath);
    memset(w, 0, sizeof *w);
}
