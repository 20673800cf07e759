#include "vowels.h"

#include "four_math.h"
#include "inlined.h"
#include "rows.h"

#include <math.h>
#include <string.h>

#define FIRST_LOWEST      230.0   /* Hz, lowest first formant of the grid */
#define SECOND_LOWEST     720.0   /* Hz, lowest second formant of the grid */
#define SECOND_WIDTH      100.0   /* Hz, bandwidth of the second formant */
#define FORMANTS_APART    80.0    /* Hz: the second formant lies at least this far over 1.2 times the first */
#define FORMANT_SPREAD    0.09    /* nepers of frequency, standard deviation around a published vowel's formant */
#define UNDER_PITCH_PRICE 6.0f    /* nepers by which a first formant under the pitch is less likely */
#define UNDER_PITCH_FROM  0.95    /* of the pitch: a first formant below this counts as under it */
#define UNKNOWN_VOWEL     1e-9    /* likelihood of an opened mouth where no vowel needs it */
#define EVEN_VOWELS       0.1     /* of the mean: added to each vowel's share, so that none is ruled out */
#define VOWEL_DOUBT       3.0     /* dB, standard deviation of a harmonic's level from its vowel's */
#define NEGLIGIBLE_NEPERS 15.f    /* nepers under the likeliest pair: the rest counts for nothing */
#define IMPOSSIBLE_NEPERS (-1e4f) /* nepers, prior of a pair that nobody has */
#define PADDING           (-1e9f) /* nepers, in the places that pad a row */

#define DB_OF_LOG2     3.01029996f  /* dB of a power, per 1 of its log2 */
#define NEPERS_OF_LOG2 0.693147181f /* nepers per 1 of log2 */

_Static_assert(PARTIALS_MOST % FOUR == 0 && VOWELS_ROW == 4 * FOUR, "rows are read four at a time");
_Static_assert(VOWELS_LOOKS % FOUR == 0 && VOWELS_LOOKS > VOWELS_OPEN && VOWELS_OPEN % 2, "and tried in pairs");

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
        s->prior[row][j] = PADDING;
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
        s->share[v] = (s->sung[v] / fmax(mean, UNKNOWN_VOWEL) + EVEN_VOWELS) / (1.0 + EVEN_VOWELS);
}

/* ---- One piece ---- */

static float sum_of(Four x)
{
    return (four_lane(x, 0) + four_lane(x, 1)) + (four_lane(x, 2) + four_lane(x, 3));
}

/* The mean of n harmonics; x is 0 beyond them. */
static float mean_of(const float *x, uint32_t n)
{
    Four sum = four_load(x);
    for (uint32_t k = FOUR; k < n; k += FOUR)
        sum = four_add(sum, four_load(x + k));
    return sum_of(sum) / (float)n;
}

static void look_at_levels(VowelLook *l, const VowelTables *t, const VowelPiece *p, const float *known)
{
    memset(l->rest, 0, sizeof l->rest);
    memset(l->there, 0, sizeof l->there);
    for (uint32_t k = 0; k < p->count; ++k) {
        l->rest[k] = p->level[k] - known[k] - t->tract[p->fine[k]];
        l->there[k] = 1.f;
    }
    const float mean = mean_of(l->rest, p->count);
    for (uint32_t k = 0; k < p->count; ++k)
        l->rest[k] -= mean;
}

/* Four harmonics, from the k-th on, of all first formants; the table is sorted by frequency. */
static void look_at_first(VowelLook *l, const float *table, const VowelPiece *p, uint32_t k)
{
    const Four there = four_load(l->there + k);
    const float *at[FOUR];
    for (uint32_t h = 0; h < FOUR; ++h)
        at[h] = table + (k + h < p->count ? p->fine[k + h] * VOWELS_FIRST : 0);
    for (uint32_t i = 0; i < VOWELS_FIRST; i += FOUR) {
        Four x[FOUR] = {four_load(at[0] + i), four_load(at[1] + i), four_load(at[2] + i), four_load(at[3] + i)};
        four_turn(x);
        UNROLLED
        for (uint32_t row = 0; row < FOUR; ++row)
            four_store(l->first[i + row] + k, four_mul(x[row], there));
    }
}

/* The same for a first formant at the pitch: vowels_formant_db(), four harmonics at a time. */
static void look_at_open(VowelLook *l, VowelKind kind, const VowelPiece *p, uint32_t k)
{
    const float pitch = p->hz, half = 0.5f * (float)first_wide[kind], number = (float)(p->lowest + k);
    const float hz[FOUR] = {pitch * (number + 1.f), pitch * (number + 2.f), pitch * (number + 3.f),
                            pitch * (number + 4.f)};
    const Four f = four_load(hz), under = four_sub(f, four_all(pitch)), over = four_add(f, four_all(pitch));
    const Four wide = four_all(half * half), unit = four_all(half * half + pitch * pitch);
    const Four below = four_div(four_add(wide, four_mul(under, under)), unit);
    const Four above = four_div(four_add(wide, four_mul(over, over)), unit);
    const Four db = four_mul(four_log2(four_mul(below, above)), four_all(-DB_OF_LOG2));
    four_store(l->first[VOWELS_OPEN] + k, four_mul(db, four_load(l->there + k)));
}

static void look_at_second(VowelLook *l, const VowelTables *t, const VowelPiece *p)
{
    const Four share = four_all(1.f / (float)p->count);
    for (size_t j = 0; j < VOWELS_ROW; j += FOUR) {
        Four sum = four_all(0.f), squares = sum;
        for (size_t k = 0; k < p->count; ++k) {
            const Four second = four_load(t->second[p->fine[k]] + j);
            four_store(l->second[k] + j, second);
            sum = four_add(sum, second);
            squares = four_add(squares, four_mul(second, second));
        }
        four_store(l->second_squares + j, four_sub(squares, four_mul(four_mul(sum, sum), share)));
    }
}

static void look_at_formants(VowelLook *l, VowelKind kind, const VowelTables *t, const VowelPiece *p)
{
    for (uint32_t k = 0; k < p->count; k += FOUR) {
        look_at_first(l, t->first[kind], p, k);
        look_at_open(l, kind, p, k);
    }
    look_at_second(l, t, p);
}

/* The mouth opened until the first formant lies at the pitch, for all vowels whose own lies lower. */
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

/* left: the levels less this first formant, their mean taken off. Returns the sum of their squares. */
static float leave(const VowelLook *l, uint32_t row, uint32_t n, float *left)
{
    const float *const first = l->first[row];
    const Four mean = four_all(-mean_of(first, n)); /* that of the levels is 0 */
    Four squares = four_all(0.f);
    for (size_t k = 0; k < n; k += FOUR) {
        const Four rest = four_sub(four_sub(four_load(l->rest + k), four_load(first + k)), mean);
        const Four here = four_mul(rest, four_load(l->there + k));
        four_store(left + k, here);
        squares = four_add(squares, four_mul(here, here));
    }
    return sum_of(squares);
}

/* Log likelihood, nepers, of a first formant with every second one, from the squares left of the levels. */
static void judge(VowelLook *l, uint32_t row, float squares, const float *along, const float *prior, float price)
{
    const Four doubt = four_all((float)(0.5 / (VOWEL_DOUBT * VOWEL_DOUBT))), all = four_all(squares),
               two = four_all(2.f);
    UNROLLED
    for (size_t j = 0; j < VOWELS_ROW; j += FOUR) {
        const Four before = four_sub(four_load(prior + j), four_all(price));
        const Four mixed = four_sub(all, four_mul(two, four_load(along + j)));
        const Four left = four_add(mixed, four_load(l->second_squares + j));
        four_store(l->likely[row] + j, four_sub(before, four_mul(left, doubt)));
    }
}

/* Priors, nepers, of an opened mouth. */
static void judge_open(const VowelLook *l, float open[VOWELS_ROW])
{
    const Four least = four_all((float)UNKNOWN_VOWEL), unit = four_all(NEPERS_OF_LOG2);
    for (uint32_t j = 0; j < VOWELS_ROW; j += FOUR)
        four_store(open + j, four_mul(four_log2(four_add(four_load(l->open_likely + j), least)), unit));
    for (uint32_t j = VOWELS_SECOND; j < VOWELS_ROW; ++j)
        open[j] = PADDING;
}

static float price_of(const VowelTables *t, uint32_t row, float hz)
{
    return row < VOWELS_FIRST && t->first_hz[row] < UNDER_PITCH_FROM * (double)hz ? UNDER_PITCH_PRICE : 0.f;
}

/* Two first formants at a time. */
void vowels_try(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *p)
{
    float open[VOWELS_ROW], left[2][PARTIALS_MOST];
    judge_open(l, open);
    for (uint32_t i = 0; i <= VOWELS_OPEN; i += 2) {
        const float squares = leave(l, i, p->count, left[0]), squares_next = leave(l, i + 1, p->count, left[1]);
        float along[VOWELS_ROW] = {0}, along_next[VOWELS_ROW] = {0};
        rows_gather(l->second[0], VOWELS_ROW, p->count, left[0], left[1], along, along_next);
        judge(l, i, squares, along, s->prior[i], price_of(t, i, p->hz));
        judge(l, i + 1, squares_next, along_next, i + 1 == VOWELS_OPEN ? open : s->prior[i + 1],
              price_of(t, i + 1, p->hz));
    }
}

static Four most_of(const float row[VOWELS_ROW])
{
    return four_max(four_max(four_load(row), four_load(row + FOUR)),
                    four_max(four_load(row + (size_t)2 * FOUR), four_load(row + (size_t)3 * FOUR)));
}

static bool any_above(float limit, Four x)
{
    return four_bits(four_gather((FourBits){0}, four_sub(four_all(limit), x))) >> 31;
}

/* From nepers (0 for the likeliest) to a likelihood; 0 where it is negligible. */
static INLINED Four likelihood(Four nepers)
{
    const FourBits under = four_bits_down(four_as_bits(four_add(nepers, four_all(NEGLIGIBLE_NEPERS))), 31);
    const FourBits kept = four_bits_sub(under, four_bits_all(1)); /* all bits, or none */
    const Four likely = four_exp2(four_mul(nepers, four_all(1.f / NEPERS_OF_LOG2)));
    return four_from_bits(four_bits_and(four_as_bits(likely), kept));
}

/* Turns nepers into shares that add up to 1. */
static void share_likely(VowelLook *l)
{
    Four most_in[VOWELS_FIRST + 1], most = four_all(PADDING), all = four_all(0.f);
    for (uint32_t i = 0; i <= VOWELS_FIRST; ++i) {
        most_in[i] = most_of(l->likely[i]);
        most = four_max(most, most_in[i]);
    }
    const float likeliest = four_largest_lane(most);
    l->rows = 0;
    for (uint32_t i = 0; i <= VOWELS_FIRST; ++i) {
        if (!any_above(likeliest - NEGLIGIBLE_NEPERS, most_in[i]))
            continue;
        l->row[l->rows++] = i;
        for (size_t j = 0; j < VOWELS_ROW; j += FOUR) {
            const Four likely = likelihood(four_sub(four_load(l->likely[i] + j), four_all(likeliest)));
            four_store(l->likely[i] + j, likely);
            all = four_add(all, likely);
        }
    }
    const Four share = four_all(1.f / sum_of(all));
    for (uint32_t r = 0; r < l->rows; ++r)
        for (size_t j = 0; j < VOWELS_ROW; j += FOUR)
            four_store(l->likely[l->row[r]] + j, four_mul(four_load(l->likely[l->row[r]] + j), share));
}

static void count_open_mouth(VowelShares *s, const VowelLook *l)
{
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        const double part = (double)l->likely[VOWELS_OPEN][j] / ((double)l->open_likely[j] + UNKNOWN_VOWEL);
        for (uint32_t v = 0; v < VOWELS && part > 0.0; ++v)
            s->sung[v] += part * (double)l->open_near[v][j];
    }
}

static void count_vowels(VowelShares *s, const VowelLook *l)
{
    for (uint32_t r = 0; r < l->rows; ++r) {
        const uint32_t i = l->row[r];
        for (uint32_t j = 0; j < VOWELS_ROW && i != VOWELS_OPEN; j += FOUR)
            four_store(s->heard[i] + j, four_add(four_load(s->heard[i] + j), four_load(l->likely[i] + j)));
        if (i == VOWELS_OPEN)
            count_open_mouth(s, l);
    }
}

/* Adds the mean of the first formants, dB for each harmonic, weighted by their likelihood. */
static void blend_first(const VowelLook *l, uint32_t n, float *vowel)
{
    for (uint32_t r = 0; r < l->rows; ++r) {
        const float *const likely = l->likely[l->row[r]], *const first = l->first[l->row[r]];
        const Four front = four_add(four_load(likely), four_load(likely + FOUR));
        const Four back = four_add(four_load(likely + (size_t)2 * FOUR), four_load(likely + (size_t)3 * FOUR));
        const Four share = four_all(sum_of(four_add(front, back)));
        for (size_t k = 0; k < n; k += FOUR)
            four_store(vowel + k, four_add(four_load(vowel + k), four_mul(share, four_load(first + k))));
    }
}

/* The same for the second formants. */
static void blend_second(const VowelLook *l, uint32_t n, float *vowel)
{
    float second[VOWELS_ROW] = {0};
    for (uint32_t r = 0; r < l->rows; ++r)
        for (size_t j = 0; j < VOWELS_ROW; j += FOUR)
            four_store(second + j, four_add(four_load(second + j), four_load(l->likely[l->row[r]] + j)));
    for (size_t k = 0; k < n; ++k) {
        Four sum = four_mul(four_load(second), four_load(l->second[k]));
        UNROLLED
        for (size_t j = FOUR; j < VOWELS_ROW; j += FOUR)
            sum = four_add(sum, four_mul(four_load(second + j), four_load(l->second[k] + j)));
        vowel[k] += sum_of(sum);
    }
}

static void blend(const VowelLook *l, const VowelTables *t, VowelPiece *p)
{
    float vowel[PARTIALS_MOST] = {0};
    blend_first(l, p->count, vowel);
    blend_second(l, p->count, vowel);
    for (uint32_t k = 0; k < p->count; ++k)
        p->vowel[k] = vowel[k] + t->tract[p->fine[k]];
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
