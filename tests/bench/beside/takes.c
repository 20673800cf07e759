#include "takes.h"

#include "design.h"
#include "loudness.h"
#include "singer/noises.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SECONDS 24.0
#define LEAST   2.0  /* s: of a phrase */
#define FAINT   70.0 /* dB: the clean take's noise under the voice */
#define NOISE   20.0 /* what Floor has to do with */
#define ROOM    45.0 /* what Rests has */
#define HUM     20.0
#define BREATH  12.0
#define POP     15.0 /* dB over the voice, a peak */
#define UNEVEN  5.0
#define EDGE    0.3  /* s after the last word, from which on a rest is one, */
#define BEFORE  0.2  /* and to the next */
#define BURST   0.2  /* s from a pop on */
#define LATE    6000 /* samples that something may be late at most */

enum { GRAIN = 960, EDGE_GRAIN = 480, CLICKS = 30, HARMONICS = 10 };

const char *const beside_fault[BESIDE_FAULTS] = {"floor", "hum", "ticks", "pops", "rests", "phrase"};

static const char *const asked[BESIDE_VOICES] = {"reading", "fish", "rms"};

static float *floats(uint32_t n)
{
    float *x = calloc(n + 1, sizeof *x);
    assert_non_null(x);
    return x;
}

/* ---- Takes ---- */

static uint32_t voice_named(const char *name)
{
    for (uint32_t v = 0; v < VOICES_LONG; ++v)
        if (!strcmp(voices[v].name, name))
            return v;
    fail_msg("no voice %s", name);
    return 0;
}

static void plant_clicks(BesideTake *t, Recording r, uint32_t seed)
{
    Random random = random_stream(seed, 1);
    t->moments = CLICKS;
    for (uint32_t c = 0; c < CLICKS; ++c) {
        t->at[c] = t->w.n / t->w.rate * (c + random_between(&random, 0.1, 0.9)) / CLICKS;
        const double db = random_between(&random, -3.0, 9.0);
        add_click(r, t->at[c], random_between(&random, 0.001, 0.004), db_to_gain(t->w.level + db),
                  random_stream(seed, 100 + c));
    }
}

static void plant_pops(BesideTake *t, Recording r, uint32_t seed)
{
    for (uint32_t i = 0; i < t->w.rests && t->moments < BESIDE_MOMENTS; ++i) {
        t->at[t->moments] = t->w.rest[i].to / t->w.rate - 0.02;
        add_pop(r, t->at[t->moments++], db_to_gain(t->w.level + POP), random_stream(seed, 300 + i));
    }
}

static void plant_rests(const BesideTake *t, Recording r, uint32_t seed)
{
    add_hiss(r, db_to_gain(t->w.level - ROOM), random_stream(seed, 5));
    for (uint32_t i = 0; i < t->w.rests; i += 2) {
        const double end = t->w.rest[i].to / t->w.rate;
        add_breath(r, end - 0.41, end - 0.06, db_to_gain(t->w.level - BREATH), random_stream(seed, 200 + i));
    }
}

static void plant(BesideTake *t, BesideFault fault, uint32_t seed)
{
    const Recording r = {t->planted, t->w.n, t->w.rate};
    if (fault == FAULT_FLOOR)
        add_hiss(r, db_to_gain(t->w.level - NOISE), random_stream(seed, 5));
    else if (fault == FAULT_HUM)
        add_hum(r, 50.0, 0.0, HARMONICS, db_to_gain(t->w.level - HUM), random_stream(seed, 4));
    else if (fault == FAULT_TICKS)
        plant_clicks(t, r, seed);
    else if (fault == FAULT_POPS)
        plant_pops(t, r, seed);
    else if (fault == FAULT_RESTS)
        plant_rests(t, r, seed);
}

/* Faint phrases and loud ones in turn. */
static void make_uneven(BesideTake *t)
{
    uint32_t from = 0;
    for (uint32_t i = 0; i <= t->w.rests; ++i) {
        const uint32_t to = i < t->w.rests ? (t->w.rest[i].from + t->w.rest[i].to) / 2 : t->w.n;
        for (uint32_t k = from; k < to; ++k)
            t->faulty[k] += t->w.words[k] * (float)(db_to_gain(i % 2 ? UNEVEN : -UNEVEN) - 1.0);
        from = to;
    }
}

bool beside_make(BesideTake *t, uint32_t voice, BesideFault fault)
{
    const uint32_t v = voice_named(asked[voice % BESIDE_VOICES]);
    Spoken words;
    memset(t, 0, sizeof *t);
    if (!voices_speak(&words, v, 0, SECONDS))
        return false;
    worded_phrases(&t->w, &words, LEAST, 0.0, FAINT, v);
    spoken_free(&words);
    t->clean = floats(t->w.n);
    t->planted = floats(t->w.n);
    t->faulty = floats(t->w.n);
    memcpy(t->clean, t->w.take, t->w.n * sizeof *t->clean);
    plant(t, fault, v);
    for (uint32_t i = 0; i < t->w.n; ++i)
        t->faulty[i] = t->clean[i] + t->planted[i];
    if (fault == FAULT_PHRASE)
        make_uneven(t);
    return true;
}

void beside_free(BesideTake *t)
{
    free(t->clean);
    free(t->planted);
    free(t->faulty);
    worded_free(&t->w);
}

/* ---- Laying one on the other ---- */

static double product(const float *a, const float *b, uint32_t from, uint32_t to)
{
    double sum = 0.0;
    for (uint32_t i = from; i < to; ++i)
        sum += (double)a[i] * (double)b[i];
    return sum;
}

/* Moves x earlier by as much as it is later than `like`: where two seconds of both agree best. */
static void align(float *x, const float *like, uint32_t n)
{
    const uint32_t from = n / 2,
                   to = from + 2 * (uint32_t)VOICES_RATE < n - LATE ? from + 2 * (uint32_t)VOICES_RATE : n - LATE;
    double best = -INFINITY;
    uint32_t late = 0;
    for (uint32_t lag = 0; lag < LATE; ++lag) {
        const double agree = product(like, x + lag, from, to);
        late = agree > best ? lag : late;
        best = fmax(best, agree);
    }
    memmove(x, x + late, (n - late) * sizeof *x);
    memset(x + n - late, 0, late * sizeof *x);
}

/* The gain at which x is nearest to `like`. */
static void scale(float *x, const float *like, uint32_t n)
{
    const double own = product(x, x, 0, n), gain = own > 0.0 ? product(x, like, 0, n) / own : 1.0;
    for (uint32_t i = 0; i < n; ++i)
        x[i] *= (float)gain;
}

/* ---- Measures ---- */

static double difference(const float *a, const float *b, uint32_t from, uint32_t to)
{
    double sum = 1e-20;
    for (uint32_t i = from; i < to; ++i)
        sum += ((double)a[i] - (double)b[i]) * ((double)a[i] - (double)b[i]);
    return sum;
}

static WordedSpan inner(const Worded *w, uint32_t i)
{
    WordedSpan in = {w->rest[i].from + (uint32_t)(EDGE * w->rate), w->rest[i].to - (uint32_t)(BEFORE * w->rate)};
    return in.to > in.from && in.to < w->n ? in : (WordedSpan){0, 0};
}

/* Energy in the rests; `every`: of every second of them, from the second on, where no breath lies. */
static double in_rests(const Worded *w, const float *x, uint32_t every)
{
    double sum = 1e-20;
    for (uint32_t i = every - 1; i < w->rests; i += every)
        sum += product(x, x, inner(w, i).from, inner(w, i).to);
    return sum;
}

static double segment(const float *clean, const float *x, uint32_t at)
{
    return dsp_clamp(
        power_to_db((1e-20 + product(clean, clean, at, at + GRAIN)) / difference(x, clean, at, at + GRAIN)), -10.0,
        35.0);
}

/* Mean over the frames with words. */
static double segmental(const BesideTake *t, const float *x)
{
    double sum = 0.0;
    uint32_t frames = 0;
    const double least = GRAIN * db_to_power(t->w.level - 30.0);
    for (uint32_t at = 0; at + GRAIN <= t->w.n; at += GRAIN) {
        if (product(t->clean, t->clean, at, at + GRAIN) < least)
            continue;
        sum += segment(t->clean, x, at);
        ++frames;
    }
    return frames ? sum / frames : 0.0;
}

static float *filtered(const float *x, uint32_t n, double hz, bool low)
{
    const Biquad b = low ? design_low_pass(hz, sqrt(0.5), VOICES_RATE) : design_high_pass(hz, sqrt(0.5), VOICES_RATE);
    const Svf f = svf_from_biquad(&b);
    SvfState state[2] = {{0}};
    float *y = floats(n);
    for (uint32_t i = 0; i < n; ++i)
        y[i] = (float)svf_step(&f, &state[1], svf_step(&f, &state[0], (double)x[i]));
    return y;
}

static BesideFigures judge_floor(const BesideTake *t, const float *out)
{
    return (BesideFigures){power_to_db(in_rests(&t->w, t->faulty, 1) / in_rests(&t->w, out, 1)),
                           segmental(t, out) - segmental(t, t->faulty), 0.0};
}

static BesideFigures judge_hum(const BesideTake *t, const float *out)
{
    const uint32_t from = (uint32_t)(2.0 * t->w.rate); /* whoever has to find it has found it */
    return (BesideFigures){
        power_to_db(product(t->planted, t->planted, from, t->w.n) / difference(out, t->clean, from, t->w.n)),
        power_to_db(in_rests(&t->w, t->faulty, 1) / in_rests(&t->w, out, 1)), 0.0};
}

static BesideFigures judge_ticks(const BesideTake *t, const float *out)
{
    double better = 0.0;
    uint32_t gone = 0;
    for (uint32_t c = 0; c < t->moments; ++c) {
        const uint32_t from = (uint32_t)(t->at[c] * t->w.rate), length = (uint32_t)(0.006 * t->w.rate);
        const uint32_t about = (uint32_t)(0.05 * t->w.rate), begin = from > about ? from - about : 0;
        const uint32_t end = from + about < t->w.n ? from + about : t->w.n;
        const double local = product(t->clean, t->clean, begin, end) / (end - begin) + db_to_power(t->w.level - 45.0);
        gone += difference(out, t->clean, from, from + length) / length < local;
        better += (segment(t->clean, out, from / GRAIN * GRAIN) - segment(t->clean, t->faulty, from / GRAIN * GRAIN)) /
                  t->moments;
    }
    return (BesideFigures){100.0 * gone / t->moments, better, 0.0};
}

/* Of the bursts what is left under 200 Hz over the clean take's; the voice's lowest partials away from them. */
static BesideFigures judge_pops(const BesideTake *t, const float *out)
{
    double planted = 1e-20, left = 1e-20, voice = 1e-20, then = 1e-20;
    uint32_t from = 0;
    float *a = filtered(t->clean, t->w.n, 200.0, true), *b = filtered(out, t->w.n, 200.0, true);
    float *p = filtered(t->planted, t->w.n, 200.0, true);
    for (uint32_t k = 0; k <= t->moments; ++k) {
        const uint32_t at = k < t->moments ? (uint32_t)(t->at[k] * t->w.rate) : t->w.n;
        const uint32_t end = at + (uint32_t)(BURST * t->w.rate) < t->w.n ? at + (uint32_t)(BURST * t->w.rate) : t->w.n;
        voice += product(a, a, from, at);
        then += product(b, b, from, at);
        planted += product(p, p, at, end);
        left += difference(b, a, at, end);
        from = end;
    }
    free(a);
    free(b);
    free(p);
    return (BesideFigures){power_to_db(planted / left), power_to_db(then / voice), 0.0};
}

static BesideFigures judge_rests(const BesideTake *t, const float *out)
{
    uint32_t kept = 0, edges = 0;
    for (uint32_t i = 0; i < t->w.rests; ++i) {
        const uint32_t ends = (uint32_t)(0.05 * t->w.rate);
        const uint32_t at[2] = {t->w.rest[i].from - ends, t->w.rest[i].to};
        for (int side = 0; side < 2; ++side, ++edges) {
            double worst = 0.0;
            for (uint32_t k = at[side]; k + EDGE_GRAIN <= at[side] + ends && k + EDGE_GRAIN <= t->w.n; k += EDGE_GRAIN)
                worst = fmax(worst, fabs(power_to_db((product(out, out, k, k + EDGE_GRAIN) + 1e-20) /
                                                     (product(t->faulty, t->faulty, k, k + EDGE_GRAIN) + 1e-20))));
            kept += worst < 1.0;
        }
    }
    return (BesideFigures){power_to_db(in_rests(&t->w, t->faulty, 2) / in_rests(&t->w, out, 2)), 100.0 * kept / edges,
                           0.0};
}

static double loudness_of(const float *x, uint32_t from, uint32_t to)
{
    KWeight k;
    double *y = calloc(to - from + 1, sizeof *y), sum = 1e-20;
    assert_non_null(y);
    kweight_init(&k, VOICES_RATE);
    for (uint32_t i = from; i < to; ++i)
        y[i - from] = (double)x[i];
    kweight_run(&k, 0, y, to - from);
    for (uint32_t i = 0; i < to - from; ++i)
        sum += y[i] * y[i];
    free(y);
    return power_to_db(sum / (to - from));
}

static BesideFigures judge_phrase(const BesideTake *t, const float *out)
{
    const Worded *w = &t->w;
    double least = INFINITY, most = -INFINITY, lift = -INFINITY;
    for (uint32_t i = 0; i <= w->rests; ++i) {
        const uint32_t from = i ? w->rest[i - 1].to : 0, to = i < w->rests ? w->rest[i].from : w->n;
        const double db = to - from > w->rate / 2 ? loudness_of(out, from, to) : NAN;
        least = isnan(db) ? least : fmin(least, db);
        most = isnan(db) ? most : fmax(most, db);
    }
    for (uint32_t i = 0; i < w->rests; ++i) {
        const WordedSpan in = inner(w, i);
        if (in.to > in.from)
            lift = fmax(lift,
                        power_to_db(product(out, out, in.from, in.to) / product(t->faulty, t->faulty, in.from, in.to)));
    }
    return (BesideFigures){most - least, lift, 0.0};
}

typedef BesideFigures (*Judge)(const BesideTake *t, const float *out);
static const Judge judges[BESIDE_FAULTS] = {judge_floor, judge_hum, judge_ticks, judge_pops, judge_rests, judge_phrase};

BesideFigures beside_judge(const BesideTake *t, BesideFault fault, float *out, float *clean)
{
    const uint32_t n = t->w.n;
    align(out, t->faulty, n);
    align(clean, t->clean, n);
    if (fault == FAULT_FLOOR)
        scale(out, t->clean, n);
    BesideFigures f = judges[fault](t, out);
    scale(clean, t->clean, n);
    f.taken = 100.0 * difference(clean, t->clean, 0, n) / product(t->clean, t->clean, 0, n);
    return f;
}
