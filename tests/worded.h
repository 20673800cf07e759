/* Recorded words as takes of which it is known where the words and the rests are, for the plug-ins that work on either:
 * a take of voices.h whose rests are made longer, with noise and breaths planted in them. */
#ifndef LINCTUS_WORDED_H
#define LINCTUS_WORDED_H

#include "voices.h"

typedef struct {
    uint32_t from, to; /* samples */
} WordedSpan;

enum { WORDED_SPANS = 400 };

typedef struct {
    double rate, level; /* Hz; singer_level_db() of the words */
    double noise;       /* dB: the noise that was planted */
    uint32_t n;
    float *take, *words, *breath; /* everything; the recording alone, its own noise too; the planted breaths alone */
    uint32_t rests, breaths;
    WordedSpan rest[WORDED_SPANS];     /* between words, from the last to the first sound of them, in order */
    bool breathes[WORDED_SPANS];       /* a breath lies in it */
    WordedSpan breathed[WORDED_SPANS]; /* from its first to its last sample */
} Worded;

/* Rests become silent and `longer` seconds longer; then `noise`, dB under the voice, is added all over, but 3 dB or
 * more over the recording's own. faintest, loudest: dB under the voice of a breath in every second rest, 0.35 s long,
 * over 60 ms before the next word; faintest 0: none.
 *
 * A rest lies between two stretches that come within 20 dB of the voice, from the last sound of one word, and 20 ms, to
 * the first of the next: sound is what lies over 150 Hz and passes, in 10 ms, the planted noise by 3 dB, the
 * recording's own there by 8, and 32 dB under the voice. */
void worded_make(Worded *w, const Spoken *words, double longer, double noise, double faintest, double loudest,
                 uint32_t seed);

/* The same as phrases of `least` seconds or more: rests between them 0.7 s long, those in them 0.15 s at most. Each
 * phrase lies up to uneven_db higher or lower than it was. Without breaths. */
void worded_phrases(Worded *w, const Spoken *words, double least, double uneven_db, double noise, uint32_t seed);
void worded_free(Worded *w);

/* K-weighted (BS.1770) samples of x, n of them; the caller frees them. The cmocka test fails without memory. */
double *worded_weighted(const float *x, uint32_t n, double rate);

#endif
