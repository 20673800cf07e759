#include "vowel_blend.h"

#include "four_math.h"
#include "inlined.h"

#define NEGLIGIBLE_NEPERS 15.f         /* nepers under the likeliest pair: pairs further down count for nothing */
#define NEPERS_OF_LOG2    0.693147181f /* nepers per 1 of log2 */

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
    Four most_in[VOWELS_FIRST + 1], most = four_all(VOWELS_PADDING), all = four_all(0.f);
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
    const Four share = four_all(1.f / four_sum(all));
    for (uint32_t r = 0; r < l->rows; ++r)
        for (size_t j = 0; j < VOWELS_ROW; j += FOUR)
            four_store(l->likely[l->row[r]] + j, four_mul(four_load(l->likely[l->row[r]] + j), share));
}

static void count_open_mouth(VowelShares *s, const VowelLook *l)
{
    for (uint32_t j = 0; j < VOWELS_SECOND; ++j) {
        const double part = (double)l->likely[VOWELS_OPEN][j] / ((double)l->open_likely[j] + VOWELS_UNKNOWN);
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
        const Four share = four_all(four_sum(four_add(front, back)));
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
        vowel[k] += four_sum(sum);
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

void vowel_blend(VowelLook *l, VowelShares *s, const VowelTables *t, VowelPiece *piece)
{
    share_likely(l);
    count_vowels(s, l);
    blend(l, t, piece);
}
