/* The vowel of a piece of a note as the mean over all pairs of formants, weighted by their likelihood (vowel_look.h).
 * Equations: resonance.md ("The fit"). tests/plain_finder.c has them plainly in double. */
#ifndef LINCTUS_VOWEL_BLEND_H
#define LINCTUS_VOWEL_BLEND_H

#include "vowel_look.h"

/* Last step for a piece: piece->vowel gets that mean, and the pairs are counted in *s. Turns the likelihoods of *l into
 * shares of 1. */
void vowel_blend(VowelLook *l, VowelShares *s, const VowelTables *t, VowelPiece *piece);

#endif
