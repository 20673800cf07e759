#include "vowels.h"

#include "four_math.h"
#include "inlined.h"

#include <math.h>
#include <string.h>

#define FIRST_LOW      230.0 /* Hz */
#define SECOND_LOW     720.0
#define SECOND_WIDE    100.0
#define FORMANTS_APART 80.0    /* Hz; second formant over 1.2 times the first */
#define SPREAD         0.09    /* nepers around a published vowel */
#define UNDER_PITCH    6.0f    /* nepers: price of a first formant under the pitch */
#define UNDER          0.95    /* of the pitch */
#define UNHEARD_OF     1e-9    /* likelihood of a mouth opened for no vowel that needs it */
#define EVEN           0.1     /* how firmly all vowels are held to be sung equally often */
#define DOUBT          3.0     /* dB, of a vowel's harmonics */
#define NEGLIGIBLE     15.f    /* nepers under the likeliest */
#define IMPOSSIBLE     (-1e4f) /* nepers */
#define PADDING        (-1e9f)

enum { ROW_FOURS = VOWELS_ROW / FOUR };

/* By kind. */
static const double first_wide[VOWELS_KINDS] = {110.0, 80.0}; /* Hz */
static const double stray[VOWELS_KINDS] = {0.1, 0.01};        /* likelihood of any pair that is not published */

/* Peterson & Barney; the last three of each (hid, hood, heard) from memory. */
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

/* The formants above the second, as a neutral tract has them. */
static double tract_db(double hz)
{
    return vowels_formant_db(hz, 2650, 160) + vowels_formant_db(hz, 3600, 250);
}

static double first_hz(uint32_t i)
{
    return FIRST_LOW * exp2(i / 8.0);
}

static double second_hz(uint32_t j)
{
    return SECOND_LOW * exp2(j / 6.0);
}

/* The least that a second formant lies over the first. */
static double least_second(double first)
{
    return 1.2 * first + FORMANTS_APART;
}

/* By one formant: how near it is to a published one, as a likelihood. */
static double nearness(double hz, double there)
{
    const double away = log(hz / there) / SPREAD;
    return exp(-0.5 * away * away);
}

static void formant_tables(VowelTables *t)
{
    for (uint32_t f = 0; f < CURVE_FINE; ++f) {
        const double hz = CURVE_LOW * exp2((f + 0.5) / (4 * CURVE_PER_OCTAVE));
        for (uint32_t kind = 0; kind < VOWELS_KINDS; ++kind)
            for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
                t->first[kind][i][f] = (float)vowels_formant_db(hz, first_hz(i), first_wide[kind]);
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j)
            t->second[f][j] = (float)vowels_formant_db(hz, second_hz(j), SECOND_WIDE);
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
        s->prior[row][j] = apart ? (float)log(pair_likelihood(s, t, row, j)) : IMPOSSIBLE;
    }
    for (uint32_t j = VOWELS_SECOND; j < VOWELS_ROW; ++j)
        s->prior[row][j] = PADDING;
}

/* A pair goes to the published vowels by how well each explains it. */
void vowels_share_row(VowelShares *s, const VowelTables *t, uint32_t row)
{
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        if (s->heard[row][j] <= 0.0)
            continue;
        const double part = s->heard[row][j] / pair_likelihood(s, t, row, j);
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
        s->share[v] = (s->sung[v] / fmax(mean, UNHEARD_OF) + EVEN) / (1.0 + EVEN);
}

/* ---- One piece ---- */

static float mean_of(const float *x, uint32_t n)
{
    float sum = 0.f;
    for (uint32_t i = 0; i < n; ++i)
        sum += x[i];
    return sum / (float)n;
}

static void look_at_levels(VowelLook *l, const VowelTables *t, const VowelPiece *p, const float *known)
{
    for (uint32_t k = 0; k < p->count; ++k)
        l->rest[k] = p->level[k] - known[k] - t->tract[p->fine[k]];
    const float mean = mean_of(l->rest, p->count);
    for (uint32_t k = 0; k < p->count; ++k)
        l->rest[k] -= mean;
}

static void look_at_formants(VowelLook *l, VowelKind kind, const VowelTables *t, const VowelPiece *p)
{
    float sum[VOWELS_ROW] = {0}, squares[VOWELS_ROW] = {0};
    for (uint32_t k = 0; k < p->count; ++k) {
        const float *const second = t->second[p->fine[k]];
        const double hz = (double)p->hz;
        l->first[VOWELS_OPEN][k] = (float)vowels_formant_db(hz * (p->lowest + k + 1), hz, first_wide[kind]);
        for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
            l->first[i][k] = t->first[kind][i][p->fine[k]];
        for (uint32_t j = 0; j < VOWELS_ROW; ++j) {
            l->second[k][j] = second[j];
            sum[j] += second[j];
            squares[j] += second[j] * second[j];
        }
    }
    for (uint32_t j = 0; j < VOWELS_ROW; ++j)
        l->second_squares[j] = squares[j] - sum[j] * sum[j] / (float)p->count;
}

/* The mouth opened until the first formant is where the pitch is: of all vowels whose own lies lower. */
static void look_at_open_mouth(VowelLook *l, const VowelShares *s, const VowelTables *t, double hz)
{
    float lifted[VOWELS_SECOND] = {0};
    memset(l->open_near, 0, sizeof l->open_near);
    memset(l->open_likely, 0, sizeof l->open_likely);
    for (uint32_t j = 0; j < VOWELS_SECOND && published[0][0] < hz; ++j)
        lifted[j] = (float)nearness(second_hz(j), least_second(hz));
    for (uint32_t v = 0; v < VOWELS; ++v) {
        const float *const near = published[v][1] >= least_second(hz) ? t->near_second[v] : lifted;
        for (uint32_t j = 0; j < VOWELS_SECOND && published[v][0] < hz; ++j) {
            l->open_near[v][j] = (float)s->share[v] * near[j];
            l->open_likely[j] += l->open_near[v][j];
        }
    }
}

/* Nepers of all vowels with this first formant: of the squares that are left of the levels, whose mean is free. */
static void try_first(VowelLook *l, uint32_t row, uint32_t n, const float *prior, float price)
{
    const Four doubt = four_all((float)(0.5 / (DOUBT * DOUBT))), two = four_all(2.f);
    float rest[PARTIALS_MOST], squares = 0.f;
    Four along[ROW_FOURS] = {four_all(0.f), four_all(0.f), four_all(0.f), four_all(0.f)};
    for (uint32_t k = 0; k < n; ++k)
        rest[k] = l->rest[k] - l->first[row][k];
    const float mean = mean_of(rest, n);
    for (uint32_t k = 0; k < n; ++k) {
        const Four left = four_all(rest[k] - mean);
        squares += (rest[k] - mean) * (rest[k] - mean);
        UNROLLED
        for (size_t j = 0; j < VOWELS_ROW; j += FOUR)
            along[j / FOUR] = four_add(along[j / FOUR], four_mul(left, four_load(l->second[k] + j)));
    }
    UNROLLED
    for (size_t j = 0; j < VOWELS_ROW; j += FOUR) {
        const Four before = four_sub(four_load(prior + j), four_all(price));
        const Four mixed = four_sub(four_all(squares), four_mul(two, along[j / FOUR]));
        const Four left = four_add(mixed, four_load(l->second_squares + j));
        four_store(l->likely[row] + j, four_sub(before, four_mul(left, doubt)));
    }
}

void vowels_try(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *p)
{
    float open[VOWELS_ROW];
    for (uint32_t j = 0; j < VOWELS_ROW; ++j)
        open[j] = j < VOWELS_SECOND ? logf(l->open_likely[j] + (float)UNHEARD_OF) : PADDING;
    for (uint32_t i = 0; i < VOWELS_FIRST; ++i)
        try_first(l, i, p->count, s->prior[i], t->first_hz[i] < UNDER * (double)p->hz ? UNDER_PITCH : 0.f);
    try_first(l, VOWELS_OPEN, p->count, open, 0.f);
}

static float most_of(const float row[VOWELS_ROW])
{
    Four most = four_load(row);
    for (uint32_t j = FOUR; j < VOWELS_ROW; j += FOUR)
        most = four_max(most, four_load(row + j));
    return four_largest_lane(most);
}

/* From nepers to shares of 1. */
static void share_likely(VowelLook *l)
{
    float most_in[VOWELS_FIRST + 1], most = PADDING, all = 0.f;
    for (uint32_t i = 0; i <= VOWELS_FIRST; ++i) {
        most_in[i] = most_of(l->likely[i]);
        most = most_in[i] > most ? most_in[i] : most;
    }
    l->rows = 0;
    for (uint32_t i = 0; i <= VOWELS_FIRST; ++i) {
        float *const likely = l->likely[i];
        if (most_in[i] < most - NEGLIGIBLE)
            continue;
        l->row[l->rows++] = i;
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
            likely[j] = likely[j] < most - NEGLIGIBLE ? 0.f : expf(likely[j] - most);
            all += likely[j];
        }
    }
    for (uint32_t r = 0; r < l->rows; ++r)
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j)
            l->likely[l->row[r]][j] /= all;
}

static void count_open_mouth(VowelShares *s, const VowelLook *l)
{
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        const double part = (double)l->likely[VOWELS_OPEN][j] / ((double)l->open_likely[j] + UNHEARD_OF);
        for (uint32_t v = 0; v < VOWELS && part > 0.0; ++v)
            s->sung[v] += part * (double)l->open_near[v][j];
    }
}

static void count_vowels(VowelShares *s, const VowelLook *l)
{
    for (uint32_t r = 0; r < l->rows; ++r) {
        const uint32_t i = l->row[r];
        for (uint32_t j = 0; j < VOWELS_SECOND && i != VOWELS_OPEN; ++j)
            s->heard[i][j] += (double)l->likely[i][j];
        if (i == VOWELS_OPEN)
            count_open_mouth(s, l);
    }
}

static void blend(const VowelLook *l, const VowelTables *t, VowelPiece *p)
{
    float first[VOWELS_FIRST + 1] = {0}, second[VOWELS_SECOND] = {0};
    for (uint32_t r = 0; r < l->rows; ++r)
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
            first[r] += l->likely[l->row[r]][j];
            second[j] += l->likely[l->row[r]][j];
        }
    for (uint32_t k = 0; k < p->count; ++k) {
        float sum = t->tract[p->fine[k]];
        for (uint32_t r = 0; r < l->rows; ++r)
            sum += first[r] * l->first[l->row[r]][k];
        for (uint32_t j = 0; j < VOWELS_SECOND; ++j)
            sum += second[j] * l->second[k][j];
        p->vowel[k] = sum;
    }
}

void vowels_look(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece, const float *known)
{
    look_at_levels(l, t, piece, known);
    look_at_formants(l, s->kind, t, piece);
    look_at_open_mouth(l, s, t, (double)piece->hz);
}

void vowels_blend(VowelLook *l, VowelShares *s, const VowelTables *t, VowelPiece *piece)
{
    share_likely(l);
    count_vowels(s, l);
    blend(l, t, piece);
}
