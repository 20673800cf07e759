#include "living.h"

#include "four_math.h"

#include <math.h>
#include <string.h>

#define PATIENCE 0.01 /* s: longer than any zero crossing */

void living_init(Living *l, double rate, uint32_t channels)
{
    memset(l, 0, sizeof *l);
    l->channels = channels;
    l->patience = (uint32_t)(PATIENCE * rate);
    living_reset(l);
}

void living_reset(Living *l)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        l->silent[c] = l->patience;
}

static bool dead(Living *l, uint32_t c, float x)
{
    const bool silent = fabsf(x) < DSP_DIGITAL_SILENCE;
    l->silent[c] = silent ? l->silent[c] + (l->silent[c] < l->patience) : 0;
    return l->silent[c] == l->patience;
}

/* Every sample: so it is nearly always, where there is sound. */
static bool all_sounds(const float *x, uint32_t n)
{
    return n > 0 && four_span(x, n).smallest >= DSP_DIGITAL_SILENCE;
}

void living_process(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n)
{
    heard[0] = in[0];
    heard[1] = NULL;
    if (l->channels == 1)
        return;
    if (all_sounds(in[0], n) && all_sounds(in[1], n)) {
        l->silent[0] = l->silent[1] = 0;
        heard[1] = in[1];
        return;
    }
    for (uint32_t t = 0; t < n; ++t) {
        const float a = in[0][t], b = in[1][t];
        const bool dead_a = dead(l, 0, a), dead_b = dead(l, 1, b);
        l->sound[0][t] = dead_a ? b : a;
        l->sound[1][t] = dead_b ? a : b;
    }
    heard[0] = l->sound[0];
    heard[1] = l->sound[1];
}
