#include "living.h"

#include "four_math.h"

#include <math.h>
#include <string.h>

#define DEAD_AFTER 0.01 /* s of digital silence: longer than any zero crossing */

void living_init(Living *l, double rate, uint32_t channels)
{
    memset(l, 0, sizeof *l);
    l->channels = channels;
    l->patience = (uint32_t)(DEAD_AFTER * rate);
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

/* A piece of a channel: it sounds throughout, it is dead throughout, or neither. Most pieces are not MIXED. */
typedef enum { MIXED, SOUNDS, DEAD } Kind;

static Kind kind_of(const Living *l, uint32_t c, const float *x, uint32_t n)
{
    if (n == 0)
        return MIXED;
    if (l->silent[c] == l->patience && four_span(x, n).largest < DSP_DIGITAL_SILENCE)
        return DEAD;
    return four_span(x, n).smallest >= DSP_DIGITAL_SILENCE ? SOUNDS : MIXED;
}

static void sample_by_sample(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        const float a = in[0][t], b = in[1][t];
        const bool dead_a = dead(l, 0, a), dead_b = dead(l, 1, b);
        l->sound[0][t] = dead_a ? b : a;
        l->sound[1][t] = dead_b ? a : b;
    }
    heard[0] = l->sound[0];
    heard[1] = l->sound[1];
}

void living_process(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n)
{
    heard[0] = in[0];
    heard[1] = NULL;
    if (l->channels == 1)
        return;
    const Kind kind[DSP_CHANNELS] = {kind_of(l, 0, in[0], n), kind_of(l, 1, in[1], n)};
    if (kind[0] == MIXED || kind[1] == MIXED) {
        sample_by_sample(l, in, heard, n);
        return;
    }
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c) {
        heard[c] = in[kind[c] == DEAD ? 1 - c : c];
        l->silent[c] = kind[c] == DEAD ? l->patience : 0;
    }
}
