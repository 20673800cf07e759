#include "standstill.h"

#include "bridge.h"
#include "four_math.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HEARD 0.6 /* s of a silence that pass: more than voice.h's look-ahead and a piece of partials.h together */

bool standstill_init(Standstill *s, double rate, uint32_t frame)
{
    *s = (Standstill){.ring = calloc(frame, sizeof *s->ring),
                      .frame = frame,
                      .least = (uint32_t)(BRIDGE_SECONDS * rate),
                      .most = frame * (uint32_t)ceil(HEARD * rate / frame)};
    standstill_reset(s);
    return s->ring != NULL;
}

void standstill_done(Standstill *s)
{
    free(s->ring);
    s->ring = NULL;
}

void standstill_reset(Standstill *s)
{
    s->at = s->held = 0;
    s->zeros = s->most;
}

/* Drops the end of the silence that does not fill a frame: all of that is still in the ring. */
static void sound_again(Standstill *s)
{
    const uint32_t odd = s->zeros > s->least ? s->zeros % s->frame : 0;
    s->held -= odd;
    s->at = s->at >= odd ? s->at - odd : s->at + s->frame - odd;
    s->zeros = 0;
}

/* true: the ring is full, and *out is the sample from a frame ago. */
static bool wait(Standstill *s, float x, float *out)
{
    float *const place = &s->ring[s->at];
    const bool full = s->held == s->frame;
    *out = full ? *place : *out;
    *place = x;
    s->at = s->at + 1 < s->frame ? s->at + 1 : 0;
    s->held += !full;
    return full;
}

/* Nearly always true: no sample here is 0, nor is the last one in the ring; the ring is full; and its n next places lie
 * in a row. */
static bool is_plain(const Standstill *s, const float *in, uint32_t n)
{
    return n > 0 && n <= DSP_CELL && s->zeros == 0 && s->held == s->frame && s->at + n <= s->frame &&
           four_span(in, n).smallest > 0.f;
}

static void change_places(Standstill *s, const float *in, float *out, uint32_t n)
{
    float next[DSP_CELL];
    memcpy(next, in, n * sizeof *next);
    memcpy(out, s->ring + s->at, n * sizeof *out);
    memcpy(s->ring + s->at, next, n * sizeof *next);
    s->at = s->at + n < s->frame ? s->at + n : 0;
}

uint32_t standstill_process(Standstill *s, const float *in, float *out, uint32_t n)
{
    if (is_plain(s, in, n)) {
        change_places(s, in, out, n);
        return n;
    }
    uint32_t came = 0;
    for (uint32_t i = 0; i < n; ++i) {
        const float x = in[i];
        if (x == 0.f && s->zeros == s->most)
            continue;
        if (x == 0.f)
            ++s->zeros;
        else if (s->zeros)
            sound_again(s);
        came += wait(s, x, &out[came]);
    }
    return came;
}
