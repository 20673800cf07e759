#include "plate_wait.h"

#include <math.h>

#define WAIT_FADE 0.03 /* s, cross-fade from one pre-delay to the next */

void plate_wait_init(PlateWait *wait, PlateRing *ring, double rate, uint32_t channels)
{
    *wait = (PlateWait){0};
    for (uint32_t c = 0; c < channels; ++c)
        wait->next[c] = ring_add(ring, (uint32_t)ceil(PLATE_WAIT_LONGEST * rate));
    fade_init(&wait->fade, rate, WAIT_FADE);
}

/* There is one cross-fade at a time; a new wish waits for its end. */
void plate_wait_move(PlateWait *wait, bool at_once)
{
    if (at_once) {
        wait->from = wait->to = wait->wish;
        fade_restart(&wait->fade);
        fade_to(&wait->fade, true);
    }
    if (wait->wish == wait->to || !fade_rests_at(&wait->fade, true))
        return;
    wait->from = wait->to;
    wait->to = wait->wish;
    fade_restart(&wait->fade);
    fade_to(&wait->fade, false);
    fade_to(&wait->fade, true);
}

static void cross_fade(const float *from, const float *to, const float weight[DSP_CELL], float *out)
{
    for (uint32_t t = 0; t < DSP_CELL; ++t)
        out[t] = from[t] + weight[t] * (to[t] - from[t]);
}

void plate_wait_run(PlateWait *wait, const PlateRing *ring, uint32_t channels, float mixed[DSP_CHANNELS][DSP_CELL],
                    const float *out[DSP_CHANNELS])
{
    float weight[DSP_CELL];
    const bool fading = !fade_rests_at(&wait->fade, true);
    for (uint32_t t = 0; fading && t < DSP_CELL; ++t)
        weight[t] = (float)fade_step(&wait->fade);
    ring_close(ring);
    for (uint32_t c = 0; c < channels; ++c) {
        out[c] = ring_place(ring, wait->next[c] - wait->to);
        if (!fading)
            continue;
        cross_fade(ring_place(ring, wait->next[c] - wait->from), out[c], weight, mixed[c]);
        out[c] = mixed[c];
    }
}
