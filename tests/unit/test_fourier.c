/* The Fourier transform at every size that it is used at: against the plain sum, there and back, and the same bits with
 * vectors of every width and with none. */
#include "plain_fourier.h"

#include "dsp.h"
#include "figure.h"
#include "seeds.h"
#include "singer/random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

enum { MOST = 12288, ROOM = MOST / 2 + 1 };

static const uint32_t sizes[] = {192, 288, 384, 576, 768, 1152, 1536, 2304, 3072, 4608, 6144, 9216, 12288};
enum { SIZES = sizeof sizes / sizeof *sizes };

/* Even samples and odd ones. */
typedef struct {
    float re[ROOM], im[ROOM];
} Parts;

static Parts noise_of(uint32_t size)
{
    Parts p = {{0}, {0}};
    Random random = random_stream(seeded(7), size);
    for (uint32_t j = 0; j < size / 2; ++j) {
        p.re[j] = (float)random_between(&random, -0.5, 0.5);
        p.im[j] = (float)random_between(&random, -0.5, 0.5);
    }
    return p;
}

static void spectrum_of(const Fourier *f, const Parts *sound, Parts *spectrum)
{
    Parts work = *sound;
    for (uint32_t step = 0; step < FOURIER_STEPS; ++step)
        fourier_pass(f, step, work.re, work.im);
    fourier_join(f, work.re, work.im, spectrum->re, spectrum->im);
    fourier_split(f, 0, spectrum->re, spectrum->im);
    fourier_split(f, 1, spectrum->re, spectrum->im);
}

/* Error and energy of one frequency against the sum that it is, in double. */
static void compare(uint32_t size, const Parts *sound, const Parts *spectrum, uint32_t k, double *error, double *all)
{
    double re = 0.0, im = 0.0;
    for (uint32_t t = 0; t < size; ++t) {
        const double x = (double)(t % 2 ? sound->im[t / 2] : sound->re[t / 2]);
        const double angle = 2.0 * DSP_PI * (double)((uint64_t)k * t % size) / size;
        re += x * cos(angle);
        im -= x * sin(angle);
    }
    const double off_re = (double)spectrum->re[k] - re, off_im = (double)spectrum->im[k] - im;
    *error += off_re * off_re + off_im * off_im;
    *all += re * re + im * im;
}

/* All frequencies of the shortest, 60 to 100 of the longer: the ends, the middle, and those between with every rest. */
static double error_at(uint32_t size)
{
    Fourier f;
    assert_true(fourier_init(&f, size));
    const Parts sound = noise_of(size);
    static Parts spectrum;
    spectrum_of(&f, &sound, &spectrum);
    double error = 0.0, all = 0.0;
    const uint32_t step = size < 300 ? 1 : (size / 120) | 1;
    for (uint32_t k = 0; k <= size / 2; k += step)
        compare(size, &sound, &spectrum, k, &error, &all);
    compare(size, &sound, &spectrum, size / 4, &error, &all);
    compare(size, &sound, &spectrum, size / 2, &error, &all);
    fourier_done(&f);
    return 10.0 * log10(error / all);
}

static void is_the_plain_sum(void **state)
{
    (void)state;
    double worst = -300.0;
    for (int i = 0; i < SIZES; ++i)
        worst = fmax(worst, error_at(sizes[i]));
    figure_at_most("Stft", "a transform of 192 to 12288 samples is off the plain sum by", worst, -125.0, "dB",
                   "the sum in double");
}

static void there_and_back(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < SIZES; ++i) {
        Fourier f;
        assert_true(fourier_init(&f, sizes[i]));
        const Parts sound = noise_of(sizes[i]);
        static Parts spectrum, back;
        spectrum_of(&f, &sound, &spectrum);
        fourier_merge(&f, 0, spectrum.re, spectrum.im);
        fourier_merge(&f, 1, spectrum.re, spectrum.im);
        for (uint32_t step = 0; step < FOURIER_STEPS; ++step)
            fourier_pass(&f, step, spectrum.re, spectrum.im);
        fourier_join(&f, spectrum.re, spectrum.im, back.re, back.im);
        for (uint32_t j = 0; j < sizes[i] / 2; ++j) {
            worst = fmax(worst, fabs((double)(back.re[j] / (float)sizes[i] - sound.re[j])));
            worst = fmax(worst, fabs((double)(-back.im[j] / (float)sizes[i] - sound.im[j])));
        }
        fourier_done(&f);
    }
    figure_at_most("Stft", "there and back, noise of 0.5: a sample is off by", 1e9 * worst, 2000, "1e-9",
                   "ours; a float of 0.5 is rounded by 30");
}

/* ---- Widths ---- */

typedef struct {
    FourierStep *pass, *split, *merge;
    FourierJoin *join;
} Width;

/* All that the steps make of a sound, there and back. */
static void all_of(const Width *w, const Fourier *f, const Parts *sound, Parts *spectrum, Parts *back)
{
    Parts work = *sound;
    for (uint32_t step = 0; step < FOURIER_STEPS; ++step)
        w->pass(f, step, work.re, work.im);
    w->join(f, work.re, work.im, spectrum->re, spectrum->im);
    w->split(f, 0, spectrum->re, spectrum->im);
    w->split(f, 1, spectrum->re, spectrum->im);
    work = *spectrum;
    w->merge(f, 0, work.re, work.im);
    w->merge(f, 1, work.re, work.im);
    for (uint32_t step = 0; step < FOURIER_STEPS; ++step)
        w->pass(f, step, work.re, work.im);
    w->join(f, work.re, work.im, back->re, back->im);
}

static void same_bits(const Width *one, const Width *other, const Fourier *f)
{
    const Parts sound = noise_of(2 * f->half);
    static Parts a, b, a_back, b_back;
    memset(&a, 0, sizeof a);
    memset(&b, 0, sizeof b);
    memset(&a_back, 0, sizeof a_back);
    memset(&b_back, 0, sizeof b_back);
    all_of(one, f, &sound, &a, &a_back);
    all_of(other, f, &sound, &b, &b_back);
    assert_memory_equal(&a, &b, sizeof a);
    assert_memory_equal(&a_back, &b_back, sizeof a_back);
}

static void every_width_gives_the_same_bits(void **state)
{
    (void)state;
    static const Width plain = {plain_fourier_pass, plain_fourier_split, plain_fourier_merge, plain_fourier_join};
    static const Width four = {fourier_pass_four, fourier_split_four, fourier_merge_four, fourier_join_four};
    static const Width eight = {fourier_pass_avx2, fourier_split_avx2, fourier_merge_avx2, fourier_join_avx2};
    static const Width used = {fourier_pass, fourier_split, fourier_merge, fourier_join};
    for (int i = 0; i < SIZES; ++i) {
        Fourier f;
        assert_true(fourier_init(&f, sizes[i]));
        same_bits(&plain, &four, &f);
        same_bits(&plain, &used, &f);
        if (f.quarter % 8 == 0 && (wide_avx2() || !WIDE_AVX2))
            same_bits(&plain, &eight, &f);
        fourier_done(&f);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_plain_sum),
        cmocka_unit_test(there_and_back),
        cmocka_unit_test(every_width_gives_the_same_bits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
