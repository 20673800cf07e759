#include "noise_floor.h"

#include "units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define HEAR_FADE    0.02   /* s, cross-fade of hear_removed */
#define LISTEN_EVERY 0.25   /* s between two readings of the noise that the memory takes in */
#define MOST_RISE    8.0    /* dB that the noise may be over what was learned, on hold */
#define BROAD_FROM   4000.0 /* Hz: from here on a voice hisses and no harmonic stands alone */
#define LEAST_MARGIN 4.5f   /* see lowest_of(); with 3 the kurtosis of what is left in rests is half as high again */
#define LATELY_TIME  0.5    /* s, time constant of the read-out `down` */
#define NOISE_FADE   0.15   /* s in which a noise that has become known is turned down */

enum { PIECES = 8 }; /* steps in which the bins of a spectrum are worked on, between its analysis and its synthesis */

/* ---- From nothing to ready ---- */

/* Restarts the tracking from what was learned, as if nothing else had ever been heard. */
static void start(NoiseFloor *f)
{
    noise_track_start(&f->track, &f->memory);
    for (uint32_t b = 0; b < NOISE_BANDS; ++b)
        f->most[b] = (float)db_to_power(noise_memory_level(&f->memory, b) + MOST_RISE);
    for (uint32_t c = 0; c < f->channels; ++c) {
        f->silent[c] = f->gap[c] = STFT_OVERLAP;
        f->sounds[c] = false;
    }
}

/* Noise that is known before the first sample is turned down at once; otherwise NOISE_FADE applies. */
static void hold_at_once(NoiseFloor *f)
{
    for (uint32_t b = 0; b < f->track.bands; ++b)
        f->part[b] = f->memory.level[b] != NOISE_NONE ? 1.f : 0.f;
}

static void restored(void *dsp)
{
    NoiseFloor *f = dsp;
    start(f);
    if (!f->begun)
        hold_at_once(f);
}

static void reset(void *dsp)
{
    NoiseFloor *f = dsp;
    f->learn = (LearnSwitch){0};
    stft_reset(&f->stft);
    memset(f->before, 0, f->stft.bins * sizeof *f->before);
    start(f);
    hold_at_once(f);
    f->begun = false;
    fade_restart(&f->hear);
    f->since_learned = 0;
    f->works = false;
    f->pace = (Work){0};
    f->removal = (Removal){0};
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    NoiseFloor *f = dsp;
    f->rate = rate;
    f->channels = channels;
    f->lowest = 1.f;
    f->counts = 1.f;
    if (!stft_init(&f->stft, rate, channels) || !noise_track_init(&f->track, rate, f->stft.size, f->stft.hop))
        return false;
    f->power = f->stft.frame;
    f->before = calloc(f->stft.bins, sizeof *f->before);
    if (!f->before)
        return false;
    noise_gain_init(&f->gain, rate / f->stft.hop);
    fade_init(&f->hear, rate, HEAR_FADE);
    reset(f);
    return true;
}

static void done(void *dsp)
{
    NoiseFloor *f = dsp;
    stft_done(&f->stft);
    noise_track_done(&f->track);
    free(f->before);
    f->before = NULL;
}

static void set(void *dsp, const void *wanted)
{
    NoiseFloor *f = dsp;
    f->params = *(const NoiseFloorParams *)wanted;
    f->lowest = (float)db_to_gain(-f->params.down_by);
    f->counts = (float)db_to_power(f->params.counts_up_to);
    f->first = (uint32_t)(f->params.works_from * f->stft.size / f->rate);
    fade_to(&f->hear, f->params.hear_removed);
    if (learn_switch(&f->learn, f->params.learn)) {
        f->memory = (NoiseMemory){0};
        ++f->version;
    }
}

/* ---- One frame's spectrum ---- */

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

/* Whether a band's noise may be turned down: on hold, only one that was learned. */
static bool is_known(const NoiseFloor *f, uint32_t band)
{
    return f->track.band[band].known && (f->params.learn || f->memory.level[band] != NOISE_NONE);
}

static float moved_part(NoiseFloor *f, uint32_t band)
{
    const float step = (float)(f->stft.hop / (NOISE_FADE * f->rate)), part = f->part[band];
    return f->part[band] = is_known(f, band) ? fminf(part + step, 1.f) : fmaxf(part - step, 0.f);
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

/* The number of steps of a frame's work: the channels' analyses, the pieces, the channels' syntheses. */
static uint32_t steps_of(const NoiseFloor *f)
{
    return PIECES + 2 * STFT_STEPS * f->channels;
}

static void do_step(NoiseFloor *f, uint32_t step)
{
    const uint32_t transforms = STFT_STEPS * f->channels, last = step - transforms - PIECES;
    if (step < transforms)
        stft_analyse(&f->stft, step / STFT_STEPS, step % STFT_STEPS);
    else if (step < transforms + PIECES)
        do_piece(f, step - transforms);
    else if (f->works)
        stft_synthesise(&f->stft, last / STFT_STEPS, last % STFT_STEPS);
}

/* ---- The grid ---- */

static void learn_now(NoiseFloor *f)
{
    if (!f->params.learn || !f->listens || ++f->since_learned * f->stft.hop < LISTEN_EVERY * f->rate)
        return;
    f->since_learned = 0;
    for (uint32_t b = 0; b < f->track.bands; ++b)
        if (f->track.band[b].known) {
            noise_memory_add(&f->memory, b, noise_track_level(&f->track, b));
            ++f->version;
        }
}

/* Which channels sound throughout the new frame, and which are silent throughout. If any is neither, the noise tracker
 * skips the frame. */
static void look_for_silence(NoiseFloor *f)
{
    uint32_t whole = 0, dead = 0;
    for (uint32_t c = 0; c < f->channels; ++c) {
        f->silent[c] = f->sounds[c] ? 0 : f->silent[c] < STFT_OVERLAP ? f->silent[c] + 1 : STFT_OVERLAP;
        f->gap[c] = !f->sounds[c] ? STFT_OVERLAP : f->gap[c] > 0 ? f->gap[c] - 1 : 0;
        f->sounds[c] = false;
        whole += f->gap[c] == 0;
        dead += f->silent[c] == STFT_OVERLAP;
    }
    f->listens = whole > 0 && whole + dead == f->channels;
    f->scale = dead < f->channels ? (float)f->channels / (float)(f->channels - dead) : 1.f;
}

/* Begins the work of a new frame. */
static void begin_frame(NoiseFloor *f)
{
    look_for_silence(f);
    f->works = false;
    f->step = 0;
    removal_forget(&f->removal, one_pole(LATELY_TIME, f->rate / f->stft.hop));
    learn_now(f);
}

static void tick(void *dsp)
{
    NoiseFloor *f = dsp;
    f->begun = true;
    if (stft_tick(&f->stft) == 0)
        begin_frame(f);
    for (work_grant(&f->pace, steps_of(f)); work_next(&f->pace); work_did(&f->pace, f->stft.cells))
        do_step(f, f->step++);
}

static bool sounds(const float *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t)
        if (fabsf(x[t]) >= DSP_DIGITAL_SILENCE)
            return true;
    return false;
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    NoiseFloor *f = dsp;
    float late[DSP_CHANNELS][DSP_CELL], removed[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < f->channels; ++c)
        f->sounds[c] = f->sounds[c] || sounds(in[c], n);
    stft_process(&f->stft, in, late, removed, n);
    for (uint32_t c = 0; c < f->channels; ++c)
        removal_hear(&f->removal, late[c], removed[c], n);
    removal_put_out(&f->hear, NULL, late, removed, out, f->channels, n);
}

/* ---- Read-outs ---- */

static double noise_now(const NoiseFloor *f)
{
    double sum = 0.0;
    for (uint32_t b = 0; b < f->track.bands; ++b)
        if (is_known(f, b))
            sum += (double)f->track.band[b].mean * (f->track.edge[b + 1] - f->track.edge[b]);
    return power_to_db(sum * f->track.density * f->rate / f->stft.size / f->channels);
}

static double longest_heard(const NoiseMemory *m)
{
    uint32_t most = 0;
    for (uint32_t b = 0; b < NOISE_BANDS; ++b)
        most = m->times[b] > most ? m->times[b] : most;
    return LISTEN_EVERY * most;
}

static void report(const void *dsp, void *to)
{
    const NoiseFloor *f = dsp;
    *(NoiseFloorReport *)to = (NoiseFloorReport){
        .noise = noise_now(f),
        .heard = longest_heard(&f->memory),
        .down = removal_down(&f->removal),
        .removed = removal_share(&f->removal),
    };
}

const Processor noise_floor = {
    .size = sizeof(NoiseFloor),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .latency = offsetof(NoiseFloor, stft.latency),
    .learned = {&noise_schema, offsetof(NoiseFloor, memory), offsetof(NoiseFloor, version), restored},
};
