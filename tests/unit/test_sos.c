/* The cascade: the same filter as the biquads it was given, quiet while it moves, exact where it does nothing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "click.h"
#include "design.h"
#include "figure.h"
#include "seeds.h"
#include "smooth.h"

enum { LONG = 6000 };

/* The same noise on every machine: -1..1. */
static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)((int32_t)*seed) / 2147483648.f;
}

static double uniform(uint32_t *seed, double lo, double hi)
{
    return lo + (hi - lo) * (0.5 + 0.5 * (double)noise(seed));
}

static Biquad any_section(uint32_t *seed)
{
    const double hz = 20.0 * pow(900.0, uniform(seed, 0, 1)), q = uniform(seed, 0.3, 8), db = uniform(seed, -12, 12);
    switch ((int)uniform(seed, 0, 4.999)) {
    case 0:
        return design_bell(hz, db, q, 48000);
    case 1:
        return design_high_shelf(hz, db, 48000);
    case 2:
        return design_high_pass(hz, q, 48000);
    case 3:
        return design_low_pass(hz, q, 48000);
    default:
        return design_high_pass_1(hz, 48000);
    }
}

static void it_is_the_filter_it_was_given(void **state)
{
    (void)state;
    uint32_t seed = seeded(1);
    double worst = 0.0;
    for (int trial = 0; trial < 200; ++trial) {
        const Biquad b = any_section(&seed);
        const Svf c = svf_from_biquad(&b);
        SvfState s = {0};
        double x1 = 0, x2 = 0, y1 = 0, y2 = 0;
        for (int i = 0; i < 2000; ++i) {
            const double x = noise(&seed);
            const double wanted = b.b0 * x + b.b1 * x1 + b.b2 * x2 - b.a1 * y1 - b.a2 * y2;
            worst = fmax(worst, fabs(svf_step(&c, &s, x) - wanted));
            x2 = x1, x1 = x, y2 = y1, y1 = wanted;
        }
    }
    figure_at_most("Sos", "against the biquad's own recursion: difference", worst, 5e-11, "",
                   "exact mapping, rounding");
}

static void nothing_to_do_returns_the_bits(void **state)
{
    (void)state;
    float in[LONG], out[LONG];
    uint32_t seed = seeded(2);
    for (int i = 0; i < LONG; ++i)
        in[i] = i % 7 ? noise(&seed) : -0.f;
    Sos s;
    sos_init(&s, 3, 1);
    const Biquad rest = design_bell(300, 0, 2, 48000);
    sos_jump(&s, 1, &rest);
    sos_process(&s, (const float *[]){in}, (float *[]){out}, LONG);
    assert_memory_equal(in, out, sizeof in);
}

/* Also after it did something. */
static void gliding_back_to_nothing_returns_the_bits(void **state)
{
    (void)state;
    float in[LONG], out[LONG];
    uint32_t seed = seeded(3);
    for (int i = 0; i < LONG; ++i)
        in[i] = noise(&seed);
    Sos s;
    sos_init(&s, 1, 1);
    const Biquad dip = design_bell(300, -6, 2, 48000), rest = design_bell(300, 0, 2, 48000);
    sos_jump(&s, 0, &dip);
    sos_process(&s, (const float *[]){in}, (float *[]){out}, LONG);
    assert_memory_not_equal(in, out, sizeof in);
    sos_glide(&s, 0, &rest);
    sos_process(&s, (const float *[]){in}, (float *[]){out}, LONG);
    assert_memory_not_equal(in, out, DSP_CELL * sizeof *in);
    assert_memory_equal(in + DSP_CELL, out + DSP_CELL, sizeof in - DSP_CELL * sizeof *in);
    assert_true(s.state[0][0].s1 == 0.0 && s.state[0][0].s2 == 0.0);
}

/* A section that rested comes back without what it last heard: as one that never sounded. */
static void a_section_comes_back_from_silence(void **state)
{
    (void)state;
    float in[LONG], once[LONG], again[LONG];
    uint32_t seed = seeded(8);
    for (int i = 0; i < LONG; ++i)
        in[i] = noise(&seed);
    const Biquad dip = design_bell(300, -6, 2, 48000), rest = design_bell(300, 0, 2, 48000);
    Sos fresh, s;
    sos_init(&fresh, 2, 1);
    sos_jump(&fresh, 1, &rest);
    s = fresh;
    sos_jump(&s, 1, &dip);
    sos_process(&s, (const float *[]){in}, (float *[]){again}, LONG);
    sos_glide(&s, 1, &rest);
    sos_process(&s, (const float *[]){in}, (float *[]){again}, DSP_CELL);
    sos_glide(&s, 1, &dip);
    sos_glide(&fresh, 1, &dip);
    sos_process(&s, (const float *[]){in}, (float *[]){again}, LONG);
    sos_process(&fresh, (const float *[]){in}, (float *[]){once}, LONG);
    assert_memory_equal(once, again, sizeof once);
}

static void a_glide_lands_on_its_goal(void **state)
{
    (void)state;
    uint32_t seed = seeded(4);
    float buffer[DSP_CELL] = {0};
    Sos s;
    sos_init(&s, 1, 1);
    for (int trial = 0; trial < 100; ++trial) {
        const Biquad b = any_section(&seed);
        const Svf goal = svf_from_biquad(&b);
        sos_glide(&s, 0, &b);
        sos_process(&s, (const float *[]){buffer}, (float *[]){buffer}, DSP_CELL - 1);
        assert_memory_not_equal(&s.now[0], &goal, sizeof goal);
        sos_process(&s, (const float *[]){buffer}, (float *[]){buffer}, 1);
        assert_memory_equal(&s.now[0], &goal, sizeof goal);
    }
}

/* Any two stable sections, one after the other, cell after cell, under noise and under a full-scale square: the states
 * stay bounded, because every section on the way is itself stable and the states are the integrators'. */
static void wild_movement_stays_bounded(void **state)
{
    (void)state;
    uint32_t seed = seeded(5);
    float buffer[DSP_CELL];
    Sos s;
    sos_init(&s, 1, 1);
    double peak = 0.0;
    for (int cell = 0; cell < 20000; ++cell) {
        const Biquad b = any_section(&seed);
        sos_glide(&s, 0, &b);
        for (int i = 0; i < DSP_CELL; ++i)
            buffer[i] = cell % 2 ? noise(&seed) : i % 8 < 4 ? 1.f : -1.f;
        sos_process(&s, (const float *[]){buffer}, (float *[]){buffer}, DSP_CELL);
        for (int i = 0; i < DSP_CELL; ++i)
            peak = fmax(peak, fabs((double)buffer[i]));
    }
    assert_true(isfinite(peak));
    figure_at_most("Sos", "any section to any other each cell, full-scale input: peak", peak, 20, "", "bounded");
}

static void blocks_do_not_matter(void **state)
{
    (void)state;
    static const uint32_t blocks[] = {5, 400, 10, 300, 1, 0};
    float in[2][LONG], whole[2][LONG], cut[2][LONG];
    uint32_t seed = seeded(6);
    for (int i = 0; i < LONG; ++i) {
        in[0][i] = cut[0][i] = noise(&seed);
        in[1][i] = cut[1][i] = noise(&seed);
    }
    Sos a, b;
    sos_init(&a, 2, 2);
    const Biquad low = design_high_pass(90, 0.7, 48000), dip = design_bell(500, -5, 1, 48000);
    sos_glide(&a, 0, &low);
    sos_glide(&a, 1, &dip);
    b = a;
    sos_process(&a, (const float *[]){in[0], in[1]}, (float *[]){whole[0], whole[1]}, LONG);
    for (uint32_t at = 0, i = 0; at < LONG; ++i) {
        const uint32_t left = LONG - at, n = blocks[i % 6] < left ? blocks[i % 6] : left;
        sos_process(&b, (const float *[]){cut[0] + at, cut[1] + at}, (float *[]){cut[0] + at, cut[1] + at}, n);
        at += n;
    }
    assert_memory_equal(whole, cut, sizeof whole);
}

static void a_reset_forgets_the_sound_and_keeps_the_filter(void **state)
{
    (void)state;
    float in[256], once[256], again[256];
    uint32_t seed = seeded(7);
    for (int i = 0; i < 256; ++i)
        in[i] = noise(&seed);
    Sos s;
    sos_init(&s, 1, 1);
    const Biquad dip = design_bell(500, -5, 1, 48000);
    sos_jump(&s, 0, &dip);
    sos_process(&s, (const float *[]){in}, (float *[]){once}, 256);
    const Biquad other = design_bell(900, 3, 2, 48000);
    sos_glide(&s, 0, &other);
    sos_process(&s, (const float *[]){in}, (float *[]){again}, DSP_CELL);
    sos_glide(&s, 0, &dip); /* a glide under way ends at its goal */
    sos_process(&s, (const float *[]){in}, (float *[]){again}, 1);
    sos_reset(&s);
    sos_process(&s, (const float *[]){in}, (float *[]){again}, 256);
    assert_memory_equal(once, again, sizeof once);
}

static void silence_becomes_exact(void **state)
{
    (void)state;
    float buffer[DSP_CELL] = {1.f};
    Sos s;
    sos_init(&s, 2, 1);
    const Biquad low = design_high_pass(20, 0.7, 48000), dip = design_bell(100, -12, 7, 48000);
    sos_jump(&s, 0, &low);
    sos_jump(&s, 1, &dip);
    for (int cell = 0; cell < 4000; ++cell) {
        sos_process(&s, (const float *[]){buffer}, (float *[]){buffer}, DSP_CELL);
        memset(buffer, 0, sizeof buffer);
        sos_hush(&s);
    }
    for (int i = 0; i < 2; ++i)
        assert_true(s.state[0][i].s1 == 0.0 && s.state[0][i].s2 == 0.0);
}

/* A bell over the sine, one of its parameters moved over its whole range along a smoother of 20 ms, designed once a
 * cell: what a processor does. */
typedef struct {
    const char *name;
    double hz[2], db[2], q[2]; /* from, to */
} Move;

static double worst_click(const Move *m, double rate)
{
    const uint32_t n = (uint32_t)(0.4 * rate);
    float *x = malloc(n * sizeof *x);
    assert_non_null(x);
    double worst = -200.0;
    for (uint32_t phase = 0; phase < 5; ++phase) {
        const uint32_t change = (uint32_t)(0.2 * rate) / DSP_CELL * DSP_CELL + phase * DSP_CELL;
        Sos s;
        Smooth octave, db, logq;
        sos_init(&s, 1, 1);
        smooth_init(&octave, rate / DSP_CELL, 0.02);
        smooth_init(&db, rate / DSP_CELL, 0.02);
        smooth_init(&logq, rate / DSP_CELL, 0.02);
        for (uint32_t at = 0; at < n; at += DSP_CELL) {
            const int now = at >= change;
            smooth_to(&octave, log2(m->hz[now]));
            smooth_to(&db, m->db[now]);
            smooth_to(&logq, log(m->q[now]));
            const double hz = exp2(smooth_step(&octave)), gain = smooth_step(&db);
            const Biquad b = design_bell(hz, gain, exp(smooth_step(&logq)), rate);
            sos_glide(&s, 0, &b);
            const uint32_t size = n - at < DSP_CELL ? n - at : DSP_CELL;
            for (uint32_t i = at; i < at + size; ++i)
                x[i] = click_sine(i, rate, 0.5);
            sos_process(&s, (const float *[]){x + at}, (float *[]){x + at}, size);
        }
        worst = fmax(worst, click_level(x, n, change, rate, 0.5));
    }
    free(x);
    return worst;
}

static void movement_does_not_click(void **state)
{
    (void)state;
    static const Move moves[] = {
        {"depth 0 to -12 dB", {220, 220}, {0, -12}, {2, 2}},
        {"depth -12 to 0 dB", {220, 220}, {-12, 0}, {2, 2}},
        {"frequency 100 to 4000 Hz", {100, 4000}, {-12, -12}, {7.2, 7.2}},
        {"frequency 4000 to 100 Hz", {4000, 100}, {-12, -12}, {0.4, 0.4}},
        {"Q 0.4 to 7.2", {250, 250}, {-12, -12}, {0.4, 7.2}},
        {"Q 7.2 to 0.4", {250, 250}, {-12, -12}, {7.2, 0.4}},
    };
    for (size_t i = 0; i < sizeof moves / sizeof *moves; ++i)
        for (double rate = 44100; rate < 200000; rate *= 2) {
            char what[80];
            snprintf(what, sizeof what, "%s at %.0f Hz: click", moves[i].name, rate);
            figure_at_most("Sos", what, worst_click(&moves[i], rate), -82, "dB", "ours; required: -60");
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_the_filter_it_was_given),
        cmocka_unit_test(nothing_to_do_returns_the_bits),
        cmocka_unit_test(gliding_back_to_nothing_returns_the_bits),
        cmocka_unit_test(a_section_comes_back_from_silence),
        cmocka_unit_test(a_glide_lands_on_its_goal),
        cmocka_unit_test(wild_movement_stays_bounded),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(a_reset_forgets_the_sound_and_keeps_the_filter),
        cmocka_unit_test(silence_becomes_exact),
        cmocka_unit_test(movement_does_not_click),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
