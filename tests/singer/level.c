#include "singer.h"

#include <math.h>
#include <stdlib.h>

/* Of up to four blocks of n samples, `hop` apart, at once: a sum waits for itself, and meanwhile the others are added.
 */
static void mean_squares(const float *x, size_t hop, size_t n, size_t count, double *mean)
{
    double sum[4] = {0};
    const size_t at[4] = {0, count > 1 ? hop : 0, count > 2 ? 2 * hop : 0, count > 3 ? 3 * hop : 0};
    for (size_t i = 0; i < n; i++)
        for (int b = 0; b < 4; b++)
            sum[b] += (double)x[at[b] + i] * x[at[b] + i];
    for (size_t b = 0; b < count && b < 4; b++)
        mean[b] = n ? sum[b] / (double)n : 0;
}

/* Mean of the blocks that lie over a gate; 0 when none does. */
static double gated_mean(const double *blocks, size_t count, double gate)
{
    double sum = 0;
    size_t kept = 0;
    for (size_t b = 0; b < count; b++)
        if (blocks[b] > gate) {
            sum += blocks[b];
            kept++;
        }
    return kept ? sum / (double)kept : 0;
}

double singer_level_db(const float *x, uint32_t frames, double rate)
{
    const size_t hop = (size_t)lrint(0.1 * rate), block = 4 * hop;
    const size_t count = frames >= block ? (frames - block) / hop + 1 : 1;
    double *blocks = malloc(count * sizeof *blocks);
    if (!blocks)
        return -200;
    for (size_t b = 0; b < count; b += 4)
        mean_squares(x + b * hop, hop, frames < block ? frames : block, count - b, blocks + b);
    const double absolute = gated_mean(blocks, count, 1e-7);
    const double mean = gated_mean(blocks, count, fmax(1e-7, 0.1 * absolute));
    free(blocks);
    return mean > 0 ? 10 * log10(mean) : -200;
}
