/* EBU Tech 3342 (seen second-hand): loudness range of 1 kHz stereo tones of 20 s each, +-1 LU. */
#include "loudness.h"

#include "figure.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

static const struct {
    double db[5];
    int tones;
    double range;
} cases[] = {
    {{-20, -30}, 2, 10},
    {{-20, -15}, 2, 5},
    {{-40, -20}, 2, 20},
    {{-50, -35, -20, -35, -50}, 5, 15},
};

static void ranges_of_tones(void **state)
{
    (void)state;
    const double rate = 48000.0;
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    for (int i = 0; i < 4; ++i) {
        loudness_init(l, rate, 2);
        for (uint32_t t = 0; t < (uint32_t)(20.0 * rate) * (uint32_t)cases[i].tones; ++t) {
            const double gain = db_to_gain(cases[i].db[t / (uint32_t)(20.0 * rate)]);
            const float x = (float)(gain * sin(2.0 * DSP_PI * 1000.0 * t / rate));
            loudness_process(l, (const float *[]){&x, &x}, 1);
        }
        char text[64];
        snprintf(text, sizeof text, "Tech 3342 case %d, loudness range", i + 1);
        const double range = loudness_range(l);
        figure_within("Loudness", text, range, cases[i].range, 1.0, "LU", "EBU Tech 3342 [T]; wide: its tolerance");
        snprintf(text, sizeof text, "Tech 3342 case %d, loudness range off by", i + 1);
        figure_at_most("Loudness", text, fabs(range - cases[i].range), 0.01, "LU", "ours");
    }
    free(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(ranges_of_tones)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
