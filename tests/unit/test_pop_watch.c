/* What is caught as a pop, and for how long: bursts and tones planted in silence, against a voice of a known level. */
#include "pop_watch.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE  48000.0
#define VOICE (-20.0) /* dB */
#define BEGIN 0.5     /* s: when the burst begins */

/* A low tone of `low` dB over the voice for `lasts` seconds from BEGIN on, over a steady one of `steady` dB, and a
 * higher one of 500 Hz beside the burst of `high` dB, all RMS over the voice. */
typedef struct {
    double low, lasts, steady, high;
    bool unknown; /* the voice's level is */
} Sound;

/* What the watch made of 1.5 s: pops caught, seconds from the burst to the first, seconds for which they were caught.
 */
typedef struct {
    uint32_t caught;
    double after, held;
} Watched;

static double rms(double over)
{
    return sqrt(2.0) * db_to_gain(VOICE + over);
}

static float sample(const Sound *s, double t)
{
    const bool on = t >= BEGIN && t < BEGIN + s->lasts;
    const double low = (on ? rms(s->low) : 0.0) + rms(s->steady), high = on ? rms(s->high) : 0.0;
    return (float)(low * sin(2.0 * DSP_PI * 50.0 * (t - BEGIN)) + high * sin(2.0 * DSP_PI * 500.0 * t));
}

static Watched watch(const Sound *s)
{
    PopWatch w;
    Watched all = {0};
    pop_watch_init(&w, RATE);
    for (uint32_t at = 0; at < 1.5 * RATE; at += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = sample(s, (at + i) / RATE);
        pop_watch_hear(&w, (const float *[]){x}, 1, DSP_CELL);
        if (pop_watch_tick(&w, !s->unknown, VOICE) && !all.caught++)
            all.after = (at + DSP_CELL) / RATE - BEGIN;
        all.held += w.catching ? DSP_CELL / RATE : 0.0;
    }
    return all;
}

#define NONE (-100.0) /* dB */

static void a_burst_is_caught_as_it_rises(void **state)
{
    (void)state;
    const Watched w = watch(&(Sound){.low = 0.0, .lasts = 0.06, .steady = NONE, .high = NONE});
    assert_int_equal(w.caught, 1);
    figure_at_most("Pops", "a burst of 50 Hz as loud as the voice: caught after", 1000.0 * w.after, 10.0, "ms",
                   "the delay less the bell's attack");
    figure_within("Pops", "a burst of 50 Hz that lasts 60 ms: let go after its end by",
                  1000.0 * (w.after + w.held - 0.06), 96.0, 10.0, "ms",
                  "ours: a fall of 14 dB at a time constant of 25 ms, and 15 ms");
}

static void no_pop(double low, double lasts, double steady, double high)
{
    assert_int_equal(watch(&(Sound){low, lasts, steady, high, false}).caught, 0);
}

static void what_is_no_pop(void **state)
{
    (void)state;
    no_pop(-14.0, 0.08, NONE, NONE); /* fainter than a pop is */
    no_pop(6.0, 0.08, NONE, 6.0);    /* there is as much above: a note */
    no_pop(NONE, 0.08, 6.0, NONE);   /* a hum */
    no_pop(0.0, 0.08, 3.0, NONE);    /* hardly more of a hum */
    assert_int_equal(watch(&(Sound){6.0, 0.08, NONE, NONE, true}).caught, 0);
}

static void what_lasts_is_let_go(void **state)
{
    (void)state;
    const Watched w = watch(&(Sound){.low = 6.0, .lasts = 0.8, .steady = NONE, .high = NONE});
    assert_int_equal(w.caught, 1);
    figure_at_most("Pops", "a rumble of 0.8 s: held for", w.held, 0.181, "s", "ours: no pop lasts longer than 0.18 s");
}

/* ---- The ear ---- */

static void hear_sine(PopWatch *w, double hz, double gain, uint32_t cells)
{
    for (uint32_t at = 0; cells; --cells, at += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = (float)(gain * sin(2.0 * DSP_PI * hz * (at + i) / RATE));
        pop_watch_hear(w, (const float *[]){x}, 1, DSP_CELL);
        pop_watch_tick(w, false, 0.0);
    }
}

/* What is followed of a sine at the bottom and at the top is alike but for the two filters: by their definitions. */
static void bottom_and_top_are_butterworth_filters(void **state)
{
    (void)state;
    static const double hz[] = {60.0, 158.0, 250.0, 400.0};
    for (size_t i = 0; i < sizeof hz / sizeof *hz; ++i) {
        PopWatch w;
        pop_watch_init(&w, RATE);
        double low = 0.0, high = 0.0;
        for (uint32_t cells = 300; cells < 600; cells += 7) {
            hear_sine(&w, hz[i], 0.5, cells);
            low += w.ear.low;
            high += w.ear.high;
        }
        const double want = (1.0 + pow(250.0 / hz[i], 4.0)) / (1.0 + pow(hz[i] / 100.0, 8.0));
        assert_true(fabs(power_to_db(low / high / want)) < 0.5);
    }
}

/* When a sine ends its power falls to 1/e in 25 ms, which are 37.5 cells. */
static void powers_fall_in_time(void **state)
{
    (void)state;
    PopWatch w;
    pop_watch_init(&w, RATE);
    hear_sine(&w, 1000.0, 0.5, 300);
    hear_sine(&w, 0.0, 0.0, 15);
    const double before = w.ear.high;
    hear_sine(&w, 0.0, 0.0, 75);
    assert_true(fabs(w.ear.high / before / exp(-2.0) - 1.0) < 0.05);
}

/* Hears so many groups of 9 samples, turned over from one group to the next: at the ear's rate the power above never
 * moves. */
static void hear_turned_over(PopWatch *w, uint32_t groups)
{
    for (uint32_t k = 0; k < groups; ++k)
        for (uint32_t i = 0; i < 9; ++i) {
            const float x = k % 2 ? -0.5f : 0.5f;
            pop_watch_hear(w, (const float *[]){&x}, 1, 1);
        }
}

/* When it begins it comes to 1 - 1/e of its power in 2 ms, which are 10.7 groups. */
static void powers_rise_in_time(void **state)
{
    (void)state;
    PopWatch w;
    pop_watch_init(&w, RATE);
    hear_turned_over(&w, 200);
    w.ear.high = 0.0;
    hear_turned_over(&w, 10);
    assert_true(fabs(w.ear.high / 0.25 - (1.0 - exp(-90.0 / (0.002 * RATE)))) < 0.005);
}

static void the_ear_works_at_some_kilohertz(void **state)
{
    (void)state;
    static const struct {
        double rate;
        uint32_t group;
    } rates[] = {{8000, 1}, {44100, 8}, {48000, 9}, {192000, 38}};
    for (size_t i = 0; i < sizeof rates / sizeof *rates; ++i) {
        PopWatch w;
        pop_watch_init(&w, rates[i].rate);
        assert_int_equal(w.ear.group, rates[i].group);
    }
}

static void of_two_channels_the_half_sum_is_heard(void **state)
{
    (void)state;
    static PopWatch two, one; /* zeroed, padding too */
    float x[2][DSP_CELL], half[DSP_CELL];
    pop_watch_init(&two, RATE);
    pop_watch_init(&one, RATE);
    for (uint32_t i = 0; i < DSP_CELL; ++i) {
        x[0][i] = 0.01f * (float)i;
        x[1][i] = 0.5f - 0.002f * (float)(i * i % 37);
        half[i] = 0.5f * (x[0][i] + x[1][i]);
    }
    pop_watch_hear(&two, (const float *[]){x[0], x[1]}, 2, DSP_CELL);
    pop_watch_hear(&one, (const float *[]){half}, 1, DSP_CELL);
    assert_memory_equal(&two, &one, sizeof one);
    assert_true(one.ear.sum > 0.f); /* 32 is no multiple of 9 */
}

static void a_reset_is_a_new_beginning(void **state)
{
    (void)state;
    static PopWatch used, new;
    pop_watch_init(&used, RATE);
    pop_watch_init(&new, RATE);
    hear_sine(&used, 1000.0, 0.01, 200);
    used.ear.low = 1.0;
    assert_true(pop_watch_tick(&used, true, -20.0));
    used.over = 3;
    assert_true(used.ear.into > 0 && used.steady > 0.0);
    pop_watch_reset(&used);
    assert_memory_equal(&used, &new, sizeof new);
}

static void silence_leaves_nothing(void **state)
{
    (void)state;
    PopWatch w;
    pop_watch_init(&w, RATE);
    hear_sine(&w, 150.0, 1.0, 200);
    hear_sine(&w, 0.0, 0.0, 20000);
    for (int i = 0; i < 2; ++i)
        assert_true(w.ear.bottom_state[i].s1 == 0.0 && w.ear.bottom_state[i].s2 == 0.0);
    assert_true(w.ear.top_state.s1 == 0.0 && w.ear.top_state.s2 == 0.0 && w.ear.low == 0.0 && w.ear.high == 0.0);
}

/* ---- What is a pop, from tables of powers ---- */

/* One that has settled in near silence. */
static PopWatch settled(void)
{
    PopWatch w;
    pop_watch_init(&w, RATE);
    w.settling = 0;
    return w;
}

/* The bottom lies `low` dB over the faintest pop, the top `under` dB under that. */
static bool tick(PopWatch *w, bool known, double low, double under)
{
    w->ear.low = db_to_power(VOICE + 3.0 + low); /* 3 dB: a sine's peaks over its RMS */
    w->ear.high = w->ear.low / db_to_power(under);
    return pop_watch_tick(w, known, VOICE);
}

static bool is_pop(double low, double under)
{
    PopWatch w = settled();
    return tick(&w, true, low, under);
}

static void limits_are_kept(void **state)
{
    (void)state;
    assert_true(is_pop(1.0, 10.2) && is_pop(0.1, 17.5) && is_pop(-7.9, 18.2));
    assert_false(is_pop(1.0, 9.8) || is_pop(-0.1, 17.5) || is_pop(-8.1, 18.2) || is_pop(-7.9, 17.8));
}

/* Cells for which a pop is caught that goes on so. */
static uint32_t cells_caught(double low, double under)
{
    PopWatch w = settled();
    uint32_t cells = 1;
    assert_true(tick(&w, true, 1.0, 20.0));
    for (; cells < 1000; ++cells) {
        assert_false(tick(&w, true, low, under)); /* it is caught once */
        if (!w.catching)
            break;
    }
    return cells;
}

/* 0.18 s are 270 cells, at which it is over; 15 ms are 22.5. */
static void a_pop_ends(void **state)
{
    (void)state;
    assert_int_equal(cells_caught(-13.9, 3.1), 269);
    assert_int_equal(cells_caught(-14.1, 3.1), 1 + 22);
    assert_int_equal(cells_caught(-13.9, 2.9), 1 + 22);
}

/* A bottom that has risen by 20 dB is 10 dB over what a hum can have risen to for 250 cells, at 60 dB/s. */
static bool still_rises(uint32_t cells)
{
    PopWatch w = settled();
    w.steady = db_to_power(VOICE + 3.0 + 5.0 - 20.0);
    while (--cells)
        tick(&w, false, 5.0, 20.0);
    return tick(&w, true, 5.0, 20.0);
}

/* The same of what rises out of silence to a power, in 10^-12. */
static bool rises_from_nothing(double power)
{
    PopWatch w = settled();
    w.ear.low = 1e-12 * power;
    return pop_watch_tick(&w, true, power_to_db(w.ear.low) - 10.0);
}

static void a_burst_rises_out_of_what_is_steady(void **state)
{
    (void)state;
    assert_true(still_rises(247));
    assert_false(still_rises(253));
    assert_true(rises_from_nothing(10.5));
    assert_false(rises_from_nothing(9.5));
}

/* 0.1 s are 150 cells. */
static void it_settles_first(void **state)
{
    (void)state;
    for (uint32_t before = 149; before <= 150; ++before) {
        PopWatch w;
        pop_watch_init(&w, RATE);
        for (uint32_t cell = 0; cell < before; ++cell)
            assert_false(tick(&w, true, -60.0, 20.0));
        assert_true(tick(&w, true, 5.0, 20.0) == (before == 150));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_burst_is_caught_as_it_rises),
        cmocka_unit_test(what_is_no_pop),
        cmocka_unit_test(what_lasts_is_let_go),
        cmocka_unit_test(bottom_and_top_are_butterworth_filters),
        cmocka_unit_test(powers_fall_in_time),
        cmocka_unit_test(powers_rise_in_time),
        cmocka_unit_test(the_ear_works_at_some_kilohertz),
        cmocka_unit_test(of_two_channels_the_half_sum_is_heard),
        cmocka_unit_test(a_reset_is_a_new_beginning),
        cmocka_unit_test(silence_leaves_nothing),
        cmocka_unit_test(limits_are_kept),
        cmocka_unit_test(a_pop_ends),
        cmocka_unit_test(a_burst_rises_out_of_what_is_steady),
        cmocka_unit_test(it_settles_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
