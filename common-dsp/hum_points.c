#include "hum_points.h"

#include <math.h>

#define POINTS_A_SECOND 6000.0 /* a second, or a tenth less: harmonics end at 1 kHz; chosen, not searched */

uint32_t hum_points_stride(double rate)
{
    uint32_t stride = 1;
    while (stride < DSP_CELL && rate / (2 * stride) >= 0.9 * POINTS_A_SECOND)
        stride *= 2;
    return stride;
}

double hum_points_heard_at(double rate, uint32_t stride, double hz)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < stride; ++i)
        sum += 2.0 * (1.0 - (i + 0.5) / stride) * cos(2.0 * DSP_PI * hz * (i + 0.5) / rate);
    return sum / stride;
}

void hum_points_process(HumPoints *p, const float *in, float *point, uint32_t n)
{
    const float scale = 1.f / (float)p->stride;
    for (uint32_t at = 0; at < n; at += p->stride) {
        float falls = 0.f, rises = 0.f;
        for (uint32_t i = 0; i < p->stride; ++i) {
            const float near = ((float)i + 0.5f) * scale;
            falls += (1.f - near) * in[at + i];
            rises += near * in[at + i];
        }
        *point++ = (p->rising + falls) * scale;
        p->rising = rises;
    }
}
