/* Power spectra for tests: Welch's method, Hann windows, half overlapped. */
#ifndef LINCTUS_SPECTRUM_H
#define LINCTUS_SPECTRUM_H

#include <stddef.h>

typedef struct {
    double *power; /* per bin; the sum over all is the mean square of the signal */
    size_t size;   /* of the window: bins are rate / size apart, size / 2 + 1 of them */
    double rate;
} Spectrum;

/* size: a power of two. A signal shorter than that is filled up with silence. The cmocka test fails without memory. */
Spectrum spectrum_of(const float *x, size_t n, size_t size, double rate);
void spectrum_free(Spectrum *s);

/* Power in dB between two frequencies (lo in, hi out), and the frequency of the strongest bin there. */
double spectrum_band(const Spectrum *s, double lo, double hi);
double spectrum_peak(const Spectrum *s, double lo, double hi);

/* Third octaves from 100 Hz to 10 kHz, those within `faint` dB of the strongest: the farthest that one changes, dB. */
double spectrum_change(const float *before, const float *after, size_t n, double rate, double faint);

/* Amplitude of the part of x at this frequency, Hann-windowed over all of it. */
double spectrum_part(const float *x, size_t n, double hz, double rate);

#endif
