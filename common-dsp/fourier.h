/* The discrete Fourier transform of a row of real samples, in steps. kissfft transforms every fourth of the complex
 * numbers that two samples each make, four times, which takes nearly all of the time; the rest is done here. Method:
 * stft.md.
 *
 *     forward:  fourier_quarter() 0..3, fourier_join(), fourier_split()
 *     back:     fourier_merge(), fourier_quarter() 0..3, fourier_join()
 *
 * Samples and quarters are complex numbers as kissfft has them, real and imaginary parts in turn; all else has its real
 * and its imaginary parts in an array each. */
#ifndef LINCTUS_FOURIER_H
#define LINCTUS_FOURIER_H

#include <stdbool.h>
#include <stdint.h>

enum { FOURIER_QUARTERS = 4 };

typedef struct {
    uint32_t half;            /* complex numbers: half as many as samples */
    uint32_t quarter;         /* of these */
    float *turn_re, *turn_im; /* e^(-2 pi i k / size), k below half / 2 */
    void *kiss;               /* kissfft's */
} Fourier;

/* size: samples; 32 times a product of twos, threes and fives. Allocates; false: no memory. */
bool fourier_init(Fourier *f, uint32_t size);

/* Safe on a zeroed struct and after a failed init. */
void fourier_done(Fourier *f);

/* Transforms every fourth complex number from number p on; `to` has room for all four transforms, half numbers. */
void fourier_quarter(const Fourier *f, uint32_t p, const float *from, float *to);

/* Joins the quarters to the transform of all numbers, half + 1 of them: the last is the first again. */
void fourier_join(const Fourier *f, const float *quarters, float *re, float *im);

/* From that, z, to the spectrum of the samples: half + 1 numbers, number k at k / size of the rate. */
void fourier_split(const Fourier *f, const float *z_re, const float *z_im, float *re, float *im);

/* From a spectrum to the numbers that, transformed, make the samples: 2 j is re[j] / size, 2 j + 1 is -im[j] / size.
 * `to`: half numbers, and room for one more. */
void fourier_merge(const Fourier *f, const float *re, const float *im, float *to);

#endif
