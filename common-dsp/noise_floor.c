#include "noise_floor.h"

#include "noise_floor_frame.h"
#include "units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

/* Chosen, not searched. */
#define HEAR_FADE    0.02 /* s, cross-fade of hear_removed */
#define LISTEN_EVERY 0.25 /* s between two readings of the noise that the memory takes in */
#define MOST_RISE    8.0  /* dB that the noise may be over what was learned, on hold */
#define LATELY_TIME  0.5  /* s, time constant of the read-out `down` */

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
    for (work_grant(&f->pace, floor_frame_steps(f)); work_next(&f->pace); work_did(&f->pace, f->stft.cells))
        floor_frame_step(f, f->step++);
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
        if (floor_knows(f, b))
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
    .line = offsetof(NoiseFloor, stft.line),
    .learned = {&noise_schema, offsetof(NoiseFloor, memory), offsetof(NoiseFloor, version), restored},
};
