#include "lanes.h"

#include "two_svf.h"

#include <string.h>

enum { MOST = LANES_SECTIONS / 2 }; /* pairs */

/* ---- A pair of sections ---- */

/* As svf_between() does; by: goal - from. */
static INLINED TwoSvf pair_between(const TwoSvf *from, const TwoSvf *by, Two way)
{
    return (TwoSvf){.direct = two_add(from->direct, two_mul(way, by->direct)),
                    .by_first = two_add(from->by_first, two_mul(way, by->by_first)),
                    .by_second = two_add(from->by_second, two_mul(way, by->by_second)),
                    .keep = two_add(from->keep, two_mul(way, by->keep)),
                    .lift = two_add(from->lift, two_mul(way, by->lift)),
                    .rise = two_add(from->rise, two_mul(way, by->rise))};
}

static TwoSvf pair_less(const TwoSvf *a, const TwoSvf *b)
{
    return (TwoSvf){.direct = two_sub(a->direct, b->direct),
                    .by_first = two_sub(a->by_first, b->by_first),
                    .by_second = two_sub(a->by_second, b->by_second),
                    .keep = two_sub(a->keep, b->keep),
                    .lift = two_sub(a->lift, b->lift),
                    .rise = two_sub(a->rise, b->rise)};
}

/* The last of an odd number of sections is paired with one that returns its input. */
static void pair_up(const Svf *section, uint32_t sections, TwoSvf *pair)
{
    static const Svf through = {.direct = 1.0};
    for (uint32_t i = 0; i < sections; i += 2)
        pair[i / 2] = two_svf_of(&section[i], i + 1 < sections ? &section[i + 1] : &through);
}

/* ---- All pairs at once ---- */

/* The pairs' states, next inputs and, while sections glide, positions from 0 to 1. */
typedef struct {
    TwoSvfState state[MOST];
    Two feed[MOST], way[MOST]; /* feed: inputs of this step */
} Flight;

/* One step of pairs first..last out of `pairs`, each lane at its own sample. next: input of the first section at the
 * next step. Returns the output of the last section. */
static INLINED double advance(const TwoSvf *pair, const TwoSvf *by, int first, int last, int pairs, Flight *f,
                              double next)
{
    double carried = next;
    UNROLLED
    for (int p = first; p <= last; ++p) {
        TwoSvf now = pair[p];
        if (by) {
            now = pair_between(&pair[p], &by[p], f->way[p]);
            f->way[p] = two_add(f->way[p], two_of(1.0 / DSP_CELL, 1.0 / DSP_CELL));
        }
        const Two y = two_svf_step(&now, &f->state[p], f->feed[p]);
        f->feed[p] = two_of(carried, two_lane(y, 0));
        carried = two_lane(y, 1);
    }
    if (last + 1 < pairs)
        f->feed[last + 1] = two_of(carried, 0.0);
    return carried;
}

/* Loads lane k's state at its first sample; until then the lane ran on silence. */
static INLINED void join(Flight *f, int k, const SvfState *state)
{
    f->state[k / 2].first = two_put(f->state[k / 2].first, k % 2, state->s1);
    f->state[k / 2].second = two_put(f->state[k / 2].second, k % 2, state->s2);
}

/* Stores lane k's state after its last sample: both numbers at once, as they will be loaded at once. */
static INLINED void leave(const Flight *f, int k, SvfState *state)
{
    const Two both = two_of(two_lane(f->state[k / 2].first, k % 2), two_lane(f->state[k / 2].second, k % 2));
    memcpy(state, &both, sizeof *state);
}

/* Runs n samples, at least as many as there are lanes, in place. state: one for every lane. Pairs in which no lane has
 * begun yet, or both are done, are skipped. */
static INLINED void fly(const TwoSvf *pair, const TwoSvf *by, int pairs, Flight *f, SvfState *const *state, double *x,
                        uint32_t n)
{
    const int lanes = 2 * pairs;
    f->feed[0] = two_put(f->feed[0], 0, x[0]);
    UNROLLED
    for (int k = 0; k < lanes - 1; ++k) {
        join(f, k, state[k]);
        advance(pair, by, 0, k / 2, pairs, f, x[k + 1]);
    }
    join(f, lanes - 1, state[lanes - 1]);
    for (uint32_t t = 0; t + (uint32_t)lanes < n; ++t)
        x[t] = advance(pair, by, 0, pairs - 1, pairs, f, x[t + (uint32_t)lanes]);
    UNROLLED
    for (int k = 0; k < lanes; ++k) {
        x[n - (uint32_t)(lanes - k)] = advance(pair, by, k / 2, pairs - 1, pairs, f, 0.0);
        leave(f, k, state[k]);
    }
}

/* Compiled once for each number of pairs, so that the pairs' data stay in registers. */
static INLINED void fly_pairs(const TwoSvf *pair, const TwoSvf *by, uint32_t pairs, Flight f, SvfState *const *state,
                              double *x, uint32_t n)
{
    if (pairs == 1)
        fly(pair, by, 1, &f, state, x, n);
    else if (pairs == 2)
        fly(pair, by, 2, &f, state, x, n);
    else
        fly(pair, by, 3, &f, state, x, n);
}

/* ---- Any number of samples ---- */

/* Section by section. Coefficients and state are copied, so that they can stay in registers. */
static void one_by_one(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n)
{
    for (uint32_t i = 0; i < sections; ++i) {
        const Svf own = section[i];
        SvfState now = state[i];
        for (uint32_t t = 0; t < n; ++t)
            x[t] = svf_step(&own, &now, x[t]);
        state[i] = now;
    }
}

static void one_by_one_glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections,
                             double *x, uint32_t n)
{
    for (uint32_t i = 0; i < sections; ++i)
        for (uint32_t t = 0; t < n; ++t) {
            const Svf now = svf_between(&from[i], &goal[i], way[i] + t * (1.0 / DSP_CELL));
            x[t] = svf_step(&now, &state[i], x[t]);
        }
}

/* Runs the pairs; with an odd number of sections, the last pair's idle second lane too. */
static INLINED void in_pairs(const TwoSvf *pair, const TwoSvf *by, Flight start, SvfState *state, uint32_t sections,
                             double *x, uint32_t n)
{
    SvfState none = {0}, *all[LANES_SECTIONS];
    for (uint32_t i = 0; i < LANES_SECTIONS; ++i)
        all[i] = i < sections ? &state[i] : &none;
    fly_pairs(pair, by, (sections + 1) / 2, start, all, x, n);
}

void lanes_run(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n)
{
    if (n < LANES_SECTIONS || sections == 1) {
        one_by_one(section, state, sections, x, n);
        return;
    }
    const Flight start = {0};
    TwoSvf pair[MOST];
    pair_up(section, sections, pair);
    in_pairs(pair, NULL, start, state, sections, x, n);
}

void lanes_glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections, double *x,
                 uint32_t n)
{
    if (n < LANES_SECTIONS) {
        one_by_one_glide(from, goal, way, state, sections, x, n);
        return;
    }
    Flight start = {0};
    TwoSvf pair[MOST], by[MOST];
    pair_up(from, sections, pair);
    pair_up(goal, sections, by);
    for (uint32_t p = 0; p < (sections + 1) / 2; ++p)
        by[p] = pair_less(&by[p], &pair[p]);
    /* A pair is skipped until its first lane has a sample; its second lane gets its first sample one step later. */
    for (uint32_t i = 0; i < sections; ++i)
        start.way[i / 2] = two_put(start.way[i / 2], i % 2, way[i] - (i % 2) * (1.0 / DSP_CELL));
    in_pairs(pair, by, start, state, sections, x, n);
}

/* ---- Two channels ---- */

/* Each sample of both channels goes through all sections before the next one. */
static INLINED void walk(const TwoSvf *section, const TwoSvf *by, int sections, Two *way, TwoSvfState *state,
                         double *const *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        Two y = two_of(x[0][t], x[1][t]);
        UNROLLED
        for (int i = 0; i < sections; ++i) {
            TwoSvf now = section[i];
            if (by) {
                now = pair_between(&section[i], &by[i], way[i]);
                way[i] = two_add(way[i], two_of(1.0 / DSP_CELL, 1.0 / DSP_CELL));
            }
            y = two_svf_step(&now, &state[i], y);
        }
        x[0][t] = two_lane(y, 0);
        x[1][t] = two_lane(y, 1);
    }
}

/* As fly_pairs(). */
static INLINED void walk_sections(const TwoSvf *section, const TwoSvf *by, uint32_t sections, Two *way,
                                  TwoSvfState *state, double *const *x, uint32_t n)
{
    if (sections == 1)
        walk(section, by, 1, way, state, x, n);
    else if (sections == 2)
        walk(section, by, 2, way, state, x, n);
    else if (sections <= 4)
        walk(section, by, 4, way, state, x, n);
    else
        walk(section, by, 6, way, state, x, n);
}

/* Puts each section into both lanes; unused sections return their input. */
static void double_up(const Svf *section, uint32_t sections, TwoSvf *pair)
{
    static const Svf through = {.direct = 1.0};
    for (uint32_t i = 0; i < LANES_SECTIONS; ++i) {
        const Svf *const own = i < sections ? &section[i] : &through;
        pair[i] = two_svf_of(own, own);
    }
}

static void load_both(TwoSvfState *to, SvfState *const *state, uint32_t sections)
{
    static const SvfState none;
    for (uint32_t i = 0; i < LANES_SECTIONS; ++i)
        to[i] = i < sections ? two_states_of(&state[0][i], &state[1][i]) : two_states_of(&none, &none);
}

static void store_both(const TwoSvfState *from, SvfState *const *state, uint32_t sections)
{
    for (uint32_t i = 0; i < sections; ++i)
        two_states_split(&from[i], &state[0][i], &state[1][i]);
}

void lanes_run_both(const Svf *section, SvfState *const *state, uint32_t sections, double *const *x, uint32_t n)
{
    TwoSvf pair[LANES_SECTIONS];
    TwoSvfState both[LANES_SECTIONS];
    double_up(section, sections, pair);
    load_both(both, state, sections);
    walk_sections(pair, NULL, sections, NULL, both, x, n);
    store_both(both, state, sections);
}

void lanes_glide_both(const Svf *from, const Svf *goal, const double *way, SvfState *const *state, uint32_t sections,
                      double *const *x, uint32_t n)
{
    TwoSvf pair[LANES_SECTIONS], by[LANES_SECTIONS];
    TwoSvfState both[LANES_SECTIONS];
    Two at[LANES_SECTIONS];
    double_up(from, sections, pair);
    double_up(goal, sections, by);
    for (uint32_t i = 0; i < LANES_SECTIONS; ++i) {
        const double own = i < sections ? way[i] : 0.0;
        by[i] = pair_less(&by[i], &pair[i]);
        at[i] = two_of(own, own);
    }
    load_both(both, state, sections);
    walk_sections(pair, by, sections, at, both, x, n);
    store_both(both, state, sections);
}
