/* How far a band stands out from the average voice: where it begins, where it is full, how soon. */
#include "build_up.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define RATE   48000.0
#define BAND   400.0 /* Hz */
#define BAND_Q 1.4
#define FAR    6000.0 /* Hz: as good as nothing of it passes the band */

/* A sine in the band, `over` dB more against one far away than in the average voice; level: of the far one. Returns the
 * last answer. From sample `from` on, so that the waves go on. */
static double play(BuildUp *b, double over, double level, uint32_t from, uint32_t n)
{
    double share = build_up_tick(b, BAND, BAND_Q); /* the band's usual is known from here on */
    const double far = db_to_gain(level), near = far * db_to_gain(b->usual + over);
    for (uint32_t at = from; at < from + n; at += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = (float)(near * sin(2.0 * DSP_PI * BAND * (at + i) / RATE) +
                           far * sin(2.0 * DSP_PI * FAR * (at + i) / RATE));
        build_up_process(b, x, DSP_CELL);
        share = build_up_tick(b, BAND, BAND_Q);
    }
    return share;
}

static double settled(double over, double level)
{
    BuildUp b;
    build_up_init(&b, RATE);
    return play(&b, over, level, 0, 96000);
}

static void stands_out_from_3_to_6_db(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double level = -60.0; level <= 0.0; level += 30.0)
        for (double over = 0.0; over <= 9.0; over += 0.5) {
            const double expected = dsp_clamp((over - 3.0) / 3.0, 0.0, 1.0);
            worst = fmax(worst, fabs(settled(over, level) - expected));
        }
    figure_at_most("Tone", "how far a band stands out, 0 at 3 dB over the average voice, 1 at 6: off by", worst, 0.05,
                   "", "our own limit");
}

static void at_rest_is_exactly_nothing(void **state)
{
    (void)state;
    assert_true(settled(0.0, -20.0) == 0.0);
    assert_true(settled(20.0, -140.0) == 0.0); /* silence */
}

/* It follows notes, not periods: half-way there a tenth of a second after a change, give or take. */
static void follows_within_a_tenth_of_a_second(void **state)
{
    (void)state;
    BuildUp b;
    build_up_init(&b, RATE);
    play(&b, 0.0, -20.0, 0, 48000);
    double share = 0.0;
    uint32_t at = 48000;
    for (; share < 0.5 && at < 96000; at += DSP_CELL)
        share = play(&b, 8.0, -20.0, at, DSP_CELL);
    figure_within("Tone", "a band starts to stand out: half-way after", (at - 48000) / RATE * 1000.0, 110.0, 50.0, "ms",
                  "our own limit");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stands_out_from_3_to_6_db),
        cmocka_unit_test(at_rest_is_exactly_nothing),
        cmocka_unit_test(follows_within_a_tenth_of_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
