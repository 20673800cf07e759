/* Has a sound a pitch, at once and at next to no cost? It looks at signs alone: one bit a sample of a slow signal, of
 * which the last 192 are compared with those of one period before, for every period of 70 to 1100 Hz. What is left of a
 * voice's period in its signs is far over what noise has by chance: of noise between 350 and 1400 Hz the best of all
 * periods agrees by less than VOICING_CHANCE.
 *
 * Correlating signs in place of values is an old practice of signal processing; no text was opened. For an answer that
 * can be learned from, see voice.h.
 */
#ifndef LINCTUS_VOICING_H
#define LINCTUS_VOICING_H

#include "dsp.h"

enum { VOICING_WINDOW = 3, VOICING_WORDS = 5 }; /* words of 64 signs: that are compared, that are kept */

#define VOICING_CHANCE 0.6 /* agreement, -1..1: more is a voice */

/* Zero it to reset. */
typedef struct {
    uint64_t sign[VOICING_WORDS]; /* the newest in the lowest bit of the first */
} Voicing;

/* Samples of the sound for one sign, a power of two: signs come at 4.2 to 8.5 kHz. */
uint32_t voicing_every(double rate);

/* The next sign. */
static inline void voicing_push(Voicing *v, bool positive)
{
    for (int i = VOICING_WORDS - 1; i > 0; --i)
        v->sign[i] = v->sign[i] << 1 | v->sign[i - 1] >> 63;
    v->sign[0] = v->sign[0] << 1 | positive;
}

/* How far the last signs agree with those of a period before, of the period for which they do so best; -1..1, and 0
 * while any of what is kept is silence. rate: of
 * the signs. Costs some thousand operations. */
double voicing_agreement(const Voicing *v, double rate);

#endif
