#include "partials.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CORNER   2800.0 /* Hz: 0.1 dB down at PARTIALS_HIGHEST */
#define ORDER    6
#define PERIODS  3.0
#define SHORTEST 0.020 /* s of window */
#define LONGEST  0.050
#define STRIDE   2     /* frames of voice from one measurement to the next */
#define MOST     3     /* measurements of a piece */
#define STAYS    1.0   /* semitones */
#define TAIL     1e-3  /* of the power of the loudest frame lately: below, what sounds is a tail */
#define FORGET   6.0   /* dB for each second of voice: how fast that falls */
#define NOTHING  1e-20 /* mean square, -200 dB */

bool partials_init(Partials *p, double rate)
{
    *p = (Partials){0};
    if (!dsp_rate_ok(rate) || !voice_init(&p->voice, rate))
        return false;
    Biquad section[PARTIALS_SECTIONS];
    design_butterworth_low_pass(ORDER, CORNER, rate, section);
    for (uint32_t i = 0; i < PARTIALS_SECTIONS; ++i)
        p->filter[i] = svf_from_biquad(&section[i]);
    p->decimate = (uint32_t)(rate / 8000.0);
    p->rate = rate / p->decimate;
    const uint32_t widest = (uint32_t)(LONGEST * p->rate) + 1;
    const double stride = STRIDE * pitch_hop(&p->voice.pitch) / rate;
    p->fade = pow(10.0, -0.1 * FORGET * stride);
    const uint32_t cells = pitch_hop(&p->voice.pitch) * STRIDE / DSP_CELL; /* between two measurements, at least */
    p->per_cell = (PARTIALS_MOST + cells - 2) / (cells - 1);
    p->past_size = voice_lag(&p->voice) / p->decimate + widest + 2 * DSP_CELL;
    p->past = calloc(p->past_size, sizeof *p->past);
    p->window = calloc(widest, sizeof *p->window);
    if (!p->past || !p->window) {
        partials_done(p);
        return false;
    }
    return true;
}

void partials_done(Partials *p)
{
    voice_done(&p->voice);
    free(p->past);
    free(p->window);
    *p = (Partials){0};
}

void partials_reset(Partials *p)
{
    voice_reset(&p->voice);
    p->seen = p->voice.oldest;
    p->frames = 0;
    memset(p->state, 0, sizeof p->state);
    memset(p->past, 0, p->past_size * sizeof *p->past);
    p->phase = p->past_at = p->taken = 0;
    p->measuring = false;
    p->loudest = 0.0;
    p->tail = false;
    p->notes = (Held){0};
    p->held = (HeldFound){0};
    p->sum = (PartialsPiece){0};
}

/* ---- A piece ---- */

static bool piece_ends(Partials *p, PartialsPiece *piece)
{
    const PartialsPiece sum = p->sum;
    p->sum = (PartialsPiece){0};
    if (!sum.frames)
        return false;
    *piece = sum;
    piece->hz = exp2(sum.hz / sum.frames);
    for (uint32_t k = 0; k < sum.count; ++k)
        piece->level[k] = sum.level[k] / sum.frames;
    return true;
}

static bool belongs(const Partials *p)
{
    if (!p->sum.frames)
        return true;
    return fabs(log2(p->frame_hz) - p->sum.hz / p->sum.frames) <= STAYS / 12;
}

static void add_frame(Partials *p)
{
    PartialsPiece *s = &p->sum;
    s->count = s->frames && s->count < p->frame_count ? s->count : p->frame_count;
    s->hz += log2(p->frame_hz);
    for (uint32_t k = 0; k < p->frame_count; ++k)
        s->level[k] += p->frame_level[k];
    ++s->frames;
}

/* What rings on after a note, of a tract, a room or the filters, can be followed down to the last digit: how far would
 * depend on the level of the take. */
static bool is_tail(Partials *p)
{
    double power = 0.0;
    for (uint32_t k = 0; k < p->frame_count; ++k)
        power += pow(10.0, 0.1 * p->frame_level[k]);
    p->loudest = fmax(power, dsp_hush(p->loudest * p->fade));
    return power < TAIL * p->loudest;
}

/* The frame just measured joins the piece, or starts the next, or is none. true: a piece is complete. */
static bool frame_ends(Partials *p, PartialsPiece *piece)
{
    p->tail = is_tail(p);
    if (p->tail)
        return piece_ends(p, piece);
    const bool ends = (!belongs(p) || p->sum.frames == MOST) && piece_ends(p, piece);
    add_frame(p);
    return ends;
}

/* ---- A frame ---- */

/* The window of a frame whose middle is `ago` decimated samples back. */
static void take_window(Partials *p, double hz, uint32_t ago)
{
    const double wanted = dsp_clamp(PERIODS / hz, SHORTEST, LONGEST);
    p->window_size = (uint32_t)(wanted * p->rate);
    uint32_t at = (p->past_at + 2 * p->past_size - ago - p->window_size / 2) % p->past_size;
    const double step = 2.0 * DSP_PI / p->window_size, turn = 2.0 * cos(step);
    double sum = 0.0, now = cos(0.5 * step), before = now; /* cosines, each made of the two before it */
    for (uint32_t i = 0; i < p->window_size; ++i) {
        const double weight = 0.5 - 0.5 * now, next = turn * now - before;
        before = now;
        now = next;
        p->window[i] = (float)weight * p->past[at];
        sum += weight;
        at = at + 1 < p->past_size ? at + 1 : 0;
    }
    p->frame_scale = 2.0 / (sum * sum);
}

static void start_frame(Partials *p)
{
    const double hz = voice_pitch(&p->voice);
    const uint32_t ends = p->frames * (pitch_hop(&p->voice.pitch) / p->decimate); /* decimated samples */
    const uint32_t ago = p->taken - ends + voice_lag(&p->voice) / p->decimate;
    take_window(p, hz, ago);
    p->frame_hz = hz;
    const double fit = PARTIALS_HIGHEST / hz;
    p->frame_count = fit < PARTIALS_MOST ? (uint32_t)fit : PARTIALS_MOST;
    p->frame_at = 0;
    p->measuring = true;
}

/* The Fourier sum at one frequency, by a phasor turned from sample to sample. */
static double level_at(const Partials *p, double hz)
{
    const double w = 2.0 * DSP_PI * hz / p->rate, turn = 2.0 * cos(w);
    double s1 = 0.0, s2 = 0.0;
    for (uint32_t i = 0; i < p->window_size; ++i) {
        const double s = (double)p->window[i] + turn * s1 - s2;
        s2 = s1;
        s1 = s;
    }
    const double power = (s1 * s1 + s2 * s2 - turn * s1 * s2) * p->frame_scale;
    return 10.0 * log10(power + NOTHING);
}

static bool measure(Partials *p, PartialsPiece *piece)
{
    for (uint32_t i = 0; i < p->per_cell && p->frame_at < p->frame_count; ++i) {
        p->frame_level[p->frame_at] = level_at(p, p->frame_hz * (p->frame_at + 1));
        ++p->frame_at;
    }
    if (p->frame_at < p->frame_count)
        return false;
    p->measuring = false;
    return frame_ends(p, piece);
}

/* The frame that is new: held, or none of a note. */
static void hear_note(Partials *p)
{
    const bool sounds = voice_sounding(&p->voice);
    p->tail &= sounds;
    if (sounds && !p->tail)
        p->held = held_hear(&p->notes, hz_to_note(voice_pitch(&p->voice)));
    else
        held_rest(&p->notes);
}

HeldFound partials_held(const Partials *p)
{
    return p->held;
}

bool partials_tick(Partials *p, PartialsPiece *piece)
{
    p->held = (HeldFound){0};
    for (uint32_t i = 0; i < PARTIALS_SECTIONS; ++i)
        svf_hush(&p->state[i]);
    if (p->voice.oldest == p->seen)
        return p->measuring && measure(p, piece);
    p->seen = p->voice.oldest;
    ++p->frames;
    hear_note(p);
    if (!voice_sounding(&p->voice)) {
        p->measuring = false;
        return piece_ends(p, piece);
    }
    if (p->frames % STRIDE == 0)
        start_frame(p);
    return p->measuring && measure(p, piece);
}

/* ---- Samples ---- */

static void keep(Partials *p, double x)
{
    p->past[p->past_at] = (float)x;
    p->past_at = p->past_at + 1 < p->past_size ? p->past_at + 1 : 0;
    ++p->taken;
}

static void take(Partials *p, const float *in, uint32_t n)
{
    double x[DSP_CELL];
    for (uint32_t i = 0; i < n; ++i)
        x[i] = (double)in[i];
    lanes_run(p->filter, p->state, PARTIALS_SECTIONS, x, n);
    for (uint32_t i = p->decimate - 1 - p->phase; i < n; i += p->decimate)
        keep(p, x[i]);
    p->phase = (p->phase + n) % p->decimate;
}

void partials_process(Partials *p, const float *in, uint32_t n)
{
    voice_process(&p->voice, in, n);
    for (uint32_t at = 0; at < n; at += DSP_CELL)
        take(p, in + at, n - at < DSP_CELL ? n - at : DSP_CELL);
}
