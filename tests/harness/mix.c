#include "mix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TAIL_SILENCE  1e-5f /* -100 dBFS */
#define TAIL_PATIENCE 0.5   /* seconds under it before it is believed: longer than a pre-delay */
#define TAIL_MOST     30.0  /* seconds, where the plug-in does not say how long it decays */

void effect_free(Effect *effect)
{
    readings_free(&effect->readings);
}

static Figures figures_of(const Level *l)
{
    return (Figures){.level = level_rms(l), .loudness = level_loudness(l), .peak = level_peak(l)};
}

/* ---- A tail ---- */

/* Seconds a tail may last at most: 120 dB of decay, and what is before it. */
static double longest_tail(const Instance *i)
{
    const float decay = instance_value(i, "decay"), pre_delay = instance_value(i, "pre_delay");
    if (!(decay > 0.f))
        return TAIL_MOST;
    return 2.0 * (double)decay + (pre_delay > 0.f ? 1e-3 * (double)pre_delay : 0.0) + TAIL_PATIENCE;
}

uint64_t mix_most(const Mix *m, uint64_t frames)
{
    return frames + (instance_plugin(m->i)->reverb ? (uint64_t)(longest_tail(m->i) * m->rate) : 0);
}

static bool is_done(const Mix *m)
{
    return m->written >= m->most ||
           (m->written >= m->wanted && m->written - m->last_loud >= m->patience && m->most > m->wanted);
}

static void note_loud(Mix *m, const float *const *out, uint32_t n)
{
    uint32_t loud = 0;
    for (uint32_t c = 0; c < m->out.channels; ++c)
        for (uint32_t k = n; k > loud; --k)
            if (fabsf(out[c][k - 1]) > TAIL_SILENCE)
                loud = k;
    if (loud)
        m->last_loud = m->written + loud;
}

/* The tail may end in any frame past the take: it is passed on only up to the last that was loud. Room: is_done() ends
 * the tail at the latest one block after `patience` frames of silence. */
static bool hold(Mix *m, const float *const *out, uint32_t n, Error *e)
{
    for (uint32_t c = 0; n && c < m->out.channels; ++c)
        memcpy(m->held[c] + m->holds, out[c], n * sizeof(float));
    m->holds += n;
    const uint64_t start = m->written - m->holds, sure = m->last_loud > start ? m->last_loud - start : 0;
    for (uint64_t done = 0; done < sure; done += STAGE_BLOCK) {
        const float *from[DSP_CHANNELS];
        for (uint32_t c = 0; c < m->out.channels; ++c)
            from[c] = m->held[c] + done;
        if (!sinks_write(&m->to, from, sure - done < STAGE_BLOCK ? (uint32_t)(sure - done) : STAGE_BLOCK, e))
            return false;
    }
    m->holds -= sure;
    for (uint32_t c = 0; sure && c < m->out.channels; ++c)
        memmove(m->held[c], m->held[c] + sure, m->holds * sizeof(float));
    return true;
}

static bool make_room_to_hold(Mix *m, Error *e)
{
    for (uint32_t c = 0; m->most > m->wanted && c < m->out.channels; ++c) {
        m->held[c] = malloc((m->patience + STAGE_BLOCK) * sizeof(float));
        if (!m->held[c])
            return error_set(e, ERROR_INSIDE, "out of memory");
    }
    return true;
}

/* ---- Blocks ---- */

/* Takes one block of output: drops the latency, passes on the rest. */
static bool keep_output(Mix *m, Error *e)
{
    const uint32_t dropped = m->skip < STAGE_BLOCK ? m->skip : STAGE_BLOCK;
    const uint64_t room = m->most - m->written, sure = m->wanted > m->written ? m->wanted - m->written : 0;
    const uint32_t n = STAGE_BLOCK - dropped < room ? STAGE_BLOCK - dropped : (uint32_t)room;
    const uint32_t now = n < sure ? n : (uint32_t)sure;
    const float *from[DSP_CHANNELS], *rest[DSP_CHANNELS];
    for (uint32_t c = 0; c < m->out.channels; ++c) {
        from[c] = m->out.channel[c] + dropped;
        rest[c] = from[c] + now;
    }
    m->skip -= dropped;
    note_loud(m, from, n);
    if (m->effect)
        level_process(&m->level_out, from, n);
    m->written += n;
    return sinks_write(&m->to, from, now, e) && (now == n || hold(m, rest, n - now, e));
}

/* got: frames of the block that are the take's. */
static void take_hum(Mix *m, uint32_t got)
{
    const HumWholeAsked asked = {.hum_down = (double)instance_value(m->i, "hum_down"),
                                 .up_to = (double)instance_value(m->i, "up_to"),
                                 .hear_removed = instance_value(m->i, "hear_removed") > 0.f};
    hum_whole_play(m->hum, &asked, m->played, block_audio(&m->in), m->out.channel, STAGE_BLOCK);
    const float *const out[DSP_CHANNELS] = {m->out.channel[0], m->out.channel[1]};
    hum_whole_count(&m->taken, asked.hear_removed, m->in.channels, block_audio(&m->in), out, got);
}

/* Runs what is in the block, silence behind it. */
static bool run_block(Mix *m, Error *e)
{
    const uint32_t got = m->in.filled;
    if (m->effect && !m->before)
        level_process(&m->level_in, block_audio(&m->in), got);
    block_pad(&m->in);
    if (m->ride)
        ride_play(m->ride, m->played, m->rate, block_audio(&m->in), m->out.channel, m->in.channels, STAGE_BLOCK);
    else
        instance_run(m->i, block_audio(&m->in), m->out.channel, STAGE_BLOCK);
    if (m->hum)
        take_hum(m, got);
    m->played += STAGE_BLOCK;
    if (m->effect && got)
        readings_take(&m->effect->readings, m->i);
    trace_take(m->trace, m->i, got);
    m->in.filled = 0;
    return keep_output(m, e);
}

static bool start_readings(const Mix *m, Error *e)
{
    Readings *r = m->effect ? &m->effect->readings : NULL;
    if (!r || r->plugin)
        return true;
    if (!readings_start(r, instance_plugin(m->i), e))
        return false;
    stage_note_origins(m->plan, m->i, r);
    return true;
}

static bool mix_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Mix *m = (Mix *)s;
    if (!start_readings(m, e))
        return false;
    for (uint32_t done = 0; done < n;) {
        done += block_fill(&m->in, in, done, n - done);
        if (m->in.filled == STAGE_BLOCK && !run_block(m, e))
            return false;
    }
    m->frames += n;
    return true;
}

/* ---- Its beginning and its end ---- */

static void note_effect(Mix *m)
{
    m->effect->in = m->before ? m->before->out : figures_of(&m->level_in);
    m->effect->out = figures_of(&m->level_out);
    m->effect->channels = mix_channels(m);
    m->effect->frames = m->written - m->holds;
    m->effect->tail = (double)(m->effect->frames - m->frames) / m->rate;
    if (m->hum && m->hum->track.settled)
        readings_correct(&m->effect->readings, "taken_in_all", (float)hum_whole_taken(&m->taken));
}

static bool mix_end(Sink *s, Error *e)
{
    Mix *m = (Mix *)s;
    m->wanted = m->like ? m->like->frames : m->frames;
    m->most = m->like ? m->wanted : mix_most(m, m->wanted);
    if (!make_room_to_hold(m, e) || (m->in.filled && !run_block(m, e)))
        return false;
    while (!is_done(m))
        if (!run_block(m, e))
            return false;
    if (m->effect)
        note_effect(m);
    return sinks_end(&m->to, e);
}

static bool prepare_on_hold(Instance *i, const char *state, Pin pin, Error *e)
{
    if (state && !instance_restore(i, state, false, e))
        return false;
    instance_set(i, "learn", 0.f);
    if (pin.symbol)
        instance_set(i, pin.symbol, pin.value);
    return true;
}

bool mix_start(Mix *m, const StagePlan *plan, uint32_t channels, double rate, const char *state, Pin pin, Error *e)
{
    *m = (Mix){.sink = {mix_write, mix_end}, .plan = plan, .rate = rate, .wanted = UINT64_MAX, .most = UINT64_MAX};
    m->patience = (uint64_t)(TAIL_PATIENCE * rate);
    m->i = stage_instance(plan, channels, rate, e);
    if (!m->i || !prepare_on_hold(m->i, state, pin, e))
        return false;
    block_init(&m->in, channels);
    block_init(&m->out, instance_plugin(m->i)->outs);
    level_init(&m->level_in, rate, channels);
    level_init(&m->level_out, rate, mix_channels(m));
    instance_activate(m->i);
    m->skip = instance_latency(m->i);
    return true;
}

void mix_free(Mix *m)
{
    level_done(&m->level_in);
    level_done(&m->level_out);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c) {
        free(m->held[c]);
        m->held[c] = NULL;
    }
    instance_free(m->i);
    m->i = NULL;
}

uint32_t mix_channels(const Mix *m)
{
    return instance_plugin(m->i)->outs;
}
