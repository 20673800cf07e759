#include "plate_wait.h"

#include <math.h>

#define FADE 0.03 /* seconds from one pre-delay to the next */

void plate_wait_init(PlateWait *wait, double rate, uint32_t channels)
{
    *wait = (PlateWait){0};
    for (uint32_t c = 0; c < channels; ++c)
        wait->ring[c].slots = ring_slots((uint32_t)ceil(PLATE_WAIT_LONGEST * rate));
    fade_init(&wait->fade, rate, FADE);
}

/* One cross-fade at a time; a wish that comes meanwhile is next. */
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

static void cross_fade(const PlateWait *wait, uint32_t c, const float weight[DSP_CELL], float *out)
{
    const float *from = ring_run(&wait->ring[c], wait->from + DSP_CELL);
    const float *to = ring_run(&wait->ring[c], wait->to + DSP_CELL);
    for (uint32_t t = 0; t < DSP_CELL; ++t)
        out[t] = from[t] + weight[t] * (to[t] - from[t]);
}

void plate_wait_run(PlateWait *wait, uint32_t channels, float out[DSP_CHANNELS][DSP_CELL])
{
    float weight[DSP_CELL];
    const bool fading = !fade_rests_at(&wait->fade, true);
    for (uint32_t t = 0; fading && t < DSP_CELL; ++t)
        weight[t] = (float)fade_step(&wait->fade);
    for (uint32_t c = 0; c < channels; ++c) {
        ring_advance(&wait->ring[c]);
        if (fading)
            cross_fade(wait, c, weight, out[c]);
        else
            memcpy(out[c], ring_run(&wait->ring[c], wait->to + DSP_CELL), sizeof out[c]);
    }
}
