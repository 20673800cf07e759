/* Vowels as pairs of formants: a grid of the pairs that people have, how near each pair lies to published vowels, and
 * how often each of those vowels is sung. vowel_look.h and vowel_blend.h find the vowel of a piece of a note. Equations
 * and sources: resonance.md ("The fit"). */
#ifndef LINCTUS_VOWELS_H
#define LINCTUS_VOWELS_H

#include "four.h"
#include "resonance_memory.h"

#define CURVE_LOW      100.0   /* Hz: where the bins of every curve begin */
#define VOWELS_UNKNOWN 1e-9    /* likelihood of an opened mouth where no vowel needs it */
#define VOWELS_PADDING (-1e9f) /* nepers, in the places that pad a row */

enum {
    CURVE_BINS = 52, /* of a curve, each a twelfth of an octave */
    CURVE_PER_OCTAVE = 12,
    CURVE_FINE = 4 * CURVE_BINS, /* quarter bins, in which the tables are kept */
    VOWELS = 20,                 /* published ones: ten of men, ten of women */
    VOWELS_FIRST = 17,           /* first formants: eighths of an octave from 230 Hz */
    VOWELS_SECOND = 13,          /* second formants: sixths of an octave from 720 Hz */
    VOWELS_ROW = 16,             /* second formants, padded */
    VOWELS_OPEN = VOWELS_FIRST,  /* row of a first formant that lies at the pitch: the mouth was opened */
    VOWELS_LOOKS = 20,           /* rows of first formants, padded */
};

/* A piece's harmonics within the curve, from CURVE_LOW up. */
typedef struct {
    float hz;
    uint8_t count, lowest;       /* how many; number of the lowest, 0 for the fundamental. None is missing between */
    uint8_t fine[PARTIALS_MOST]; /* where each lies, 0..CURVE_FINE - 1 */
    float level[PARTIALS_MOST];  /* dB */
    float vowel[PARTIALS_MOST];  /* dB, up to a constant: what the vowel is estimated to add */
} VowelPiece;

/* How closely a voice keeps to the published vowels: recorded ones loosely, and with wider formants. */
typedef enum { VOWELS_RECORDED, VOWELS_BY_THE_BOOK, VOWELS_KINDS } VowelKind;

typedef struct {
    /* dB at each place. Of first formants there are VOWELS_FIRST a place, read four at a time. */
    float first[VOWELS_KINDS][CURVE_FINE * VOWELS_FIRST + FOUR], second[CURVE_FINE][VOWELS_ROW], tract[CURVE_FINE];
    /* Likelihood of each formant by itself, given the published vowel; a pair's is their product. */
    float near_first[VOWELS][VOWELS_FIRST], near_second[VOWELS][VOWELS_SECOND];
    double first_hz[VOWELS_FIRST];
} VowelTables;

/* How often each published vowel is sung (1 on average), the priors that follow from it, and which pairs and vowels the
 * pieces of a pass were taken for. */
typedef struct {
    VowelKind kind;
    double share[VOWELS];
    float prior[VOWELS_FIRST][VOWELS_ROW]; /* nepers */
    float heard[VOWELS_FIRST][VOWELS_ROW];
    double sung[VOWELS];
} VowelShares;

/* The bin, 0..CURVE_BINS - 1, that a harmonic lies in; harmonic: 0..count - 1. */
static inline uint32_t vowels_bin(const VowelPiece *p, uint32_t harmonic)
{
    return p->fine[harmonic] / (CURVE_FINE / CURVE_BINS);
}

/* Hz in the middle of a bin of a curve, 0..CURVE_BINS - 1; fractions lie between two middles. */
double curve_hz(double bin);

/* Level in dB at hz of one pole pair of a cascade, 0 dB at 0 Hz; centre, wide: Hz. */
double vowels_formant_db(double hz, double centre, double wide);

/* Hz, bandwidth of the first formant. */
double vowels_first_width(VowelKind kind);

/* Once: makes the tables. */
void vowels_tables(VowelTables *t);

/* Converts a piece for the passes; its vowel is not known yet. */
void vowels_read(VowelPiece *to, const ResonancePiece *from);

/* Before a pass: works out the priors of one first formant's pairs. Row 0 comes first: it clears the counts. */
void vowels_prior_row(VowelShares *s, const VowelTables *t, uint32_t row);

/* For a mouth that is opened until the first formant lies at the pitch hz, over all vowels whose own first formant lies
 * lower. near: how likely each second formant is for each of these vowels, times how often the vowel is sung. likely:
 * the sums over the vowels. */
void vowels_open_mouth(const VowelShares *s, const VowelTables *t, double hz, float near[VOWELS][VOWELS_SECOND],
                       float likely[VOWELS_ROW]);

/* After a pass: shares one row of pairs out among the published vowels. Row 0 comes first. */
void vowels_share_row(VowelShares *s, const VowelTables *t, uint32_t row);

/* After all rows: works out the new shares. */
void vowels_share(VowelShares *s);

#endif
