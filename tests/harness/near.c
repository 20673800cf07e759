#include "near.h"

#include <ctype.h>
#include <stddef.h>
#include <string.h>

static bool same(char a, char b)
{
    return tolower((unsigned char)a) == tolower((unsigned char)b);
}

static uint32_t least(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

uint32_t near_slips(const char *a, const char *b)
{
    uint32_t slips[NEAR_LONGEST + 1][NEAR_LONGEST + 1];
    const size_t as = strlen(a), bs = strlen(b);
    if (as > NEAR_LONGEST || bs > NEAR_LONGEST)
        return NEAR_LONGEST + 1;
    for (size_t i = 0; i <= as; ++i) {
        for (size_t k = 0; k <= bs; ++k) {
            uint32_t *here = &slips[i][k];
            *here = (uint32_t)(i + k);
            if (!i || !k)
                continue;
            *here = least(slips[i - 1][k], slips[i][k - 1]) + 1;
            *here = least(*here, slips[i - 1][k - 1] + !same(a[i - 1], b[k - 1]));
            if (i > 1 && k > 1 && same(a[i - 1], b[k - 2]) && same(a[i - 2], b[k - 1]))
                *here = least(*here, slips[i - 2][k - 2] + 1);
        }
    }
    return slips[as][bs];
}

bool near_enough(const char *typed, const char *meant)
{
    const size_t third = strlen(meant) / 3;
    return near_slips(typed, meant) <= (third < 2 ? third : 2);
}
