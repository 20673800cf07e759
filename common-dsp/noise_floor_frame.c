#include "noise_floor_frame.h"

#include <math.h>

/* Set with noise_track.c's, but for the fade, which is chosen. */
#define BROAD_FROM   4000.0 /* Hz: from here on a voice hisses and no harmonic stands alone */
#define LEAST_MARGIN 4.5f   /* see lowest_of(); with 3 the kurtosis of what is left in rests is half as high again */
#define NOISE_FADE   0.15   /* s in which a noise that has become known is turned down */

enum { PIECES = 8 }; /* steps in which the bins of a spectrum are worked on, between its analysis and its synthesis */

static void listen(NoiseFloor *f, uint32_t band)
{
    if (f->listens)
        noise_track_hear(&f->track, band, f->power + f->track.edge[band], f->params.learn ? INFINITY : f->most[band]);
}

/* Turns each bin into the part of it that is to be removed. The gains lie where the powers were. */
static void keep_removed(NoiseFloor *f, uint32_t from, uint32_t to)
{
    for (uint32_t k = from; k < to; ++k)
        f->power[k] = 1.f - f->power[k];
    stft_scale(&f->stft, f->power, from, to);
}

static float moved_part(NoiseFloor *f, uint32_t band)
{
    const float step = (float)(f->stft.hop / (NOISE_FADE * f->rate)), part = f->part[band];
    return f->part[band] = floor_knows(f, band) ? fminf(part + step, 1.f) : fmaxf(part - step, 0.f);
}

/* The lowest gain of a band, from the power of the band as a whole. The estimator takes each bin by itself, so a hiss
 * in which every bin hardly rises over the noise, such as a soft s, would lose energy: 1.4 dB where it is 7 dB over the
 * noise; so would the thud under a word. So in bands from BROAD_FROM up, and in the lowest band, where there are no
 * harmonics either, a band keeps the power by which it exceeds its noise: spectral subtraction, band by band (S. Boll,
 * IEEE TASSP 27 (1979), from memory). Noise alone hardly ever rises by LEAST_MARGIN / sqrt(bins); twice that is sure.
 */
static float lowest_of(const NoiseFloor *f, uint32_t band)
{
    const uint32_t from = f->track.edge[band], n = f->track.edge[band + 1] - from;
    if (band > 0 && from * f->rate < BROAD_FROM * f->stft.size)
        return f->lowest;
    float sum = 0.f;
    for (uint32_t k = from; k < from + n; ++k)
        sum += f->power[k];
    const float over = sum / ((float)n * f->counts * f->track.band[band].mean) - 1.f,
                margin = LEAST_MARGIN / sqrtf((float)n);
    if (over <= margin)
        return f->lowest;
    const float sure = fminf((over - margin) / margin, 1.f);
    return fmaxf(f->lowest, sqrtf(sure * over / (1.f + over)));
}

/* Turns one band down. Its gains overwrite its powers, which are not needed any more. */
static void turn_down(NoiseFloor *f, uint32_t band)
{
    const uint32_t first = f->track.edge[band], to = f->track.edge[band + 1];
    const uint32_t from = f->first < first ? first : f->first < to ? f->first : to;
    const float part = moved_part(f, band), lowest = 1.f - part * (1.f - lowest_of(f, band));
    if (f->lowest >= 1.f || part <= 0.f || from == to) {
        stft_silence(&f->stft, first, to);
        return;
    }
    stft_silence(&f->stft, first, from);
    noise_gain_bins(&f->gain, f->power + from, f->track.noise + from, f->counts, lowest, f->before + from,
                    f->power + from, to - from);
    keep_removed(f, from, to);
    f->works = true;
}

static void do_piece(NoiseFloor *f, uint32_t piece)
{
    for (uint32_t b = 0; b < f->track.bands; ++b) {
        if (f->track.edge[b] * PIECES / f->stft.bins != piece)
            continue;
        stft_power(&f->stft, f->scale, f->track.edge[b], f->track.edge[b + 1], f->power);
        listen(f, b);
        turn_down(f, b);
    }
}

uint32_t floor_frame_steps(const NoiseFloor *f)
{
    return PIECES + 2 * STFT_STEPS * f->channels;
}

void floor_frame_step(NoiseFloor *f, uint32_t step)
{
    const uint32_t transforms = STFT_STEPS * f->channels, last = step - transforms - PIECES;
    if (step < transforms)
        stft_analyse(&f->stft, step / STFT_STEPS, step % STFT_STEPS);
    else if (step < transforms + PIECES)
        do_piece(f, step - transforms);
    else if (f->works)
        stft_synthesise(&f->stft, last / STFT_STEPS, last % STFT_STEPS);
}
