/* The discrete Fourier transform of a row of real samples, in steps. Each pair of samples makes one complex number.
 * kissfft transforms every fourth of these numbers, once for each of the four quarters, which takes nearly all of the
 * time. The rest is done here. Method: stft.md.
 *
 *     forward:  fourier_quarter() 0..3, fourier_join(), fourier_split()
 *     back:     fourier_merge(), fourier_quarter() 0..3, fourier_join()
 *
 * Samples and quarters are complex numbers in kissfft's layout: real and imaginary parts interleaved. Everywhere else
 * real and imaginary parts are in separate arrays. */
#ifndef LINCTUS_FOURIER_H
#define LINCTUS_FOURIER_H

#include <stdbool.h>
#include <stdint.h>

enum { FOURIER_QUARTERS = 4 };

typedef struct {
    uint32_t half;    /* complex numbers: half as many as samples */
    uint32_t quarter; /* complex numbers in each quarter */
    float *sine;      /* sin(pi k / size), k up to half: a quarter of its period. The caller may read it too */
    void *kiss;       /* kissfft's */
} Fourier;

/* size: samples; 32 times a product of twos, threes and fives. Allocates; false: no memory. */
bool fourier_init(Fourier *f, uint32_t size);

/* Safe on a zeroed struct and after a failed init. */
void fourier_done(Fourier *f);

/* Makes quarter p, 0..3: transforms every fourth complex number from number p on. `to` has room for all four quarters,
 * `half` numbers. */
void fourier_quarter(const Fourier *f, uint32_t p, const float *from, float *to);

/* Joins the quarters into the transform of all the complex numbers. Writes half + 1 numbers: the last repeats the
 * first. */
void fourier_join(const Fourier *f, const float *quarters, float *re, float *im);

/* Turns that transform, z, into the spectrum of the samples: half + 1 numbers, number k at k / size of the rate. */
void fourier_split(const Fourier *f, const float *z_re, const float *z_im, float *re, float *im);

/* Turns a spectrum into the complex numbers whose transform, re and im, holds the samples: sample 2 j is re[j] / size,
 * sample 2 j + 1 is -im[j] / size. `to`: `half` numbers, and room for one more. */
void fourier_merge(const Fourier *f, const float *re, const float *im, float *to);

#endif
