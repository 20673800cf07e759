/* The discrete Fourier transform of a row of real samples, in steps that cost about the same: as that of complex
 * numbers, each of two samples, four side by side in the lanes of a vector, so that one channel fills them. Compiled
 * twice from one source (fourier_kernel.h), for vectors of four floats and of eight (wide.h), with the same bits.
 *
 *     forward:  fourier_pass() 0..FOURIER_STEPS - 1, fourier_join(), fourier_split() 0..1
 *     back:     fourier_merge() 0..1, fourier_pass() 0..FOURIER_STEPS - 1, fourier_join()
 *
 * Real and imaginary parts lie in arrays of their own. Sample 2 j is re[j], sample 2 j + 1 is im[j]; in a spectrum
 * re[k] and im[k] are those of frequency k / size of the rate. Lane p transforms every fourth number from p on, and
 * fourier_join() makes one transform of the four. Method and rounding: stft.md. */
#ifndef LINCTUS_FOURIER_H
#define LINCTUS_FOURIER_H

#include <stdbool.h>
#include <stdint.h>

enum {
    FOURIER_STEPS = 4,   /* steps of the lanes' transforms */
    FOURIER_PASSES = 12, /* most factors of their length */
    FOURIER_FINE = 16,   /* entries of the finer table of turns */
    FOURIER_TURN = 8     /* floats: four complex numbers */
};

typedef struct {
    uint32_t half;              /* complex numbers: half as many as samples */
    uint32_t quarter;           /* of these: numbers in a lane */
    uint32_t passes;            /* of the lanes' transform */
    uint8_t by[FOURIER_PASSES]; /* the factor that each takes out: 4, 2 or 3 */
    float *memory;              /* holds the four below: */
    uint32_t turns;             /* entries of: */
    float *turn;                /* e^(-2 pi i k / (2 quarter)), k below 1.5 quarter; first all real parts */
    float *coarse, *fine;       /* lane p: e^(-2 pi i p k / half), real parts before imaginary ones; k is every
                                   sixteenth, and each below 16. A product of both turns what is joined */
    float *first;               /* lane p: e^(-2 pi i p / size) */
    bool wide;                  /* vectors of eight are used */
    uint16_t *place;            /* where in the lanes number k of their transform lies after the passes */
} Fourier;

/* size: samples; 16 times a product of twos and threes, at least one of each: 96..24576. Allocates; false: no memory.
 */
bool fourier_init(Fourier *f, uint32_t size);

/* Safe on a zeroed struct and after a failed init. */
void fourier_done(Fourier *f);

/* Transforms the lanes where they lie: `half` numbers each of re and im. */
void fourier_pass(const Fourier *f, uint32_t step, float *re, float *im);

/* Joins the four transforms to that of all numbers, `half` of them, in another place. */
void fourier_join(const Fourier *f, const float *re, const float *im, float *to_re, float *to_im);

/* From the transform of pairs of samples to that of the samples, where it lies: half + 1 numbers, 0 to half the rate.
 */
void fourier_split(const Fourier *f, uint32_t step, float *re, float *im);

/* The way back, `size` times as large and conjugate: so the forward transform serves as the inverse one. After the join
 * sample 2 j is re[j] / size, sample 2 j + 1 is -im[j] / size. Overwrites the spectrum. */
void fourier_merge(const Fourier *f, uint32_t step, float *re, float *im);

#endif
