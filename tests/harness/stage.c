#include "stage.h"

#include "dsp.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { STAGE_BLOCK = 512 /* frames a run: read-outs are looked at this often */ };

#define TAIL_SILENCE  1e-5f /* -100 dBFS */
#define TAIL_PATIENCE 0.5   /* seconds under it before it is believed: longer than a pre-delay */
#define TAIL_MOST     30.0  /* seconds, where the plug-in does not say how long it decays */

/* ---- Read-outs ---- */

void readings_free(Readings *r)
{
    free(r->port);
    *r = (Readings){0};
}

const Reading *readings_of(const Readings *r, const char *symbol, const Port **port)
{
    *port = r->plugin ? plugin_port(r->plugin, symbol) : NULL;
    return *port ? &r->port[(*port)->index] : NULL;
}

static bool readings_start(Readings *r, const Plugin *plugin, Error *e)
{
    r->plugin = plugin;
    r->port = calloc(plugin->ports + 1, sizeof *r->port);
    if (!r->port)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (uint32_t p = 0; p < plugin->ports; ++p)
        r->port[p] = (Reading){.lowest = INFINITY, .highest = -INFINITY};
    return true;
}

static void add_reading(Reading *to, const Reading *take)
{
    to->last = take->last;
    to->total += take->last;
    to->lowest = fminf(to->lowest, take->lowest);
    to->highest = fmaxf(to->highest, take->highest);
    to->rises += take->rises;
}

bool readings_add(Readings *to, const Readings *take, Error *e)
{
    if (!to->plugin && !readings_start(to, take->plugin, e))
        return false;
    for (uint32_t p = 0; p < to->plugin->ports; ++p) {
        const Port *port;
        const Reading *reading = readings_of(take, to->plugin->port[p].symbol, &port);
        if (reading)
            add_reading(&to->port[p], reading);
    }
    return true;
}

static void readings_take(Readings *r, const Instance *i)
{
    for (uint32_t p = 0; p < r->plugin->ports; ++p) {
        const float value = instance_value_at(i, p);
        r->port[p].rises += value > 0.f && !(r->port[p].last > 0.f);
        r->port[p].last = value;
        r->port[p].lowest = fminf(r->port[p].lowest, value);
        r->port[p].highest = fmaxf(r->port[p].highest, value);
    }
}

void effect_free(Effect *effect)
{
    readings_free(&effect->readings);
}

static Figures figures_of(const Level *l)
{
    return (Figures){.level = level_rms(l), .loudness = level_loudness(l), .peak = level_peak(l)};
}

/* ---- Instances ---- */

static bool apply_settings(const StagePlan *plan, Instance *i, Error *e)
{
    const Plugin *plugin = instance_plugin(i);
    if (plan->voice && plugin->presets && !instance_preset(i, plan->voice, e))
        return false;
    for (uint32_t s = 0; s < plan->sets; ++s) {
        const Setting *set = &plan->set[s];
        if (!strcmp(set->plugin, plan->name) && !instance_set_text(i, set->symbol, set->value, e))
            return false;
    }
    return true;
}

Instance *stage_instance(const StagePlan *plan, uint32_t channels, double rate, Error *e)
{
    const Plugin *plugin = host_plugin(plan->host, plan->name, channels);
    if (!plugin) {
        error_set(e, ERROR_PLUGIN, "no plug-in \"%s\" for %s", plan->name, channels == 1 ? "mono" : "stereo");
        return NULL;
    }
    Instance *i = instance_new(plan->host, plugin, rate, INSTANCE_PLAIN, e);
    if (i && !apply_settings(plan, i, e)) {
        instance_free(i);
        return NULL;
    }
    return i;
}

bool stage_learns(const Instance *i)
{
    return instance_value(i, "learn") > 0.5f;
}

/* ---- Passes ---- */

typedef struct {
    float memory[2][DSP_CHANNELS][STAGE_BLOCK];
    float *in[DSP_CHANNELS], *out[DSP_CHANNELS];
} Buffers;

static void buffers_init(Buffers *b)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c) {
        b->in[c] = b->memory[0][c];
        b->out[c] = b->memory[1][c];
    }
}

static const float *const *constant(float *const *channels)
{
    return (const float *const *)channels;
}

static bool listen(Instance *i, Spool *in, Readings *heard, const char *name, const char *take, Progress *p, Error *e)
{
    Buffers b = {0};
    buffers_init(&b);
    instance_activate(i);
    uint32_t got = STAGE_BLOCK;
    while (got == STAGE_BLOCK) {
        if (!spool_read(in, b.in, STAGE_BLOCK, &got, e) || !progress_add(p, got, "listening", name, take, e))
            return false;
        instance_run(i, constant(b.in), b.out, got);
        if (got)
            readings_take(heard, i);
    }
    return true;
}

/* What is learned reaches save() at the next grid point, and what is on its way inside a plug-in needs its latency: a
 * moment of silence lets all of it arrive. */
static void settle(Instance *i, uint64_t silence)
{
    Buffers b = {0};
    buffers_init(&b);
    for (uint64_t done = 0; done < instance_latency(i) + DSP_CELL + silence; done += STAGE_BLOCK)
        instance_run(i, constant(b.in), b.out, STAGE_BLOCK);
}

static bool listen_and_save(const StagePlan *plan, Instance *i, const char *take, Spool *in, char **state,
                            Readings *heard, Progress *p, Error *e)
{
    if ((*state && !instance_restore(i, *state, false, e)) || !spool_rewind(in, e) ||
        !listen(i, in, heard, plan->name, take, p, e))
        return false;
    settle(i, (uint64_t)(plan->silence * spool_rate(in)));
    if (plan->silence > 0.0)
        readings_take(heard, i);
    free(*state);
    *state = instance_save(i, e);
    return *state != NULL;
}

bool stage_listen(const StagePlan *plan, const char *take, Spool *in, char **state, Readings *heard, Progress *p,
                  Error *e)
{
    Instance *i = stage_instance(plan, spool_channels(in), spool_rate(in), e);
    if (!i)
        return false;
    bool ok = true;
    if (stage_learns(i)) {
        Readings now = {0};
        ok = readings_start(&now, instance_plugin(i), e) && listen_and_save(plan, i, take, in, state, &now, p, e) &&
             readings_add(heard, &now, e);
        readings_free(&now);
    }
    instance_free(i);
    return ok;
}

/* ---- The mix pass ---- */

typedef struct {
    Instance *i;
    Spool *in, *out;
    Level level_in, level_out;
    Readings *readings;
    uint64_t frames;    /* of the input */
    uint64_t wanted;    /* of the output; without a tail: just that many */
    uint64_t most;      /* with a tail: never more */
    uint64_t written;   /* of the output */
    uint64_t last_loud; /* one past the last frame of the output above TAIL_SILENCE */
    uint64_t patience;  /* frames of silence that end a tail */
    uint32_t skip;      /* frames of latency still to drop */
} Mix;

static void note_loud(Mix *m, float *const *out, uint32_t at, uint32_t n)
{
    for (uint32_t c = 0; c < spool_channels(m->out); ++c)
        for (uint32_t k = 0; k < n; ++k)
            if (fabsf(out[c][at + k]) > TAIL_SILENCE && m->written + k >= m->last_loud)
                m->last_loud = m->written + k + 1;
}

/* Takes one block of output: drops the latency, writes the rest. */
static bool keep_output(Mix *m, float *const *out, Error *e)
{
    const uint32_t dropped = m->skip < STAGE_BLOCK ? m->skip : STAGE_BLOCK;
    const uint64_t room = m->most - m->written;
    const uint32_t n = STAGE_BLOCK - dropped < room ? STAGE_BLOCK - dropped : (uint32_t)room;
    m->skip -= dropped;
    const float *from[DSP_CHANNELS];
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        from[c] = out[c] + dropped;
    note_loud(m, out, dropped, n);
    level_process(&m->level_out, from, n);
    m->written += n;
    return spool_write(m->out, from, n, e);
}

static bool mix_is_done(const Mix *m)
{
    return m->written >= m->most ||
           (m->written >= m->wanted && m->written - m->last_loud >= m->patience && m->most > m->wanted);
}

static bool mix_run(Mix *m, const char *name, const char *take, Progress *p, Error *e)
{
    Buffers b = {0};
    buffers_init(&b);
    instance_activate(m->i);
    m->skip = instance_latency(m->i);
    while (!mix_is_done(m)) {
        uint32_t got;
        if (!spool_read(m->in, b.in, STAGE_BLOCK, &got, e) || !progress_add(p, got, "mixing", name, take, e))
            return false;
        level_process(&m->level_in, constant(b.in), got);
        instance_run(m->i, constant(b.in), b.out, STAGE_BLOCK);
        if (got)
            readings_take(m->readings, m->i);
        if (!keep_output(m, b.out, e))
            return false;
    }
    spool_cut(m->out, m->last_loud > m->wanted ? m->last_loud : m->wanted);
    return spool_rewind(m->out, e);
}

/* Seconds a tail may last at most: 120 dB of decay, and what is before it. */
static double longest_tail(const Instance *i)
{
    const float decay = instance_value(i, "decay"), pre_delay = instance_value(i, "pre_delay");
    if (!(decay > 0.f))
        return TAIL_MOST;
    return 2.0 * (double)decay + (pre_delay > 0.f ? 1e-3 * (double)pre_delay : 0.0) + TAIL_PATIENCE;
}

static void mix_set_length(Mix *m, uint64_t frames)
{
    const double rate = spool_rate(m->in);
    m->frames = spool_frames(m->in);
    m->wanted = frames ? frames : m->frames;
    m->most = m->wanted;
    m->patience = (uint64_t)(TAIL_PATIENCE * rate);
    if (!frames && instance_plugin(m->i)->reverb)
        m->most += (uint64_t)(longest_tail(m->i) * rate);
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

bool stage_mix(const StagePlan *plan, const char *take, const char *state, Pin pin, uint64_t frames, Spool *in,
               const char *folder, Spool **out, Effect *effect, Progress *p, Error *e)
{
    Effect unseen = {0};
    Effect *seen = effect ? effect : &unseen;
    Mix m = {.in = in, .readings = &seen->readings};
    m.i = stage_instance(plan, spool_channels(in), spool_rate(in), e);
    if (!m.i)
        return false;
    m.out = spool_new(folder, spool_rate(in), instance_plugin(m.i)->outs, e);
    level_init(&m.level_in, spool_rate(in), spool_channels(in));
    level_init(&m.level_out, spool_rate(in), instance_plugin(m.i)->outs);
    mix_set_length(&m, frames);
    const bool ok = m.out && readings_start(m.readings, instance_plugin(m.i), e) &&
                    prepare_on_hold(m.i, state, pin, e) && spool_rewind(in, e) && mix_run(&m, plan->name, take, p, e);
    if (ok) {
        seen->in = figures_of(&m.level_in);
        seen->out = figures_of(&m.level_out);
        seen->tail = (double)(spool_frames(m.out) - m.frames) / spool_rate(in);
        *out = m.out;
    } else {
        spool_free(m.out);
    }
    level_done(&m.level_in);
    level_done(&m.level_out);
    instance_free(m.i);
    effect_free(&unseen);
    return ok;
}
