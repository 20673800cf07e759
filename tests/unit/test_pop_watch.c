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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_burst_is_caught_as_it_rises),
        cmocka_unit_test(what_is_no_pop),
        cmocka_unit_test(what_lasts_is_let_go),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
