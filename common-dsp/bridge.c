#include "bridge.h"

void bridge_init(Bridge *b, double rate)
{
    b->most = (uint32_t)(BRIDGE_SECONDS * rate);
    bridge_reset(b);
}

void bridge_reset(Bridge *b)
{
    b->at = b->held = 0;
    b->hole = b->most + 1;
    b->before = 0.f;
}

uint32_t bridge_lag(const Bridge *b)
{
    return b->most + 1;
}

/* The hole that ends before this sample. */
static void close_hole(Bridge *b, float after)
{
    const float step = (after - b->before) / (float)(b->hole + 1);
    for (uint32_t k = 1, at = b->at; k <= b->hole; ++k) {
        at = at ? at - 1 : b->most;
        b->ring[at] = after - step * (float)k;
    }
}

static void hear(Bridge *b, float x)
{
    if (x == 0.f) {
        b->hole += b->hole <= b->most;
        return;
    }
    if (b->hole <= b->most)
        close_hole(b, x);
    b->hole = 0;
    b->before = x;
}

uint32_t bridge_process(Bridge *b, const float *in, float *out, uint32_t n)
{
    uint32_t came = 0;
    for (uint32_t i = 0; i < n; ++i) {
        const float x = in[i];
        hear(b, x);
        if (b->held > b->most)
            out[came++] = b->ring[b->at];
        else
            ++b->held;
        b->ring[b->at] = x;
        b->at = b->at < b->most ? b->at + 1 : 0;
    }
    return came;
}
