#include "ticks.h"

#include "damage.h"
#include "ticks_going.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Chosen, not searched. */
#define SLOW_RATE   48000.0 /* Hz: higher rates are thinned out */
#define SLOW_CORNER 0.45    /* of the slower rate */
#define PIECE_MS    0.5     /* ms, of a piece (tick_finder.h) */
#define HEAR_FADE   0.03    /* s, of the cross-fade to hearing what is taken out */
#define HOUR        3600.0  /* s: last_ago counts no further */

enum {
    GAP = 4,                              /* pieces: longest gap of missing samples; a longer one is digital silence */
    WORK = 2 * TICK_PIECES,               /* pieces over which the work on a tick is spread */
    LATE = TICK_LATE + WORK + TICK_EARLY, /* pieces of latency */
};

/* ---- What is learned ---- */

static const LearnedSchema ticks_schema = EVENT_SCHEMA("ticks_voice", "ticks_ticks");

static bool is_known(const Ticks *t)
{
    return t->level > UNITS_DB_FLOOR;
}

static void conclude(void *dsp)
{
    Ticks *t = dsp;
    t->level = event_memory_level(&t->memory);
    t->report.voice_level = t->level;
    t->report.found = is_known(t) ? event_memory_from(&t->memory, t->level + t->params.faintest) : 0.0;
}

static void reset_listening(Ticks *t)
{
    listening_reset(&t->listening);
    t->voice = (VoiceLevel){0};
}

static void start_afresh(Ticks *t)
{
    reset_listening(t);
    learned_clear(&ticks_schema, &t->memory);
    t->report.removed = 0.0;
    ++t->version;
    conclude(t);
}

static void listen(Ticks *t)
{
    const ListeningFrame *const frame = listening_frame(&t->listening);
    if (!frame)
        return;
    const VoiceLevelFound found = voice_level_hear(&t->voice, frame, t->listening.grid.samples);
    if (!found.block)
        return;
    level_memory_add(&t->memory.voice, found.db);
    ++t->version;
    conclude(t);
}

static void learn_tick(Ticks *t, double db)
{
    event_memory_add(&t->memory, db);
    ++t->version;
    conclude(t);
}

/* ---- Life ---- */

static void reset(void *dsp)
{
    Ticks *t = dsp;
    t->learn = (LearnSwitch){0};
    reset_listening(t);
    living_reset(&t->living);
    tick_finder_reset(&t->finder);
    memset(t->past, 0, (size_t)t->channels * TICK_PAST * sizeof *t->past);
    memset(t->gap, 0, sizeof t->gap);
    t->due = t->gone = 0;
    for (uint32_t i = 0; i < TICKS_GOING; ++i)
        t->going[i].n = 0;
    t->heard = t->since = 0;
    fade_restart(&t->hear);
    for (uint32_t c = 0; c < t->channels; ++c) {
        delay_reset(&t->delay[c]);
        if (t->factor > 1)
            thin_reset(&t->thin[c]);
    }
    t->report = (TicksReport){.last_size = UNITS_DB_FLOOR, .last_ago = -1.0};
    conclude(t);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Ticks *t = dsp;
    t->rate = rate;
    t->channels = channels;
    t->factor = (uint32_t)ceil(rate / SLOW_RATE);
    t->params = (TicksParams){.learn = true, .down = 60.0, .from = 14.0, .faintest = -40.0, .longest = 5.0};
    const double slow = rate / t->factor;
    tick_finder_init(&t->finder, slow);
    living_init(&t->living, slow, channels);
    t->latency = t->factor * (LATE * t->finder.piece + (t->factor > 1 ? THIN_TAPS : 0));
    fade_init(&t->hear, rate, HEAR_FADE);
    t->past = calloc((size_t)channels * TICK_PAST, sizeof *t->past);
    if (!t->past || !listening_init(&t->listening, rate, channels, listening_hops(rate), LISTENING_POWER))
        return false;
    for (uint32_t c = 0; c < channels; ++c)
        if (!delay_init(&t->delay[c], t->latency) ||
            (t->factor > 1 && !thin_init(&t->thin[c], t->factor, SLOW_CORNER * slow, rate)))
            return false;
    learned_clear(&ticks_schema, &t->memory);
    reset(t);
    return true;
}

static void done(void *dsp)
{
    Ticks *t = dsp;
    free(t->past);
    t->past = NULL;
    listening_done(&t->listening);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c) {
        delay_done(&t->delay[c]);
        thin_done(&t->thin[c]);
    }
}

static void set(void *dsp, const void *wanted)
{
    Ticks *t = dsp;
    const TicksParams *params = wanted;
    const bool other = params->faintest != t->params.faintest;
    t->params = *params;
    if (learn_switch(&t->learn, params->learn))
        start_afresh(t);
    if (other)
        conclude(t);
    fade_to(&t->hear, params->hear_removed);
}

/* ---- A tick ---- */

static void begin(Ticks *t)
{
    float x[DSP_CHANNELS][TICK_REPAIR_MOST + 2 * TICK_BESIDE];
    for (uint32_t c = 0; c < t->channels; ++c)
        for (uint32_t i = 0; i < t->tick.n + 2 * TICK_BESIDE; ++i)
            x[c][i] = t->past[(size_t)c * TICK_PAST + (t->tick.from - TICK_BESIDE + i) % TICK_PAST];
    tick_repair_begin(&t->repair, &t->tick, (const float *const[]){x[0], x[1]}, t->channels);
    t->due = WORK;
}

static double size_of(const Ticks *t)
{
    double peak = 0.0;
    for (uint32_t c = 0; c < t->channels; ++c)
        for (uint32_t i = 0; i < t->repair.n; ++i)
            peak = fmax(peak, fabs(t->repair.tick[c][i]));
    return gain_to_db(peak);
}

/* The tick is worked out: counts it, and takes it out if it is not too faint. */
static void end(Ticks *t)
{
    const double size = size_of(t);
    if (!(size > UNITS_DB_FLOOR))
        return;
    if (t->params.learn)
        learn_tick(t, size);
    if (!(t->params.down > 0.0) || (is_known(t) && size < t->level + t->params.faintest))
        return;
    ticks_send(t);
    t->report.removed = fmin(t->report.removed + 1.0, TALLY_MOST);
    t->report.last_size = size;
    t->since = 0;
}

static void piece_ended(Ticks *t)
{
    if (t->due) {
        --t->due;
        tick_repair_step(&t->repair, t->repair.steps * (WORK - t->due) / WORK);
        if (!t->due)
            end(t);
    }
    const uint32_t longest = (uint32_t)(t->params.longest / PIECE_MS);
    if (tick_finder_step(&t->finder, t->params.from, longest, &t->tick))
        begin(t);
}

/* ---- Sound ---- */

/* Brings each channel to the slower rate; returns how many samples came out. */
static uint32_t slow_down(Ticks *t, const float *const *in, float slow[][DSP_CELL], uint32_t n)
{
    uint32_t kept = n;
    for (uint32_t c = 0; c < t->channels; ++c)
        if (t->factor > 1)
            kept = thin_run(&t->thin[c], in[c], n, slow[c]);
        else
            dsp_copy(slow[c], in[c], n);
    return kept;
}

static void look_for_damage(Ticks *t, const float *const *in, uint32_t n)
{
    const uint32_t piece = t->factor * t->finder.piece;
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t c = 0; c < t->channels; ++c) {
            const double energy = clicks_missing(&t->gap[c], in[c][i], GAP * piece);
            if (energy > 0.0)
                tick_finder_miss(&t->finder, (t->heard + i) / piece, energy);
        }
}

static void look(Ticks *t, float slow[][DSP_CELL], uint32_t n)
{
    const float *alive[DSP_CHANNELS];
    float half[DSP_CELL];
    living_process(&t->living, (const float *const[]){slow[0], slow[1]}, alive, n);
    for (uint32_t i = 0; i < n; ++i) {
        half[i] = t->channels > 1 ? 0.5f * (alive[0][i] + alive[1][i]) : alive[0][i];
        for (uint32_t c = 0; c < t->channels; ++c)
            t->past[(size_t)c * TICK_PAST + (t->finder.heard + i) % TICK_PAST] = slow[c][i];
    }
    for (uint32_t i = 0, some; i < n; i += some) {
        const uint32_t left = t->finder.piece - (uint32_t)(t->finder.heard % t->finder.piece);
        some = n - i < left ? n - i : left;
        tick_finder_hear(&t->finder, half + i, some);
        if (some == left)
            piece_ended(t);
    }
}

/* `late`: the input, delayed; gone: what is taken out of it. */
static void put_out(Ticks *t, float late[][DSP_CELL], float gone[][DSP_CELL], float *const *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const float heard = (float)fade_step(&t->hear);
        for (uint32_t c = 0; c < t->channels; ++c) {
            const float x = late[c][i], y = x - gone[c][i];
            out[c][i] = (1.f - heard) * y + heard * (x - y);
        }
    }
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Ticks *t = dsp;
    const int64_t from = (int64_t)t->heard - t->latency;
    float slow[DSP_CHANNELS][DSP_CELL], late[DSP_CHANNELS][DSP_CELL] = {{0.f}}, gone[DSP_CHANNELS][DSP_CELL];
    if (t->params.learn)
        listening_process(&t->listening, in, n);
    look_for_damage(t, in, n);
    look(t, slow, slow_down(t, in, slow, n));
    const bool any = ticks_gather(t, from, gone, n), plain = fade_rests_at(&t->hear, false);
    delays_process(t->delay, t->channels, t->latency, in, (float *const[]){late[0], late[1]}, n);
    for (uint32_t c = 0; c < t->channels; ++c)
        if (t->delay[c].raw)
            damage_remove(late[c], late[c], n);
    if (any || !plain)
        put_out(t, late, gone, out, n);
    else
        for (uint32_t c = 0; c < t->channels; ++c)
            dsp_copy(out[c], late[c], n);
    t->heard += n;
    t->since += n;
}

static void tick(void *dsp)
{
    Ticks *t = dsp;
    if (t->params.learn)
        listen(t);
    t->report.now = ticks_are_going(t, (int64_t)t->heard - t->latency, DSP_CELL);
    t->report.last_ago = t->report.last_size > UNITS_DB_FLOOR ? fmin((double)t->since / t->rate, HOUR) : -1.0;
}

const Processor ticks = {
    .size = sizeof(Ticks),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(Ticks),
    .latency = offsetof(Ticks, latency),
    .line = offsetof(Ticks, delay),
    .learned = {&ticks_schema, offsetof(Ticks, memory), offsetof(Ticks, version), conclude},
};
