#include "shell.h"

#include "delay.h"
#include "fade.h"
#include "grid.h"
#include "handover.h"
#include "state.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BYPASS_FADE 0.02 /* seconds */

typedef struct {
    const ShellVariant *variant;
    void *dsp;
    uint32_t latency;
    int enabled_port, latency_port; /* -1: none */

    float *port[SHELL_PORTS];
    const float *audio_in[DSP_CHANNELS];
    float *audio_out[DSP_CHANNELS];

    Grid grid;
    bool begun;                 /* the controls were handed on since activate */
    bool unread;                /* the run under way has not come to a grid point yet */
    float control[SHELL_PORTS]; /* controls as read at the last grid point; read-outs as of it */
    Fade enabled, dry_gain;
    Delay dry[DSP_CHANNELS];

    StateKeys keys;
    Handover handover;
    uint32_t published; /* version of what is learned that the host's side knows of */
} Shell;

static int find_port(const char *symbol)
{
    for (uint32_t p = 0; p < shell_plugin.ports; ++p)
        if (!strcmp(shell_plugin.port[p].symbol, symbol))
            return (int)p;
    return -1;
}

/* ---- Controls ---- */

static float read_control(const Shell *s, uint32_t p)
{
    const ShellPort *port = &shell_plugin.port[p];
    const float value = s->port[p] ? *s->port[p] : port->normal;
    if (isnan(value))
        return port->normal;
    const float held = fminf(fmaxf(value, port->lowest), port->highest);
    return port->whole ? roundf(held) : held;
}

/* Whether one has moved. A host sets them between two runs: the first grid point of a run reads them. */
static bool read_controls(Shell *s)
{
    bool moved = false;
    for (uint32_t p = 0; p < shell_plugin.ports && s->unread; ++p) {
        if (shell_plugin.port[p].kind != SHELL_CONTROL)
            continue;
        const float value = read_control(s, p);
        moved = moved || value != s->control[p];
        s->control[p] = value;
    }
    s->unread = false;
    return moved;
}

static void hand_on_controls(Shell *s)
{
    shell_plugin.set(s->dsp, s->control);
    fade_to(&s->enabled, s->enabled_port < 0 || s->control[s->enabled_port] > 0.f);
    fade_to(&s->dry_gain, !(shell_plugin.bypass_is_silent && shell_plugin.bypass_is_silent(s->control)));
    s->begun = true;
}

/* A person reads no more of it, and a host shows all digits that there are. A host draws a read-out by its port's
 * range; a true peak between samples near the limit lies past it. */
static float shown(const ShellPort *port, float exact)
{
    const float value = (float)(rint((double)exact / port->step) * port->step);
    return value < port->lowest ? port->lowest : value > port->highest ? port->highest : value;
}

static void write_meters(const Shell *s)
{
    for (uint32_t p = 0; p < shell_plugin.ports; ++p)
        if (shell_plugin.port[p].kind == SHELL_METER && s->port[p])
            *s->port[p] = shown(&shell_plugin.port[p], s->control[p]);
}

static void write_latency(const Shell *s)
{
    if (s->latency_port >= 0 && s->port[s->latency_port])
        *s->port[s->latency_port] = (float)s->latency;
}

/* ---- The grid ---- */

static void publish(Shell *s, const Processor *processor)
{
    const uint32_t version = processor_version(processor, s->dsp);
    if (version == s->published)
        return;
    processor_get(processor, s->dsp, handover_draft(&s->handover));
    handover_publish(&s->handover);
    s->published = version;
}

static void exchange_learned(Shell *s, const Processor *processor)
{
    const Learned *restored = handover_take(&s->handover);
    if (!restored) {
        publish(s, processor);
        return;
    }
    processor_put(processor, s->dsp, restored);
    s->published = processor_version(processor, s->dsp);
}

static void report(Shell *s)
{
    if (shell_plugin.report)
        shell_plugin.report(s->dsp, s->control);
    if (s->latency_port >= 0)
        s->control[s->latency_port] = (float)s->latency;
}

static void grid_point(void *shell)
{
    Shell *s = shell;
    const Processor *processor = shell_plugin.processor;
    if (processor->learned.schema)
        exchange_learned(s, processor);
    if (read_controls(s) || !s->begun)
        hand_on_controls(s);
    report(s);
    processor->tick(s->dsp);
}

/* ---- Audio ---- */

static float finite_or_zero(float x)
{
    return isfinite(x) ? x : 0.f;
}

/* Reads every input before any output is written: they may be the same memory. The one place where damage is taken
 * out. */
static void read_audio(Shell *s, uint32_t at, uint32_t n, float clean[][DSP_CELL], float dry[][DSP_CELL])
{
    for (uint32_t c = 0; c < s->variant->ins; ++c) {
        for (uint32_t i = 0; i < n; ++i) {
            const float x = s->audio_in[c] ? s->audio_in[c][at + i] : 0.f;
            clean[c][i] = dsp_undamaged(x);
            dry[c][i] = finite_or_zero(x);
        }
        delay_process(&s->dry[c], s->latency, dry[c], dry[c], n);
    }
}

/* Bypassed, every finite sample passes, damaged or not; while anything fades, damage is silence. */
static void mix_bypass(Shell *s, uint32_t n, float dry[][DSP_CELL], float wet[][DSP_CELL])
{
    for (uint32_t i = 0; i < n; ++i) {
        const bool all_wet = fade_rests_at(&s->enabled, true), all_dry = fade_rests_at(&s->enabled, false);
        const double wet_weight = fade_step(&s->enabled), dry_gain = fade_step(&s->dry_gain);
        if (all_wet)
            continue;
        for (uint32_t c = 0; c < s->variant->outs; ++c) {
            const uint32_t from = c < s->variant->ins ? c : s->variant->ins - 1;
            const float x = all_dry && dry_gain == 1.0 ? dry[from][i] : dsp_undamaged(dry[from][i]);
            const double bypassed = dry_gain * (double)x;
            wet[c][i] = (float)(all_dry ? bypassed : bypassed + wet_weight * ((double)wet[c][i] - bypassed));
        }
    }
}

static void run_piece(void *shell, uint32_t at, uint32_t n)
{
    Shell *s = shell;
    float clean[DSP_CHANNELS][DSP_CELL] = {{0}}, dry[DSP_CHANNELS][DSP_CELL] = {{0}}, wet[DSP_CHANNELS][DSP_CELL];
    read_audio(s, at, n, clean, dry);
    shell_plugin.processor->cell(s->dsp, (const float *const[]){clean[0], clean[1]}, (float *const[]){wet[0], wet[1]},
                                 n);
    mix_bypass(s, n, dry, wet);
    for (uint32_t c = 0; c < s->variant->outs; ++c)
        if (s->audio_out[c])
            memcpy(s->audio_out[c] + at, wet[c], n * sizeof(float));
}

/* ---- LV2: audio class ---- */

void shell_run(LV2_Handle handle, uint32_t n)
{
    static const GridSteps steps = {grid_point, run_piece};
    Shell *s = handle;
    s->unread = true;
    grid_walk(&s->grid, n, &steps, s);
    write_latency(s);
    if (n)
        write_meters(s);
}

void shell_connect_port(LV2_Handle handle, uint32_t port, void *data)
{
    Shell *s = handle;
    if (port < shell_plugin.ports) {
        s->port[port] = data;
        return;
    }
    const uint32_t audio = port - shell_plugin.ports;
    if (audio < s->variant->ins)
        s->audio_in[audio] = data;
    else if (audio - s->variant->ins < s->variant->outs)
        s->audio_out[audio - s->variant->ins] = data;
}

/* ---- LV2: instantiation class ---- */

void shell_cleanup(LV2_Handle handle)
{
    Shell *s = handle;
    if (!s)
        return;
    if (s->dsp)
        shell_plugin.processor->done(s->dsp);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&s->dry[c]);
    handover_done(&s->handover);
    free(s->dsp);
    free(s);
}

/* Clears the history; touches no port and keeps what was learned. */
void shell_activate(LV2_Handle handle)
{
    Shell *s = handle;
    shell_plugin.processor->reset(s->dsp);
    s->grid = (Grid){0};
    s->begun = false;
    fade_restart(&s->enabled);
    fade_restart(&s->dry_gain);
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        delay_reset(&s->dry[c]);
}

static bool make(Shell *s, double rate)
{
    const Processor *processor = shell_plugin.processor;
    const ProcessorLearned *learned = &processor->learned;
    s->dsp = calloc(1, processor->size);
    if (!s->dsp || !processor_init(processor, s->dsp, rate, s->variant->ins))
        return false;
    if (learned->schema && !handover_init(&s->handover, learned->schema))
        return false;
    if (learned->schema)
        s->published = processor_version(processor, s->dsp);
    s->latency = processor->latency ? processor->latency(s->dsp) : 0;
    s->enabled_port = find_port("enabled");
    s->latency_port = find_port("latency");
    fade_init(&s->enabled, rate, BYPASS_FADE);
    fade_init(&s->dry_gain, rate, BYPASS_FADE);
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        if (!delay_init(&s->dry[c], s->latency))
            return false;
    for (uint32_t p = 0; p < shell_plugin.ports; ++p)
        s->control[p] = shell_plugin.port[p].normal;
    return true;
}

static const LV2_URID_Map *find_map(const LV2_Feature *const *features)
{
    for (; features && *features; ++features)
        if (!strcmp((*features)->URI, LV2_URID__map))
            return (*features)->data;
    return NULL;
}

LV2_Handle shell_instantiate(const LV2_Descriptor *descriptor, double rate, const char *bundle_path,
                             const LV2_Feature *const *features)
{
    (void)bundle_path;
    Shell *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    for (uint32_t v = 0; v < SHELL_VARIANTS; ++v)
        if (!strcmp(shell_plugin.variant[v].uri, descriptor->URI))
            s->variant = &shell_plugin.variant[v];
    if (shell_plugin.processor->learned.schema)
        state_keys_init(&s->keys, shell_plugin.processor->learned.schema, find_map(features));
    if (!dsp_rate_ok(rate) || !make(s, rate)) {
        shell_cleanup(s);
        return NULL;
    }
    return s;
}

/* ---- LV2: state, at any time, also while run() runs ---- */

static LV2_State_Status save(LV2_Handle handle, LV2_State_Store_Function store, LV2_State_Handle state, uint32_t flags,
                             const LV2_Feature *const *features)
{
    (void)flags;
    (void)features;
    Shell *s = handle;
    return state_write(&s->keys, shell_plugin.processor->learned.schema, handover_read(&s->handover), store, state);
}

static LV2_State_Status restore(LV2_Handle handle, LV2_State_Retrieve_Function retrieve, LV2_State_Handle state,
                                uint32_t flags, const LV2_Feature *const *features)
{
    (void)flags;
    (void)features;
    Shell *s = handle;
    if (!s->keys.usable)
        return LV2_STATE_ERR_NO_FEATURE;
    if (!state_is_there(&s->keys, shell_plugin.processor->learned.schema, retrieve, state))
        return LV2_STATE_SUCCESS;
    state_read(&s->keys, shell_plugin.processor->learned.schema, handover_blank(&s->handover), retrieve, state);
    handover_send(&s->handover);
    return LV2_STATE_SUCCESS;
}

const void *shell_extension_data(const char *uri)
{
    static const LV2_State_Interface state = {save, restore};
    return shell_plugin.processor->learned.schema && !strcmp(uri, LV2_STATE__interface) ? &state : NULL;
}

LV2_SYMBOL_EXPORT const LV2_Descriptor *lv2_descriptor(uint32_t index)
{
    return index < SHELL_VARIANTS ? &shell_descriptor[index] : NULL;
}
