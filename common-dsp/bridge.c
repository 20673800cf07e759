#include "bridge.h"

#include "four_math.h"

#include <string.h>

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

/* Fills the hole that ends before the sample `after`. */
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

/* There is no hole, here or near, which is nearly always so. */
static bool is_plain(const Bridge *b, const float *in, uint32_t n)
{
    return n > 0 && b->hole == 0 && b->held > b->most && four_span(in, n).smallest > 0.f;
}

/* Swaps the next samples, at most a cell, with those in the ring up to the ring's end. Returns how many. */
static uint32_t change_places(Bridge *b, const float *in, float *out, uint32_t n)
{
    float next[DSP_CELL];
    const uint32_t left = b->most + 1 - b->at, most = n < DSP_CELL ? n : DSP_CELL, m = left < most ? left : most;
    memcpy(next, in, m * sizeof *next);
    memcpy(out, b->ring + b->at, m * sizeof *out);
    memcpy(b->ring + b->at, next, m * sizeof *next);
    b->at = m < left ? b->at + m : 0;
    return m;
}

static void pass(Bridge *b, const float *in, float *out, uint32_t n)
{
    b->before = in[n - 1];
    for (uint32_t at = 0; at < n;)
        at += change_places(b, in + at, out + at, n - at);
}

uint32_t bridge_process(Bridge *b, const float *in, float *out, uint32_t n)
{
    uint32_t came = 0;
    if (is_plain(b, in, n)) {
        pass(b, in, out, n);
        return n;
    }
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
