/* hum_track_links.h: rests that are linked and the first curve through them, beside the same equations plainly. */
#include "hum_track_inside.h"
#include "hum_track_links.h"
#include "hum_track_rests.h"
#include "singer/random.h"

#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SECONDS 0.02

enum { TAKES = 80, RESTS = 7, HARMONICS = 5, CHANNELS = 2 };

/* Of blocks and rests there is room for no more than there are: a sanitizer sees it. */
typedef struct {
    HumTrack t;
    HumTrackRest *plain;
    double *phase, *away;
    float complex shape[CHANNELS][HARMONICS];
} Take;

static double at(const HumTrackRest *r)
{
    return 0.5 * (r->from + r->to - 1.0);
}

/* ---- The take ---- */

/* Rests of 6 to 25 blocks, 0.2 to 7 s apart; each takes its speed to be up to 2 rad/s off. */
static uint32_t draw_rests(HumTrackRest *rest, Random *random)
{
    uint32_t block = 3;
    for (uint32_t i = 0; i < RESTS; ++i) {
        rest[i] = (HumTrackRest){.from = block, .speed = random_between(random, -1.2, 0.9)};
        block += 6 + (uint32_t)random_between(random, 0.0, 20.0);
        rest[i].to = block;
        block += 10 + (uint32_t)random_between(random, 0.0, random_unit(random) < 0.5 ? 100.0 : 340.0);
    }
    return block;
}

/* A hum that turns at a speed that wanders from 0 to 0.8 rad/s, and as much of something else as differs from rest to
 * rest. */
static void draw_blocks(HumTrack *t, Random *random)
{
    double phase = random_between(random, 0.0, 6.0), other = 0.5;
    for (uint32_t b = 0; b < t->blocks; ++b) {
        phase += 0.8 * SECONDS * fabs(sin(0.004 * b * random_between(random, 0.9, 1.1)));
        other = b % 60 == 0 ? random_between(random, 0.2, 1.8) : other;
        for (uint32_t c = 0; c < CHANNELS; ++c)
            for (uint32_t k = 0; k < HARMONICS; ++k) {
                const double n = k + 1.0, angle = n * phase + n * n + c,
                             aside = 50.0 * other * n + c + random_between(random, -1.0, 1.0);
                if (b % 50 != 49) /* else nothing comes in */
                    pair_put(&t->block[b].heard[c], k,
                             (Pair){cos(angle) / n + other * cos(aside) / n, sin(angle) / n + other * sin(aside) / n});
            }
    }
}

static Take *take_of(uint32_t seed)
{
    Random random = random_stream(seed, 1);
    Take *const w = calloc(1, sizeof *w);
    assert_non_null(w);
    HumTrackRest *const rest = calloc(RESTS, sizeof *rest);
    w->plain = calloc(RESTS, sizeof *rest);
    assert_true(rest && w->plain);
    const uint32_t blocks = draw_rests(rest, &random);
    w->t = (HumTrack){.take = {.channels = CHANNELS},
                      .seconds = SECONDS,
                      .harmonics = HARMONICS,
                      .blocks = blocks,
                      .rests = RESTS,
                      .rest = rest,
                      .block = calloc(blocks, sizeof *w->t.block)};
    w->phase = calloc(blocks, sizeof *w->phase);
    w->away = calloc(blocks, sizeof *w->away);
    assert_true(w->t.block && w->phase && w->away);
    draw_blocks(&w->t, &random);
    for (uint32_t c = 0; c < CHANNELS; ++c)
        for (uint32_t k = 0; k < HARMONICS; ++k)
            w->t.trust[c][k] = (float)random_between(&random, 0.5, 3.0);
    w->t.trust[0][HARMONICS] = w->t.shape[0].re[HARMONICS] = 7.f; /* one harmonic more, which is never looked at */
    for (uint32_t i = 0; i < RESTS; ++i) {
        track_rest_mean(&w->t, &rest[i]);
        rest[i].mean[0].re[HARMONICS] = 9.f;
        w->plain[i] = rest[i];
    }
    return w;
}

static void drop(Take *w)
{
    free(w->t.rest);
    free(w->t.block);
    free(w->plain);
    free(w->phase);
    free(w->away);
    free(w);
}

/* ---- The equations ---- */

static double complex complex_of(const FollowerRows *r, uint32_t k)
{
    return (double)r->re[k] + I * (double)r->im[k];
}

static void plain_add(Take *w, const HumTrackRest *r)
{
    r = &w->plain[r - w->plain];
    for (uint32_t c = 0; c < CHANNELS; ++c)
        for (uint32_t k = 0; k < HARMONICS; ++k)
            w->shape[c][k] =
                (float complex)((double complex)w->shape[c][k] +
                                (r->to - r->from) * complex_of(&r->mean[c], k) * cexp(-I * (k + 1.0) * r->phase));
}

/* Of 256 angles the one by which the shape is likest the rest, and the correlation there. */
static double plain_angle(const Take *w, const HumTrackRest *r, double *fit)
{
    double best = 0.0, heard = 0.0, hum = 0.0;
    *fit = -HUGE_VAL;
    for (int i = -128; i <= 128; ++i) {
        const double angle = 2.0 * DSP_PI * i / 256.0;
        double sum = 0.0;
        for (uint32_t c = 0; c < CHANNELS; ++c)
            for (uint32_t k = 0; k < HARMONICS; ++k)
                sum +=
                    (double)w->t.trust[c][k] * creal(complex_of(&r->mean[c], k) * conj((double complex)w->shape[c][k]) *
                                                     cexp(-I * (k + 1.0) * angle));
        best = sum > *fit + 1e-12 ? angle : best;
        *fit = fmax(*fit, sum);
    }
    for (uint32_t c = 0; c < CHANNELS; ++c)
        for (uint32_t k = 0; k < HARMONICS; ++k) {
            heard += (double)w->t.trust[c][k] * pow(cabs(complex_of(&r->mean[c], k)), 2.0);
            hum += (double)w->t.trust[c][k] * pow(cabs((double complex)w->shape[c][k]), 2.0);
        }
    *fit /= sqrt(heard * hum);
    return best;
}

/* Hermite's cubic from one rest's phase and speed to another's. */
static double plain_between(const HumTrackRest *a, const HumTrackRest *b, double block)
{
    const double span = at(b) - at(a), u = (block - at(a)) / span, seconds = span * SECONDS;
    return (1.0 + 2.0 * u) * (1.0 - u) * (1.0 - u) * a->phase + u * (1.0 - u) * (1.0 - u) * seconds * a->speed +
           u * u * (3.0 - 2.0 * u) * b->phase + u * u * (u - 1.0) * seconds * b->speed;
}

/* How far the first three harmonics of what lies between agree, by their phases alone. */
static double plain_way(const Take *w, const HumTrackRest *a, const HumTrackRest *b)
{
    double sum = 0.0;
    for (uint32_t i = a->to; i < b->from; ++i)
        for (uint32_t c = 0; c < CHANNELS; ++c)
            for (uint32_t k = 0; k < 3; ++k) {
                const double complex x = complex_of(&w->t.block[i].heard[c], k);
                sum += i % 50 == 49
                           ? 0.0
                           : sqrt((double)w->t.trust[c][k]) * creal(x / cabs(x) * conj((double complex)w->shape[c][k]) *
                                                                    cexp(-I * (k + 1.0) * plain_between(a, b, i)));
            }
    return sum;
}

static double plain_turns(const Take *w, const HumTrackRest *last, const HumTrackRest *r)
{
    double best = -HUGE_VAL, found = r->phase;
    for (int turns = -1; turns <= 1; ++turns) {
        HumTrackRest moved = *r;
        moved.phase += 2.0 * DSP_PI * turns;
        const double agrees = r > last ? plain_way(w, last, &moved) : plain_way(w, &moved, last);
        found = agrees > best ? moved.phase : found;
        best = fmax(best, agrees);
    }
    return found;
}

/* A rest's speed differs from the last one's by no more than 1 rad/s^2 in between and 0.3 rad/s. One that is like the
 * others, to 0.6, stands where it is expected, give or take half a turn; over more than 4 s, whole turns are counted.
 */
static bool plain_link(Take *w, const HumTrackRest *last, HumTrackRest *r)
{
    double fit;
    const double gap = (at(r) - at(last)) * SECONDS, most = fabs(gap) + 0.3;
    r->speed = fmin(fmax(r->speed, last->speed - most), last->speed + most);
    track_rest_mean(&w->t, r);
    const double angle = plain_angle(w, r, &fit), expected = last->phase + gap * (last->speed + r->speed) / 2.0;
    r->linked = fit > 0.6;
    if (!r->linked)
        return false;
    r->phase = angle + 2.0 * DSP_PI * round((expected - angle) / (2.0 * DSP_PI));
    r->phase = fabs(gap) > 4.0 ? plain_turns(w, last, r) : r->phase;
    plain_add(w, r);
    return true;
}

static void plain_links(Take *w)
{
    HumTrackRest *first = w->plain;
    for (uint32_t i = 1; i < RESTS; ++i)
        first = w->plain[i].to - w->plain[i].from > first->to - first->from ? &w->plain[i] : first;
    first->linked = true;
    plain_add(w, first);
    HumTrackRest *last = first;
    for (HumTrackRest *r = first + 1; r < w->plain + RESTS; ++r)
        last = plain_link(w, last, r) ? r : last;
    last = first;
    for (HumTrackRest *r = first; r-- > w->plain;)
        last = plain_link(w, last, r) ? r : last;
}

/* The curve, and how far away the edges of the rests next to it are. */
static void plain_curve(Take *w)
{
    for (uint32_t b = 0; b < w->t.blocks; ++b) {
        const HumTrackRest *before = NULL, *after = NULL;
        for (uint32_t i = 0; i < RESTS; ++i) {
            if (w->plain[i].linked && at(&w->plain[i]) <= b)
                before = &w->plain[i];
            if (w->plain[i].linked && at(&w->plain[i]) > b && !after)
                after = &w->plain[i];
        }
        const HumTrackRest *const near = before ? before : after;
        w->phase[b] =
            before && after ? plain_between(before, after, b) : near->phase + near->speed * SECONDS * (b - at(near));
        const double back = before ? fmax((double)b - before->to, 0.0) : HUGE_VAL;
        const double on = after ? fmax((double)after->from - b, 0.0) : HUGE_VAL;
        w->away[b] = fmin(back, on) * SECONDS;
    }
}

/* ---- Beside each other ---- */

static void rests_are_linked_as_the_equations_say(void **state)
{
    (void)state;
    uint32_t linked = 0;
    for (uint32_t take = 0; take < TAKES; ++take) {
        Take *const w = take_of(take + 1);
        plain_links(w);
        plain_curve(w);
        track_link_rests(&w->t);
        track_draw_curve(&w->t);
        for (uint32_t i = 0; i < RESTS; ++i) {
            assert_true(w->t.rest[i].linked == w->plain[i].linked);
            assert_true(fabs(w->t.rest[i].speed - w->plain[i].speed) < 1e-9);
            assert_true(fabs(w->t.rest[i].phase - w->plain[i].phase) < 1e-9);
            linked += w->plain[i].linked;
        }
        for (uint32_t b = 0; b < w->t.blocks; ++b) {
            assert_true(fabs(w->t.block[b].phase - w->phase[b]) < 1e-7);
            assert_true(fabs(w->t.block[b].away - w->away[b]) < 1e-9);
        }
        assert_true(w->t.shape[0].re[HARMONICS] == 7.f);
        drop(w);
    }
    assert_true(linked > TAKES * RESTS / 2 && linked < TAKES * RESTS - TAKES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rests_are_linked_as_the_equations_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
