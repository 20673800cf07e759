#include "worded.h"

#include "design.h"
#include "loudness.h"
#include "singer/noises.h"
#include "singer/singer.h"
#include "units.h"
#include "values.h"

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
#define PHRASE_REST   0.7 /* s */
#define WORD_REST     0.15
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
    qsort(sorted, n, sizeof *sorted, values_by_size);
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

/* The words with silence between them, as many samples as is said for each rest; where those then lie. */
static void lay_out(Worded *w, const Spoken *s, const uint32_t *length)
{
    const uint32_t joint = (uint32_t)(JOINT * w->rate);
    uint32_t from = 0, at = 0;
    w->n = s->n;
    for (uint32_t i = 0; i < w->rests; ++i)
        w->n += length[i];
    w->words = floats(w->n);
    for (uint32_t i = 0; i < w->rests; ++i) {
        WordedSpan *const rest = &w->rest[i];
        const uint32_t end = rest->from - from;
        copy_word(w, s->x + from, end + joint, i == 0, false, at);
        from = rest->to - joint;
        *rest = (WordedSpan){at + end, at + end + length[i]};
        at = rest->to - joint;
    }
    copy_word(w, s->x + from, s->n - from, w->rests == 0, true, at);
    w->n = at + s->n - from;
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

static void begin(Worded *w, const Spoken *words, double noise)
{
    static double power[FRAMES_MOST];
    memset(w, 0, sizeof *w);
    w->rate = words->rate;
    w->level = singer_level_db(words->x, words->n, words->rate);
    find_rests(w, power, frames_of(words, power), noise);
}

static void add_up(Worded *w, uint32_t seed)
{
    w->take = floats(w->n);
    add_hiss((Recording){w->take, w->n, w->rate}, db_to_gain(w->noise), random_stream(seed, 5));
    for (uint32_t i = 0; i < w->n; ++i)
        w->take[i] += w->words[i] + w->breath[i];
}

void worded_make(Worded *w, const Spoken *words, double longer, double noise, double faintest, double loudest,
                 uint32_t seed)
{
    static uint32_t length[WORDED_SPANS];
    begin(w, words, noise);
    for (uint32_t i = 0; i < w->rests; ++i)
        length[i] = w->rest[i].to - w->rest[i].from + (uint32_t)(longer * w->rate);
    lay_out(w, words, length);
    w->breath = floats(w->n);
    plant_breaths(w, faintest, loudest, seed);
    add_up(w, seed);
}

/* Keeps the long rests, and moves what lies between two of them. */
static void make_uneven(Worded *w, const uint32_t *length, double uneven_db, uint32_t seed)
{
    Random random = random_stream(seed, 3);
    const uint32_t rests = w->rests;
    uint32_t from = 0;
    w->rests = 0;
    for (uint32_t i = 0; i <= rests; ++i) {
        if (i < rests && length[i] < (uint32_t)(PHRASE_REST * w->rate))
            continue;
        const uint32_t to = i < rests ? (w->rest[i].from + w->rest[i].to) / 2 : w->n;
        const float gain = (float)db_to_gain(random_between(&random, -uneven_db, uneven_db));
        for (; from < to; ++from)
            w->words[from] *= gain;
        if (i < rests)
            w->rest[w->rests++] = w->rest[i];
    }
}

void worded_phrases(Worded *w, const Spoken *words, double least, double uneven_db, double noise, uint32_t seed)
{
    static uint32_t length[WORDED_SPANS];
    begin(w, words, noise);
    double phrase = 0.0;
    for (uint32_t i = 0; i < w->rests; ++i) {
        const double rest = (w->rest[i].to - w->rest[i].from) / w->rate, brief = fmin(rest, WORD_REST);
        phrase += (w->rest[i].from - (i ? w->rest[i - 1].to : 0)) / w->rate;
        const bool ends = phrase >= least;
        length[i] = (uint32_t)((ends ? PHRASE_REST : brief) * w->rate + 0.5);
        phrase = ends ? 0.0 : phrase + brief;
    }
    lay_out(w, words, length);
    make_uneven(w, length, uneven_db, seed);
    w->breath = floats(w->n);
    add_up(w, seed);
}

void worded_free(Worded *w)
{
    free(w->take);
    free(w->words);
    free(w->breath);
    memset(w, 0, sizeof *w);
}

double *worded_weighted(const float *x, uint32_t n, double rate)
{
    KWeight k;
    double *const y = calloc(n + 1, sizeof *y);
    assert_non_null(y);
    kweight_init(&k, rate);
    for (uint32_t i = 0; i < n; ++i)
        y[i] = (double)x[i];
    kweight_run(&k, 0, y, n);
    return y;
}
