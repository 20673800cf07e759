/* The plate's decay time, measured as ISO 3382-1:2009 measures a hall's: octave band filter, Schroeder's backward
 * integration E(t) = integral of h^2 from t on, a line fitted from -5 to -35 dB and extrapolated to 60 dB (T30). The
 * method is from memory; the standard was not opened. */
#include "figure.h"
#include "seeds.h"
#include "response.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

typedef struct {
    double b0, b1, b2, a1, a2, s1, s2;
} Section;

/* The cookbook's bilinear sections, so that the meter shares nothing with the library. */
static Section section(double hz, double q, double rate, double low)
{
    const double w = 2.0 * DSP_PI * hz / rate, alpha = sin(w) / (2.0 * q), a0 = 1.0 + alpha, c = cos(w);
    const double b = (low > 0.0 ? 1.0 - c : 1.0 + c) / 2.0 / a0;
    return (Section){
        .b0 = b, .b1 = (low > 0.0 ? 2.0 : -2.0) * b, .b2 = b, .a1 = -2.0 * c / a0, .a2 = (1.0 - alpha) / a0};
}

static double step(Section *s, double x)
{
    const double y = s->b0 * x + s->s1;
    s->s1 = s->b1 * x - s->a1 * y + s->s2;
    s->s2 = s->b2 * x - s->a2 * y;
    return y;
}

/* Energy of each sample in the octave around hz (4th-order Butterworth edges), then summed from the end. */
static double *backward_energy(const float *h, uint32_t n, double hz, double rate)
{
    double *energy = malloc(n * sizeof *energy);
    assert_non_null(energy);
    Section s[4] = {section(hz / sqrt(2.0), 0.54119610, rate, 0), section(hz / sqrt(2.0), 1.30656296, rate, 0),
                    section(hz * sqrt(2.0), 0.54119610, rate, 1), section(hz * sqrt(2.0), 1.30656296, rate, 1)};
    for (uint32_t i = 0; i < n; ++i) {
        const double y = step(&s[3], step(&s[2], step(&s[1], step(&s[0], h[i]))));
        energy[i] = y * y;
    }
    for (uint32_t i = n - 1; i > 0; --i)
        energy[i - 1] += energy[i];
    return energy;
}

/* Seconds to fall by 60 dB, from the fit between -5 and -35 dB. */
static double t30(const float *h, uint32_t n, double hz, double rate)
{
    double *energy = backward_energy(h, n, hz, rate);
    double count = 0, st = 0, sl = 0, stt = 0, stl = 0;
    for (uint32_t i = 0; i < n && energy[i] > energy[0] * pow(10.0, -3.5); ++i) {
        const double level = 10.0 * log10(energy[i] / energy[0]), t = i / rate;
        if (level > -5.0)
            continue;
        count += 1, st += t, sl += level, stt += t * t, stl += t * level;
    }
    free(energy);
    return -60.0 / ((count * stl - st * sl) / (count * stt - st * st));
}

/* Noise under an exponential reads the exponential's decay time. */
static void meter_reads_a_known_decay(void **state)
{
    (void)state;
    enum { N = 96000 };
    float *h = malloc(N * sizeof *h);
    assert_non_null(h);
    uint32_t seed = seeded(1);
    for (uint32_t i = 0; i < N; ++i) {
        seed = seed * 1664525u + 1013904223u;
        h[i] = (float)((seed >> 8) / 8388608.0 - 1.0) * powf(10.f, -3.f * (float)i / 48000.f / 1.5f);
    }
    figure_within("Plate", "T30 meter: noise that decays in 1.5 s", t30(h, N, 1000.0, 48000.0), 1.5, 0.075, "s",
                  "ISO 3382-1 T30 [M]; wide: noise by noise it scatters by 2 %");
    free(h);
}

static double worst_off(double rate, double damping)
{
    static const double decay[] = {0.5, 0.7, 1.0, 1.4, 2.2, 4.0, 8.0}, octave[] = {500.0, 1000.0};
    double worst = 0.0;
    for (size_t d = 0; d < sizeof decay / sizeof *decay; ++d) {
        Response r;
        response_take(&r, rate, decay[d], damping, decay[d]);
        for (int c = 0; c < 2; ++c)
            for (int o = 0; o < 2; ++o) {
                const double off = 100.0 * (t30(r.out[c], r.n, octave[o], rate) / decay[d] - 1.0);
                if (fabs(off) > fabs(worst))
                    worst = off;
            }
        response_free(&r);
    }
    return worst;
}

static void decay_is_what_was_asked_for(void **state)
{
    (void)state;
    static const struct {
        double rate, damping;
        const char *what;
    } row[] = {
        {44100, 4000, "T30 off the control, 0.5-8 s, 500 Hz and 1 kHz, damping 4k, at 44.1k"},
        {48000, 4000, "T30 off the control, 0.5-8 s, 500 Hz and 1 kHz, damping 4k, at 48k"},
        {48000, 6500, "T30 off the control, 0.5-8 s, 500 Hz and 1 kHz, damping 6.5k, at 48k"},
        {48000, 20000, "T30 off the control, 0.5-8 s, 500 Hz and 1 kHz, damping 20k, at 48k"},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i)
        figure_within("Plate", row[i].what, worst_off(row[i].rate, row[i].damping), 0.0, 10.0, "%",
                      "ISO 3382-1 T30 [M]");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(meter_reads_a_known_decay),
        cmocka_unit_test(decay_is_what_was_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
