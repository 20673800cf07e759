/* The functions of four_math.h, and those of four.h that move lanes, called by name: with vectors or, where FOUR_PLAIN
 * is defined, without. */
#ifndef LINCTUS_FOUR_BY_NAME_H
#define LINCTUS_FOUR_BY_NAME_H

#include "four_math.h"
#include "plain_four.h"

static inline void four_by_name(PlainFunction f, const float *a, const float *b, float *y)
{
    const Four x = four_load(a), z = four_load(b);
    const Four of[PLAIN_FUNCTIONS] = {
        [PLAIN_MAX] = four_max(x, z),
        [PLAIN_MIN] = four_min(x, z),
        [PLAIN_DIV] = four_div(x, z),
        [PLAIN_ABS] = four_abs(x),
        [PLAIN_EXP2] = four_exp2(x),
        [PLAIN_LOG2] = four_log2(four_abs(x)),
        [PLAIN_BACKWARDS] = four_backwards(x),
        [PLAIN_EVENS] = four_evens(x, z),
        [PLAIN_ODDS] = four_odds(x, z),
        [PLAIN_MIX_FIRST] = four_mix_first(x, z),
        [PLAIN_MIX_LAST] = four_mix_last(x, z),
    };
    four_store(y, of[f]);
}

#endif
