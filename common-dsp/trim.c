#include "trim.h"

#include "four_math.h"
#include "units.h"

#include <string.h>

#define NO_LEVEL       UNITS_DB_FLOOR
#define GAIN_LOWEST    (-24.0) /* dB, of the learned gain */
#define GAIN_HIGHEST   30.0    /* dB, of the learned gain */
#define RISE_SPEED     6.0     /* dB/s, at most */
#define FALL_SPEED     24.0    /* dB/s, at most: 6 dB in a quarter of a second sound like a drop in level, not a gap */
#define EASE_TIME      0.01    /* s, easing into a move and out of it */
#define MOST_MOVE      1.02    /* times: no gain rises by more in a cell. Both speeds make 1.4 % at DSP_RATE_MIN */
#define CEILING_MARGIN 0x1p-20 /* share of the ceiling kept free below it, so that rounding does not pass it */
#define CLIPPED_MOST   1000000 /* samples: counting stops */
#define WINDOW_LOW     (-24.0) /* dB, after the gain: limits of in_window */
#define WINDOW_HIGH    (-12.0)

static void hold_ceiling(Trim *t, double ceiling)
{
    t->params.ceiling = ceiling;
    t->to_ceiling = (1.0 + CEILING_MARGIN) / db_to_gain(ceiling);
}

static void reset(void *dsp);
static void conclude(void *dsp);

static bool init(void *dsp, double rate, uint32_t channels)
{
    Trim *t = dsp;
    if (!listening_init(&t->listening, rate, channels, listening_hops(rate), LISTENING_POWER) ||
        !gain_move_init(&t->gain, rate, RISE_SPEED, FALL_SPEED, EASE_TIME) ||
        !gain_move_init(&t->hand, rate, RISE_SPEED, FALL_SPEED, EASE_TIME) ||
        !limiter_init(&t->limiter, rate, channels, TRUE_PEAK_LAG))
        return false;
    t->channels = channels;
    t->params = (TrimParams){.target = -18.0, .learn = true};
    hold_ceiling(t, -1.0);
    learned_clear(&trim_schema, &t->memory);
    conclude(t);
    true_peak_init(&t->true_peak, rate);
    reset(t);
    return true;
}

static void done(void *dsp)
{
    Trim *t = dsp;
    listening_done(&t->listening);
    gain_move_done(&t->gain);
    gain_move_done(&t->hand);
    limiter_done(&t->limiter);
}

static void reset_listening(Trim *t)
{
    listening_reset(&t->listening);
    t->voice = (VoiceLevel){0};
}

static void reset(void *dsp)
{
    Trim *t = dsp;
    t->started = false;
    t->learn = (LearnSwitch){0};
    reset_listening(t);
    true_peak_reset(&t->true_peak);
    limiter_reset(&t->limiter);
    t->cell_peak = 0.f;
    t->pre = t->pre_before = 0.0;
    memset(t->clipping, 0, sizeof t->clipping);
    t->highest = NO_LEVEL;
    t->highest_peak = 0.f;
    t->clipped = 0;
    t->report = (TrimReport){.voice_level = NO_LEVEL, .peak = NO_LEVEL};
}

/* ---- What is learned ---- */

static void conclude(void *dsp)
{
    Trim *t = dsp;
    t->learned = trim_memory_figures(&t->memory);
}

static void changed(Trim *t)
{
    ++t->version;
    conclude(t);
}

/* On hold nothing listened for a voice: what the listeners still hold is out of date. */
static void start_afresh(Trim *t)
{
    reset_listening(t);
    trim_memory_start_afresh(&t->memory);
    changed(t);
}

/* ---- The gain ---- */

typedef struct {
    double gain; /* dB, learned part */
    bool held_back;
} Figure;

static Figure learned_gain(const Trim *t)
{
    if (!(t->learned.level > NO_LEVEL))
        return (Figure){.gain = 0.0};
    const double wanted = dsp_clamp(t->params.target - t->learned.level, GAIN_LOWEST, GAIN_HIGHEST);
    const double room = t->params.ceiling - t->learned.peak;
    return (Figure){.gain = dsp_clamp(room, GAIN_LOWEST, wanted), .held_back = room < wanted};
}

/* The hand trim moves beside the whole gain, so that the part before it is known at every sample. */
static void steer(Trim *t, double learned)
{
    const double hand = t->params.hand_trim;
    void (*const move)(GainMove *, double) = t->started ? gain_move_to : gain_move_jump;
    move(&t->gain, learned + hand);
    move(&t->hand, hand);
    t->started = true;
}

static void write_report(Trim *t, bool held_back)
{
    TrimReport *r = &t->report;
    r->voice_level = t->learned.level;
    r->gain = gain_move_db(&t->gain);
    r->peak = t->highest;
    r->clipped = t->clipped;
    const double after = r->voice_level + r->gain;
    r->in_window = after >= WINDOW_LOW && after <= WINDOW_HIGH;
    r->held_back = held_back;
    r->turned_down = limiter_turned_down(&t->limiter);
}

static void learn_cell(Trim *t)
{
    listening_peak(&t->listening, t->cell_peak);
    const ListeningFrame *frame = listening_frame(&t->listening);
    if (frame && trim_memory_hear(&t->memory, &t->voice, frame, t->listening.grid.samples))
        changed(t);
}

/* At a grid point: takes in what the last cell brought. */
static void tick(void *dsp)
{
    Trim *t = dsp;
    if (t->params.learn)
        learn_cell(t);
    if (t->cell_peak > t->highest_peak) {
        t->highest_peak = t->cell_peak;
        t->highest = gain_to_db((double)t->cell_peak);
    }
    t->cell_peak = 0.f;
    t->pre_before = t->pre;
    t->pre = 0.0;
    const Figure figure = learned_gain(t);
    steer(t, figure.gain);
    limiter_tick(&t->limiter);
    write_report(t, figure.held_back);
}

static void set(void *dsp, const void *wanted)
{
    Trim *t = dsp;
    const TrimParams *params = wanted;
    if (params->ceiling != t->params.ceiling)
        hold_ceiling(t, params->ceiling);
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

/* Factor from a reading of the input to its ratio to the ceiling, before the hand trim; pre: the gain there. The
 * reading is late, by less than a cell: so the highest gain of this cell and the last counts. */
static double to_ratio(Trim *t, double pre)
{
    t->pre = pre > t->pre ? pre : t->pre;
    return (t->pre > t->pre_before ? t->pre : t->pre_before) * t->to_ceiling;
}

/* Amplitude up to which a peak need not be known exactly: it is under the ceiling, and no higher than a peak known
 * already (on learn in its cell, on hold since the reset). ratio: factor to the ceiling, at most. sample: the highest
 * sample, known anyway. */
static float enough(const Trim *t, double ratio, float sample)
{
    const float known = t->params.learn || sample > t->highest_peak ? sample : t->highest_peak;
    const double free = (1.0 - CEILING_MARGIN) / ratio;
    return free < (double)known ? (float)free : known;
}

/* true, only on hold: nothing here can reach the ceiling or the highest peak so far, or be clipped, so peaks are
 * skipped. */
static bool all_quiet(Trim *t, const float *const *in, double ratio, uint32_t n)
{
    FourSpan span[DSP_CHANNELS] = {{0}};
    const float limit = enough(t, ratio, 0.f);
    bool quiet = !t->params.learn && limiter_rests(&t->limiter);
    for (uint32_t c = 0; c < t->channels && quiet; ++c) {
        span[c] = four_span(in[c], n);
        quiet = span[c].largest < CLIPPING_FULL && true_peak_stays_under(&t->true_peak, c, span[c], limit);
    }
    for (uint32_t c = 0; c < t->channels && quiet; ++c) {
        true_peak_skip(&t->true_peak, c, in[c], span[c], n);
        clipping_none(&t->clipping[c], in[c][n - 1]);
    }
    return quiet;
}

/* peak: one reading a sample, as true_peak_points() gives it. */
static void watch_peaks(Trim *t, const float *const *in, double ratio, float *peak, uint32_t n)
{
    float sample = 0.f;
    for (uint32_t c = 0; c < t->channels; ++c) {
        const float most = true_peak_sample(&t->true_peak, c, in[c], n);
        sample = most > sample ? most : sample;
    }
    const float from = enough(t, ratio, sample);
    for (uint32_t c = 0; c < t->channels; ++c) {
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): at most DSP_CHANNELS, since init */
        true_peak_points(&t->true_peak, c, in[c], from, peak, n);
        count_clips(t, c, in[c], n);
    }
    const float highest = four_largest(peak, n);
    t->cell_peak = highest > t->cell_peak ? highest : t->cell_peak;
}

/* The most that to_ratio() can return in this cell. */
static double most_ratio(const Trim *t)
{
    const double now = t->gain.gain / t->hand.gain, before = t->pre > t->pre_before ? t->pre : t->pre_before;
    return MOST_MOVE * (now > before ? now : before) * t->to_ceiling;
}

static void copy_out(const Trim *t, float *const *sound, float *const *out, uint32_t n)
{
    for (uint32_t c = 0; c < t->channels; ++c)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): at most DSP_CHANNELS, since init */
        dsp_copy(out[c], sound[c], n);
}

/* sound: room for the input with the gain on it. Replaces the readings by their ratio to the ceiling. */
static void amplify(Trim *t, const float *const *in, float *peak, float *const *sound, float *const *out, uint32_t n)
{
    const double most = most_ratio(t);
    if (!all_quiet(t, in, most, n))
        watch_peaks(t, in, most, peak, n);
    for (uint32_t i = 0; i < n; ++i) {
        const double gain = gain_move_step(&t->gain);
        peak[i] = (float)(peak[i] * to_ratio(t, gain / gain_move_step(&t->hand)));
        for (uint32_t c = 0; c < t->channels; ++c)
            /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): at most DSP_CHANNELS, since init */
            sound[c][i] = (float)(in[c][i] * gain);
    }
    limiter_process(&t->limiter, peak, sound, n);
    copy_out(t, sound, out, n);
}

static inline void multiply_all(const float *restrict in, double gain, float *restrict out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        out[i] = (float)(in[i] * gain);
}

/* A whole cell has a number of samples that the compiler knows. */
static void multiply(const float *in, double gain, float *out, uint32_t n)
{
    if (n == DSP_CELL)
        multiply_all(in, gain, out, DSP_CELL);
    else
        multiply_all(in, gain, out, n);
}

/* Does what amplify() does, to the bit, where no gain moves. */
static void amplify_at_rest(Trim *t, const float *const *in, float *peak, float *const *sound, float *const *out,
                            uint32_t n)
{
    const double gain = t->gain.gain, ratio = to_ratio(t, gain / t->hand.gain);
    const bool quiet = all_quiet(t, in, ratio, n);
    if (!quiet)
        watch_peaks(t, in, ratio, peak, n);
    for (uint32_t c = 0; c < t->channels; ++c)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): at most DSP_CHANNELS, since init */
        multiply(in[c], gain, sound[c], n);
    if (quiet || (limiter_rests(&t->limiter) && (double)four_largest(peak, n) * ratio <= 1.0 - CEILING_MARGIN)) {
        limiter_pass(&t->limiter, (const float *const *)sound, out, n);
        return;
    }
    for (uint32_t i = 0; i < n; ++i)
        peak[i] = (float)(peak[i] * ratio);
    limiter_process(&t->limiter, peak, sound, n);
    copy_out(t, sound, out, n);
}

/* The whole input is read before any output is written: out may be in. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Trim *t = dsp;
    float peak[DSP_CELL] = {0}, sound[DSP_CHANNELS][DSP_CELL];
    float *const to[] = {sound[0], sound[1]};
    if (t->params.learn)
        listening_process(&t->listening, in, n);
    if (t->gain.moving || t->hand.moving)
        amplify(t, in, peak, to, out, n);
    else
        amplify_at_rest(t, in, peak, to, out, n);
}

const Processor trim = {
    .size = sizeof(Trim),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(Trim),
    .latency = offsetof(Trim, limiter.latency),
    .learned = {&trim_schema, offsetof(Trim, memory), offsetof(Trim, version), conclude},
};
