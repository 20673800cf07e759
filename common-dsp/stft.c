#include "stft.h"

#include <kiss_fft.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { QUARTERS = 4 };

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

/* One block holds everything; this says where. The first channel's spectrum shares the quarters' place. */
static bool share_out_memory(Stft *s)
{
    const size_t size = s->size, longer = size + s->hop, spectrum = 2 * (size_t)s->bins;
    s->memory = calloc(s->bins + size + spectrum + s->channels * (2 * longer + spectrum), sizeof *s->memory);
    if (!s->memory)
        return false;
    s->window = s->memory;
    s->frame = s->window + s->bins;
    s->turns = s->frame + size;
    float *next = s->turns + spectrum;
    for (uint32_t c = 0; c < s->channels; ++c, next += 2 * longer + spectrum) {
        s->heard[c] = next;
        s->put[c] = s->heard[c] + longer;
        s->spectrum[c] = (StftBin *)(void *)(s->put[c] + longer);
    }
    s->quarters = s->put[0] + longer;
    return true;
}

/* Complex number k of an array that has real and imaginary parts in turn. */
static StftBin at(const float *x, size_t k)
{
    return (StftBin){x[2 * k], x[2 * k + 1]};
}

static void store(float *x, size_t k, float re, float im)
{
    x[2 * k] = re;
    x[2 * k + 1] = im;
}

/* window: its first half and its middle sample; turns[k]: e^(-2 pi i k / size). */
static void make_tables(Stft *s)
{
    for (uint32_t k = 0; k < s->bins; ++k) {
        const double angle = -2.0 * DSP_PI * k / s->size;
        s->window[k] = (float)sin(DSP_PI * k / s->size);
        store(s->turns, k, (float)cos(angle), (float)sin(angle));
    }
}

bool stft_init(Stft *s, double rate, uint32_t channels)
{
    *s = (Stft){.channels = channels, .cells = cells_of_hop(rate)};
    s->hop = s->cells * DSP_CELL;
    s->size = STFT_OVERLAP * s->hop;
    s->bins = s->size / 2 + 1;
    if (!share_out_memory(s))
        return false;
    make_tables(s);
    s->kiss = kiss_fft_alloc((int)(s->size / 2 / QUARTERS), 0, NULL, NULL);
    stft_reset(s);
    return s->kiss;
}

void stft_done(Stft *s)
{
    free(s->memory);
    kiss_fft_free(s->kiss);
    *s = (Stft){0};
}

void stft_reset(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memset(s->heard[c], 0, ((size_t)s->size + s->hop) * sizeof(float));
        memset(s->put[c], 0, ((size_t)s->size + s->hop) * sizeof(float));
    }
    s->cell = s->cells - 1;
    s->at = 0;
}

uint32_t stft_latency(const Stft *s)
{
    return s->size + s->hop;
}

/* During the hop, what came in was written where the late samples went out; it moves to the end of what is heard. */
static void turn(Stft *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        memcpy(s->frame, s->heard[c], s->hop * sizeof(float));
        memmove(s->heard[c], s->heard[c] + s->hop, s->size * sizeof(float));
        memcpy(s->heard[c] + s->size, s->frame, s->hop * sizeof(float));
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
        memcpy(late[c], s->heard[c] + s->at, n * sizeof(float));
        memcpy(s->heard[c] + s->at, in[c], n * sizeof(float));
        memcpy(out[c], s->put[c] + s->at, n * sizeof(float));
    }
    s->at += n;
}

/* ---- The transform, in steps ---- */

static StftBin times(StftBin a, StftBin b)
{
    return (StftBin){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

/* e^(-2 pi i k / size), k below 3 / 4 size. */
static StftBin turn_by(const Stft *s, uint32_t k)
{
    const uint32_t half = s->size / 2;
    const StftBin turn = at(s->turns, k < half ? k : k - half);
    return k < half ? turn : (StftBin){-turn.re, -turn.im};
}

/* Transforms every fourth complex number of the frame, from number p on. */
static void transform_quarter(Stft *s, uint32_t p)
{
    float *to = s->quarters + (size_t)p * (s->size / QUARTERS);
    kiss_fft_stride(s->kiss, (const kiss_fft_cpx *)(const void *)s->frame + p, (kiss_fft_cpx *)(void *)to, QUARTERS);
}

/* Number k of the transform of quarter p, times `by`. */
static StftBin turned(const Stft *s, uint32_t p, uint32_t k, StftBin by)
{
    return times(at(s->quarters, (size_t)p * (s->size / 2 / QUARTERS) + k), by);
}

/* Joins the quarters' transforms, each times its turn, to the frame's transform. */
static void join_quarters(Stft *s, uint32_t from, uint32_t to)
{
    const uint32_t quarter = s->size / 2 / QUARTERS;
    for (uint32_t k = from; k < to; ++k) {
        const StftBin x = at(s->quarters, k), y = turned(s, 1, k, at(s->turns, 2 * (size_t)k));
        const StftBin v = turned(s, 2, k, at(s->turns, 4 * (size_t)k)), w = turned(s, 3, k, turn_by(s, 6 * k));
        const StftBin a = {x.re + v.re, x.im + v.im}, b = {x.re - v.re, x.im - v.im};
        const StftBin c = {y.re + w.re, y.im + w.im}, d = {y.im - w.im, w.re - y.re}; /* d: (y - w) times -i */
        store(s->frame, k, a.re + c.re, a.im + c.im);
        store(s->frame, quarter + k, b.re + d.re, b.im + d.im);
        store(s->frame, 2 * quarter + k, a.re - c.re, a.im - c.im);
        store(s->frame, 3 * quarter + k, b.re - d.re, b.im - d.im);
    }
}

/* From the transform of pairs of samples to that of the samples: Z of the even ones plus i Z of the odd ones. */
static void split_halves(Stft *s, StftBin *spectrum, uint32_t from, uint32_t to)
{
    const uint32_t half = s->size / 2;
    for (uint32_t k = from; k < to; ++k) {
        const StftBin z = at(s->frame, k % half), y = at(s->frame, (half - k) % half);
        const StftBin even = {0.5f * (z.re + y.re), 0.5f * (z.im - y.im)};
        const StftBin odd = times((StftBin){0.5f * (z.im + y.im), 0.5f * (y.re - z.re)}, at(s->turns, k));
        spectrum[k] = (StftBin){even.re + odd.re, even.im + odd.im};
    }
}

/* The way back, twice as large and conjugate: so the forward transform serves as the inverse one, and its result is
 * conjugate again. */
static void merge_halves(Stft *s, const StftBin *spectrum)
{
    const uint32_t half = s->size / 2;
    for (uint32_t k = 0; k < half; ++k) {
        const StftBin x = spectrum[k], y = spectrum[half - k], turn = at(s->turns, k);
        const StftBin even = {x.re + y.re, x.im - y.im};
        const StftBin odd = times((StftBin){x.re - y.re, x.im + y.im}, (StftBin){turn.re, -turn.im});
        store(s->frame, k, even.re - odd.im, -(even.im + odd.re));
    }
}

static void look_through_window(Stft *s, uint32_t channel)
{
    const float *heard = s->heard[channel] + s->hop;
    s->frame[0] = s->window[0] * heard[0];
    for (uint32_t i = 1; i < s->bins; ++i) {
        s->frame[i] = s->window[i] * heard[i];
        s->frame[s->size - i] = s->window[i] * heard[s->size - i];
    }
}

void stft_analyse(Stft *s, uint32_t channel, uint32_t step)
{
    const uint32_t quarter = s->size / 2 / QUARTERS, first = QUARTERS, middle = s->bins / 2;
    if (step == 0)
        look_through_window(s, channel);
    if (step < first)
        transform_quarter(s, step);
    else if (step < first + 2)
        join_quarters(s, (step - first) * (quarter / 2), (step - first + 1) * (quarter / 2));
    else
        split_halves(s, s->spectrum[channel], step == first + 2 ? 0 : middle, step == first + 2 ? middle : s->bins);
}

/* The frame is conjugate: the second sample of each pair has its sign turned back here. */
static void add_to_what_goes_out(Stft *s, uint32_t channel)
{
    float *put = s->put[channel] + s->hop;
    const uint32_t half = s->size / 2;
    const float even = 2.f / (float)(STFT_OVERLAP * s->size), scale[] = {even, -even};
    put[0] += even * s->window[0] * s->frame[0];
    put[half] += even * s->window[half] * s->frame[half];
    for (uint32_t i = 1; i < half; ++i) {
        const float by = scale[i % 2] * s->window[i];
        put[i] += by * s->frame[i];
        put[s->size - i] += by * s->frame[s->size - i];
    }
}

void stft_synthesise(Stft *s, uint32_t channel, uint32_t step)
{
    const uint32_t quarter = s->size / 2 / QUARTERS, first = 1 + QUARTERS;
    if (step == 0)
        merge_halves(s, s->spectrum[channel]);
    else if (step < first)
        transform_quarter(s, step - 1);
    else if (step < first + 2)
        join_quarters(s, (step - first) * (quarter / 2), (step - first + 1) * (quarter / 2));
    else
        add_to_what_goes_out(s, channel);
}
