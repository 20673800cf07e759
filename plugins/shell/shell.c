#include "shell.h"

#include "audio.h"
#include "bypass.h"
#include "grid.h"
#include "handover.h"
#include "ports.h"
#include "state.h"

#include <stdlib.h>
#include <string.h>

typedef struct {
    const ShellVariant *variant;
    void *dsp;
    Ports ports;
    Audio audio;

    Grid grid;
    bool begun;      /* the plug-in has been given the controls since activate */
    bool unread;     /* the run under way has not reached a grid point yet */
    uint32_t points; /* grid points left in this run; at the last, read-outs and what is learned are passed on */

    Bypass bypass;
    bool paused;   /* the processor has nothing left to clear before it sleeps */
    bool untold;   /* a report is due even if the processor sleeps or has no news */
    uint32_t news; /* the processor's count at the last report */

    StateKeys keys;
    Handover handover;
    uint32_t published; /* version of what is learned, when it was last handed to the host's side */
} Shell;

/* ---- The grid ---- */

/* Whether a control has moved. Hosts set them between runs, so only a run's first grid point reads them. */
static bool has_moved(Shell *s)
{
    const bool unread = s->unread;
    s->unread = false;
    return unread && ports_read(&s->ports);
}

static void hand_on_controls(Shell *s)
{
    shell_plugin.set(s->dsp, s->ports.value);
    bypass_to(&s->bypass, ports_enabled(&s->ports),
              !(shell_plugin.bypass_is_silent && shell_plugin.bypass_is_silent(s->ports.value)));
    s->begun = s->untold = true;
}

/* Only at the last grid point of a run: what came of the earlier ones is in that too. */
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
        shell_plugin.report(s->dsp, s->ports.value);
    ports_round(&s->ports);
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
    if (has_moved(s) || !s->begun)
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

static void run_piece(void *shell, uint32_t at, uint32_t n)
{
    Shell *s = shell;
    audio_run(&s->audio, at, n);
}

/* Cells are searched for damage before they are processed, no more than this many at a time. Otherwise the cells before
 * a damaged sample late in a long run would be searched again and again. */
enum { CELLS_AT_ONCE = 16 };

/* Where the audio goes straight through, a processor that has cells() gets several cells at once, all before the run's
 * last grid point: at their grid points there is nothing to report, and nothing new to read. Otherwise it gets one. */
static uint32_t run_cells(void *shell, uint32_t at, uint32_t most)
{
    Shell *s = shell;
    const Processor *processor = shell_plugin.processor;
    if (!processor->cells)
        return 0;
    const uint32_t cells = most < CELLS_AT_ONCE ? most : CELLS_AT_ONCE;
    prepare(s, processor);
    if (audio_run_cells(&s->audio, at, cells)) {
        s->points -= cells;
        s->paused = false;
        return cells;
    }
    tick(s, processor);
    audio_run(&s->audio, at, DSP_CELL);
    return 1;
}

/* ---- LV2: audio class ---- */

void shell_run(LV2_Handle handle, uint32_t n)
{
    static const GridSteps steps = {grid_point, run_piece, run_cells};
    Shell *s = handle;
    s->unread = true;
    s->points = grid_points(&s->grid, n);
    audio_begin(&s->audio, n);
    grid_walk(&s->grid, n, &steps, s);
    if (n)
        ports_write(&s->ports);
    else
        ports_write_latency(&s->ports);
}

void shell_connect_port(LV2_Handle handle, uint32_t port, void *data)
{
    Shell *s = handle;
    if (port < shell_plugin.ports)
        ports_connect(&s->ports, port, data);
    else
        audio_connect(&s->audio, port - shell_plugin.ports, data);
}

/* ---- LV2: instantiation class ---- */

void shell_cleanup(LV2_Handle handle)
{
    Shell *s = handle;
    if (!s)
        return;
    if (s->dsp)
        shell_plugin.processor->done(s->dsp);
    audio_done(&s->audio);
    ports_done(&s->ports);
    handover_done(&s->handover);
    processor_free(s->dsp);
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
    audio_reset(&s->audio);
}

static bool make(Shell *s, double rate)
{
    const Processor *processor = shell_plugin.processor;
    const ProcessorLearned *learned = &processor->learned;
    s->dsp = processor_alloc(processor);
    if (!s->dsp || !processor_init(processor, s->dsp, rate, s->variant->ins))
        return false;
    if (learned->schema && !handover_init(&s->handover, learned->schema))
        return false;
    if (learned->schema)
        s->published = processor_version(processor, s->dsp);
    const uint32_t latency = processor_latency(processor, s->dsp);
    bypass_init(&s->bypass, rate, latency, shell_plugin.runs_when_off);
    return ports_init(&s->ports, latency) && audio_init(&s->audio, s->variant, s->dsp, latency, &s->bypass);
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
