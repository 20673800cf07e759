#include "shell.h"

#include "bypass.h"
#include "damage.h"
#include "delay.h"
#include "grid.h"
#include "handover.h"
#include "state.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    const ShellVariant *variant;
    void *dsp;
    uint32_t latency;
    int enabled_port; /* -1: none */

    uint32_t n_controls, n_meters;    /* ports: first all controls, then the read-outs */
    const float *wanted[SHELL_PORTS]; /* of each control: the host's value, or the default */
    float *meter[SHELL_PORTS];        /* of each read-out: where the host wants it, or `nowhere` */
    float raw[SHELL_PORTS];           /* by port: a control's value from the host; a read-out as reported */
    float shown[SHELL_PORTS];         /* of each read-out: the value for the host */
    uint32_t latency_meter;           /* number of the read-out `latency`; n_meters: none */
    uint32_t joints;                  /* read-outs that lie right behind the one before in the host's memory */
    float nowhere;

    const float *audio_in[DSP_CHANNELS];
    float *audio_out[DSP_CHANNELS];
    uintptr_t apart; /* frames: a run up to this long may write its outputs before all inputs are read */

    Grid grid;
    bool begun;      /* the plug-in has got the controls since activate */
    bool unread;     /* the run under way has not come to a grid point yet */
    uint32_t points; /* grid points left in this run; read-outs and what is learned are as of the last */
    bool direct;     /* this run writes straight into the host's memory */

    float control[SHELL_PORTS]; /* by port, as of the last grid point: controls as read, read-outs as reported */

    Bypass bypass;
    bool paused;   /* the processor has nothing left to clear before it sleeps */
    bool untold;   /* read-outs may have changed though the processor sleeps or counts no news */
    uint32_t news; /* the processor's count at the last report */
    Delay dry[DSP_CHANNELS];

    StateKeys keys;
    Handover handover;
    uint32_t published; /* version of what is learned that was handed to the host's side last */
} Shell;

static int find_port(const char *symbol)
{
    for (uint32_t p = 0; p < shell_plugin.ports; ++p)
        if (!strcmp(shell_plugin.port[p].symbol, symbol))
            return (int)p;
    return -1;
}

/* ---- Controls ---- */

static float clamped(const ShellPort *port, float value)
{
    if (isnan(value))
        return port->normal;
    const float held = fminf(fmaxf(value, port->lowest), port->highest);
    return port->whole ? roundf(held) : held;
}

static uint32_t bits_of(float x)
{
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* Equal to the bit, so that NaN equals itself. */
static bool same_bits(float a, float b)
{
    return bits_of(a) == bits_of(b);
}

static inline uint32_t differ(const Shell *s, uint32_t k)
{
    return bits_of(*s->wanted[k]) ^ bits_of(s->raw[k]);
}

/* Whether no control has moved, the usual case. Compares four at a time (list_ports()). */
static bool all_stand_still(const Shell *s)
{
    uint32_t moved = 0;
    for (uint32_t k = 0; k < s->n_controls; k += 4)
        moved |= differ(s, k) | differ(s, k + 1) | differ(s, k + 2) | differ(s, k + 3);
    return !moved;
}

/* Reads a control; true: it has moved. */
static bool read_control(Shell *s, uint32_t p)
{
    const float before = s->control[p];
    s->raw[p] = *s->wanted[p];
    s->control[p] = clamped(&shell_plugin.port[p], s->raw[p]);
    return s->control[p] != before;
}

/* Reads all controls; true: one has moved. Hosts set them between runs, so only a run's first grid point reads them. */
static bool read_controls(Shell *s)
{
    if (!s->unread)
        return false;
    s->unread = false;
    if (all_stand_still(s))
        return false;
    bool moved = false;
    for (uint32_t p = 0; p < s->n_controls; ++p)
        moved = read_control(s, p) || moved;
    return moved;
}

static void hand_on_controls(Shell *s)
{
    shell_plugin.set(s->dsp, s->control);
    bypass_to(&s->bypass, s->enabled_port < 0 || s->control[s->enabled_port] > 0.f,
              !(shell_plugin.bypass_is_silent && shell_plugin.bypass_is_silent(s->control)));
    s->begun = s->untold = true;
}

/* Rounds a read-out to its step, as a host shows all digits that there are, and holds it within its port's range, by
 * which a host draws it: a true peak between samples may lie past that. */
static float rounded(const ShellPort *port, float exact)
{
    const float value = (float)(rint((double)exact / port->step) * port->step);
    return value < port->lowest ? port->lowest : value > port->highest ? port->highest : value;
}

static void round_meters(Shell *s)
{
    for (uint32_t k = 0; k < s->n_meters; ++k) {
        const uint32_t p = s->n_controls + k;
        if (same_bits(s->control[p], s->raw[p]))
            continue;
        s->raw[p] = s->control[p];
        s->shown[k] = rounded(&shell_plugin.port[p], s->raw[p]);
    }
}

/* Writes every read-out in every run, as the host may have written there itself: at once where they lie in a row in its
 * memory, else four at a time (list_ports()). */
static void write_meters(const Shell *s)
{
    if (s->joints + 1 == s->n_meters) {
        memcpy(s->meter[0], s->shown, s->n_meters * sizeof *s->shown);
        return;
    }
    for (uint32_t k = 0; k < s->n_meters; k += 4) {
        *s->meter[k] = s->shown[k];
        *s->meter[k + 1] = s->shown[k + 1];
        *s->meter[k + 2] = s->shown[k + 2];
        *s->meter[k + 3] = s->shown[k + 3];
    }
}

static void write_latency(const Shell *s)
{
    if (s->latency_meter < s->n_meters)
        *s->meter[s->latency_meter] = s->shown[s->latency_meter];
}

/* ---- The grid ---- */

/* As of the last grid point of a run: what the ones before it brought is in that too. */
static void publish(Shell *s, const Processor *processor)
{
    const uint32_t version = processor_version(processor, s->dsp);
    if (s->points > 1 || version == s->published)
        return;
    processor_renew(processor, s->dsp, handover_draft(&s->handover));
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
    s->untold = true;
    s->published = processor_version(processor, s->dsp);
}

/* Whether read-outs may have changed: always so for a processor that does not count its news. */
static bool has_news(Shell *s, const Processor *processor)
{
    if (!processor->news)
        return true;
    const uint32_t before = s->news;
    s->news = processor_news(processor, s->dsp);
    return s->news != before;
}

/* Reports at the last grid point of a run, but only if something may have changed. */
static void report(Shell *s, const Processor *processor)
{
    if (--s->points || (!s->untold && (s->bypass.asleep || !has_news(s, processor))))
        return;
    if (shell_plugin.report)
        shell_plugin.report(s->dsp, s->control);
    round_meters(s);
    s->untold = false;
}

static void pause_on(Shell *s, const Processor *processor)
{
    if (s->paused)
        return;
    s->paused = !processor->pause || processor->pause(s->dsp);
    s->untold = true;
}

/* What comes before the processor's own work at a grid point. */
static void prepare(Shell *s, const Processor *processor)
{
    if (processor->learned.schema)
        exchange_learned(s, processor);
    if (read_controls(s) || !s->begun)
        hand_on_controls(s);
    bypass_point(&s->bypass, s->paused);
    if (s->bypass.asleep)
        pause_on(s, processor);
}

static void tick(Shell *s, const Processor *processor)
{
    report(s, processor);
    if (s->bypass.asleep)
        return;
    s->paused = false;
    processor->tick(s->dsp);
}

static void grid_point(void *shell)
{
    prepare(shell, shell_plugin.processor);
    tick(shell, shell_plugin.processor);
}

/* ---- Audio ---- */

static const float *input(const Shell *s, uint32_t c, uint32_t at)
{
    static const float silence[DSP_CELL];
    return s->audio_in[c] ? s->audio_in[c] + at : silence;
}

/* Copies the input, delayed by the latency, for the bypass: the outputs may be the same memory as the inputs. */
static void read_dry(Shell *s, uint32_t c, const float *in, float *dry, uint32_t n)
{
    if (damage_is_none(in, n))
        dsp_copy(dry, in, n);
    else
        damage_keep_finite(in, dry, n);
    if (s->latency)
        delay_process(&s->dry[c], s->latency, dry, dry, n);
}

/* Keeps the input in the delay lines, for when it is to be bypassed. */
static void keep_dry(Shell *s, const float *const *in, bool damaged, uint32_t n)
{
    float finite[DSP_CHANNELS][DSP_CELL];
    if (!damaged) {
        delays_write(s->dry, s->variant->ins, in, n);
        return;
    }
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        damage_keep_finite(in[c], finite[c], n);
    delays_write(s->dry, s->variant->ins, (const float *const[]){finite[0], finite[1]}, n);
}

static void write_audio(const Shell *s, uint32_t at, uint32_t n, float audio[][DSP_CELL], uint32_t channels)
{
    for (uint32_t o = 0; o < s->variant->outs; ++o)
        if (s->audio_out[o])
            dsp_copy(s->audio_out[o] + at, audio[o < channels ? o : channels - 1], n);
}

/* Nothing fades: reads the host's memory, and writes to it directly where that is safe. */
static void process_alone(Shell *s, uint32_t at, uint32_t n)
{
    const float *in[DSP_CHANNELS] = {NULL};
    float clean[DSP_CHANNELS][DSP_CELL], wet[DSP_CHANNELS][DSP_CELL];
    float *out[DSP_CHANNELS] = {wet[0], wet[1]};
    bool damaged = false;
    for (uint32_t c = 0; c < s->variant->ins; ++c) {
        in[c] = input(s, c, at);
        damaged = !damage_is_none(in[c], n) || damaged;
    }
    if (s->latency)
        keep_dry(s, in, damaged, n);
    for (uint32_t c = 0; c < s->variant->ins && damaged; ++c) {
        damage_remove(in[c], clean[c], n);
        in[c] = clean[c];
    }
    for (uint32_t o = 0; o < s->variant->outs && s->direct; ++o)
        out[o] = s->audio_out[o] + at;
    shell_plugin.processor->cell(s->dsp, in, out, n);
    if (!s->direct)
        write_audio(s, at, n, wet, s->variant->outs);
}

static void process_and_mix(Shell *s, uint32_t at, uint32_t n)
{
    const uint32_t ins = s->variant->ins, outs = s->variant->outs;
    float clean[DSP_CHANNELS][DSP_CELL], dry[DSP_CHANNELS][DSP_CELL], wet[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < ins; ++c) {
        damage_remove(input(s, c, at), clean[c], n);
        read_dry(s, c, input(s, c, at), dry[c], n);
    }
    bypass_hear(&s->bypass, clean, ins, n);
    shell_plugin.processor->cell(s->dsp, (const float *const[]){clean[0], clean[1]}, (float *const[]){wet[0], wet[1]},
                                 n);
    bypass_mix(&s->bypass, dry, ins, wet, outs, n);
    write_audio(s, at, n, wet, outs);
}

static void pass_by(Shell *s, uint32_t at, uint32_t n)
{
    float dry[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        read_dry(s, c, input(s, c, at), dry[c], n);
    bypass_pass(&s->bypass, dry, s->variant->ins, n);
    write_audio(s, at, n, dry, s->variant->ins);
}

static void run_piece(void *shell, uint32_t at, uint32_t n)
{
    Shell *s = shell;
    switch (s->bypass.piece) {
    case BYPASS_NOTHING:
        process_alone(s, at, n);
        break;
    case BYPASS_MIX:
        process_and_mix(s, at, n);
        break;
    case BYPASS_ASLEEP:
        pass_by(s, at, n);
        break;
    }
}

/* ---- Several cells at once ---- */

/* Whether these cells hold no damage. */
static bool all_is_whole(const Shell *s, uint32_t at, uint32_t cells)
{
    bool whole = true;
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        whole = whole && s->audio_in[c] && damage_is_none(s->audio_in[c] + at, cells * DSP_CELL);
    return whole;
}

static void process_cells(Shell *s, const Processor *processor, uint32_t at, uint32_t cells)
{
    const float *in[DSP_CHANNELS] = {NULL};
    float *out[DSP_CHANNELS] = {NULL};
    for (uint32_t c = 0; c < s->variant->ins; ++c) {
        in[c] = s->audio_in[c] + at;
        for (uint32_t k = 0; k < cells && s->latency; ++k)
            delay_write(&s->dry[c], in[c] + (size_t)k * DSP_CELL, DSP_CELL);
    }
    for (uint32_t o = 0; o < s->variant->outs; ++o)
        out[o] = s->audio_out[o] + at;
    s->points -= cells;
    s->paused = false;
    processor->cells(s->dsp, in, out, cells);
}

/* Where nothing fades and no sample has to be mended or copied, as is usual: one who works quicker so gets all cells
 * before the run's last grid point at once. At those points there is nothing to report, and nothing new to read. */
static uint32_t run_cells(void *shell, uint32_t at, uint32_t most)
{
    Shell *s = shell;
    const Processor *processor = shell_plugin.processor;
    if (!processor->cells || !s->direct)
        return 0;
    prepare(s, processor);
    if (s->bypass.piece == BYPASS_NOTHING && all_is_whole(s, at, most)) {
        process_cells(s, processor, at, most);
        return most;
    }
    tick(s, processor);
    run_piece(s, at, DSP_CELL);
    return 1;
}

/* ---- LV2: audio class ---- */

void shell_run(LV2_Handle handle, uint32_t n)
{
    static const GridSteps steps = {grid_point, run_piece, run_cells};
    Shell *s = handle;
    s->unread = true;
    s->points = grid_points(&s->grid, n);
    s->direct = n <= s->apart;
    grid_walk(&s->grid, n, &steps, s);
    if (n)
        write_meters(s);
    else
        write_latency(s);
}

static uintptr_t frames_between(const float *a, const float *b)
{
    const uintptr_t from = (uintptr_t)a, to = (uintptr_t)b;
    return (from < to ? to - from : from - to) / sizeof *a;
}

static uintptr_t fewer(uintptr_t a, uintptr_t b)
{
    return a < b ? a : b;
}

/* Frames that a run may have to be written directly: each output has to be an input's own memory, or lie that far from
 * all other buffers. 0: an output is not connected. */
static uintptr_t frames_apart(const Shell *s)
{
    uintptr_t frames = UINTPTR_MAX;
    for (uint32_t o = 0; o < s->variant->outs; ++o) {
        const float *out = s->audio_out[o];
        for (uint32_t c = 0; c < s->variant->ins; ++c)
            if (s->audio_in[c] && out != s->audio_in[c])
                frames = fewer(frames, frames_between(out, s->audio_in[c]));
        for (uint32_t other = 0; other < o; ++other)
            frames = fewer(frames, frames_between(out, s->audio_out[other]));
        frames = out ? frames : 0;
    }
    return frames;
}

static uint32_t is_joint(const Shell *s, uint32_t k)
{
    return k > 0 && k < s->n_meters && s->meter[k] == s->meter[k - 1] + 1;
}

static void connect_meter(Shell *s, uint32_t k, float *data)
{
    s->joints -= is_joint(s, k) + is_joint(s, k + 1);
    s->meter[k] = data ? data : &s->nowhere;
    s->joints += is_joint(s, k) + is_joint(s, k + 1);
}

static void connect_control(Shell *s, uint32_t p, float *data)
{
    if (p >= s->n_controls)
        connect_meter(s, p - s->n_controls, data);
    else
        s->wanted[p] = data ? data : &shell_plugin.port[p].normal;
}

void shell_connect_port(LV2_Handle handle, uint32_t port, void *data)
{
    Shell *s = handle;
    if (port < shell_plugin.ports) {
        connect_control(s, port, data);
        return;
    }
    const uint32_t audio = port - shell_plugin.ports;
    if (audio < s->variant->ins)
        s->audio_in[audio] = data;
    else if (audio - s->variant->ins < s->variant->outs)
        s->audio_out[audio - s->variant->ins] = data;
    s->apart = frames_apart(s);
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

/* Clears the history, touches no port and keeps what was learned. */
void shell_activate(LV2_Handle handle)
{
    Shell *s = handle;
    shell_plugin.processor->reset(s->dsp);
    s->grid = (Grid){0};
    s->begun = s->paused = false;
    bypass_restart(&s->bypass);
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        delay_reset(&s->dry[c]);
}

/* Finds `latency`, the one read-out that the processor does not report. */
static void list_latency(Shell *s)
{
    const int port = find_port("latency");
    s->latency_meter = port < 0 ? s->n_meters : (uint32_t)port - s->n_controls;
    if (port >= 0)
        s->control[port] = (float)s->latency;
}

/* Ports are gone through four at a time, so behind the last control there are some that never move, and behind the last
 * read-out some that lead nowhere. */
static void list_ports(Shell *s)
{
    for (uint32_t p = 0; p < SHELL_PORTS; ++p) {
        s->wanted[p] = &s->raw[p];
        s->meter[p] = &s->nowhere;
    }
    for (uint32_t p = 0; p < shell_plugin.ports; ++p) {
        const ShellPort *port = &shell_plugin.port[p];
        s->control[p] = s->raw[p] = port->normal;
        if (port->kind == SHELL_CONTROL)
            s->wanted[s->n_controls++] = &port->normal;
        else
            s->shown[s->n_meters++] = rounded(port, port->normal);
    }
    s->enabled_port = find_port("enabled");
    list_latency(s);
    round_meters(s);
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
    bypass_init(&s->bypass, rate, s->latency, shell_plugin.runs_when_off);
    for (uint32_t c = 0; c < s->variant->ins; ++c)
        if (!delay_init(&s->dry[c], s->latency))
            return false;
    list_ports(s);
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
    const Learned *known = handover_read(&s->handover);
    return known ? state_write(&s->keys, shell_plugin.processor->learned.schema, known, store, state)
                 : LV2_STATE_ERR_UNKNOWN;
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
    Learned *blank = handover_blank(&s->handover);
    if (!blank)
        return LV2_STATE_ERR_UNKNOWN;
    state_read(&s->keys, shell_plugin.processor->learned.schema, blank, retrieve, state);
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
