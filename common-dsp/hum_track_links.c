#include "hum_track_links.h"

#include "hum_track_inside.h"
#include "hum_track_rests.h"

/* Set by trial over the voices for tuning, not searched one by one. */
#define AGREES_SHARE 0.6 /* of what is heard in a rest has to agree with the others: else it tells nothing */
#define DRIFT_MOST   1.0 /* rad/s^2: no hum drifts faster */
#define SPEED_DOUBT  0.3 /* rad/s: error of a short rest's own speed */
#define SURE_FOR     4.0 /* s between rests: up to here what is expected is off by less than half a turn */

enum { ANGLES = 256 }; /* angles tried */

static double wrapped(double angle)
{
    return remainder(angle, 2.0 * DSP_PI);
}

static double block_of(const HumTrackRest *r)
{
    return 0.5 * (r->from + r->to - 1.0);
}

/* Where a rest stands, 0..2 pi, beside what those before it have in common; and how well it fits, to 1. */
static double stands(const HumTrack *t, const HumTrackRest *r, double *fit)
{
    Pair product[FOLLOWER_HARMONICS] = {{0.0, 0.0}};
    double heard = 0.0, hum = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const Pair x = pair_at(&r->mean[c], k), a = pair_at(&t->shape[c], k), p = pair_against(x, a);
            const double trust = (double)t->trust[c][k];
            product[k].re += trust * p.re;
            product[k].im += trust * p.im;
            heard += trust * pair_power(x);
            hum += trust * pair_power(a);
        }
    const double angle = pair_best_turn(product, t->harmonics, DSP_PI, ANGLES / 2, fit);
    *fit /= sqrt(heard * hum); /* NaN, 0 / 0, where nothing is heard: no comparison holds then */
    return angle;
}

static void add_to_shape(HumTrack *t, const HumTrackRest *r)
{
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const Pair a = pair_at(&t->shape[c], k),
                       x = pair_times(pair_at(&r->mean[c], k), pair_turn(-(k + 1.0) * r->phase));
            const double n = r->to - r->from;
            pair_put(&t->shape[c], k, (Pair){a.re + n * x.re, a.im + n * x.im});
        }
}

/* The cubic that has the phase and the speed of both rests (Hermite). */
static double between(const HumTrack *t, const HumTrackRest *a, const HumTrackRest *b, double block)
{
    const double span = block_of(b) - block_of(a), u = (block - block_of(a)) / span;
    const double out = a->speed * span * t->seconds, in = b->speed * span * t->seconds, step = b->phase - a->phase;
    const double third = out + in - 2.0 * step, second = step - out - third;
    return a->phase + u * (out + u * (second + u * third));
}

/* How well what lies between two rests agrees with the way from one to the other: of each harmonic the phase alone, so
 * that no voice drowns the others. */
static double way(const HumTrack *t, const HumTrackRest *a, const HumTrackRest *b)
{
    double sum = 0.0;
    for (uint32_t i = a->to; i < b->from; ++i) {
        const double phase = between(t, a, b, i);
        for (uint32_t c = 0; c < t->take.channels; ++c)
            for (uint32_t k = 0; k < TRACK_FEW; ++k) {
                const Pair x = pair_at(&t->block[i].heard[c], k), s = pair_at(&t->shape[c], k);
                const Pair p = pair_times(pair_against(x, s), pair_turn(-(k + 1.0) * phase));
                sum += sqrt((double)t->trust[c][k] / (pair_power(x) + 1e-30)) * p.re;
            }
    }
    return sum;
}

/* By how many whole turns more or fewer the fundamental went from one rest to another. */
static void count_turns(const HumTrack *t, const HumTrackRest *last, HumTrackRest *r)
{
    static const double more[] = {0.0, -1.0, 1.0};
    const double phase = r->phase;
    double best = -HUGE_VAL, found = phase;
    for (int i = 0; i < 3; ++i) {
        r->phase = phase + 2.0 * DSP_PI * more[i];
        const double agrees = r > last ? way(t, last, r) : way(t, r, last);
        found = agrees > best ? r->phase : found;
        best = fmax(best, agrees);
    }
    r->phase = found;
}

static bool link_rest(HumTrack *t, const HumTrackRest *last, HumTrackRest *r)
{
    double fit;
    const double gap = (block_of(r) - block_of(last)) * t->seconds;
    const double most = DRIFT_MOST * fabs(gap) + SPEED_DOUBT;
    r->speed = dsp_clamp(r->speed, last->speed - most, last->speed + most);
    track_rest_mean(t, r);
    const double expected = last->phase + 0.5 * (last->speed + r->speed) * gap, stood = stands(t, r, &fit);
    r->linked = fit > AGREES_SHARE;
    if (!r->linked)
        return false;
    r->phase = expected + wrapped(stood - expected);
    if (fabs(gap) > SURE_FOR)
        count_turns(t, last, r);
    add_to_shape(t, r);
    return true;
}

/* From the longest rest on to both sides. */
void track_link_rests(HumTrack *t)
{
    uint32_t first = 0;
    for (uint32_t i = 0; i < t->rests; ++i)
        if (t->rest[i].to - t->rest[i].from > t->rest[first].to - t->rest[first].from)
            first = i;
    HumTrackRest *last = &t->rest[first];
    last->linked = true;
    add_to_shape(t, last);
    for (uint32_t i = first + 1; i < t->rests; ++i)
        last = link_rest(t, last, &t->rest[i]) ? &t->rest[i] : last;
    last = &t->rest[first];
    for (uint32_t i = first; i-- > 0;)
        last = link_rest(t, last, &t->rest[i]) ? &t->rest[i] : last;
}

static const HumTrackRest *linked_from(const HumTrack *t, uint32_t i)
{
    while (i < t->rests && !t->rest[i].linked)
        ++i;
    return i < t->rests ? &t->rest[i] : NULL;
}

/* A first curve: straight on before the first rest and after the last. */
void track_draw_curve(HumTrack *t)
{
    const HumTrackRest *before = NULL, *next = linked_from(t, 0);
    for (uint32_t b = 0; b < t->blocks; ++b) {
        HumTrackBlock *const block = &t->block[b];
        if (next && b >= block_of(next)) {
            before = next;
            next = linked_from(t, (uint32_t)(next - t->rest) + 1);
        }
        const HumTrackRest *const near = before ? before : next ? next : t->rest;
        block->phase = before && next ? between(t, before, next, b)
                                      : near->phase + near->speed * t->seconds * (b - block_of(near));
        const double back = before && b > before->to ? (b - before->to) * t->seconds : before ? 0.0 : HUGE_VAL;
        const double on = next && b < next->from ? (next->from - b) * t->seconds : next ? 0.0 : HUGE_VAL;
        block->away = fmin(back, on);
    }
}
