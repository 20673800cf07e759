#include "stft.h"

#include <kiss_fftr.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LONGEST_HOP 0.0117 /* s: a frame and a hop more are 47 ms */

/* The most cells of a hop, 2^k or 3 x 2^k, that are not longer than LONGEST_HOP. */
static uint32_t cells_of_hop(double rate)
{
    const double most = LONGEST_HOP * rate / DSP_CELL;
    uint32_t twos = 2, threes = 3;
    while (2 * twos <= most)
        twos *= 2;
    while (2 * threes <= most)
        threes *= 2;
    return threes <= most && threes > twos ? threes : twos;
}

/* One block for all of it: what lies where. */
static bool share_out_memory(Stft *s)
{
    const size_t longer = s->size + s->hop, channel = 2 * longer + s->hop + 2 * (size_t)s->bins;
    s->memory = calloc(2 * (size_t)s->size + s->channels * channel, sizeof *s->memory);
    if (!s->memory)
        return false;
    s->window = s->memory;
    s->frame = s->window + s->size;
    for (uint32_t c = 0; c < s->channels; ++c) {
        s->heard[c] = s->frame + s->size + c * channel;
        s->put[c] = s->heard[c] + longer + s->hop;
        s->spectrum[c] = s->put[c] + longer;
    }
    return true;
}

bool stft_init(Stft *s, double rate, uint32_t channels)
{
    *s = (Stft){.channels = channels, .cells = cells_of_hop(rate)};
    s->hop = s->cells * DSP_CELL;
    s->size = STFT_OVERLAP * s->hop;
    s->bins = s->size / 2 + 1;
    if (!share_out_memory(s))
        return false;
    for (uint32_t i = 0; i < s->size; ++i)
        s->window[i] = (float)sin(DSP_PI * i / s->size);
    s->forward = kiss_fftr_alloc((int)s->size, 0, NULL, NULL);
    s->inverse = kiss_fftr_alloc((int)s->size, 1, NULL, NULL);
    stft_reset(s);
    return s->forward && s->inverse;
}

void stft_done(Stft *s)
{
    free(s->memory);
    kiss_fftr_free(s->forward);
    kiss_fftr_free(s->inverse);
    *s = (Stft){0};
}

void stft_reset(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memset(s->heard[c], 0, ((size_t)s->size + 2 * s->hop) * sizeof(float));
        memset(s->put[c], 0, ((size_t)s->size + s->hop) * sizeof(float));
    }
    s->cell = s->cells - 1;
    s->at = 0;
}

uint32_t stft_latency(const Stft *s)
{
    return s->size + s->hop;
}

static void turn(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memmove(s->heard[c], s->heard[c] + s->hop, ((size_t)s->size + s->hop) * sizeof(float));
        memmove(s->put[c], s->put[c] + s->hop, s->size * sizeof(float));
        memset(s->put[c] + s->size, 0, s->hop * sizeof(float));
    }
    s->at = 0;
}

uint32_t stft_tick(Stft *s)
{
    if (++s->cell == s->cells) {
        s->cell = 0;
        turn(s);
    }
    return s->cell;
}

void stft_process(Stft *s, const float *const *in, float late[][DSP_CELL], float out[][DSP_CELL], uint32_t n)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memcpy(s->heard[c] + s->hop + s->size + s->at, in[c], n * sizeof(float));
        memcpy(late[c], s->heard[c] + s->at, n * sizeof(float));
        memcpy(out[c], s->put[c] + s->at, n * sizeof(float));
    }
    s->at += n;
}

void stft_analyse(Stft *s, uint32_t channel)
{
    const float *heard = s->heard[channel] + s->hop;
    for (uint32_t i = 0; i < s->size; ++i)
        s->frame[i] = s->window[i] * heard[i];
    kiss_fftr(s->forward, s->frame, (kiss_fft_cpx *)(void *)s->spectrum[channel]);
}

void stft_synthesise(Stft *s, uint32_t channel)
{
    kiss_fftri(s->inverse, (const kiss_fft_cpx *)(const void *)s->spectrum[channel], s->frame);
    float *put = s->put[channel] + s->hop;
    const float scale = 2.f / (float)(STFT_OVERLAP * s->size);
    for (uint32_t i = 0; i < s->size; ++i)
        put[i] += scale * s->window[i] * s->frame[i];
}
