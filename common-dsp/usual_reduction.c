#include "usual_reduction.h"

#include "dsp.h"
#include "levels.h"

#include <string.h>

#define BINS_PER_DB 8.0 /* of the histogram of reductions */

void usual_reduction_restart(UsualReduction *u, double threshold)
{
    u->frames = 0;
    u->threshold = threshold;
    memset(u->count, 0, sizeof u->count);
}

void usual_reduction_add(UsualReduction *u, double reduction)
{
    ++u->frames;
    ++u->count[(uint32_t)dsp_clamp(reduction * BINS_PER_DB + 0.5, 0.0, USUAL_REDUCTION_BINS - 1)];
    if (u->frames < LEVELS_ENOUGH)
        return;
    double left = u->frames / 8.0; /* half of a quarter: the median of the loudest quarter */
    uint32_t b = USUAL_REDUCTION_BINS - 1;
    while (b > 0 && u->count[b] < left)
        left -= u->count[b--];
    u->usual = b / BINS_PER_DB;
}
