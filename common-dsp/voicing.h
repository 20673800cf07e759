/* Does a sound have a pitch? Answers at once and at next to no cost, from signs alone: one bit a sample of a slow
 * signal. The last 192 are compared with those one period earlier, for every period from 70 to 1100 Hz. A voice's signs
 * agree far better than noise does by chance: for noise between 350 and 1400 Hz even the best period agrees by less
 * than VOICING_CHANCE.
 *
 * Correlating signs in place of values is an old practice of signal processing; no text was opened. For an answer
 * reliable enough to learn from, see voice.h. */
#ifndef LINCTUS_VOICING_H
#define LINCTUS_VOICING_H

#include "dsp.h"

enum { VOICING_WINDOW = 3, VOICING_WORDS = 5 }; /* words of 64 signs: compared; kept */

/* Agreement, -1..1: more is a voice. Phrase does as well with 0.5 and 0.7, by the measure in phrase_level.c. */
#define VOICING_CHANCE 0.6

/* Zero it to reset. */
typedef struct {
    uint64_t sign[VOICING_WORDS]; /* the newest in the lowest bit of the first */
} Voicing;

/* Samples from one sign to the next, a power of two: signs come at 4.2 to 8.5 kHz. rate: Hz, of the sound. */
uint32_t voicing_every(double rate);

/* Takes in the next sign. */
static inline void voicing_push(Voicing *v, bool positive)
{
    for (int i = VOICING_WORDS - 1; i > 0; --i)
        v->sign[i] = v->sign[i] << 1 | v->sign[i - 1] >> 63;
    v->sign[0] = v->sign[0] << 1 | positive;
}

/* How well the last signs agree with those a period earlier, -1..1, for the period where they agree best; 0 while any
 * of the signs kept are silence. rate: signs a second. Costs some thousand operations. */
double voicing_agreement(const Voicing *v, double rate);

#endif
