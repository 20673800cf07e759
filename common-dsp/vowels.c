#include "vowels.h"

#include <math.h>
#include <string.h>

#define FIRST_LOWEST      230.0   /* Hz, lowest first formant of the grid */
#define SECOND_LOWEST     720.0   /* Hz, lowest second formant of the grid */
#define SECOND_WIDTH      100.0   /* Hz, bandwidth of the second formant */
#define FORMANTS_APART    80.0    /* Hz: the second formant lies at least this far over 1.2 times the first */
#define FORMANT_SPREAD    0.09    /* nepers of frequency, standard deviation around a published vowel's formant */
#define EVEN_VOWELS       0.1     /* of the mean: added to each vowel's share, so that none is ruled out */
#define IMPOSSIBLE_NEPERS (-1e4f) /* nepers, prior of a pair that nobody has */

/* By kind of voice; settled in resonance.md, "Vowels". */
static const double first_wide[VOWELS_KINDS] = {110.0, 80.0}; /* Hz, bandwidth of the first formant */
static const double stray[VOWELS_KINDS] = {0.1, 0.01};        /* likelihood of a pair far from any published vowel */

/* First and second formant, Hz: Peterson & Barney; ten of men, then ten of women; the last three of each ten (hid,
 * hood, heard) from memory. */
static const double published[VOWELS][2] = {
    {270, 2290}, {530, 1840}, {660, 1720}, {730, 1090}, {570, 840},  {300, 870},  {640, 1190},
    {390, 1990}, {440, 1020}, {490, 1350}, {310, 2790}, {610, 2330}, {860, 2050}, {850, 1220},
    {590, 920},  {370, 950},  {760, 1400}, {430, 2480}, {470, 1160}, {500, 1640},
};

double curve_hz(double bin)
{
    return CURVE_LOW * exp2((bin + 0.5) / CURVE_PER_OCTAVE);
}

double vowels_formant_db(double hz, double centre, double wide)
{
    const double half = 0.5 * wide, unit = half * half + centre * centre;
    const double below = half * half + (hz - centre) * (hz - centre);
    const double above = half * half + (hz + centre) * (hz + centre);
    return 10.0 * log10(unit * unit / (below * above));
}

double vowels_first_width(VowelKind kind)
{
    return first_wide[kind];
}

/* dB, of the formants above the second, those of a neutral tract. */
static double tract_db(double hz)
{
    return vowels_formant_db(hz, 2650, 160) + vowels_formant_db(hz, 3600, 250);
}

static double first_hz(uint32_t i)
{
    return FIRST_LOWEST * exp2(i / 8.0);
}

static double second_hz(uint32_t j)
{
    return SECOND_LOWEST * exp2(j / 6.0);
}

/* Hz, the lowest second formant that goes with a first one. */
static double least_second(double first)
{
    return 1.2 * first + FORMANTS_APART;
}

/* Likelihood, 0..1, of a formant at hz where the published one is `there`. */
static double nearness(double hz, double there)
{
    const double away = log(hz / there) / FORMANT_SPREAD;
    return exp(-0.5 * away * away);
}

static void formant_tables(VowelTables *t)
{
    for (uint32_t f = 0; f < CURVE_FINE; ++f) {
        const double hz = CURVE_LOW * exp2((f + 0.5) / (4 * CURVE_PER_OCTAVE));
        for (uint32_t kind = 0; kind < VOWELS_KINDS; ++kind)
            for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
                t->first[kind][f * VOWELS_FIRST + i] = (float)vowels_formant_db(hz, first_hz(i), first_wide[kind]);
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j)
            t->second[f][j] = (float)vowels_formant_db(hz, second_hz(j), SECOND_WIDTH);
        t->tract[f] = (float)tract_db(hz);
    }
}

void vowels_tables(VowelTables *t)
{
    memset(t, 0, sizeof *t);
    formant_tables(t);
    for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
        t->first_hz[i] = first_hz(i);
    for (uint32_t v = 0; v < VOWELS; ++v) {
        for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
            t->near_first[v][i] = (float)nearness(first_hz(i), published[v][0]);
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j)
            t->near_second[v][j] = (float)nearness(second_hz(j), published[v][1]);
    }
}

void vowels_read(VowelPiece *to, const ResonancePiece *from)
{
    *to = (VowelPiece){.hz = from->hz};
    for (uint32_t k = 0; k < from->count; ++k) {
        const double octave = log2((double)from->hz * (k + 1) / CURVE_LOW);
        if (octave < 0.0 || octave * CURVE_PER_OCTAVE >= CURVE_BINS)
            continue;
        const uint32_t i = to->count++;
        to->lowest = (uint8_t)(k - i);
        to->level[i] = from->level[k];
        to->fine[i] = (uint8_t)(octave * (4 * CURVE_PER_OCTAVE));
    }
}

/* ---- How often each vowel is sung ---- */

static double near_pair(const VowelTables *t, uint32_t vowel, uint32_t i, uint32_t j)
{
    return (double)(t->near_first[vowel][i] * t->near_second[vowel][j]);
}

static double pair_likelihood(const VowelShares *s, const VowelTables *t, uint32_t i, uint32_t j)
{
    double sum = stray[s->kind];
    for (uint32_t v = 0; v < VOWELS; ++v)
        sum += s->share[v] * near_pair(t, v, i, j);
    return sum;
}

void vowels_prior_row(VowelShares *s, const VowelTables *t, uint32_t row)
{
    if (row == 0) {
        memset(s->heard, 0, sizeof s->heard);
        memset(s->sung, 0, sizeof s->sung);
    }
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        const bool apart = second_hz(j) > least_second(first_hz(row));
        s->prior[row][j] = apart ? (float)log(pair_likelihood(s, t, row, j)) : IMPOSSIBLE_NEPERS;
    }
    for (uint32_t j = VOWELS_SECOND; j < VOWELS_ROW; ++j)
        s->prior[row][j] = VOWELS_PADDING;
}

/* Shares each pair out among the published vowels by how well each explains it. */
void vowels_share_row(VowelShares *s, const VowelTables *t, uint32_t row)
{
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        if (s->heard[row][j] <= 0.f)
            continue;
        const double part = (double)s->heard[row][j] / pair_likelihood(s, t, row, j);
        for (uint32_t v = 0; v < VOWELS; ++v)
            s->sung[v] += part * s->share[v] * near_pair(t, v, row, j);
    }
}

void vowels_share(VowelShares *s)
{
    double mean = 0.0;
    for (uint32_t v = 0; v < VOWELS; ++v)
        mean += s->sung[v] / VOWELS;
    for (uint32_t v = 0; v < VOWELS; ++v)
        s->share[v] = (s->sung[v] / fmax(mean, VOWELS_UNKNOWN) + EVEN_VOWELS) / (1.0 + EVEN_VOWELS);
}

void vowels_open_mouth(const VowelShares *s, const VowelTables *t, double hz, float near[VOWELS][VOWELS_SECOND],
                       float likely[VOWELS_ROW])
{
    float lifted[VOWELS_SECOND] = {0};
    memset(near, 0, sizeof(float[VOWELS][VOWELS_SECOND]));
    memset(likely, 0, sizeof(float[VOWELS_ROW]));
    for (uint32_t j = 0; j < VOWELS_SECOND && published[0][0] < hz; ++j)
        lifted[j] = (float)nearness(second_hz(j), least_second(hz));
    for (uint32_t v = 0; v < VOWELS; ++v) {
        const float *const own = published[v][1] >= least_second(hz) ? t->near_second[v] : lifted;
        for (uint32_t j = 0; j < VOWELS_SECOND && published[v][0] < hz; ++j) {
            near[v][j] = (float)s->share[v] * own[j];
            likely[j] += near[v][j];
        }
    }
}
