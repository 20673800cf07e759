#include "sink.h"

#include <string.h>

void sinks_add(Sinks *all, Sink *s)
{
    all->sink[all->used++] = s;
}

bool sinks_write(const Sinks *all, const float *const *in, uint32_t n, Error *e)
{
    for (uint32_t i = 0; i < all->used; ++i)
        if (!all->sink[i]->write(all->sink[i], in, n, e))
            return false;
    return true;
}

bool sinks_end(const Sinks *all, Error *e)
{
    for (uint32_t i = 0; i < all->used; ++i)
        if (!all->sink[i]->end(all->sink[i], e))
            return false;
    return true;
}

void block_init(Block *b, uint32_t channels)
{
    b->channels = channels;
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        b->channel[c] = b->memory[c];
}

uint32_t block_fill(Block *b, const float *const *in, uint32_t from, uint32_t n)
{
    const uint32_t room = STAGE_BLOCK - b->filled, taken = n < room ? n : room;
    for (uint32_t c = 0; c < b->channels; ++c)
        memcpy(b->memory[c] + b->filled, in[c] + from, taken * sizeof(float));
    b->filled += taken;
    return taken;
}

bool block_write(Block *b, const float *const *in, uint32_t n, bool (*full)(void *), void *of)
{
    for (uint32_t done = 0; done < n;) {
        done += block_fill(b, in, done, n - done);
        if (b->filled == STAGE_BLOCK && !full(of))
            return false;
    }
    return true;
}

void block_pad(Block *b)
{
    for (uint32_t c = 0; c < b->channels; ++c)
        memset(b->memory[c] + b->filled, 0, (STAGE_BLOCK - b->filled) * sizeof(float));
}

const float *const *block_audio(const Block *b)
{
    return (const float *const *)b->channel;
}
