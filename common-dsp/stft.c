#include "stft.h"

#include "damage.h"
#include "four.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SPARE = 3 }; /* floats after a row of real or imaginary parts: the next row begins on a vector */

#define LONGEST_HOP 0.0117 /* s: keeps the latency, a frame and a hop, within 47 ms */

/* The most cells, 2^k or 3 x 2^k, that a hop of at most LONGEST_HOP has. */
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

/* One block holds everything; this says where. */
static bool share_out_memory(Stft *s)
{
    const size_t size = s->size, part = s->bins + SPARE;
    s->memory = calloc(2 * part + s->channels * (size + 2 * part), sizeof *s->memory);
    if (!s->memory)
        return false;
    s->frame = s->memory;
    float *next = s->frame + 2 * part;
    for (uint32_t c = 0; c < s->channels; ++c, next += size + 2 * part) {
        s->put[c] = next;
        s->re[c] = s->put[c] + size;
        s->im[c] = s->re[c] + part;
    }
    return true;
}

bool stft_init(Stft *s, double rate, uint32_t channels)
{
    *s = (Stft){.channels = channels, .cells = cells_of_hop(rate)};
    s->hop = s->cells * DSP_CELL;
    s->size = STFT_OVERLAP * s->hop;
    s->bins = s->size / 2 + 1;
    s->latency = s->size + s->hop;
    for (uint32_t c = 0; c < channels; ++c)
        if (!delay_init(&s->line[c], s->latency))
            return false;
    if (!share_out_memory(s))
        return false;
    stft_reset(s);
    if (!fourier_init(&s->fourier, s->size))
        return false;
    s->window = s->fourier.sine;
    return true;
}

void stft_done(Stft *s)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&s->line[c]);
    free(s->memory);
    fourier_done(&s->fourier);
    *s = (Stft){0};
}

void stft_reset(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        delay_reset(&s->line[c]);
        memset(s->put[c], 0, s->size * sizeof(float));
        s->made[c] = false;
    }
    s->cell = s->cells - 1;
    s->at = 0;
}

/* Moves the output on by a hop and adds the sound of the last hop's frame. */
static void turn_output(Stft *s, uint32_t channel)
{
    const uint32_t left = s->size - s->hop;
    float *put = s->put[channel];
    const float *sound = s->re[channel];
    if (!s->made[channel]) {
        memmove(put, put + s->hop, left * sizeof(float));
        memset(put + left, 0, s->hop * sizeof(float));
        return;
    }
    for (uint32_t t = 0; t < left; t += FOUR)
        four_store(put + t, four_add(four_load(put + s->hop + t), four_load(sound + t)));
    memcpy(put + left, sound + left, s->hop * sizeof(float));
    s->made[channel] = false;
}

uint32_t stft_tick(Stft *s)
{
    if (++s->cell == s->cells) {
        s->cell = s->at = 0;
        for (uint32_t c = 0; c < s->channels; ++c)
            turn_output(s, c);
    }
    return s->cell;
}

void stft_process(Stft *s, const float *const *in, float late[][DSP_CELL], float out[][DSP_CELL], uint32_t n)
{
    delays_process(s->line, s->channels, s->latency, in, (float *const[]){late[0], late[1]}, n);
    for (uint32_t c = 0; c < s->channels; ++c) {
        if (s->line[c].raw)
            damage_remove(late[c], late[c], n);
        dsp_copy(out[c], s->put[c] + s->at, n);
    }
    s->at += n;
}

/* ---- A frame's work, in steps ---- */

/* Four values of the window's second half, from sample half + t on. */
static Four window_back(const Stft *s, uint32_t t)
{
    return four_backwards(four_load(s->window + s->size / 2 - t - (FOUR - 1)));
}

/* Takes the frame, which ended when the hop began, from the line. */
static void look_through_window(Stft *s, uint32_t channel)
{
    float *const first = s->frame, *const last = s->frame + s->size / 2;
    delay_read(&s->line[channel], s->at, s->frame, s->size);
    if (s->line[channel].raw)
        damage_remove(s->frame, s->frame, s->size);
    for (uint32_t t = 0; t < s->size / 2; t += FOUR) {
        four_store(first + t, four_mul(four_load(first + t), four_load(s->window + t)));
        four_store(last + t, four_mul(four_load(last + t), window_back(s, t)));
    }
}

/* The imaginary parts in `frame`, where it holds them apart from the real ones. */
static float *parts_behind(const Stft *s)
{
    return s->frame + s->bins + SPARE;
}

/* The quarters lie where the spectrum will. */
void stft_analyse(Stft *s, uint32_t channel, uint32_t step)
{
    float *re = s->re[channel];
    if (step == 0)
        look_through_window(s, channel);
    fourier_quarter(&s->fourier, step, s->frame, re);
    if (step < STFT_STEPS - 1)
        return;
    fourier_join(&s->fourier, re, s->frame, parts_behind(s));
    fourier_split(&s->fourier, s->frame, parts_behind(s), re, s->im[channel]);
}

static void add_power(const float *re, const float *im, float scale, uint32_t n, float *power)
{
    const Four by = four_all(scale);
    uint32_t k = 0;
    for (; k + FOUR <= n; k += FOUR) {
        const Four a = four_load(re + k), b = four_load(im + k);
        const Four all = four_mul(by, four_add(four_mul(a, a), four_mul(b, b)));
        four_store(power + k, four_add(four_load(power + k), all));
    }
    for (; k < n; ++k)
        power[k] += scale * (re[k] * re[k] + im[k] * im[k]);
}

void stft_power(const Stft *s, float scale, uint32_t from, uint32_t to, float *power)
{
    memset(power + from, 0, (to - from) * sizeof *power);
    for (uint32_t c = 0; c < s->channels; ++c)
        add_power(s->re[c] + from, s->im[c] + from, scale, to - from, power + from);
}

static void multiply(float *x, const float *by, uint32_t n)
{
    uint32_t k = 0;
    for (; k + FOUR <= n; k += FOUR)
        four_store(x + k, four_mul(four_load(x + k), four_load(by + k)));
    for (; k < n; ++k)
        x[k] *= by[k];
}

void stft_scale(Stft *s, const float *gain, uint32_t from, uint32_t to)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        multiply(s->re[c] + from, gain + from, to - from);
        multiply(s->im[c] + from, gain + from, to - from);
    }
}

void stft_silence(Stft *s, uint32_t from, uint32_t to)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memset(s->re[c] + from, 0, (to - from) * sizeof(float));
        memset(s->im[c] + from, 0, (to - from) * sizeof(float));
    }
}

/* Interleaves four even and four odd samples, and multiplies these eight by the window. */
static void put_together(float *to, Four even, Four odd, Four first, Four last)
{
    four_store(to, four_mul(first, four_mix_first(even, odd)));
    four_store(to + FOUR, four_mul(last, four_mix_last(even, odd)));
}

/* The frame is conjugate, so the second sample of each pair has its sign turned back here. */
static void make_sound(Stft *s, uint32_t channel)
{
    const uint32_t half = s->size / 2;
    const float scale = 2.f / (float)(STFT_OVERLAP * s->size);
    const Four by = four_all(scale), turned = four_all(-scale);
    const float *even = s->frame, *odd = parts_behind(s);
    float *to = s->re[channel];
    for (uint32_t t = 0; t < half; t += 2 * FOUR) {
        const uint32_t first = t / 2, last = (half + t) / 2;
        put_together(to + t, four_mul(by, four_load(even + first)), four_mul(turned, four_load(odd + first)),
                     four_load(s->window + t), four_load(s->window + t + FOUR));
        put_together(to + half + t, four_mul(by, four_load(even + last)), four_mul(turned, four_load(odd + last)),
                     window_back(s, t), window_back(s, t + FOUR));
    }
    s->made[channel] = true;
}

void stft_synthesise(Stft *s, uint32_t channel, uint32_t step)
{
    float *re = s->re[channel];
    if (step == 0)
        fourier_merge(&s->fourier, re, s->im[channel], s->frame);
    fourier_quarter(&s->fourier, step, s->frame, re);
    if (step < STFT_STEPS - 1)
        return;
    fourier_join(&s->fourier, re, s->frame, parts_behind(s));
    make_sound(s, channel);
}
