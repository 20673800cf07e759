#include "hum_track.h"

#include "four.h"
#include "hum_points.h"
#include "inlined.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Set by trial over the voices for tuning, as those of hum_follower.c. */
#define MAINS_RANGE 0.013 /* of the nominal frequency: public supply holds 1 % */

/* Rests. */
#define SILENT_SHARE    0.01 /* of the hum's power: less is nothing */
#define QUIETEST_SHARE  0.08 /* so many windows are quieter than */
#define REST_UNDER      3.0  /* times less than the power of a rest */
#define AGREES_SHARE    0.6  /* of what is heard in a rest, to be one that tells */
#define DRIFT_MOST      1.0  /* rad/s^2: no hum drifts faster; */
#define SPEED_DOUBT     0.3  /* rad/s: so far off a short rest's own speed may be */
#define SURE_FOR        4.0  /* s: so long what is expected is off by less than half a turn */
#define EXPLAINED_TIMES 2.0  /* times the power of what the rests differ by: else there is no hum */
#define STRETCH_TIME    0.5  /* s: so long */
#define ASTRAY_FROM     0.0  /* the lowest harmonics agree with it no better than that: the curve has gone astray */

/* The curve. */
#define DRIFT_WANDER    0.125 /* rad/s^3: how its drift wanders */
#define WINDOW_OVERLAP  4.0   /* so many measurements share their blocks */
#define NOISE_SHARE     0.5   /* of a measurement's difference is its noise: a part of it is no voice's doing */
#define FIRST_REACH     0.7   /* s from a rest, at first; */
#define REACH_GROWTH    1.5   /* times as far each time over */
#define HARMONIC_WANDER 0.01  /* of a harmonic, in a second: how it wanders by itself */
#define ROBUST_ROUNDS   5     /* times over: a mean that odd values do not move */
#define MEDIAN_OF_NOISE 0.693 /* of a power that is spread as noise is: where its middle lies */

enum {
    SPAN = 7,     /* blocks of a window */
    REST = 6,     /* blocks at least, */
    LONG = 25,    /* and most; */
    ON = 5,       /* from one to the next that are compared */
    SPEEDS = 64,  /* tried, to each side */
    ANGLES = 256, /* tried */
    FEW = 3,      /* harmonics that tell where the curve is not known yet; */
    SOME = 6,     /* where it is a little */
    ORDER = 3,    /* of the curve's smoothness */
    ROUNDS = 6,   /* at least */
    ROWS = ORDER + 4,
};

static const double mains[FOLLOWER_FAMILIES] = {50.0, 60.0};

/* ---- Rows and turns ---- */

typedef struct {
    double re, im;
} Pair;

static Pair at(const FollowerRows *r, uint32_t k)
{
    return (Pair){(double)r->re[k], (double)r->im[k]};
}

static void put(FollowerRows *r, uint32_t k, Pair x)
{
    r->re[k] = (float)x.re;
    r->im[k] = (float)x.im;
}

static Pair times(Pair a, Pair b)
{
    return (Pair){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/* a * conj(b) */
static Pair against(Pair a, Pair b)
{
    return (Pair){a.re * b.re + a.im * b.im, a.im * b.re - a.re * b.im};
}

static double power_of(Pair a)
{
    return a.re * a.re + a.im * a.im;
}

static Pair turn(double angle)
{
    return (Pair){cos(angle), sin(angle)};
}

static double wrapped(double angle)
{
    return remainder(angle, 2.0 * DSP_PI);
}

/* Where sum of rows[k] turned back by k * angle is greatest: of -most..most, in `steps` steps to each side. */
static double best_turn(const Pair *row, uint32_t harmonics, double most, int steps, double *greatest)
{
    double best = 0.0;
    *greatest = -HUGE_VAL;
    for (int i = -steps; i <= steps; ++i) {
        const Pair step = turn(-most * i / steps);
        Pair by = step;
        double sum = 0.0;
        for (uint32_t k = 0; k < harmonics; ++k, by = times(by, step))
            sum += row[k].re * by.re - row[k].im * by.im;
        if (sum > *greatest) {
            *greatest = sum;
            best = most * i / steps;
        }
    }
    return best;
}

/* ---- Windows ---- */

static double middle_of(const HumTrack *t, uint32_t b)
{
    return (double)b * t->length + 0.5 * (SPAN * t->length - 1.0);
}

/* rad/s beyond the nominal. */
static double speed_at(const HumTrack *t, uint32_t b)
{
    const uint32_t from = b ? b - 1 : b, to = b + 1 < t->blocks ? b + 1 : b;
    return to > from ? (t->block[to].phase - t->block[from].phase) / ((to - from) * t->seconds) : 0.0;
}

static void harmonics_of(double angle, FollowerRows *to)
{
    const Pair step = turn(angle);
    Pair by = step;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k, by = times(by, step))
        put(to, k, by);
}

/* One more point, of weight x, and the reference a point on. */
static void hear_point(FollowerRows *sum, FollowerRows *reference, const FollowerRows *rotate, float x)
{
    const Four weight = four_all(x);
    UNROLLED
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; k += FOUR) {
        const Four re = four_load(reference->re + k), im = four_load(reference->im + k);
        const Four a = four_load(rotate->re + k), b = four_load(rotate->im + k);
        four_store(sum->re + k, four_add(four_load(sum->re + k), four_mul(weight, re)));
        four_store(sum->im + k, four_sub(four_load(sum->im + k), four_mul(weight, im)));
        four_store(reference->re + k, four_sub(four_mul(re, a), four_mul(im, b)));
        four_store(reference->im + k, four_add(four_mul(re, b), four_mul(im, a)));
    }
}

/* Under a Hann window, by a reference that turns as the curve does in its middle. */
static void hear_window(HumTrack *t, uint32_t b, uint32_t c)
{
    const uint32_t n = SPAN * t->length;
    const double a_point = t->take.stride / t->take.rate, speed = (t->nominal + speed_at(t, b)) * a_point;
    const double phase = t->block[b].phase + t->nominal * a_point * middle_of(t, b);
    const float *const point = t->take.point[c] + (size_t)b * t->length;
    FollowerRows sum = {{0.f}, {0.f}}, reference, rotate;
    harmonics_of(fmod(phase - 0.5 * (n - 1.0) * speed, 2.0 * DSP_PI), &reference);
    harmonics_of(speed, &rotate);
    for (uint32_t i = 0; i < n; ++i)
        hear_point(&sum, &reference, &rotate, point[i] * (float)t->work[i]);
    for (uint32_t k = 0; k < t->harmonics; ++k)
        put(&t->block[b].heard[c], k, (Pair){(double)(sum.re[k] * t->scale[k]), (double)(sum.im[k] * t->scale[k])});
}

/* The work rows hold a window's weights. */
static void hear_all(HumTrack *t)
{
    const uint32_t n = SPAN * t->length;
    for (uint32_t i = 0; i < n; ++i)
        t->work[i] = (1.0 - cos(2.0 * DSP_PI * (i + 0.5) / n)) / n;
    for (uint32_t b = 0; b < t->blocks; ++b)
        for (uint32_t c = 0; c < t->take.channels; ++c)
            hear_window(t, b, c);
}

static double power_in(const HumTrack *t, uint32_t from, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t i = from; i < from + n; ++i)
            sum += (double)t->take.point[c][i] * (double)t->take.point[c][i] / n;
    return sum;
}

/* ---- Rests ---- */

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The share of the values that lie below it; moves them. */
static double quantile(double *value, uint32_t n, double share)
{
    qsort(value, n, sizeof *value, by_value);
    return n ? value[(uint32_t)(share * (n - 1))] : 0.0;
}

static void find_quiet(HumTrack *t, double hum)
{
    uint32_t loud = 0;
    for (uint32_t b = 0; b < t->blocks; ++b) {
        HumTrackBlock *const block = &t->block[b];
        block->power = power_in(t, b * t->length, SPAN * t->length);
        block->silent = power_in(t, (b + SPAN / 2) * t->length, t->length) < SILENT_SHARE * hum;
        if (block->power >= SILENT_SHARE * hum)
            t->work[loud++] = block->power;
    }
    const double most = REST_UNDER * quantile(t->work, loud, QUIETEST_SHARE);
    for (uint32_t b = 0; b < t->blocks; ++b)
        t->block[b].quiet = t->block[b].power >= SILENT_SHARE * hum && t->block[b].power <= most;
}

/* How quickly the harmonics turn from one window to one ON blocks on. */
static double rest_speed(const HumTrack *t, const HumTrackRest *r)
{
    Pair product[FOLLOWER_HARMONICS] = {{0.0, 0.0}};
    double greatest;
    for (uint32_t b = r->from; b + ON < r->to; ++b)
        for (uint32_t c = 0; c < t->take.channels; ++c)
            for (uint32_t k = 0; k < t->harmonics; ++k) {
                const Pair p = against(at(&t->block[b + ON].heard[c], k), at(&t->block[b].heard[c], k));
                product[k].re += p.re;
                product[k].im += p.im;
            }
    for (uint32_t k = 0; k < t->harmonics; ++k) {
        const double less = 1.0 / sqrt(sqrt(power_of(product[k])) + 1e-30);
        product[k] = (Pair){less * product[k].re, less * product[k].im};
    }
    const double apart = ON * t->seconds;
    return best_turn(product, t->harmonics, MAINS_RANGE * t->nominal * apart, SPEEDS, &greatest) / apart;
}

static void rest_mean(const HumTrack *t, HumTrackRest *r)
{
    const double middle = 0.5 * (r->from + r->to - 1.0), n = r->to - r->from;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            Pair sum = {0.0, 0.0};
            for (uint32_t b = r->from; b < r->to; ++b) {
                const double angle = -(k + 1.0) * r->speed * t->seconds * (b - middle);
                const Pair x = times(at(&t->block[b].heard[c], k), turn(angle));
                sum.re += x.re / n;
                sum.im += x.im / n;
            }
            put(&r->mean[c], k, sum);
        }
}

static void add_rest(HumTrack *t, uint32_t from, uint32_t to)
{
    HumTrackRest *const r = &t->rest[t->rests++];
    *r = (HumTrackRest){.from = from, .to = to};
    r->speed = rest_speed(t, r);
    rest_mean(t, r);
}

static void find_rests(HumTrack *t)
{
    for (uint32_t b = 0, begun = 0; b <= t->blocks; ++b) {
        const bool quiet = b < t->blocks && t->block[b].quiet;
        if (b - begun >= REST && (!quiet || b - begun == LONG))
            add_rest(t, begun, b);
        if (!quiet)
            begun = b + 1;
        else if (b - begun >= LONG)
            begun = b;
    }
}

/* ---- From rest to rest ---- */

static double block_of(const HumTrackRest *r)
{
    return 0.5 * (r->from + r->to - 1.0);
}

/* Where a rest stands, 0..2 pi, beside what those before it have in common; and how well it fits, to 1. */
static double stands(const HumTrack *t, const HumTrackRest *r, double *fit)
{
    Pair product[FOLLOWER_HARMONICS] = {{0.0, 0.0}};
    double heard = 1e-30, hum = 1e-30;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const Pair x = at(&r->mean[c], k), a = at(&t->shape[c], k), p = against(x, a);
            product[k].re += p.re;
            product[k].im += p.im;
            heard += power_of(x);
            hum += power_of(a);
        }
    const double angle = best_turn(product, t->harmonics, DSP_PI, ANGLES / 2, fit);
    *fit /= sqrt(heard * hum);
    return angle;
}

static void add_to_shape(HumTrack *t, const HumTrackRest *r)
{
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const Pair a = at(&t->shape[c], k), x = times(at(&r->mean[c], k), turn(-(k + 1.0) * r->phase));
            const double n = r->to - r->from;
            put(&t->shape[c], k, (Pair){a.re + n * x.re, a.im + n * x.im});
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
            for (uint32_t k = 0; k < FEW; ++k) {
                const Pair x = at(&t->block[i].heard[c], k), s = at(&t->shape[c], k);
                const Pair p = times(against(x, s), turn(-(k + 1.0) * phase));
                sum += p.re / sqrt(power_of(x) + 1e-30);
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
    rest_mean(t, r);
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
static void link_rests(HumTrack *t)
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
static void draw_curve(HumTrack *t)
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

/* ---- The curve ---- */

/* What minimises sum weight * (x - value)^2 + stiff * (its differences of this order)^2: value becomes it. band: order
 * + 1 rows of n, the first holds the weights; all are used up (Cholesky's way, L D L'). */
static void smoothest(double *value, double *const *band, uint32_t n, int order, double stiff)
{
    static const double difference[ORDER + 1][ORDER + 1] = {
        {1.0}, {1.0, -1.0}, {1.0, -2.0, 1.0}, {1.0, -3.0, 3.0, -1.0}};
    for (uint32_t i = 0; i < n; ++i)
        value[i] *= band[0][i];
    for (uint32_t i = 0; i + (uint32_t)order < n; ++i)
        for (int a = 0; a <= order; ++a)
            for (int b = 0; b <= a; ++b)
                band[a - b][i + (uint32_t)b] += stiff * difference[order][a] * difference[order][b];
    for (uint32_t j = 0; j < n; ++j)
        for (int a = 1; a <= order && j + (uint32_t)a < n; ++a) {
            const double part = band[a][j] / band[0][j];
            for (int c = a; c <= order && j + (uint32_t)c < n; ++c)
                band[c - a][j + (uint32_t)a] -= part * band[c][j];
            value[j + (uint32_t)a] -= part * value[j];
        }
    for (uint32_t j = n; j-- > 0;) {
        value[j] /= band[0][j];
        for (int a = 1; a <= order && j + (uint32_t)a < n; ++a)
            value[j] -= band[a][j] / band[0][j] * value[j + (uint32_t)a];
    }
}

static double *row(const HumTrack *t, uint32_t i)
{
    return t->work + (size_t)i * t->blocks;
}

/* The middle power of how far the rests are from x, as that of noise. */
static double spread(HumTrack *t, uint32_t c, uint32_t k, Pair x)
{
    uint32_t n = 0;
    for (uint32_t b = 0; b < t->blocks; ++b)
        if (t->block[b].quiet) {
            const Pair y = at(&t->block[b].heard[c], k);
            row(t, 0)[n++] = power_of((Pair){y.re - x.re, y.im - x.im});
        }
    return quantile(row(t, 0), n, 0.5) / MEDIAN_OF_NOISE + 1e-20;
}

static double middle_part(HumTrack *t, uint32_t c, uint32_t k, bool imaginary)
{
    uint32_t n = 0;
    for (uint32_t b = 0; b < t->blocks; ++b)
        if (t->block[b].quiet)
            row(t, 0)[n++] = imaginary ? (double)t->block[b].heard[c].im[k] : (double)t->block[b].heard[c].re[k];
    return quantile(row(t, 0), n, 0.5);
}

/* How a harmonic is made up, over all rests. */
static void find_shape(HumTrack *t, uint32_t c, uint32_t k)
{
    Pair x = {middle_part(t, c, k, false), middle_part(t, c, k, true)};
    for (int i = 0; i < ROBUST_ROUNDS; ++i) {
        const double usual = spread(t, c, k, x);
        Pair sum = {0.0, 0.0};
        double all = 0.0;
        for (uint32_t b = 0; b < t->blocks; ++b) {
            const Pair y = at(&t->block[b].heard[c], k);
            const double w = t->block[b].quiet ? 1.0 / (usual + power_of((Pair){y.re - x.re, y.im - x.im})) : 0.0;
            sum.re += w * y.re;
            sum.im += w * y.im;
            all += w;
        }
        x = (Pair){sum.re / all, sum.im / all};
    }
    put(&t->shape[c], k, x);
    t->noise[c][k] = (float)spread(t, c, k, x);
}

/* Harmonics that tell, so far from a rest. */
static uint32_t telling(const HumTrack *t, const HumTrackBlock *block, double reach)
{
    return block->away > reach ? 0 : block->away > 0.5 * reach ? FEW : block->away > 0.25 * reach ? SOME : t->harmonics;
}

/* A hum that turned keeps its amplitude: what differs in that is a voice's doing, twice over, as half of what a voice
 * does only turns it. */
static void hear_voice(HumTrack *t, HumTrackBlock *block)
{
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            const double louder = sqrt(power_of(at(&block->heard[c], k))) - sqrt(power_of(at(&t->shape[c], k)));
            block->voice[c][k] = (float)(2.0 * louder * louder);
        }
}

/* At least what it is in the windows next to it on the mean: a voice can leave the amplitude as it was by chance. */
static double voice_at(const HumTrack *t, uint32_t b, uint32_t c, uint32_t k)
{
    const uint32_t from = b ? b - 1 : b, to = b + 1 < t->blocks ? b + 1 : b;
    double sum = 0.0;
    for (uint32_t i = from; i <= to; ++i)
        sum += (double)t->block[i].voice[c][k];
    return fmax((double)t->block[b].voice[c][k], sum / (to - from + 1));
}

/* How far a window says the curve is off, and what that is worth, 1/rad^2. */
static double off_by(const HumTrack *t, uint32_t b, double reach, double *worth)
{
    const HumTrackBlock *const block = &t->block[b];
    const bool near = block->away <= 0.25 * reach;
    double sum = 0.0;
    *worth = 0.0;
    for (uint32_t c = 0; c < t->take.channels && !block->silent; ++c)
        for (uint32_t k = 0; k < telling(t, block, reach); ++k) {
            const Pair x = at(&block->heard[c], k), a = at(&t->shape[c], k), p = against(x, a);
            const double own = power_of(a) + 1e-30, n = k + 1.0, aside = near ? p.im * p.im / own : 0.0;
            const double noise = (double)t->noise[c][k] + NOISE_SHARE * fmax(voice_at(t, b, c, k), aside);
            const double weight = 2.0 / (WINDOW_OVERLAP * noise);
            sum += weight * n * own * atan2(p.im, p.re);
            *worth += weight * n * n * own;
        }
    return *worth > 0.0 ? sum / *worth : 0.0;
}

/* The curve is moved to where the harmonics say. */
static void bend(HumTrack *t, double reach)
{
    double *const value = row(t, ORDER + 1), *band[ORDER + 1] = {row(t, 0), row(t, 1), row(t, 2), row(t, 3)};
    memset(t->work, 0, sizeof *t->work * (ORDER + 2) * t->blocks);
    for (uint32_t b = 0; b < t->blocks; ++b)
        hear_voice(t, &t->block[b]);
    for (uint32_t b = 0; b < t->blocks; ++b)
        value[b] = t->block[b].phase + off_by(t, b, reach, &band[0][b]);
    smoothest(value, band, t->blocks, ORDER, pow(DRIFT_WANDER * t->seconds * t->seconds * t->seconds, -2.0));
    for (uint32_t b = 0; b < t->blocks; ++b)
        t->block[b].phase = value[b];
}

static void follow(HumTrack *t)
{
    double farthest = 0.0, reach = FIRST_REACH;
    for (uint32_t b = 0; b < t->blocks; ++b)
        farthest = fmax(farthest, t->block[b].away);
    for (int i = 0; i < ROUNDS || reach < 8.0 * farthest; ++i, reach *= REACH_GROWTH) {
        hear_all(t);
        for (uint32_t c = 0; c < t->take.channels; ++c)
            for (uint32_t k = 0; k < t->harmonics; ++k)
                find_shape(t, c, k);
        bend(t, reach);
    }
    hear_all(t);
}

/* ---- What is played ---- */

/* A part of a harmonic, as it wanders from rest to rest. */
static void wander(HumTrack *t, uint32_t c, uint32_t k, bool imaginary)
{
    double *const value = row(t, 2), *band[] = {row(t, 0), row(t, 1)};
    const Pair a = at(&t->shape[c], k);
    memset(t->work, 0, sizeof *t->work * 3 * t->blocks);
    for (uint32_t b = 0; b < t->blocks; ++b) {
        const HumTrackBlock *const block = &t->block[b];
        const Pair y = at(&block->heard[c], k), d = {y.re - a.re, y.im - a.im};
        band[0][b] = block->quiet ? 1.0 / (WINDOW_OVERLAP * ((double)t->noise[c][k] + power_of(d))) : 0.0;
        value[b] = imaginary ? d.im : d.re;
    }
    smoothest(value, band, t->blocks, 1,
              1.0 / (HARMONIC_WANDER * HARMONIC_WANDER * t->seconds * (power_of(a) + 1e-20)));
    for (uint32_t b = 0; b < t->blocks; ++b) {
        const double is = (imaginary ? a.im : a.re) + value[b];
        float *const to = imaginary ? t->block[b].hum[c].im : t->block[b].hum[c].re;
        to[k] = t->block[b].silent ? 0.f : (float)is;
    }
}

/* Is it a hum, what the rests have in common? */
static bool explains(const HumTrack *t)
{
    double hum = 0.0, noise = 0.0;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            hum += power_of(at(&t->shape[c], k));
            noise += (double)t->noise[c][k];
        }
    return hum > EXPLAINED_TIMES * noise;
}

/* How well the lowest harmonics of a window agree with the curve, -1..1: by their phases alone, so that no voice drowns
 * the others. */
static double agreement(const HumTrack *t, const HumTrackBlock *block)
{
    double sum = 0.0, all = 1e-30;
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < FEW; ++k) {
            const Pair x = at(&block->heard[c], k), a = at(&t->shape[c], k);
            const double own = sqrt(power_of(a));
            sum += against(x, a).re / sqrt(power_of(x) + 1e-30);
            all += own;
        }
    return sum / all;
}

/* Is there no stretch of the take in which the curve goes astray? Where nothing comes in, nothing disagrees. */
static bool agrees_throughout(const HumTrack *t)
{
    const double keep = one_pole(STRETCH_TIME, 1.0 / t->seconds);
    double least = 1.0;
    for (int back = 0; back < 2; ++back) {
        double lately = 1.0;
        for (uint32_t i = 0; i < t->blocks; ++i) {
            const HumTrackBlock *const block = &t->block[back ? t->blocks - 1 - i : i];
            const double now = block->silent ? 1.0 : agreement(t, block);
            lately = now + keep * (lately - now);
            least = fmin(least, lately);
        }
    }
    return least > ASTRAY_FROM;
}

static bool settle(HumTrack *t, double db)
{
    find_quiet(t, db_to_power(db));
    hear_all(t);
    find_rests(t);
    if (!t->rests)
        return false;
    link_rests(t);
    draw_curve(t);
    follow(t);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            wander(t, c, k, false);
            wander(t, c, k, true);
        }
    return explains(t) && agrees_throughout(t);
}

bool hum_track_find(HumTrack *t, const HumTrackTake *take, uint32_t family, double db)
{
    const double points = take->rate / take->stride;
    *t = (HumTrack){.take = *take, .nominal = 2.0 * DSP_PI * mains[family]};
    t->length = (uint32_t)(points / mains[family] + 0.5);
    t->seconds = t->length / points;
    t->harmonics = (uint32_t)(FOLLOWER_HIGHEST / mains[family]);
    if (take->points < 2 * SPAN * t->length)
        return true;
    t->blocks = (take->points - SPAN * t->length) / t->length + 1;
    for (uint32_t k = 0; k < t->harmonics; ++k)
        t->scale[k] = (float)(2.0 / hum_points_heard_at(take->rate, take->stride, mains[family] * (k + 1)));
    t->block = calloc(t->blocks, sizeof *t->block);
    t->rest = calloc(t->blocks / REST + 1, sizeof *t->rest);
    t->work = calloc((size_t)ROWS * t->blocks + (size_t)SPAN * t->length, sizeof *t->work);
    if (!t->block || !t->rest || !t->work)
        return false;
    t->settled = settle(t, db);
    return true;
}

void hum_track_done(HumTrack *t)
{
    free(t->block);
    free(t->rest);
    free(t->work);
    *t = (HumTrack){.settled = false};
}

/* The phase of the fundamental, and what is put out of every harmonic, at a place in blocks. */
static double stand(const HumTrack *t, double place, FollowerRows now[DSP_CHANNELS])
{
    const double last = t->blocks - 1.0, inside = dsp_clamp(place, 0.0, last);
    const uint32_t b = (uint32_t)fmin(inside, last - 1.0);
    const HumTrackBlock *const from = &t->block[b], *const to = from + 1;
    const float u = (float)(inside - b);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            now[c].re[k] = from->hum[c].re[k] + u * (to->hum[c].re[k] - from->hum[c].re[k]);
            now[c].im[k] = from->hum[c].im[k] + u * (to->hum[c].im[k] - from->hum[c].im[k]);
        }
    return from->phase + (place - b) * (to->phase - from->phase);
}

static float value_of(const FollowerRows *now, const FollowerRows *reference, uint32_t harmonics)
{
    float sum = 0.f;
    for (uint32_t k = 0; k < harmonics; ++k)
        sum += now->re[k] * reference->re[k] - now->im[k] * reference->im[k];
    return sum;
}

void hum_track_play(const HumTrack *t, uint64_t at_sample, double up_to, float *const *hum, uint32_t n)
{
    FollowerRows now[DSP_CHANNELS], reference;
    const uint32_t wanted = (uint32_t)(up_to / (t->nominal / (2.0 * DSP_PI)) + 1e-9);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        memset(hum[c], 0, n * sizeof(float));
    for (uint32_t i = 0; t->settled && i < n; ++i) {
        const double point = ((double)(at_sample + i) + 0.5) / t->take.stride;
        const double phase = stand(t, (point - middle_of(t, 0)) / t->length, now);
        harmonics_of(fmod(phase + t->nominal * point * t->take.stride / t->take.rate, 2.0 * DSP_PI), &reference);
        for (uint32_t c = 0; c < t->take.channels; ++c)
            hum[c][i] = value_of(&now[c], &reference, wanted < t->harmonics ? wanted : t->harmonics);
    }
}
