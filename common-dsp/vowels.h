/* Which vowel a piece of a note is, as levels of its harmonics: two formants of any pair on a grid that people have,
 * each as likely as its nearness to a published vowel and its fit to the levels make it. The equations and the sources
 * stand in resonance.md ("Vowels"). */
#ifndef LINCTUS_VOWELS_H
#define LINCTUS_VOWELS_H

#include "four.h"
#include "resonance_memory.h"

#define CURVE_LOW 100.0 /* Hz: where the bins of every curve begin */

enum {
    CURVE_BINS = 52, /* twelfths of an octave */
    CURVE_PER_OCTAVE = 12,
    CURVE_FINE = 4 * CURVE_BINS,
    VOWELS = 20,                /* published ones: ten of men, ten of women */
    VOWELS_FIRST = 17,          /* first formants: eighths of an octave from 230 Hz */
    VOWELS_SECOND = 13,         /* second formants: sixths of an octave from 720 Hz */
    VOWELS_ROW = 16,            /* those, padded */
    VOWELS_OPEN = VOWELS_FIRST, /* the row of a first formant that is where the pitch is: the mouth was opened */
    VOWELS_LOOKS = 20,          /* rows, padded */
};

/* A piece's harmonics from CURVE_LOW on. */
typedef struct {
    float hz;
    uint8_t count, lowest; /* harmonics; which of them is the lowest, 0 for the fundamental: no other is missing */
    uint8_t fine[PARTIALS_MOST]; /* of CURVE_FINE: */
    float level[PARTIALS_MOST];  /* dB */
    float vowel[PARTIALS_MOST];  /* dB, but for a constant: the vowel as it is thought to be */
} VowelPiece;

/* How voices keep to the published vowels: recorded ones loosely, and with wider formants. */
typedef enum { VOWELS_RECORDED, VOWELS_BY_THE_BOOK, VOWELS_KINDS } VowelKind;

typedef struct {
    /* dB; of the first formants VOWELS_FIRST at each place, which are read four at a time. */
    float first[VOWELS_KINDS][CURVE_FINE * VOWELS_FIRST + FOUR], second[CURVE_FINE][VOWELS_ROW], tract[CURVE_FINE];
    /* Likelihood of each formant by itself, given the published vowel: that of a pair is their product. */
    float near_first[VOWELS][VOWELS_FIRST], near_second[VOWELS][VOWELS_SECOND];
    double first_hz[VOWELS_FIRST];
} VowelTables;

/* How often each published vowel is sung (1 on average), the likelihoods that follow from it, and what the pieces of a
 * pass were taken for. */
typedef struct {
    VowelKind kind;
    double share[VOWELS];
    float prior[VOWELS_FIRST][VOWELS_ROW]; /* nepers */
    float heard[VOWELS_FIRST][VOWELS_ROW];
    double sung[VOWELS];
} VowelShares;

/* What is worked out of a piece on the way to its vowel. Beyond its harmonics there is 0. */
typedef struct {
    float there[PARTIALS_MOST]; /* 1 where it has a harmonic */
    float rest[PARTIALS_MOST];  /* levels less what is known, their mean taken off */
    float first[VOWELS_LOOKS][PARTIALS_MOST];
    float second[PARTIALS_MOST][VOWELS_ROW];
    float second_squares[VOWELS_ROW];           /* of each second formant, its mean taken off */
    float likely[VOWELS_FIRST + 1][VOWELS_ROW]; /* nepers, then shares of 1 */
    uint32_t rows, row[VOWELS_FIRST + 1];       /* those of which any has a share */
    float open_near[VOWELS][VOWELS_SECOND], open_likely[VOWELS_ROW];
} VowelLook;

/* The bin that a harmonic lies in. */
static inline uint32_t vowels_bin(const VowelPiece *p, uint32_t harmonic)
{
    return p->fine[harmonic] / (CURVE_FINE / CURVE_BINS);
}

/* Hz in the middle of a bin of a curve, 0..CURVE_BINS - 1, or between two. */
double curve_hz(double bin);

/* One pole pair of a cascade, 0 dB at 0 Hz. */
double vowels_formant_db(double hz, double centre, double wide);

/* Once: makes the tables. */
void vowels_tables(VowelTables *t);

/* A piece as the passes want it; its vowel is not yet thought of. */
void vowels_read(VowelPiece *to, const ResonancePiece *from);

/* Before a pass: the priors of one first formant's pairs; of row 0 first. */
void vowels_prior_row(VowelShares *s, const VowelTables *t, uint32_t row);

/* A piece of two harmonics or more, in three steps. `known` (dB) is what of its levels is no vowel. */
void vowels_look(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece, const float *known);

/* How likely each pair of formants is. */
void vowels_try(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece);

/* The mean over all vowels, weighed by how likely each is, goes to piece->vowel. */
void vowels_blend(VowelLook *l, VowelShares *s, const VowelTables *t, VowelPiece *piece);

/* After a pass: one row of what was heard goes to the published vowels; row 0 first. */
void vowels_share_row(VowelShares *s, const VowelTables *t, uint32_t row);

/* After all rows: the new shares. */
void vowels_share(VowelShares *s);

#endif
