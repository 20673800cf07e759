/* What to do about what was heard in a take: at the source first, then with the plug-ins. */
#ifndef LINCTUS_HARNESS_ADVICE_H
#define LINCTUS_HARNESS_ADVICE_H

#include "readings.h"
#include "stage.h"

#include <stdio.h>

/* What to do about a fault. */
typedef struct {
    const char *port;    /* Check's yes/no */
    const char *verdict; /* the word it has for it */
    const char *found, *source, *then;
    const char *when; /* conditions besides (fill.h); NULL: none */
} Advice;

/* The faults that Check found, from rank 0 on, the worst first; NULL past the last. */
const Advice *advice_at(const Readings *check, uint32_t rank);

/* What to do about a take in which Check heard no voice. */
const char *advice_voiceless(const Readings *check);

/* What a resonance near this frequency is called: the noun and the adjective; and what to do at the source. */
typedef struct {
    double near; /* Hz */
    const char *name, *like, *source;
} Region;

/* The one it lies nearest to, in octaves. */
const Region *region_of(double hz);

/* How Tone has to be set to be asked: what it finds is then shown whole, up to 12 dB, not as deep as a dip would be. */
extern const Setting advice_tone;

/* The worst fault first, as the verdict has it; then resonances, the lowest first; then what to set. Read-outs at the
 * end of the take, or takes, which are so many seconds long and may be lopsided; without Check nothing is printed, and
 * without Tone or Esses nothing of theirs. */
void advice_print(const Readings *check, const Readings *tone, const Readings *esses, double seconds, bool lopsided,
                  FILE *to);

#endif
