/* The Fourier transform at every size that it is used at: against the plain sum, there and back. */
#include "fourier.h"

#include "dsp.h"
#include "figure.h"
#include "seeds.h"
#include "singer/random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { MOST = 12288, ROOM = MOST / 2 + 1 };

static const uint32_t sizes[] = {192, 288, 384, 576, 768, 1152, 1536, 2304, 3072, 4608, 6144, 9216, 12288};
enum { SIZES = sizeof sizes / sizeof *sizes };

/* Real and imaginary parts of a spectrum, or of what comes of it. */
typedef struct {
    float re[ROOM], im[ROOM];
} Parts;

/* The samples of a frame, and work. */
typedef struct {
    float x[2 * ROOM];
} Row;

static Row noise_of(uint32_t size)
{
    Row row = {{0}};
    Random random = random_stream(seeded(7), size);
    for (uint32_t t = 0; t < size; ++t)
        row.x[t] = (float)random_between(&random, -0.5, 0.5);
    return row;
}

static void transform(const Fourier *f, const Row *from, Parts *to)
{
    static Row quarters;
    for (uint32_t p = 0; p < FOURIER_QUARTERS; ++p)
        fourier_quarter(f, p, from->x, quarters.x);
    fourier_join(f, quarters.x, to->re, to->im);
}

static void spectrum_of(const Fourier *f, const Row *sound, Parts *spectrum)
{
    static Parts z;
    transform(f, sound, &z);
    fourier_split(f, z.re, z.im, spectrum->re, spectrum->im);
}

static void sound_of(const Fourier *f, const Parts *spectrum, Parts *sound)
{
    static Row merged;
    fourier_merge(f, spectrum->re, spectrum->im, merged.x);
    transform(f, &merged, sound);
}

/* Error and energy of one frequency against the sum that it is, in double. */
static void compare(uint32_t size, const Row *sound, const Parts *spectrum, uint32_t k, double *error, double *all)
{
    double re = 0.0, im = 0.0;
    for (uint32_t t = 0; t < size; ++t) {
        const double x = (double)sound->x[t];
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
    const Row sound = noise_of(size);
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
        const Row sound = noise_of(sizes[i]);
        static Parts spectrum, back;
        spectrum_of(&f, &sound, &spectrum);
        sound_of(&f, &spectrum, &back);
        for (uint32_t j = 0; j < sizes[i] / 2; ++j) {
            worst = fmax(worst, fabs((double)(back.re[j] / (float)sizes[i] - sound.x[2 * (size_t)j])));
            worst = fmax(worst, fabs((double)(-back.im[j] / (float)sizes[i] - sound.x[2 * (size_t)j + 1])));
        }
        fourier_done(&f);
    }
    figure_at_most("Stft", "there and back, noise of 0.5: a sample is off by", 1e9 * worst, 2000, "1e-9",
                   "ours; a float of 0.5 is rounded by 30");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_plain_sum),
        cmocka_unit_test(there_and_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
