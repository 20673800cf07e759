#include "partials.h"

#include "design.h"
#include "svf.h"
#include "two.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define THIN_CORNER     2800.0 /* Hz, corner of the low-pass before decimation: 0.1 dB down at PARTIALS_HIGHEST */
#define THIN_ORDER      6      /* order of that low-pass, a Butterworth */
#define SECTIONS        3      /* second-order sections of that low-pass */
#define TAPS            24     /* taps of its impulse response per decimated sample; the rest is 110 dB down */
#define WINDOW_PERIODS  3.0    /* periods of the pitch in a window */
#define SHORTEST_WINDOW 0.020  /* s */
#define LONGEST_WINDOW  0.050  /* s */
#define FRAME_STRIDE    2      /* frames of pitch.h from one measurement to the next */
#define MOST_MEASURED   3      /* most measurements in a piece */
#define SAME_NOTE       1.0    /* semitones, most that a frame may be off the mean pitch of its piece */
#define TAIL_POWER      1e-3   /* ratio to the loudest frame's power, -30 dB: a fainter frame is a tail */
#define LOUDEST_FALL    6.0    /* dB in each second of voice, fall of the loudest frame */
#define SILENT_POWER    1e-20  /* mean square, -200 dB */

enum { AT_ONCE = 4 }; /* partial sums of a Fourier sum that are worked on at once */

/* The low-pass's impulse response, last tap first. */
static void low_pass(double *tap, uint32_t taps, double rate)
{
    Biquad section[SECTIONS];
    SvfState state[SECTIONS] = {{0}};
    design_butterworth_low_pass(THIN_ORDER, THIN_CORNER, rate, section);
    for (uint32_t k = taps; k-- > 0;) {
        tap[k] = k == taps - 1 ? 1.0 : 0.0;
        for (uint32_t i = 0; i < SECTIONS; ++i) {
            const Svf filter = svf_from_biquad(&section[i]);
            tap[k] = svf_step(&filter, &state[i], tap[k]);
        }
    }
}

static bool init_thin(Partials *p, double rate)
{
    double tap[TAPS * (size_t)(DSP_RATE_MAX / 8000.0)];
    p->decimate = (uint32_t)(rate / 8000.0);
    const uint32_t taps = TAPS * p->decimate;
    low_pass(tap, taps, rate);
    return thin_init_with(&p->thin, p->decimate, tap, taps);
}

bool partials_init(Partials *p, double rate)
{
    *p = (Partials){0};
    if (!dsp_rate_ok(rate) || !voice_init(&p->voice, rate))
        return false;
    const bool thins = init_thin(p, rate);
    p->rate = rate / p->decimate;
    const uint32_t widest = (uint32_t)(LONGEST_WINDOW * p->rate) + 1;
    const double stride = FRAME_STRIDE * pitch_hop(&p->voice.pitch) / rate;
    p->fade = pow(10.0, -0.1 * LOUDEST_FALL * stride);
    const uint32_t cells =
        pitch_hop(&p->voice.pitch) * FRAME_STRIDE / DSP_CELL; /* least number between two measurements */
    p->per_cell = (PARTIALS_MOST + cells - 2) / (cells - 1);
    p->past_size = voice_lag(&p->voice) / p->decimate + widest + 2 * DSP_CELL;
    p->past = calloc(p->past_size, sizeof *p->past);
    p->window = calloc(widest + AT_ONCE, sizeof *p->window);
    if (!thins || !p->past || !p->window) {
        partials_done(p);
        return false;
    }
    return true;
}

void partials_done(Partials *p)
{
    voice_done(&p->voice);
    thin_done(&p->thin);
    free(p->past);
    free(p->window);
    *p = (Partials){0};
}

void partials_reset(Partials *p)
{
    voice_reset(&p->voice);
    p->seen = p->voice.oldest;
    p->frames = 0;
    thin_reset(&p->thin);
    memset(p->past, 0, p->past_size * sizeof *p->past);
    p->past_at = p->taken = 0;
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
    return fabs(log2(p->frame_hz) - p->sum.hz / p->sum.frames) <= SAME_NOTE / 12;
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

/* Whether the frame is a tail, the ringing of a vocal tract, a room or the filters after a note. How far down a tail
 * can be followed depends on the level of the take, so tails are left out. */
static bool is_tail(Partials *p)
{
    double power = 0.0;
    for (uint32_t k = 0; k < p->frame_count; ++k)
        power += pow(10.0, 0.1 * p->frame_level[k]);
    p->loudest = fmax(power, dsp_hush(p->loudest * p->fade));
    return power < TAIL_POWER * p->loudest;
}

/* Adds the frame just measured to the piece, or starts the next piece with it, or drops it as a tail. true: a piece is
 * complete. */
static bool frame_ends(Partials *p, PartialsPiece *piece)
{
    p->tail = is_tail(p);
    if (p->tail)
        return piece_ends(p, piece);
    const bool ends = (!belongs(p) || p->sum.frames == MOST_MEASURED) && piece_ends(p, piece);
    add_frame(p);
    return ends;
}

/* ---- A frame ---- */

/* Takes the window of a frame whose middle is `ago` decimated samples back. */
static void take_window(Partials *p, double hz, uint32_t ago)
{
    const double wanted = dsp_clamp(WINDOW_PERIODS / hz, SHORTEST_WINDOW, LONGEST_WINDOW);
    p->window_size = (uint32_t)(wanted * p->rate);
    uint32_t at = (p->past_at + 2 * p->past_size - ago - p->window_size / 2) % p->past_size;
    const double step = 2.0 * DSP_PI / p->window_size, turn = 2.0 * cos(step);
    double sum = 0.0, now = cos(0.5 * step), before = now; /* cosines by recurrence, each from the two before it */
    for (uint32_t i = 0; i < p->window_size; ++i) {
        const double weight = 0.5 - 0.5 * now, next = turn * now - before;
        before = now;
        now = next;
        p->window[i] = (float)weight * p->past[at];
        sum += weight;
        at = at + 1 < p->past_size ? at + 1 : 0;
    }
    memset(p->window + p->window_size, 0, AT_ONCE * sizeof *p->window);
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

/* Four Goertzel recursions, each over every fourth sample, so that none waits for another: their last two values. */
typedef struct {
    double last[AT_ONCE], before[AT_ONCE];
} Phasors;

static Phasors turn_phasors(const float *x, uint32_t n, double by)
{
    const Two turn = two_of(by, by);
    Two a1 = two_of(0.0, 0.0), a2 = a1, b1 = a1, b2 = a1;
    for (size_t i = 0; i < n; i += AT_ONCE) {
        const Two a = two_sub(two_add(two_of((double)x[i], (double)x[i + 1]), two_mul(turn, a1)), a2);
        const Two b = two_sub(two_add(two_of((double)x[i + 2], (double)x[i + 3]), two_mul(turn, b1)), b2);
        a2 = a1;
        a1 = a;
        b2 = b1;
        b1 = b;
    }
    return (Phasors){{two_lane(a1, 0), two_lane(a1, 1), two_lane(b1, 0), two_lane(b1, 1)},
                     {two_lane(a2, 0), two_lane(a2, 1), two_lane(b2, 0), two_lane(b2, 1)}};
}

/* Level of the windowed frame at one frequency, dB. */
static double level_at(const Partials *p, double hz)
{
    const double w = 2.0 * DSP_PI * hz / p->rate, turn_real = cos(AT_ONCE * w), turn_imaginary = sin(AT_ONCE * w);
    const Phasors s = turn_phasors(p->window, p->window_size, 2.0 * turn_real);
    double real = 0.0, imaginary = 0.0;
    for (uint32_t j = 0; j < AT_ONCE; ++j) {
        const double x = s.last[j] - turn_real * s.before[j], y = turn_imaginary * s.before[j];
        const double late_real = cos(j * w), late_imaginary = -sin(j * w);
        real += x * late_real - y * late_imaginary;
        imaginary += x * late_imaginary + y * late_real;
    }
    return 10.0 * log10((real * real + imaginary * imaginary) * p->frame_scale + SILENT_POWER);
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

/* Adds the new frame's pitch to the held notes; a frame without a voice, or in a tail, ends a note. */
static void hear_note(Partials *p)
{
    const bool sounds = voice_sounding(&p->voice);
    p->tail &= sounds;
    if (sounds && !p->tail)
        p->held = held_hear(&p->notes, hz_to_note(voice_pitch(&p->voice)));
    else
        held_rest(&p->notes);
}

uint32_t partials_frame(const Partials *p)
{
    return FRAME_STRIDE * pitch_hop(&p->voice.pitch);
}

HeldFound partials_held(const Partials *p)
{
    return p->held;
}

bool partials_tick(Partials *p, PartialsPiece *piece)
{
    p->held = (HeldFound){0};
    if (p->voice.oldest == p->seen)
        return p->measuring && measure(p, piece);
    p->seen = p->voice.oldest;
    ++p->frames;
    hear_note(p);
    if (!voice_sounding(&p->voice)) {
        p->measuring = false;
        return piece_ends(p, piece);
    }
    if (p->frames % FRAME_STRIDE == 0)
        start_frame(p);
    return p->measuring && measure(p, piece);
}

/* ---- Samples ---- */

static void take(Partials *p, const float *in, uint32_t n)
{
    float x[DSP_CELL];
    const uint32_t kept = thin_run(&p->thin, in, n, x);
    for (uint32_t i = 0; i < kept; ++i) {
        p->past[p->past_at] = x[i];
        p->past_at = p->past_at + 1 < p->past_size ? p->past_at + 1 : 0;
    }
    p->taken += kept;
}

void partials_process(Partials *p, const float *in, uint32_t n)
{
    voice_process(&p->voice, in, n);
    for (uint32_t at = 0; at < n; at += DSP_CELL)
        take(p, in + at, n - at < DSP_CELL ? n - at : DSP_CELL);
}
