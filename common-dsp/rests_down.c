#include "rests_down.h"

#include "units.h"

#include <string.h>

#define LOOK_AHEAD   0.015   /* s of latency: 8 ms to come up in, and the time to find that a phrase begins */
#define GAIN_TAU     0.0012  /* s, of each of two poles: a move of 12 dB is within 0.5 dB of its end after 6 ms */
#define BREATH_SPEED 300.0   /* dB/s: how fast the gain moves into a breath, at least */
#define MOST_AT_REST 65535.0 /* s: at_rest counts no further */
#define HEAR_FADE    0.03    /* s, of the cross-fade to hearing what is taken away */

/* ---- Life ---- */

static void reset_listening(RestsDown *r)
{
    listening_reset(&r->listening);
    r->hearing = (RestsHearing){.frames = 0};
    r->filling = 0;
    r->cells = 0;
    memset(r->ring, 0, sizeof r->ring);
}

static void reset(void *dsp)
{
    RestsDown *r = dsp;
    r->learn = (LearnSwitch){0};
    reset_listening(r);
    living_reset(&r->living);
    rest_bands_reset(&r->bands);
    rest_finder_reset(&r->finder);
    r->wanted = 0.0;
    smooth_jump(&r->down, 0.0);
    r->gain = r->next = 1.0;
    r->gain_step = 0.0;
    r->at_rest = 0.0;
    fade_restart(&r->hear);
    delays_reset(r->delay, r->channels);
    r->report = (RestsReport){.voice_level = UNITS_DB_FLOOR, .noise_level = UNITS_DB_FLOOR};
}

static void conclude(void *dsp)
{
    RestsDown *r = dsp;
    r->figures = rests_memory_figures(&r->memory);
    rest_finder_know(&r->finder, r->figures.swing, r->figures.level, r->params.sound_over);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    RestsDown *r = dsp;
    r->rate = rate;
    r->channels = channels;
    r->latency = (uint32_t)lround(LOOK_AHEAD * rate);
    r->params =
        (RestsParams){.noise_down = 10.0, .breath_down = 6.0, .sound_over = 2.0, .closing = 150.0, .learn = true};
    if (!listening_init(&r->listening, rate, channels, listening_hops(rate), LISTENING_POWER))
        return false;
    living_init(&r->living, rate, channels);
    rest_bands_init(&r->bands, rate, channels);
    rest_finder_init(&r->finder, rate);
    smooth_init(&r->down, rate / DSP_CELL, GAIN_TAU);
    fade_init(&r->hear, rate, HEAR_FADE);
    learned_clear(&rests_schema, &r->memory);
    conclude(r);
    if (!delays_init(r->delay, channels, r->latency))
        return false;
    reset(r);
    return true;
}

static void done(void *dsp)
{
    RestsDown *r = dsp;
    listening_done(&r->listening);
    delays_done(r->delay);
}

/* ---- What is learned ---- */

static void changed(RestsDown *r)
{
    ++r->version;
    conclude(r);
}

/* On hold nothing listened for a voice: what the listeners still hold is out of date. */
static void start_afresh(RestsDown *r)
{
    reset_listening(r);
    rests_memory_start_afresh(&r->memory);
    r->at_rest = 0.0;
    changed(r);
}

/* The cell that has ended belongs to the frame in which it ends. */
static void fill_frame(RestsDown *r)
{
    RestsFrame *f = &r->ring[r->filling % LISTENING_FRAMES];
    double sum = 0.0;
    for (int b = 0; b < REST_BANDS; ++b) {
        f->swing[b] = fmax(f->swing[b], r->bands.power[b]);
        sum += r->bands.cell[b];
    }
    f->mean += (sum - f->mean) / ++r->cells;
    if (r->filling == r->listening.filling)
        return;
    r->filling = r->listening.filling;
    r->ring[r->filling % LISTENING_FRAMES] = (RestsFrame){.mean = 0.0};
    r->cells = 0;
}

static void learn_cell(RestsDown *r)
{
    if (!listening_heard(&r->listening))
        return;
    fill_frame(r);
    const ListeningFrame *heard = listening_frame(&r->listening);
    if (!heard)
        return;
    const RestsFrame *frame = &r->ring[(r->listening.waiting - 1) % LISTENING_FRAMES];
    if (rests_memory_hear(&r->memory, &r->hearing, heard, frame, r->listening.grid.samples))
        changed(r);
}

/* ---- The gain ---- */

static void set(void *dsp, const void *wanted)
{
    RestsDown *r = dsp;
    const RestsParams *params = wanted;
    const bool moved = params->sound_over != r->params.sound_over;
    r->params = *params;
    if (learn_switch(&r->learn, params->learn))
        start_afresh(r);
    else if (moved)
        conclude(r);
    fade_to(&r->hear, params->hear_removed);
}

static double goal(const RestsDown *r, RestKind kind)
{
    return kind == REST_NONE ? 0.0 : kind == REST_BREATH ? -r->params.breath_down : -r->params.noise_down;
}

/* dB that the gain may move in one cell: any amount where a phrase begins; in a breath faster than in a rest. */
static double most_move(const RestsDown *r, RestKind kind)
{
    const double lower = fmax(r->params.noise_down, r->params.breath_down);
    const double closing = lower / (0.001 * r->params.closing);
    return kind == REST_NONE ? INFINITY
                             : r->finder.cell * (kind == REST_BREATH ? fmax(BREATH_SPEED, closing) : closing);
}

static void aim(RestsDown *r, RestKind kind)
{
    const double to = goal(r, kind), most = most_move(r, kind);
    r->wanted = dsp_clamp(to, r->wanted - most, r->wanted + most);
    smooth_to(&r->down, r->wanted);
}

/* `next` is the gain at the end of the cell that has passed. */
static void move_gain(RestsDown *r)
{
    r->gain = r->next;
    r->gain_step = 0.0;
    if (smooth_settled(&r->down))
        return;
    r->next = db_to_gain(smooth_step(&r->down));
    r->gain_step = (r->next - r->gain) / DSP_CELL;
}

static void write_report(RestsDown *r, RestKind kind)
{
    r->report.voice_level = r->figures.level;
    r->report.noise_level = r->figures.noise;
    r->report.resting = kind != REST_NONE;
    r->report.down = -r->down.value;
    r->report.at_rest = (uint32_t)(r->at_rest + 0.5);
}

static void tick(void *dsp)
{
    RestsDown *r = dsp;
    rest_bands_tick(&r->bands);
    if (r->params.learn)
        learn_cell(r);
    if (r->figures.known)
        rest_finder_hear(&r->finder, &r->bands);
    else
        rest_finder_reset(&r->finder);
    const RestKind kind = r->finder.kind;
    r->at_rest += kind != REST_NONE && r->at_rest < MOST_AT_REST ? r->finder.cell : 0.0;
    aim(r, kind);
    move_gain(r);
    write_report(r, kind);
}

/* ---- The samples ---- */

/* `x`: the input, delayed; replaced by what comes out. */
static void turn_down(RestsDown *r, float x[][DSP_CELL], uint32_t channels, uint32_t n)
{
    const bool plain = fade_rests_at(&r->hear, false);
    if (plain && r->gain == 1.0 && r->gain_step == 0.0)
        return;
    for (uint32_t t = 0; t < n; ++t) {
        const double removed = plain ? 0.0 : fade_step(&r->hear);
        const float gain = (float)((1.0 - removed) * r->gain + removed * (1.0 - r->gain));
        r->gain += r->gain_step;
        for (uint32_t c = 0; c < channels; ++c)
            x[c][t] *= gain;
    }
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    RestsDown *r = dsp;
    const uint32_t channels = r->channels;
    float late[DSP_CHANNELS][DSP_CELL];
    const float *alive[DSP_CHANNELS];
    living_process(&r->living, in, alive, n);
    rest_bands_process(&r->bands, alive, n);
    if (r->params.learn)
        listening_process(&r->listening, in, n);
    delays_process(r->delay, channels, r->latency, in, (float *const[]){late[0], late[1]}, n);
    turn_down(r, late, channels, n);
    for (uint32_t c = 0; c < channels; ++c)
        memcpy(out[c], late[c], n * sizeof *out[c]);
}

const Processor rests = {
    .size = sizeof(RestsDown),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(RestsDown),
    .latency = offsetof(RestsDown, latency),
    .learned = {&rests_schema, offsetof(RestsDown, memory), offsetof(RestsDown, version), conclude},
};
