/* Another sample rate, through libsoxr (linear phase, precision for 24 bit and more): sound keeps its place in time. */
#ifndef LINCTUS_HARNESS_RESAMPLE_H
#define LINCTUS_HARNESS_RESAMPLE_H

#include "sink.h"

/* Does nothing, to the bit, where both rates are one. What comes out is resample_frames() long. Its ends ring like any
 * band-limited sound's, so a peak can come out higher than it went in: measure after it. */
typedef struct {
    Sink sink; /* its end ends the next one */
    Sink *to;
    struct soxr *soxr; /* NULL: one rate */
    double from, rate; /* Hz: of what comes in, of what goes out */
    uint32_t channels;
    uint64_t came, went; /* frames */
} Resample;

/* Rates: Hz, whole numbers; channels: 1 or 2. false: out of memory. */
bool resample_start(Resample *r, Sink *to, double from, double rate, uint32_t channels, Error *e);
void resample_free(Resample *r); /* safe on a zeroed struct, and twice */

/* How many frames so many become: frames * rate / from, to the nearest. */
uint64_t resample_frames(uint64_t frames, double from, double rate);

#endif
