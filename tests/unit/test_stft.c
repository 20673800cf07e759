/* Short-time spectra: what is left alone comes back, late by what is said, at every rate. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "seeds.h"
#include "singer/random.h"
#include "stft.h"

static const double rates[] = {8000, 11025, 22050, 44100, 48000, 96000, 192000, 384000};
enum { RATES = sizeof rates / sizeof *rates };

typedef struct {
    uint32_t n; /* whole cells */
    float *in[2], *late[2], *out[2];
} Sound;

static Sound noise_of(uint32_t n)
{
    Sound s = {.n = n - n % DSP_CELL};
    Random random = random_stream(seeded(5), 1);
    for (int c = 0; c < 2; ++c) {
        s.in[c] = calloc(n, sizeof(float));
        s.late[c] = calloc(n, sizeof(float));
        s.out[c] = calloc(n, sizeof(float));
        assert_true(s.in[c] && s.late[c] && s.out[c]);
        for (uint32_t t = 0; t < n; ++t)
            s.in[c][t] = (float)random_between(&random, -0.5, 0.5);
    }
    return s;
}

static void drop(Sound *s)
{
    for (int c = 0; c < 2; ++c) {
        free(s->in[c]);
        free(s->late[c]);
        free(s->out[c]);
    }
}

/* Every frame is looked at in cell `at` of its hop and put together in the last. */
static void run(Stft *s, Sound *sound, uint32_t at)
{
    for (uint32_t t = 0; t < sound->n; t += DSP_CELL) {
        const uint32_t cell = stft_tick(s);
        for (uint32_t step = 0; step < STFT_STEPS * s->channels && cell == at; ++step)
            stft_analyse(s, step / STFT_STEPS, step % STFT_STEPS);
        for (uint32_t step = 0; step < STFT_STEPS * s->channels && cell == s->cells - 1; ++step)
            stft_synthesise(s, step / STFT_STEPS, step % STFT_STEPS);
        float late[DSP_CHANNELS][DSP_CELL] = {{0}}, out[DSP_CHANNELS][DSP_CELL] = {{0}};
        stft_process(s, (const float *const[]){sound->in[0] + t, sound->in[1] + t}, late, out, DSP_CELL);
        for (uint32_t c = 0; c < s->channels; ++c) {
            memcpy(sound->late[c] + t, late[c], sizeof late[c]);
            memcpy(sound->out[c] + t, out[c], sizeof out[c]);
        }
    }
}

/* dB under the input. */
static double error_of(const Stft *s, const Sound *sound)
{
    double error = 0.0, all = 0.0;
    for (uint32_t t = s->latency; t < sound->n; ++t) {
        const double in = (double)sound->in[1][t - s->latency], apart = (double)sound->out[1][t] - in;
        error += apart * apart;
        all += in * in;
    }
    return 10.0 * log10(error / all);
}

static void what_is_left_alone_comes_back(void **state)
{
    (void)state;
    double worst = -300.0, longest = 0.0;
    for (int r = 0; r < RATES; ++r) {
        Stft s;
        assert_true(stft_init(&s, rates[r], 2));
        Sound sound = noise_of(5 * s.size);
        for (uint32_t at = 0; at < s.cells; at += s.cells / 2) {
            stft_reset(&s);
            run(&s, &sound, at);
            worst = fmax(worst, error_of(&s, &sound));
        }
        longest = fmax(longest, 1000.0 * s.latency / rates[r]);
        for (uint32_t t = 0; t < sound.n; ++t)
            assert_true(sound.late[0][t] == (t < s.latency ? 0.f : sound.in[0][t - s.latency]));
        drop(&sound);
        stft_done(&s);
    }
    figure_at_most("Stft", "an unchanged spectrum: what comes back is off by, 8 to 384 kHz", worst, -130.0, "dB",
                   "ours");
    figure_at_most("Stft", "latency, 8 to 384 kHz, at most", longest, 50.0, "ms", "requirement");
}

/* The largest sample of the next hops in which silence comes in and nobody works on frames. */
static float left_in(Stft *s, uint32_t hops)
{
    static const float silence[DSP_CELL];
    float most = 0.f;
    for (uint32_t cell = 0; cell < hops * s->cells; ++cell) {
        float late[DSP_CHANNELS][DSP_CELL], out[DSP_CHANNELS][DSP_CELL];
        stft_tick(s);
        stft_process(s, (const float *const[]){silence, silence}, late, out, DSP_CELL);
        for (uint32_t c = 0; c < s->channels; ++c)
            for (uint32_t t = 0; t < DSP_CELL; ++t)
                most = fmaxf(most, fabsf(out[c][t]));
    }
    return most;
}

/* A frame that was put together sounds for as long as it is, once; after a reset not at all. */
static void every_frame_sounds_once(void **state)
{
    (void)state;
    Stft s;
    assert_true(stft_init(&s, 48000.0, 2));
    Sound sound = noise_of(2 * s.size);
    run(&s, &sound, 0);
    stft_reset(&s);
    assert_true(left_in(&s, 8) == 0.f);
    run(&s, &sound, 0);
    assert_true(left_in(&s, 1) > 0.01f);
    assert_true(left_in(&s, 1) > 0.01f);
    left_in(&s, 1);
    assert_true(left_in(&s, 4) == 0.f);
    drop(&sound);
    stft_done(&s);
}

/* Both channels' bins are small whole numbers, other ones each. */
static void fill_spectrum(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c)
        for (uint32_t k = 0; k < s->bins; ++k) {
            s->re[c][k] = (float)(1 + k % 7 + c);
            s->im[c][k] = (float)(2 + k % 5 + 3 * c);
        }
}

static float energy_at(const Stft *s, uint32_t k)
{
    float sum = 0.f;
    for (uint32_t c = 0; c < s->channels; ++c)
        sum += s->re[c][k] * s->re[c][k] + s->im[c][k] * s->im[c][k];
    return sum;
}

/* Power, scaling and silence reach all bins of a range, of any length, and no others. */
static void ranges_of_bins(void **state)
{
    (void)state;
    Stft s;
    assert_true(stft_init(&s, 48000.0, 2));
    const float gain[40] = {[5] = 2.f, 3.f, 4.f, 5.f, 6.f, 7.f, 8.f, 9.f, 10.f, 11.f, 12.f, 13.f};
    for (uint32_t to = 5; to < 17; ++to) {
        fill_spectrum(&s);
        float power[40], energy[40];
        for (uint32_t k = 0; k < 40; ++k) {
            power[k] = -1.f;
            energy[k] = energy_at(&s, k);
        }
        stft_power(&s, 0.5f, 5, to, power);
        stft_scale(&s, gain, 5, to);
        for (uint32_t k = 0; k < 40; ++k) {
            const bool in = k >= 5 && k < to;
            assert_true(power[k] == (in ? 0.5f * energy[k] : -1.f));
            assert_true(s.re[1][k] == (float)(2 + k % 7) * (in ? gain[k] : 1.f));
            assert_true(energy_at(&s, k) == energy[k] * (in ? gain[k] * gain[k] : 1.f));
        }
        stft_silence(&s, 5, to);
        for (uint32_t k = 0; k < 40; ++k)
            assert_true(energy_at(&s, k) == (k >= 5 && k < to ? 0.f : energy[k]));
    }
    stft_done(&s);
}

/* Any rate: factors that the transform has loops for, 2 cells or more, within the latency allowed. */
static void every_rate_has_a_frame(void **state)
{
    (void)state;
    for (double rate = DSP_RATE_MIN; rate <= DSP_RATE_MAX; rate *= 1.013) {
        Stft s;
        assert_true(stft_init(&s, rate, 1));
        uint32_t rest = s.size;
        for (uint32_t factor = 2; factor <= 3; ++factor)
            while (rest % factor == 0)
                rest /= factor;
        assert_int_equal(rest, 1);
        assert_true(s.cells >= 2 && s.hop * STFT_OVERLAP == s.size && s.bins == s.size / 2 + 1);
        assert_true(s.size >= 0.022 * rate && s.latency <= 0.05 * rate);
        stft_done(&s);
    }
}

/* A frame's spectrum against the sum that it is, plainly, in double. */
static void a_spectrum_is_the_plain_sum(void **state)
{
    (void)state;
    Stft s;
    assert_true(stft_init(&s, 48000.0, 1));
    Sound sound = noise_of(s.size);
    for (uint32_t t = 0; t < sound.n; t += DSP_CELL) {
        float late[DSP_CHANNELS][DSP_CELL], out[DSP_CHANNELS][DSP_CELL];
        stft_tick(&s);
        stft_process(&s, (const float *const[]){sound.in[0] + t}, late, out, DSP_CELL);
    }
    assert_int_equal(stft_tick(&s), 0);
    for (uint32_t step = 0; step < STFT_STEPS; ++step)
        stft_analyse(&s, 0, step);
    double error = 0.0, all = 0.0;
    for (uint32_t k = 0; k < s.bins; ++k) {
        double re = 0.0, im = 0.0;
        for (uint32_t t = 0; t < s.size; ++t) {
            const double x = sin(DSP_PI * t / s.size) * (double)sound.in[0][t];
            re += x * cos(2.0 * DSP_PI * k * t / s.size);
            im -= x * sin(2.0 * DSP_PI * k * t / s.size);
        }
        const double re_apart = (double)s.re[0][k] - re, im_apart = (double)s.im[0][k] - im;
        error += re_apart * re_apart + im_apart * im_apart;
        all += re * re + im * im;
    }
    figure_at_most("Stft", "a spectrum is off the plain sum by", 10.0 * log10(error / all), -125.0, "dB", "ours");
    drop(&sound);
    stft_done(&s);
}

static void noise_has_the_power_that_is_said(void **state)
{
    (void)state;
    Stft s;
    assert_true(stft_init(&s, 48000.0, 1));
    Sound sound = noise_of(48000);
    double power = 0.0;
    uint32_t seen = 0;
    for (uint32_t t = 0; t < sound.n; t += DSP_CELL) {
        if (stft_tick(&s) == 0 && t >= 2 * s.size) {
            for (uint32_t step = 0; step < STFT_STEPS; ++step)
                stft_analyse(&s, 0, step);
            for (uint32_t k = 2; k + 2 < s.bins; ++k, ++seen)
                power += (double)(s.re[0][k] * s.re[0][k]) + (double)(s.im[0][k] * s.im[0][k]);
        }
        float late[DSP_CHANNELS][DSP_CELL], out[DSP_CHANNELS][DSP_CELL];
        stft_process(&s, (const float *const[]){sound.in[0] + t}, late, out, DSP_CELL);
    }
    figure_within("Stft", "noise of power p: mean power of a bin over p size / 2", power / seen / (s.size / 24.0), 1.0,
                  0.02, "", "common-dsp/stft.h; even noise of +-0.5 has the power 1/12");
    drop(&sound);
    stft_done(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_left_alone_comes_back),
        cmocka_unit_test(every_frame_sounds_once),
        cmocka_unit_test(ranges_of_bins),
        cmocka_unit_test(every_rate_has_a_frame),
        cmocka_unit_test(a_spectrum_is_the_plain_sum),
        cmocka_unit_test(noise_has_the_power_that_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
