/* How likely each pair of formants is to be the vowel of a piece of a note. That follows from how well the pair
 * explains the levels of the piece's harmonics, and from how often it is sung. These are the first two of three steps
 * for a piece; the last is in vowel_blend.h. Equations: resonance.md ("The fit"). tests/plain_finder.c has them in
 * plain code, in double. */
#ifndef LINCTUS_VOWEL_LOOK_H
#define LINCTUS_VOWEL_LOOK_H

#include "vowels.h"

/* Intermediate results on the way to a piece's vowel. Places beyond its harmonics hold 0. */
typedef struct {
    float there[PARTIALS_MOST]; /* 1 where it has a harmonic */
    float rest[PARTIALS_MOST];  /* dB: levels less what is known, less the mean */
    float first[VOWELS_LOOKS][PARTIALS_MOST];
    float second[PARTIALS_MOST][VOWELS_ROW];
    float second_squares[VOWELS_ROW];           /* for each second formant less its mean: sum over the harmonics */
    float likely[VOWELS_FIRST + 1][VOWELS_ROW]; /* nepers, then shares of 1 */
    uint32_t rows, row[VOWELS_FIRST + 1];       /* the rows in which any pair has a share */
    float open_near[VOWELS][VOWELS_SECOND], open_likely[VOWELS_ROW];
} VowelLook;

/* First step, for a piece of two or more harmonics. known: dB, the part of its levels that is not the vowel's. */
void vowel_look(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece, const float *known);

/* Second step: how likely each pair of formants is. */
void vowel_look_try(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece);

#endif
