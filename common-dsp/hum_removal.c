#include "hum_removal.h"

#include "units.h"

#include <math.h>
#include <string.h>

/* Chosen, not searched; VOICE_HOP is BS.1770's. */
#define DEPTH_TAU 0.02    /* s, each pole: how the depth follows its control */
#define NO_DRIFT  (-30.0) /* cents */
#define VOICE_HOP 0.1     /* s, from one block of voice to the next */
#define HEAR_FADE 0.03    /* s, of the cross-fade to what is taken out */

#define NOTED_EVERY 25 /* blocks of a rest: half a second */

/* ---- What is found ---- */

static double asked_for(const HumRemoval *h)
{
    return h->params.listening ? 0.0 : h->params.mains;
}

/* Follows the family that is found, or that may be found soon, so that it is known by then. A hum that is put out is
 * faded before another is followed. */
static void find(HumRemoval *h)
{
    h->found = hum_memory_found(&h->memory, asked_for(h), &h->rest_level);
    h->voice_heard = VOICE_HOP * tally_total(&h->memory.voice, &level_memory_scale);
    h->followed = h->found.hz > 0.0 ? h->found : hum_memory_suspected(&h->memory, asked_for(h));
    const bool other = h->followed.hz != (h->follower.on ? follower_mains(&h->follower) : 0.0);
    h->renew = h->renew || other;
    if (!h->renew && h->follower.on)
        follower_expect(&h->follower, h->followed.level);
}

static void begin_following(HumRemoval *h)
{
    FollowerShape shape;
    h->renew = false;
    follower_stop(&h->follower);
    if (!(h->followed.hz > 0.0))
        return;
    const bool known = hum_memory_shape(&h->memory, h->followed.hz, &shape);
    follower_start(&h->follower, h->followed.hz > 55.0, h->followed.level, h->rest_level, known ? &shape : NULL);
}

/* How the hum is made up, at the end of each rest in which it was sure, and in a long one from time to time: the take
 * may end there. */
static void note_shape(HumRemoval *h)
{
    const HumFollower *f = &h->follower;
    const bool ends = h->was_quiet && !f->quiet, lasts = f->quiet && f->cell == 0 && f->rested % NOTED_EVERY == 0;
    FollowerShape shape;
    h->was_quiet = f->quiet;
    if (!(ends || lasts) || !h->params.learn || !f->sure || h->renew || !(h->found.hz > 0.0))
        return;
    follower_shape(&h->follower, &shape);
    hum_memory_note(&h->memory, &shape, follower_mains(&h->follower), h->found.level);
    ++h->version;
}

/* ---- Life ---- */

static void reset_listening(HumRemoval *h)
{
    hearing_reset(&h->hearing);
    h->rests = (Rests){0};
}

static void reset(void *dsp)
{
    HumRemoval *h = dsp;
    h->learn = (LearnSwitch){0};
    reset_listening(h);
    follower_reset(&h->follower);
    h->was_quiet = false;
    smooth_restart(&h->depth);
    fade_restart(&h->hear);
    h->into = 0;
    find(h);
    begin_following(h);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    HumRemoval *h = dsp;
    h->rate = rate;
    h->channels = channels;
    h->params = (HumRemovalParams){.learn = true, .hum_down = 60.0, .up_to = 1000.0, .listening = true, .mains = 50.0};
    if (!hearing_init(&h->hearing, rate, channels) || !hearing_hear_hum(&h->hearing))
        return false;
    follower_init(&h->follower, rate, channels);
    smooth_init(&h->depth, rate / DSP_CELL, DEPTH_TAU);
    fade_init(&h->hear, rate, HEAR_FADE);
    learned_clear(&hum_schema, &h->memory);
    reset(h);
    return true;
}

static void done(void *dsp)
{
    HumRemoval *h = dsp;
    hearing_done(&h->hearing);
}

static void start_afresh(HumRemoval *h)
{
    reset_listening(h);
    learned_clear(&hum_schema, &h->memory);
    h->follower.in_energy = h->follower.out_energy = 0.0;
    ++h->version;
    find(h);
}

static void restored(void *dsp)
{
    HumRemoval *h = dsp;
    find(h);
    h->renew = true;
}

static void set(void *dsp, const void *wanted)
{
    HumRemoval *h = dsp;
    const HumRemovalParams *params = wanted;
    const double asked = asked_for(h);
    h->params = *params;
    if (learn_switch(&h->learn, params->learn))
        start_afresh(h);
    if (asked_for(h) != asked)
        find(h);
    smooth_to(&h->depth, params->hum_down > 0.0 ? 1.0 - db_to_gain(-params->hum_down) : 0.0);
    fade_to(&h->hear, params->hear_removed);
}

/* ---- Grid points ---- */

static void listen(HumRemoval *h)
{
    double db[HUM_FAMILIES];
    const HearingFrame *frame = hearing_frame(&h->hearing);
    if (frame) {
        const RestFound rest = rests_hear(&h->rests, frame);
        const uint32_t before = h->memory.row[1];
        const bool look = hum_memory_hear(&h->memory, frame, &rest);
        if (look && !h->hearing.hum.busy)
            hum_look(&h->hearing.hum, frame->end);
        h->voice_heard += frame->voice.block ? VOICE_HOP : 0.0;
        h->version += frame->voice.block || rest.block || rest.window || before != h->memory.row[1];
    }
    if (!hum_found(&h->hearing.hum, db))
        return;
    hum_memory_window(&h->memory, db);
    ++h->version;
    find(h);
}

static void tick(void *dsp)
{
    HumRemoval *h = dsp;
    h->news += h->params.learn || h->follower.on;
    if (h->params.learn)
        listen(h);
    if (h->renew && !h->follower.puts_out)
        begin_following(h);
    if (h->follower.on) {
        const bool goes = h->found.hz > 0.0 && !h->renew;
        follower_put_out(&h->follower, h->depth.value, goes ? h->params.up_to : 0.0);
        follower_tick(&h->follower);
        note_shape(h);
    }
    h->from = h->depth.value;
    smooth_step(&h->depth);
    h->into = 0;
}

/* `hum_now`: the hum in it; what is put out takes its place first, as an output may be any input. */
static void put_out(HumRemoval *h, const float *const *in, float hum_now[][DSP_CELL], float *const *out, uint32_t n)
{
    const bool plain = fade_rests_at(&h->hear, false);
    const double step = (h->depth.value - h->from) / DSP_CELL;
    for (uint32_t t = 0; t < n; ++t) {
        const float depth = (float)(h->from + step * (h->into + t));
        const float taken = plain ? 0.f : (float)fade_step(&h->hear);
        for (uint32_t c = 0; c < h->channels; ++c) {
            const float gone = depth * hum_now[c][t], left = in[c][t] - gone;
            hum_now[c][t] = plain ? left : (1.f - taken) * left + taken * gone;
        }
    }
    for (uint32_t c = 0; c < h->channels; ++c)
        memcpy(out[c], hum_now[c], n * sizeof(float));
}

static void pass(HumRemoval *h, const float *const *in, float *const *out, uint32_t n)
{
    float copy[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < h->channels; ++c)
        memcpy(copy[c], in[c], n * sizeof(float));
    for (uint32_t c = 0; c < h->channels; ++c)
        memcpy(out[c], copy[c], n * sizeof(float));
}

/* n samples of one cell. Either output may be either input. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    HumRemoval *h = dsp;
    float hum_now[DSP_CHANNELS][DSP_CELL] = {{0.f}};
    if (h->params.learn)
        hearing_process(&h->hearing, in, n);
    if (h->follower.on)
        follower_process(&h->follower, in, hum_now, n);
    const bool nothing = !h->follower.puts_out && fade_rests_at(&h->hear, false);
    if (nothing)
        pass(h, in, out, n);
    else
        put_out(h, in, hum_now, out, n);
    h->into += n;
}

static void report(const void *dsp, void *to)
{
    const HumRemoval *h = dsp;
    HumRemovalReport *report = to;
    const HumFollower *f = &h->follower;
    const double level = follower_level(f);
    *report = (HumRemovalReport){
        .found_hz = h->found.hz,
        .found_level = h->found.level,
        .voice_heard = h->voice_heard,
        .drift = f->on && f->sure && h->found.hz > 0.0 ? 1200.0 * log2(follower_hz(f) / follower_mains(f)) : NO_DRIFT,
        .now_level = level > UNITS_DB_FLOOR ? fmax(level + gain_to_db(h->depth.value), UNITS_DB_FLOOR) : level,
        .in_all = f->in_energy > 0.0 ? power_to_db(f->out_energy / f->in_energy) : UNITS_DB_FLOOR,
    };
}

const Processor hum = {
    .size = sizeof(HumRemoval),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .news = offsetof(HumRemoval, news),
    .learned = {&hum_schema, offsetof(HumRemoval, memory), offsetof(HumRemoval, version), restored},
};
