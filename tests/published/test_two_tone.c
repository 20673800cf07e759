/* Two tones at once through the compressor: what its gain makes of them that was not there.
 *
 * The pairs are those of the audio industry's intermodulation tests: 60 Hz and 7 kHz at 4 : 1 (SMPTE RP 120), where the
 * low tone modulates the high one, and two high tones of equal level 1 kHz apart (ITU-R, once CCIF), where their
 * difference appears. Both from memory: neither text was opened. They name no limit; ours is that for a steady note. */
#include "compressor.h"
#include "play.h"

#include "figure.h"
#include "spectrum.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

typedef struct {
    const char *name;
    double hz[2], level[2]; /* amplitude */
    double product[6];      /* Hz; 0: no more */
    int beside;             /* the tone the products are weighed against */
    double limit;           /* % */
} Pair;

static const Pair pairs[] = {
    {"60 Hz and 7 kHz, 4 : 1: side tones of 7 kHz", {60, 7000}, {0.4, 0.1}, {6940, 7060, 6880, 7120}, 1, 0.05},
    {"14 and 15 kHz, 1 : 1: difference and side tones", {14000, 15000}, {0.25, 0.25}, {1000, 13000, 16000}, 0, 1e-5},
    {"1 and 2 kHz, 1 : 1: difference and side tones", {1000, 2000}, {0.25, 0.25}, {3000, 4000, 5000}, 0, 1e-5},
};

/* Returns the reduction it settled at. */
static double squeeze(float *x, uint32_t n, double rate)
{
    Player c;
    assert_true(play_init(&c, &compressor, rate, 1));
    play_set(&c, &(CompressorParams){.threshold = -19.0,
                                     .ratio = 2.5,
                                     .attack = 1.0,
                                     .release = 10.0,
                                     .knee = 6.0,
                                     .look_ahead = 2.0,
                                     .detector_low_cut = 20.0,
                                     .blend = 100.0});
    play(&c, (const float *const[]){x}, (float *const[]){x}, n);
    CompressorReport r;
    play_report(&c, &r);
    play_done(&c);
    return r.reduction;
}

static void two_tones_make_no_others(void **state)
{
    (void)state;
    static const double rates[] = {44100, 48000, 96000};
    for (size_t k = 0; k < sizeof pairs / sizeof *pairs; ++k) {
        const Pair *p = &pairs[k];
        double worst = 0.0, least = 60.0;
        for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
            const double rate = rates[r];
            const uint32_t n = (uint32_t)rate, settled = n / 2;
            float *x = malloc(n * sizeof *x);
            assert_non_null(x);
            for (uint32_t i = 0; i < n; ++i)
                x[i] = (float)(p->level[0] * sin(2.0 * DSP_PI * p->hz[0] * i / rate) +
                               p->level[1] * sin(2.0 * DSP_PI * p->hz[1] * i / rate));
            least = fmin(least, squeeze(x, n, rate));
            double made = 0.0;
            for (int i = 0; i < 6 && p->product[i] > 0.0; ++i)
                made += pow(spectrum_part(x + settled, n - settled, p->product[i], rate), 2.0);
            worst = fmax(worst, sqrt(made) / spectrum_part(x + settled, n - settled, p->hz[p->beside], rate));
            free(x);
        }
        assert_true(least > 5.0); /* it works hard enough to be tested */
        figure_at_most("Compressor", p->name, 100.0 * worst, p->limit, "%", "two-tone test; our own limit");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_tones_make_no_others)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
