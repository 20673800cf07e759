#include "vowel_look.h"

#include "four_math.h"
#include "inlined.h"
#include "rows.h"

#include <string.h>

#define UNDER_PITCH_PRICE 6.0f /* nepers by which a first formant under the pitch is less likely */
#define UNDER_PITCH_FROM  0.95 /* of the pitch: a first formant below this counts as under it */
#define VOWEL_DOUBT       3.0  /* dB, standard deviation of a harmonic's level from its vowel's */

#define DB_OF_LOG2     3.01029996f  /* dB of a power, per 1 of its log2 */
#define NEPERS_OF_LOG2 0.693147181f /* nepers per 1 of log2 */

_Static_assert(PARTIALS_MOST % FOUR == 0 && VOWELS_ROW == 4 * FOUR, "rows are read four at a time");
_Static_assert(VOWELS_LOOKS % FOUR == 0 && VOWELS_LOOKS > VOWELS_OPEN && VOWELS_OPEN % 2, "and tried in pairs");

/* ---- What is left of the levels ---- */

/* The mean of n harmonics; x is 0 beyond them. */
static float mean_of(const float *x, uint32_t n)
{
    Four sum = four_load(x);
    for (uint32_t k = FOUR; k < n; k += FOUR)
        sum = four_add(sum, four_load(x + k));
    return four_sum(sum) / (float)n;
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
    const float pitch = p->hz, half = 0.5f * (float)vowels_first_width(kind), number = (float)(p->lowest + k);
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

void vowel_look(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *piece, const float *known)
{
    look_at_levels(l, t, piece, known);
    look_at_formants(l, s->kind, t, piece);
    vowels_open_mouth(s, t, (double)piece->hz, l->open_near, l->open_likely);
}

/* ---- How likely each pair is ---- */

/* left: the levels less this first formant, less the mean. Returns the sum of the squares of what is left. */
static float leave(const VowelLook *l, uint32_t row, uint32_t n, float *left)
{
    const float *const first = l->first[row];
    const Four mean = four_all(-mean_of(first, n)); /* the mean of the levels is 0 */
    Four squares = four_all(0.f);
    for (size_t k = 0; k < n; k += FOUR) {
        const Four rest = four_sub(four_sub(four_load(l->rest + k), four_load(first + k)), mean);
        const Four here = four_mul(rest, four_load(l->there + k));
        four_store(left + k, here);
        squares = four_add(squares, four_mul(here, here));
    }
    return four_sum(squares);
}

/* Log likelihood, nepers, of a first formant with each second formant, from the squares of what is left of the
 * levels. */
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
    const Four least = four_all((float)VOWELS_UNKNOWN), unit = four_all(NEPERS_OF_LOG2);
    for (uint32_t j = 0; j < VOWELS_ROW; j += FOUR)
        four_store(open + j, four_mul(four_log2(four_add(four_load(l->open_likely + j), least)), unit));
    for (uint32_t j = VOWELS_SECOND; j < VOWELS_ROW; ++j)
        open[j] = VOWELS_PADDING;
}

static float price_of(const VowelTables *t, uint32_t row, float hz)
{
    return row < VOWELS_FIRST && t->first_hz[row] < UNDER_PITCH_FROM * (double)hz ? UNDER_PITCH_PRICE : 0.f;
}

/* Two first formants at a time. */
void vowel_look_try(VowelLook *l, const VowelShares *s, const VowelTables *t, const VowelPiece *p)
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
