#include "trim.h"

#include "units.h"

#include <string.h>

#define NONE         UNITS_DB_FLOOR
#define GAIN_LOWEST  (-24.0) /* dB, learned */
#define GAIN_HIGHEST 30.0
#define RISE         6.0  /* dB/s */
#define FALL         24.0 /* dB/s: a quarter of a second for 6 dB; a drop of the level, not a gap */
#define CUT_SECONDS  0.01 /* from a peak to the gain that holds it */
#define CLIPPED_MOST 1000000
#define WINDOW_LOW   (-24.0) /* dB */
#define WINDOW_HIGH  (-12.0)

enum { LEVELS, PEAK, KEPT_LEVEL, KEPT_PEAK };

const LearnedSchema trim_schema = {
    .fields = 4,
    .field = {[LEVELS] = {"trim_levels", LEVEL_MEMORY_BINS, 0.f, LEVEL_MEMORY_MOST},
              [PEAK] = {"trim_peak", 1, -200.f, 48.f},
              [KEPT_LEVEL] = {"trim_kept_level", 1, -200.f, 48.f},
              [KEPT_PEAK] = {"trim_kept_peak", 1, -200.f, 48.f}},
};

bool trim_init(Trim *t, double rate, uint32_t channels)
{
    memset(t, 0, sizeof *t);
    if (!dsp_rate_ok(rate) || !voice_level_init(&t->voice, rate, channels))
        return false;
    t->channels = channels;
    t->params = (TrimParams){.target = -18.0, .learn = true, .ceiling = -1.0};
    t->memory = (TrimMemory){.peak = NONE, .kept_level = NONE, .kept_peak = NONE};
    t->memory_level = t->learned_level = t->learned_peak = NONE;
    true_peak_init(&t->true_peak, rate);
    const double found_late = (TRUE_PEAK_LAG + DSP_CELL) / rate;
    gain_move_init(&t->gain, rate, RISE, FALL, CUT_SECONDS - found_late);
    trim_reset(t);
    return true;
}

void trim_done(Trim *t)
{
    voice_level_done(&t->voice);
}

void trim_reset(Trim *t)
{
    t->cell = (Cell){0};
    t->started = false;
    t->learn = (LearnSwitch){0};
    voice_level_reset(&t->voice);
    true_peak_reset(&t->true_peak);
    t->cell_peak = 0.f;
    memset(t->clipping, 0, sizeof t->clipping);
    memset(&t->heard, 0, sizeof t->heard);
    t->heard_level = t->highest = NONE;
    t->clipped = 0;
    t->report = (TrimReport){.voice_level = NONE, .peak = NONE};
}

/* ---- What is learned ---- */

/* The figures in force, from the memory alone. In steps of 1/256 dB: a fresh start stores them. */
static void conclude(Trim *t)
{
    const TrimMemory *m = &t->memory;
    if (t->memory_level > NONE) {
        t->learned_level = t->memory_level;
        t->learned_peak = m->peak;
    } else {
        t->learned_level = m->kept_level;
        t->learned_peak = fmax(m->peak, m->kept_peak);
    }
    ++t->version;
}

static void weigh_levels(Trim *t)
{
    const LevelMemory *levels = &t->memory.level;
    const bool enough = level_memory_blocks(levels, TRIM_ENOUGH) == TRIM_ENOUGH;
    t->memory_level = enough ? learned_round(level_memory_level(levels)) : NONE;
    conclude(t);
}

static void start_afresh(Trim *t)
{
    t->memory = (TrimMemory){.peak = NONE, .kept_level = t->learned_level, .kept_peak = t->learned_peak};
    weigh_levels(t);
}

static void learn_block(Trim *t, double db)
{
    level_memory_add(&t->memory.level, db);
    weigh_levels(t);
}

/* Rounded up: the ceiling is for the peak itself. */
static void learn_peak(Trim *t, double db)
{
    const double up = ceil(db * 256.0) / 256.0;
    if (up <= t->memory.peak)
        return;
    t->memory.peak = up;
    conclude(t);
}

static void hear_block(Trim *t, double db)
{
    level_memory_add(&t->heard, db);
    if (level_memory_blocks(&t->heard, TRIM_ENOUGH) >= TRIM_ENOUGH)
        t->heard_level = level_memory_level(&t->heard);
}

uint32_t trim_learned_version(const Trim *t)
{
    return t->version;
}

void trim_learned_get(const Trim *t, Learned *learned)
{
    const TrimMemory *m = &t->memory;
    float *level = learned_field(&trim_schema, learned, LEVELS);
    learned->count[LEVELS] = 1; /* an empty memory is a figure too: one bin of 0 */
    for (uint32_t b = 0; b < LEVEL_MEMORY_BINS; ++b) {
        level[b] = (float)m->level.count[b];
        if (m->level.count[b])
            learned->count[LEVELS] = b + 1;
    }
    learned->count[PEAK] = learned->count[KEPT_LEVEL] = learned->count[KEPT_PEAK] = 1;
    *learned_field(&trim_schema, learned, PEAK) = (float)m->peak;
    *learned_field(&trim_schema, learned, KEPT_LEVEL) = (float)m->kept_level;
    *learned_field(&trim_schema, learned, KEPT_PEAK) = (float)m->kept_peak;
}

static void take_figure(const Learned *l, uint32_t field, double *figure)
{
    if (l->count[field])
        *figure = l->value[learned_at(&trim_schema, field)];
}

void trim_learned_put(Trim *t, const Learned *learned)
{
    TrimMemory *m = &t->memory;
    const float *level = learned->value + learned_at(&trim_schema, LEVELS);
    *m = (TrimMemory){.peak = NONE, .kept_level = NONE, .kept_peak = NONE};
    for (uint32_t b = 0; b < learned->count[LEVELS]; ++b)
        m->level.count[b] = (uint32_t)level[b];
    take_figure(learned, PEAK, &m->peak);
    take_figure(learned, KEPT_LEVEL, &m->kept_level);
    take_figure(learned, KEPT_PEAK, &m->kept_peak);
    weigh_levels(t);
}

/* ---- The gain ---- */

typedef struct {
    double gain; /* dB, learned part */
    bool held_back;
} Figure;

static Figure learned_gain(const Trim *t)
{
    if (!(t->learned_level > NONE))
        return (Figure){.gain = 0.0};
    const double wanted = dsp_clamp(t->params.target - t->learned_level, GAIN_LOWEST, GAIN_HIGHEST);
    const double room = t->params.ceiling - t->learned_peak;
    return (Figure){.gain = dsp_clamp(room, GAIN_LOWEST, wanted), .held_back = room < wanted};
}

/* peak: dBTP, of the last cell. A peak that is known, in force or just learned, is out of the ceiling's way within 10
 * ms, even while the gain is still on its way down. */
static void steer(Trim *t, double learned, double peak)
{
    const double hand = t->params.hand_trim;
    if (t->started)
        gain_move_to(&t->gain, learned + hand);
    else
        gain_move_jump(&t->gain, learned + hand);
    if (t->learned_level > NONE)
        gain_move_cut(&t->gain, fmax(t->params.ceiling - fmin(peak, t->learned_peak), GAIN_LOWEST) + hand);
    t->started = true;
}

static void write_report(Trim *t, bool held_back)
{
    const bool heard = !t->params.learn && t->heard_level > NONE;
    TrimReport *r = &t->report;
    r->voice_level = heard ? t->heard_level : t->learned_level;
    r->gain = gain_move_db(&t->gain);
    r->peak = t->highest;
    r->clipped = t->clipped;
    const double after = r->voice_level + r->gain;
    r->in_window = after >= WINDOW_LOW && after <= WINDOW_HIGH;
    r->held_back = held_back;
}

/* Grid point: takes in what the last cell brought. */
static void tick(Trim *t)
{
    double db;
    if (voice_level_found(&t->voice, &db)) {
        hear_block(t, db);
        if (t->params.learn)
            learn_block(t, db);
    }
    const double peak = gain_to_db(t->cell_peak);
    t->cell_peak = 0.f;
    t->highest = fmax(t->highest, peak);
    if (t->params.learn)
        learn_peak(t, peak);
    const Figure figure = learned_gain(t);
    steer(t, figure.gain, peak);
    write_report(t, figure.held_back);
}

void trim_set(Trim *t, const TrimParams *params)
{
    t->params = *params;
    if (learn_switch(&t->learn, params->learn))
        start_afresh(t);
}

/* ---- The samples ---- */

static void count_clips(Trim *t, uint32_t c, const float *in, uint32_t n)
{
    t->clipped += clipping_count(&t->clipping[c], in, n);
    if (t->clipped > CLIPPED_MOST)
        t->clipped = CLIPPED_MOST;
}

static void listen(Trim *t, const float *const *in, uint32_t n)
{
    voice_level_process(&t->voice, in, n);
    for (uint32_t c = 0; c < t->channels; ++c) {
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): at most DSP_CHANNELS, since init */
        const float peak = true_peak_process(&t->true_peak, c, in[c], n);
        t->cell_peak = peak > t->cell_peak ? peak : t->cell_peak;
        count_clips(t, c, in[c], n);
    }
}

static void amplify(Trim *t, const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const double gain = gain_move_step(&t->gain);
        float x[DSP_CHANNELS];
        for (uint32_t c = 0; c < t->channels; ++c)
            x[c] = in[c][i]; /* NOLINT(clang-analyzer-core.NullDereference): at most DSP_CHANNELS, since init */
        for (uint32_t c = 0; c < t->channels; ++c)
            out[c][i] = (float)(x[c] * gain);
    }
}

void trim_process(Trim *t, const float *const *in, float *const *out, uint32_t n)
{
    const uint32_t last = t->channels - 1; /* stands in for a channel that is not there */
    for (uint32_t at = 0; at < n;) {
        const float *const from[] = {in[0] + at, in[last] + at};
        float *const to[] = {out[0] + at, out[last] + at};
        if (cell_starts(&t->cell))
            tick(t);
        const uint32_t m = cell_fit(&t->cell, n - at);
        listen(t, from, m);
        amplify(t, from, to, m);
        cell_advance(&t->cell, m);
        at += m;
    }
}

void trim_report(const Trim *t, TrimReport *report)
{
    *report = t->report;
}

uint32_t trim_latency(const Trim *t)
{
    (void)t;
    return 0;
}
