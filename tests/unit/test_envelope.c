/* Peak hold and follower: what they hold, and how long they take. */
#include "envelope.h"

#include "figure.h"
#include "seeds.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)*seed / 4294967296.f;
}

/* Against a walk over the window, for lengths around powers of two. */
static void holds_the_largest_of_its_window(void **state)
{
    enum { N = 3000 };
    static const uint32_t holds[] = {0, 1, 2, 3, 7, 8, 63, 64, 576};
    (void)state;
    float x[N];
    uint32_t seed = seeded(7);
    for (uint32_t i = 0; i < N; ++i)
        x[i] = i % 700 < 300 ? noise(&seed) : 0.01f * noise(&seed);
    for (size_t h = 0; h < sizeof holds / sizeof *holds; ++h) {
        PeakHold p;
        assert_true(peak_hold_init(&p, holds[h]));
        for (int again = 0; again < 2; ++again) {
            for (uint32_t i = 0; i < N; ++i) {
                float largest = 0.f;
                for (uint32_t k = i < holds[h] ? 0 : i - holds[h]; k <= i; ++k)
                    largest = fmaxf(largest, x[k]);
                assert_true(peak_hold_step(&p, x[i]) == largest);
            }
            peak_hold_reset(&p);
        }
        peak_hold_done(&p);
        peak_hold_done(&p);
    }
}

/* In runs of every length within a cell, for windows of whole cells and others. */
static void runs_hold_what_single_samples_do(void **state)
{
    enum { N = 4096 };
    static const uint32_t holds[] = {32, 33, 63, 64, 96, 100, 127, 529, 576, 577};
    (void)state;
    float x[N];
    uint32_t seed = seeded(8);
    for (uint32_t i = 0; i < N; ++i)
        x[i] = i % 1500 < 300 ? noise(&seed) : i % 1500 < 900 ? 0.01f * noise(&seed) : 0.f;
    for (size_t h = 0; h < sizeof holds / sizeof *holds; ++h) {
        PeakHold single;
        CellHold run;
        assert_true(peak_hold_init(&single, holds[h]) && cell_hold_init(&run, holds[h]));
        for (int again = 0; again < 2; ++again) {
            for (uint32_t at = 0, n = 1; at < N; at += n, n = n % 11 + 1) {
                float held[DSP_CELL];
                const uint32_t left = DSP_CELL - at % DSP_CELL;
                n = n < left ? n : left;
                cell_hold_run(&run, x + at, held, n);
                for (uint32_t i = 0; i < n; ++i)
                    assert_true(held[i] == peak_hold_step(&single, x[at + i]));
            }
            cell_hold_run(&run, x, (float[DSP_CELL]){0}, 5);
            peak_hold_reset(&single);
            cell_hold_reset(&run);
        }
        peak_hold_done(&single);
        cell_hold_done(&run);
        cell_hold_done(&run);
    }
}

static double steps_to(double keep, double share)
{
    Follower f = {0};
    double before = 0.0;
    uint32_t n = 0;
    while (f.value < share) {
        before = f.value;
        follower_step(&f, keep, 0.5, 1.0);
        ++n;
    }
    return n - 1 + (share - before) / (f.value - before);
}

/* From below one step to 2^22 of them, the time to 1 - 1/e. Under three steps, what lies between two samples is a
 * matter of how one draws the line: those are held to half a step. */
static void covers_63_per_cent_in_its_time(void **state)
{
    static const double times[] = {0.3, 1.0, 3.0, 4.8, 10, 48, 480, 4800, 48000, 4194304};
    double worst = 0.0;
    (void)state;
    for (size_t i = 0; i < sizeof times / sizeof *times; ++i) {
        const double keep = follower_keep(times[i], 1.0);
        assert_true(keep > 0.0 && keep < 1.0);
        const double off = steps_to(keep, 1.0 - exp(-1.0)) - times[i];
        if (times[i] < 3.0)
            assert_true(fabs(off) < 0.5);
        else
            worst = fmax(worst, fabs(off) / times[i]);
    }
    figure_at_most("Envelope", "time to 63 % of a step, 3 to 4194304 samples: error", 100.0 * worst, 1.5, "%",
                   "definition of the time");
    assert_true(follower_keep(0.0, 48000) == 0.0);
}

/* A step is begun and ended without a kink: the first sample moves by less than one pole of the same time would. */
static void starts_and_turns_without_a_kink(void **state)
{
    (void)state;
    Follower f = {0};
    const double keep = follower_keep(0.01, 48000), one = 1.0 - one_pole(0.01, 48000);
    double slope = 0.0, last = 0.0, bend = 0.0;
    for (int i = 0; i < 9600; ++i) {
        const double now = follower_step(&f, keep, keep, i < 4800 ? 1.0 : 0.0);
        bend = fmax(bend, fabs(now - last - slope));
        slope = now - last;
        last = now;
    }
    figure_at_most("Envelope", "largest kink against that of one pole of the same time", bend / one, 0.02, "",
                   "requirement");
}

static void goes_up_and_down_in_times_of_their_own(void **state)
{
    static const double attack[] = {0.0001, 0.001, 0.1}, release[] = {0.005, 0.05, 1.0};
    const double rate = 48000;
    (void)state;
    for (int a = 0; a < 3; ++a)
        for (int r = 0; r < 3; ++r) {
            Follower f = {1.0, 1.0};
            const double rise = follower_keep(attack[a], rate), fall = follower_keep(release[r], rate);
            uint32_t n = 0;
            while (follower_step(&f, rise, fall, 0.0) > exp(-1.0))
                ++n;
            assert_true(fabs(n / rate / release[r] - 1.0) < 0.01);
        }
}

/* However the run is cut. */
static void a_run_follows_as_its_samples_do(void **state)
{
    enum { N = 9600 };
    (void)state;
    const double rise = follower_keep(0.001, 48000), fall = follower_keep(0.05, 48000);
    Follower single = {0}, run = {0}, cut = {0};
    double worst = 0.0;
    for (uint32_t at = 0; at < N; at += DSP_CELL) {
        float x[DSP_CELL], y[DSP_CELL], z[DSP_CELL];
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            x[t] = at < N / 3 ? 12.f : at < N / 2 ? 0.f : 3.f + (float)(at + t) / 1000.f;
        follower_run(&run, rise, fall, x, y, DSP_CELL);
        follower_run(&cut, rise, fall, x, z, at % 31 + 1);
        follower_run(&cut, rise, fall, x + at % 31 + 1, z + at % 31 + 1, DSP_CELL - at % 31 - 1);
        for (uint32_t t = 0; t < DSP_CELL; ++t) {
            worst = fmax(worst, fabs(follower_step(&single, rise, fall, (double)x[t]) - (double)y[t]));
            assert_true(y[t] == z[t]);
        }
    }
    figure_at_most("Envelope", "a run of the follower against its samples, on steps of 12", worst, 1e-6, "",
                   "a float of 12 has steps of 1e-6");
}

static void where_all_is_0_it_stays_0(void **state)
{
    (void)state;
    Follower f = {0};
    float x[DSP_CELL] = {0};
    follower_run(&f, 0.99, 0.999, x, x, DSP_CELL);
    assert_true(f.first == 0.0 && f.value == 0.0 && x[DSP_CELL - 1] == 0.f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(holds_the_largest_of_its_window),
        cmocka_unit_test(runs_hold_what_single_samples_do),
        cmocka_unit_test(covers_63_per_cent_in_its_time),
        cmocka_unit_test(starts_and_turns_without_a_kink),
        cmocka_unit_test(goes_up_and_down_in_times_of_their_own),
        cmocka_unit_test(a_run_follows_as_its_samples_do),
        cmocka_unit_test(where_all_is_0_it_stays_0),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
