#include "plate.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    LINES = PLATE_LINES,
    CHANNELS = PLATE_CHANNELS,
    STEPS = PLATE_STEPS,
    SHADES = PLATE_SHADES,
    OUTS = 2,
};

#define LN_1000      6.907755278982137 /* 60 dB as a natural logarithm of an amplitude */
#define SMOOTHING    0.04              /* seconds, tau of the controls */
#define SLOW         0.2               /* the same for decay and damping, see tick() */
#define WAIT_LONGEST 0.2               /* seconds of pre-delay */
#define WAIT_FADE    0.03              /* seconds from one pre-delay to the next */
#define SILENT_DB    (-60.0)           /* this wet or dry level is silence */

/* ---- Tables ---- */

/* Drawn at random in even strata (the lines evenly on a logarithmic scale from 80 to 180 ms, the places of the taps
 * evenly over the lines, the diffuser's delays evenly over 5, 11 and 24 ms); of some 2000 draws this is the one whose
 * late spectrum, T30, echo density and levels came out best at 44.1 and 48 kHz. The figures are what the tests in
 * tests/published print. */
static const double step_seconds[STEPS][CHANNELS] = {
    {0.00490, 0.00106, 0.00285, 0.00075, 0.00276, 0.00006, 0.00171, 0.00450, 0.00368, 0.00384, 0.00223, 0.00048,
     0.00418, 0.00204, 0.00329, 0.00146},
    {0.00739, 0.00094, 0.00539, 0.00814, 0.00947, 0.00635, 0.00259, 0.00979, 0.00056, 0.01083, 0.00568, 0.00461,
     0.00849, 0.00192, 0.00332, 0.00400},
    {0.02292, 0.00727, 0.00505, 0.01627, 0.00358, 0.01075, 0.00072, 0.01876, 0.01680, 0.02216, 0.02050, 0.00859,
     0.01008, 0.01224, 0.00259, 0.01459},
};

static const double line_seconds[LINES] = {
    0.10371, 0.09046, 0.08494, 0.08132, 0.13315, 0.09742, 0.14206, 0.12689, 0.10691, 0.15905, 0.12504,
    0.11088, 0.15503, 0.09265, 0.11529, 0.08696, 0.15372, 0.14908, 0.11194, 0.16353, 0.14484, 0.13857,
    0.12044, 0.11869, 0.16771, 0.10220, 0.13131, 0.09835, 0.08306, 0.17739, 0.17301, 0.09346,
};

static const double tap_place[OUTS][LINES] = {
    {0.731, 0.638, 0.430, 0.841, 0.668, 0.005, 0.799, 0.855, 0.898, 0.053, 0.494, 0.601, 0.954, 0.333, 0.711, 0.458,
     0.236, 0.511, 0.359, 0.301, 0.994, 0.082, 0.163, 0.558, 0.142, 0.576, 0.199, 0.399, 0.934, 0.754, 0.259, 0.117},
    {0.806, 0.241, 0.205, 0.172, 0.574, 0.069, 0.916, 0.496, 0.943, 0.555, 0.643, 0.507, 0.269, 0.035, 0.025, 0.386,
     0.728, 0.363, 0.775, 0.428, 0.995, 0.672, 0.903, 0.149, 0.858, 0.339, 0.444, 0.603, 0.309, 0.118, 0.827, 0.703},
};

static const float tap_sign[OUTS][LINES] = {
    {1, -1, -1, 1, -1, 1, -1, -1, 1, -1, -1, -1, 1, -1, 1, -1, -1, 1, 1, -1, -1, 1, 1, -1, -1, -1, -1, -1, 1, 1, 1, -1},
    {-1, -1, -1, -1, 1, -1, 1, -1, 1, -1, -1, -1, 1, -1, 1, 1, -1, 1, 1, -1, 1, 1, -1, 1, 1, -1, -1, -1, -1, -1, 1, -1},
};

/* ---- Rings ---- */

/* Copies DSP_CELL samples, the first of them `ago` (at most slots - DSP_CELL) before the slot that is written next.
 * Those not written yet are old ones: the caller uses as many as it is due. A fixed length, for speed. */
static inline void ring_read(const PlateRing *r, uint32_t ago, float *out)
{
    const uint32_t start = r->at >= ago ? r->at - ago : r->at + r->slots - ago;
    if (start + DSP_CELL <= r->slots) {
        memcpy(out, r->slot + start, DSP_CELL * sizeof *out);
        return;
    }
    const uint32_t first = r->slots - start;
    memcpy(out, r->slot + start, first * sizeof *out);
    memcpy(out + first, r->slot, (DSP_CELL - first) * sizeof *out);
}

/* Puts n samples in; they are still read relative to the first of them until ring_advance(). */
static void ring_write(PlateRing *r, const float *in, uint32_t n)
{
    const uint32_t first = r->slots - r->at < n ? r->slots - r->at : n;
    memcpy(r->slot + r->at, in, first * sizeof *in);
    memcpy(r->slot, in + first, (n - first) * sizeof *in);
}

static void ring_advance(PlateRing *r, uint32_t n)
{
    r->at += n;
    if (r->at >= r->slots)
        r->at -= r->slots;
}

/* ---- Making ---- */

static bool is_prime(uint32_t n)
{
    for (uint32_t d = 3; d * d <= n; d += 2)
        if (n % d == 0)
            return false;
    return n % 2 == 1;
}

/* The delay in samples: a prime that none of the `before` earlier lines has, so that all are mutually prime. */
static uint32_t next_prime(double samples, const uint32_t *taken, uint32_t before)
{
    uint32_t n = (uint32_t)lround(samples);
    for (;; ++n) {
        bool free_to_use = is_prime(n);
        for (uint32_t i = 0; i < before; ++i)
            free_to_use = free_to_use && taken[i] != n;
        if (free_to_use)
            return n;
    }
}

/* Sorts the taps into groups of equal spans of delay. */
static void place_shades(Plate *p)
{
    uint32_t latest = 0;
    for (uint32_t o = 0; o < OUTS; ++o)
        for (uint32_t l = 0; l < LINES; ++l)
            latest = p->tap_delay[o][l] > latest ? p->tap_delay[o][l] : latest;
    for (uint32_t o = 0; o < OUTS; ++o)
        for (uint32_t l = 0; l < LINES; ++l)
            p->tap_shade[o][l] = p->tap_delay[o][l] * SHADES / (latest + 1);
    p->shade_seconds = latest / p->rate / SHADES;
}

static void place_delays(Plate *p)
{
    for (uint32_t s = 0; s < STEPS; ++s)
        for (uint32_t c = 0; c < CHANNELS; ++c)
            p->step_delay[s][c] = (uint32_t)lround(step_seconds[s][c] * p->rate);
    for (uint32_t l = 0; l < LINES; ++l) {
        p->line_delay[l] = next_prime(line_seconds[l] * p->rate, p->line_delay, l);
        for (uint32_t o = 0; o < OUTS; ++o)
            p->tap_delay[o][l] = (uint32_t)lround(tap_place[o][l] * p->line_delay[l]);
    }
    place_shades(p);
}

static float *give_slots(PlateRing *r, float *memory, uint32_t delay)
{
    *r = (PlateRing){.slot = memory, .slots = delay + DSP_CELL};
    return memory ? memory + r->slots : NULL;
}

/* Hands out memory to all rings; with memory NULL it only sizes them. */
static void give_memory(Plate *p, float *memory)
{
    for (uint32_t s = 0; s < STEPS; ++s)
        for (uint32_t c = 0; c < CHANNELS; ++c)
            memory = give_slots(&p->step[s][c], memory, p->step_delay[s][c]);
    for (uint32_t l = 0; l < LINES; ++l)
        memory = give_slots(&p->line[l], memory, p->line_delay[l]);
}

static size_t memory_needed(const Plate *p)
{
    size_t slots = 0;
    for (uint32_t s = 0; s < STEPS; ++s)
        for (uint32_t c = 0; c < CHANNELS; ++c)
            slots += p->step[s][c].slots;
    for (uint32_t l = 0; l < LINES; ++l)
        slots += p->line[l].slots;
    return slots;
}

/* To three digits, so that the last bits of a machine's pow() have no say in the sound. */
static double three_digits(double x)
{
    double scale = 1.0;
    while (x * scale < 100.0)
        scale *= 10.0;
    return round(x * scale) / scale;
}

/* What the wet level is set by: the power of speech, band by band. */
static void note_speech(Plate *p)
{
    const double seventy_db = db_to_power(70.0), men_and_women = 2.0;
    for (int b = 0; b < AVERAGE_VOICE_BANDS; ++b)
        p->speech[b] = three_digits(average_voice_power(b) / (men_and_women * seventy_db));
}

static void reset(void *dsp);
static void set(void *dsp, const void *wanted);

static bool init(void *dsp, double rate, uint32_t in_channels)
{
    Plate *p = dsp;
    p->rate = rate;
    p->in_channels = in_channels;
    place_delays(p);
    give_memory(p, NULL);
    p->memory = calloc(memory_needed(p), sizeof *p->memory);
    bool ok = p->memory;
    for (uint32_t c = 0; c < in_channels; ++c)
        ok = delay_init(&p->wait[c], (uint32_t)ceil(WAIT_LONGEST * rate)) && ok;
    if (!ok)
        return false;
    give_memory(p, p->memory);
    note_speech(p);
    sos_init(&p->cut, 1, in_channels);
    for (uint32_t g = 0; g < SHADES; ++g)
        sos_init(&p->shade[g], 1, OUTS);
    const double cells = rate / DSP_CELL;
    smooth_init(&p->decay, cells, SLOW);
    smooth_init(&p->damping, cells, SLOW);
    smooth_init(&p->low_cut, cells, SMOOTHING);
    fade_init(&p->wait_fade, rate, WAIT_FADE);
    smooth_init(&p->wet, rate, SMOOTHING);
    smooth_init(&p->dry, rate, SMOOTHING);
    smooth_init(&p->width, rate, SMOOTHING);
    set(p, &(PlateParams){
               .pre_delay = 20, .decay = 2.2, .low_cut = 200, .damping = 6500, .wet = -20, .dry = 0, .width = 100});
    reset(p);
    return true;
}

static void done(void *dsp)
{
    Plate *p = dsp;
    free(p->memory);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&p->wait[c]);
    *p = (Plate){0};
}

static void reset(void *dsp)
{
    Plate *p = dsp;
    memset(p->memory, 0, memory_needed(p) * sizeof *p->memory);
    give_memory(p, p->memory);
    memset(p->state, 0, sizeof p->state);
    for (uint32_t c = 0; c < p->in_channels; ++c)
        delay_reset(&p->wait[c]);
    sos_reset(&p->cut);
    for (uint32_t g = 0; g < SHADES; ++g)
        sos_reset(&p->shade[g]);
    Smooth *const all[] = {&p->decay, &p->damping, &p->low_cut, &p->wet, &p->dry, &p->width, NULL};
    for (Smooth *const *s = all; *s; ++s) {
        smooth_jump(*s, (*s)->target);
        smooth_restart(*s);
    }
    p->fresh = true;
}

static double gain_or_silence(double db)
{
    return db > SILENT_DB ? db_to_gain(db) : 0.0;
}

static void set(void *dsp, const void *wanted)
{
    Plate *p = dsp;
    const PlateParams *params = wanted;
    smooth_to(&p->decay, log(params->decay));
    smooth_to(&p->damping, log(params->damping));
    smooth_to(&p->low_cut, log(params->low_cut));
    smooth_to(&p->wet, gain_or_silence(params->wet));
    smooth_to(&p->dry, gain_or_silence(params->dry));
    smooth_to(&p->width, params->width / 100.0);
    p->wait_wish = (uint32_t)lround(dsp_clamp(params->pre_delay / 1000.0, 0.0, WAIT_LONGEST) * p->rate);
}

/* ---- Tuning ---- */

/* Each line's loss is a broadband gain A, times a high shelf of the Audio EQ Cookbook (S = 1) with the same A, its
 * midpoint at `damping`: A at low frequencies, exactly A^2 at `damping`, A^3 far above. As the shelf's decibels are
 * very nearly in proportion to those of A, which are in proportion to the line's length, all modes at one frequency
 * decay alike. In state-variable form the shelf has g = tan(w/2) sqrt A and k = sqrt 2. */
static void tune_line(PlateLoss *loss, uint32_t l, double gain, double warped)
{
    const double k = sqrt(2.0), g = warped * sqrt(gain);
    loss->g[l] = (float)g;
    loss->a[l] = (float)(1.0 / (1.0 + g * (g + k)));
    loss->high[l] = (float)(gain * gain * gain);
    loss->band[l] = (float)(gain * k * (1.0 - gain) * gain);
    loss->low[l] = (float)(gain * (1.0 - gain * gain));
}

static double tank_seconds(const Plate *p)
{
    double samples = 0.0;
    for (uint32_t l = 0; l < LINES; ++l)
        samples += p->line_delay[l];
    return samples / p->rate;
}

/* Energy of the wet path's answer to speech of energy 1 with the feed at 1. The taps lie evenly over the lines, so the
 * power of the response is, on average, that of the injected energy spread over the whole tank, dying away
 * exponentially from the first moment: its integral is the decay time over 2 ln 1000, band by band. */
static double wet_energy(const Plate *p, double decay, double damping, double low_cut)
{
    const double third = pow(10.0, 0.1);
    double heard = 0.0, spoken = 0.0;
    double hz = 1000.0 * pow(10.0, -1.2);
    for (uint32_t b = 0; b < AVERAGE_VOICE_BANDS && hz < 0.5 * p->rate; ++b, hz *= third) {
        const double cut = low_cut / hz, damp = hz / damping;
        const double cut4 = cut * cut * cut * cut, damp4 = damp * damp * damp * damp;
        const double rate_of_loss = 1.0 + 2.0 * damp4 / (1.0 + damp4);
        spoken += p->speech[b];
        heard += p->speech[b] / ((1.0 + cut4) * rate_of_loss);
    }
    return heard / spoken * LINES / CHANNELS * decay / (2.0 * LN_1000) / tank_seconds(p);
}

static void tune(Plate *p, PlateTune *t)
{
    const double decay = exp(p->decay.value), damping = exp(p->damping.value), low_cut = exp(p->low_cut.value);
    const double warped = tan(DSP_PI * fmin(damping / p->rate, 0.49));
    const double per_sample = -LN_1000 / (decay * p->rate);
    for (uint32_t l = 0; l < LINES; ++l) {
        tune_line(&t->loss, l, exp(per_sample * p->line_delay[l]), warped);
        for (uint32_t o = 0; o < OUTS; ++o)
            t->tap[o][l] = tap_sign[o][l] * (float)exp(per_sample * p->tap_delay[o][l]);
    }
    t->feed = (float)(1.0 / sqrt(wet_energy(p, decay, damping, low_cut)));
}

static void retune(Sos *s, const Biquad *b, bool at_once)
{
    if (at_once)
        sos_jump(s, 0, b);
    else
        sos_glide(s, 0, b);
}

/* The low cut, and the shades: a tap's gain makes up for the loss of its place in the line, but at low frequencies
 * alone. What the damping takes on the way there is taken from each group of taps for the middle of their delays. */
static void tune_filters(Plate *p)
{
    const double decay = exp(p->decay.value), damping = exp(p->damping.value);
    const double db = -2.0 * 60.0 * p->shade_seconds / decay;
    const Biquad cut = design_high_pass(exp(p->low_cut.value), sqrt(0.5), p->rate);
    const Biquad to_first = design_high_shelf(damping, 0.5 * db, p->rate);
    const Biquad to_next = design_high_shelf(damping, db, p->rate);
    retune(&p->cut, &cut, p->fresh);
    for (uint32_t g = 0; g < SHADES; ++g)
        retune(&p->shade[g], g ? &to_next : &to_first, p->fresh);
}

static void move_tuning(Plate *p)
{
    const bool settled = smooth_settled(&p->decay) && smooth_settled(&p->damping) && smooth_settled(&p->low_cut);
    p->from = p->goal;
    p->moving = !settled && !p->fresh;
    p->into = 0;
    if (settled && !p->fresh)
        return;
    smooth_step(&p->decay);
    smooth_step(&p->damping);
    smooth_step(&p->low_cut);
    tune(p, &p->goal);
    tune_filters(p);
    if (p->fresh)
        p->from = p->goal;
}

/* One cross-fade at a time; a wish that comes meanwhile is next. */
static void move_wait(Plate *p)
{
    if (p->fresh) {
        p->wait_from = p->wait_to = p->wait_wish;
        fade_restart(&p->wait_fade);
        fade_to(&p->wait_fade, true);
    }
    if (p->wait_wish == p->wait_to || !fade_rests_at(&p->wait_fade, true))
        return;
    p->wait_from = p->wait_to;
    p->wait_to = p->wait_wish;
    fade_restart(&p->wait_fade);
    fade_to(&p->wait_fade, false);
    fade_to(&p->wait_fade, true);
}

static void hush(Plate *p)
{
    sos_hush(&p->cut);
    for (uint32_t g = 0; g < SHADES; ++g)
        sos_hush(&p->shade[g]);
    for (uint32_t l = 0; l < LINES; ++l) {
        p->state[0][l] = (float)dsp_hush(p->state[0][l]);
        p->state[1][l] = (float)dsp_hush(p->state[1][l]);
    }
}

/* A grid point. Decay and damping move slowly beside the way through a line: a line holds sound fed at the old gain,
 * and the taps let it out at the new one. */
static void tick(void *dsp)
{
    Plate *p = dsp;
    move_tuning(p);
    move_wait(p);
    hush(p);
    p->fresh = false;
}

/* ---- Sound ---- */

/* One stage of the fast Walsh-Hadamard transform in its constant-geometry form: log2(size) of them are the whole. */
static inline void mix_stage(const float *restrict x, float *restrict y, uint32_t size)
{
    const size_t half = size / 2;
    for (size_t i = 0; i < half; ++i) {
        y[2 * i] = x[i] + x[i + half];
        y[2 * i + 1] = x[i] - x[i + half];
    }
}

static inline void mix_channels(float *restrict x)
{
    float y[CHANNELS];
    mix_stage(x, y, CHANNELS);
    mix_stage(y, x, CHANNELS);
    mix_stage(x, y, CHANNELS);
    mix_stage(y, x, CHANNELS);
}

/* The last stage goes to y, where the result is. */
static inline void mix_lines(float *restrict x, float *restrict y)
{
    mix_stage(x, y, LINES);
    mix_stage(y, x, LINES);
    mix_stage(x, y, LINES);
    mix_stage(y, x, LINES);
    mix_stage(x, y, LINES);
}

/* Tank samples: below DSP_SILENCE they are 0, and beyond DSP_BROKEN, which no sound reaches, they are held. */
static inline float tame(float x)
{
    const float held = x > DSP_BROKEN ? DSP_BROKEN : x < -DSP_BROKEN ? -DSP_BROKEN : x;
    return fabsf(held) < (float)DSP_SILENCE ? 0.f : held;
}

/* Low cut and pre-delay: one channel of sound into the diffuser for each input. */
static void prepare(Plate *p, const float *const *in, float x[DSP_CHANNELS][DSP_CELL], uint32_t n)
{
    float *const rows[DSP_CHANNELS] = {x[0], x[1]};
    sos_process(&p->cut, in, rows, n);
    for (uint32_t i = 0; i < n; ++i) {
        const float weight = (float)fade_step(&p->wait_fade);
        for (uint32_t c = 0; c < p->in_channels; ++c) {
            delay_push(&p->wait[c], tame(x[c][i]));
            const float old = delay_tap(&p->wait[c], p->wait_from), new = delay_tap(&p->wait[c], p->wait_to);
            x[c][i] = weight == 1.f ? new : old + weight *(new - old);
        }
    }
    if (p->in_channels == 1)
        memcpy(x[1], x[0], n * sizeof *x[0]);
}

/* One step of the diffuser: every channel waits its own time, then all are mixed. Without loss at any frequency. */
static void diffuse(PlateRing *ring, const uint32_t *delay, float x[DSP_CELL][CHANNELS], uint32_t n)
{
    for (uint32_t c = 0; c < CHANNELS; ++c) {
        float run[DSP_CELL];
        for (uint32_t i = 0; i < n; ++i)
            run[i] = x[i][c];
        ring_write(&ring[c], run, n);
        ring_read(&ring[c], delay[c], run);
        ring_advance(&ring[c], n);
        for (uint32_t i = 0; i < n; ++i)
            x[i][c] = run[i];
    }
    for (uint32_t i = 0; i < n; ++i) {
        mix_channels(x[i]);
        for (uint32_t c = 0; c < CHANNELS; ++c)
            x[i][c] *= 0.25f;
    }
}

static void glide_loss(PlateLoss *now, const PlateLoss *from, const PlateLoss *goal, float way)
{
    for (uint32_t l = 0; l < LINES; ++l) {
        const float g = from->g[l] + way * (goal->g[l] - from->g[l]);
        now->g[l] = g;
        now->a[l] = 1.f / (1.f + g * (g + 1.41421356f));
        now->high[l] = from->high[l] + way * (goal->high[l] - from->high[l]);
        now->band[l] = from->band[l] + way * (goal->band[l] - from->band[l]);
        now->low[l] = from->low[l] + way * (goal->low[l] - from->low[l]);
    }
}

static inline void lose(const PlateLoss *restrict c, float *restrict first, float *restrict second, float *restrict x)
{
    for (uint32_t l = 0; l < LINES; ++l) {
        const float s1 = first[l], s2 = second[l];
        const float band = c->a[l] * (s1 + c->g[l] * (x[l] - s2));
        const float low = s2 + c->g[l] * band;
        first[l] = 2.f * band - s1;
        second[l] = 2.f * low - s2;
        x[l] = c->high[l] * x[l] + (c->band[l] * band + c->low[l] * low);
    }
}

/* n samples once around the tank. */
static void circulate(Plate *p, const float *way, float fed[DSP_CELL][CHANNELS], uint32_t n)
{
    float x[DSP_CELL][LINES];
    for (uint32_t l = 0; l < LINES; ++l) {
        float run[DSP_CELL];
        ring_read(&p->line[l], p->line_delay[l], run);
        for (uint32_t i = 0; i < n; ++i)
            x[i][l] = run[i];
    }
    PlateLoss now = p->goal.loss;
    for (uint32_t i = 0; i < n; ++i) {
        if (p->moving)
            glide_loss(&now, &p->from.loss, &p->goal.loss, way[i]);
        float mixed[LINES];
        lose(&now, p->state[0], p->state[1], x[i]);
        mix_lines(x[i], mixed);
        for (uint32_t l = 0; l < CHANNELS; ++l) {
            x[i][l] = tame(0.176776695f * mixed[l] + fed[i][l]);
            x[i][l + CHANNELS] = tame(0.176776695f * mixed[l + CHANNELS] + fed[i][l]);
        }
    }
    for (uint32_t l = 0; l < LINES; ++l) {
        float run[DSP_CELL];
        for (uint32_t i = 0; i < n; ++i)
            run[i] = x[i][l];
        ring_write(&p->line[l], run, n);
    }
}

/* Adds the taps of one group. `way` is how far their gains have glided at each sample. */
static void listen(const Plate *p, uint32_t group, uint32_t o, const float *way, float *out)
{
    for (uint32_t l = 0; l < LINES; ++l) {
        if (p->tap_shade[o][l] != group)
            continue;
        float run[DSP_CELL];
        ring_read(&p->line[l], p->tap_delay[o][l], run);
        const float from = p->from.tap[o][l], change = p->goal.tap[o][l] - from;
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            out[i] += (from + change * way[i]) * run[i];
    }
}

/* The latest taps pass all shades, the first ones the first alone. */
static void listen_to_all(Plate *p, const float *way, float wet[OUTS][DSP_CELL], uint32_t n)
{
    float *const rows[OUTS] = {wet[0], wet[1]};
    memset(wet, 0, OUTS * sizeof *wet);
    for (uint32_t g = SHADES; g-- > 0;) {
        for (uint32_t o = 0; o < OUTS; ++o)
            listen(p, g, o, way, wet[o]);
        sos_process(&p->shade[g], (const float *const *)rows, rows, n);
    }
}

/* The wet sound of n samples within one cell. */
static void reverberate(Plate *p, const float *const *in, float wet[OUTS][DSP_CELL], uint32_t n)
{
    float x[DSP_CHANNELS][DSP_CELL], fed[DSP_CELL][CHANNELS];
    prepare(p, in, x, n);
    float way[DSP_CELL];
    for (uint32_t i = 0; i < DSP_CELL; ++i)
        way[i] = p->moving ? (float)(p->into + i + 1) / DSP_CELL : 1.f;
    for (uint32_t i = 0; i < n; ++i) {
        const float feed = 0.25f * (p->from.feed + way[i] * (p->goal.feed - p->from.feed));
        for (uint32_t c = 0; c < CHANNELS; ++c)
            fed[i][c] = feed * x[c % DSP_CHANNELS][i];
    }
    for (uint32_t s = 0; s < STEPS; ++s)
        diffuse(p->step[s], p->step_delay[s], fed, n);
    circulate(p, way, fed, n);
    listen_to_all(p, way, wet, n);
    for (uint32_t l = 0; l < LINES; ++l)
        ring_advance(&p->line[l], n);
}

/* Mid and side of two uncorrelated channels: the side by `width`, both so that a channel's power stays. */
static void blend(Plate *p, float wet[OUTS][DSP_CELL], const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const double wet_gain = smooth_step(&p->wet), dry_gain = smooth_step(&p->dry), width = smooth_step(&p->width);
        const double scale = wet_gain * sqrt(0.5 / (1.0 + width * width) / LINES);
        const float near = (float)(scale * (1.0 + width)), far = (float)(scale * (1.0 - width));
        const float left = (float)dry_gain * in[0][i], right = (float)dry_gain * in[p->in_channels - 1][i];
        const bool silent = wet_gain == 0.0; /* adding 0 would lose the sign of a zero */
        out[0][i] = silent ? left : left + (near * wet[0][i] + far * wet[1][i]);
        out[1][i] = silent ? right : right + (near * wet[1][i] + far * wet[0][i]);
    }
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Plate *p = dsp;
    float wet[OUTS][DSP_CELL];
    reverberate(p, in, wet, n);
    blend(p, wet, in, out, n);
    p->into += n;
}

const Processor plate = {
    .size = sizeof(Plate),
    .outs = OUTS,
    PROCESSOR_FUNCTIONS,
};
