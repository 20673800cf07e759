/* The vowel of a piece of a note: the mean over all pairs of formants, each weighted by its likelihood (vowel_look.h).
 * Equations: resonance.md ("The fit"). tests/plain_finder.c has them in plain code, in double. */
#ifndef LINCTUS_VOWEL_BLEND_H
#define LINCTUS_VOWEL_BLEND_H

#include "vowel_look.h"

/* Last step for a piece: turns the likelihoods of *l into shares of 1, counts the pairs in *s, and puts the mean into
 * piece->vowel. */
void vowel_blend(VowelLook *l, VowelShares *s, const VowelTables *t, VowelPiece *piece);

#endif
