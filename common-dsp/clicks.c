#include "clicks.h"

#include "linear_prediction.h"
#include "rows.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Chosen with clicks planted in six recorded voices, spoken and sung, and not searched one by one; what they find:
 * clicks.md. */
#define SLOW_RATE_LEAST 32000.0 /* Hz: least rate after decimation, which begins at twice this */
#define SLOW_CORNER     14000.0 /* Hz: corner of the low-pass before decimation */
#define SCALED_AT       3000.0  /* Hz: a tone of this reads its own level in the difference */

enum {
    AWAY = 2, /* frames from the one in question to those its predictor is made of */
    LAGS = CLICKS_ORDER + 1,
    LAGS_STEPS = (LAGS + ROWS_PAIRS - 1) / ROWS_PAIRS,
    STEPS = LAGS_STEPS + 1 + CLICKS_PIECES, /* steps of a frame's work */
    NEIGHBOURS = 4,                         /* pieces to each side that may belong to the same click */
    BEFORE = 30,                            /* pieces: how far back a click has to stand out */
    GAP_BEFORE = 3,                         /* pieces right before the click that do not count there */
    AFTER = 35,                             /* pieces: how far ahead a click has to stand out */
    KEPT = 5,                               /* frames in the ring: a piece is read up to 4.4 frames after it began */
    FIRST = (AWAY - 1) * CLICKS_PIECES,     /* number of the incoming piece that is worked on first */
    LONGEST_GAP = 64,                       /* samples: a longer gap is digital silence */
    EDGES = 8,                              /* samples of a long gap that count as missing */
};

#define MISSING_TIMES 8.0 /* error over the missing energy times the predictor's gain: up to here it is damage */

/* One block holds everything; this says where. */
static bool share_out_memory(Clicks *c)
{
    const uint32_t shaped = 2 * c->frame + CLICKS_BEYOND;
    c->kept = KEPT * c->frame;
    c->memory = calloc((size_t)c->frame + shaped + c->kept, sizeof *c->memory);
    if (!c->memory)
        return false;
    c->window = c->memory;
    c->shaped = c->window + c->frame;
    c->past = c->shaped + shaped;
    return true;
}

bool clicks_init(Clicks *c, double rate, uint32_t channels)
{
    memset(c, 0, sizeof *c);
    c->channels = channels;
    c->factor = rate < 2.0 * SLOW_RATE_LEAST ? 1 : (uint32_t)(rate / SLOW_RATE_LEAST);
    const double slow = rate / c->factor;
    decimate_init(&c->slow, c->factor, SLOW_CORNER, rate);
    c->frame = CLICKS_PIECES * (uint32_t)(slow * 0.01 / CLICKS_PIECES + 0.5);
    const double gain = 2.0 * sin(DSP_PI * SCALED_AT / slow);
    c->scale = 1.0 / (gain * gain);
    if (!share_out_memory(c))
        return false;
    for (uint32_t i = 0; i < c->frame; ++i)
        c->window[i] = (float)(0.5 - 0.5 * cos(DSP_PI * (i + 0.5) / c->frame));
    clicks_reset(c);
    return true;
}

void clicks_done(Clicks *c)
{
    free(c->memory);
    *c = (Clicks){0};
}

void clicks_reset(Clicks *c)
{
    decimate_reset(&c->slow);
    c->last = 0.f;
    memset(c->past, 0, c->kept * sizeof *c->past);
    c->at = 0;
    memset(c->alike, 0, sizeof c->alike);
    memset(c->piece, 0, sizeof c->piece);
    memset(c->gap, 0, sizeof c->gap);
    memset(c->gain, 0, sizeof c->gain);
    memset(c->missing, 0, sizeof c->missing);
    c->incoming = 0;
    c->incoming_ends = c->frame / CLICKS_PIECES;
    c->heard = c->frames = c->due = c->pieces = 0;
    c->into = c->done = 0;
    c->found = false;
}

/* ---- The work of a frame ---- */

/* Copies n samples of the difference, from number `first` on. */
static void look_back(const Clicks *c, uint64_t first, float *to, uint32_t n)
{
    const uint32_t ago = (uint32_t)(c->heard - first), from = c->at >= ago ? c->at - ago : c->at + c->kept - ago;
    const uint32_t straight = n < c->kept - from ? n : c->kept - from;
    memcpy(to, c->past + from, straight * sizeof *to);
    memcpy(to + straight, c->past, (n - straight) * sizeof *to);
}

/* Windows the frame; the window reaches half a frame beyond either end. */
static void shape(Clicks *c)
{
    const uint32_t last = 2 * c->frame - 1;
    look_back(c, c->due * c->frame - c->frame / 2, c->shaped, 2 * c->frame);
    for (uint32_t i = 0; i < c->frame; ++i) {
        c->shaped[i] *= c->window[i];
        c->shaped[last - i] *= c->window[i];
    }
}

/* Makes the predictor from the frames AWAY before and after the frame in question. */
static void predict(Clicks *c)
{
    double alike[LAGS];
    for (uint32_t k = 0; k < LAGS; ++k)
        alike[k] = c->alike[c->due % CLICKS_KEPT][k] + c->alike[(c->due + 1) % CLICKS_KEPT][k];
    linear_prediction(alike, CLICKS_ORDER, c->predictor);
}

/* Power of the prediction error over one piece of the frame in question. */
static double left_of(const Clicks *c, uint32_t piece)
{
    const uint32_t n = c->frame / CLICKS_PIECES;
    const uint64_t first = (c->due - AWAY) * c->frame + (uint64_t)piece * n;
    float x[CLICKS_ORDER + CLICKS_FRAME / CLICKS_PIECES + ROWS_STEP] = {0};
    look_back(c, first - CLICKS_ORDER, x, n + CLICKS_ORDER);
    return linear_prediction_error(c->predictor, CLICKS_ORDER, x + CLICKS_ORDER, n);
}

/* ---- Pieces ---- */

static double piece_at(const Clicks *c, uint64_t number)
{
    return c->piece[number % CLICKS_RING];
}

static double most(const Clicks *c, uint64_t from, uint64_t to)
{
    double highest = 0.0;
    for (uint64_t i = from; i <= to; ++i)
        highest = fmax(highest, piece_at(c, i));
    return highest;
}

bool clicks_is_damage(double error, double gain, double missing)
{
    return error <= MISSING_TIMES * gain * missing;
}

static bool is_damage(const Clicks *c, uint64_t number)
{
    const uint32_t samples = c->frame / CLICKS_PIECES;
    double energy = 0.0;
    for (uint64_t i = number + FIRST - 1; i <= number + FIRST + 1; ++i)
        energy += c->missing[i % CLICKS_RING];
    return clicks_is_damage(piece_at(c, number) / c->scale * samples, c->gain[number % CLICKS_RING], energy);
}

static void keep_piece(Clicks *c, double power)
{
    c->gain[c->pieces % CLICKS_RING] = linear_prediction_gain(c->predictor, CLICKS_ORDER);
    c->piece[c->pieces++ % CLICKS_RING] = power * c->scale;
    if (c->pieces < BEFORE + AFTER + 1)
        return;
    const uint64_t at = c->pieces - 1 - AFTER;
    const double here = piece_at(c, at);
    if (here < most(c, at - NEIGHBOURS, at + NEIGHBOURS) ||
        here < CLICKS_OVER * fmax(most(c, at - BEFORE, at - GAP_BEFORE), most(c, at + NEIGHBOURS, at + AFTER)))
        return;
    c->found = here > 0.0 && !is_damage(c, at);
    c->db = power_to_db(here);
}

/* ---- Samples ---- */

static void step(Clicks *c)
{
    const uint32_t number = c->done++;
    if (number < LAGS_STEPS)
        linear_prediction_lags(c->shaped, 2 * c->frame, number * ROWS_PAIRS, c->alike[c->due % CLICKS_KEPT]);
    else if (number == LAGS_STEPS)
        predict(c);
    else if (c->due > AWAY)
        keep_piece(c, left_of(c, number - LAGS_STEPS - 1));
}

/* The work on a frame begins when the next frame has ended, and goes on while the one after that comes in. */
static void keep_sample(Clicks *c, float x)
{
    c->past[c->at] = x - c->last;
    c->at = c->at + 1 < c->kept ? c->at + 1 : 0;
    c->last = x;
    ++c->heard;
    ++c->into;
    while (c->due && c->done * c->frame < STEPS * c->into)
        step(c);
    if (c->into < c->frame)
        return;
    c->into = 0;
    if (++c->frames < 3)
        return;
    c->due = c->frames - 2;
    c->done = 0;
    shape(c);
}

double clicks_missing(ClicksGap *g, float x, uint32_t longest)
{
    if (x == 0.f) {
        ++g->zeros;
        return 0.0;
    }
    const double around = 0.5 * (double)(fabsf(g->sound) + fabsf(x));
    const uint32_t most = g->zeros < EDGES ? g->zeros : EDGES;
    const double energy = g->zeros <= longest ? most * around * around : 0.0;
    *g = (ClicksGap){.sound = x};
    return energy;
}

static void keep_missing(Clicks *c, const float *const *in, uint32_t at)
{
    if (c->heard == c->incoming_ends) {
        c->missing[++c->incoming % CLICKS_RING] = 0.0;
        c->incoming_ends += c->frame / CLICKS_PIECES;
    }
    for (uint32_t k = 0; k < c->channels; ++k)
        if (in[k][at] == 0.f || c->gap[k].zeros)
            c->missing[c->incoming % CLICKS_RING] += clicks_missing(&c->gap[k], in[k][at], LONGEST_GAP);
        else
            c->gap[k].sound = in[k][at];
}

void clicks_process(Clicks *c, const float *const *in, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const float half = c->channels > 1 ? 0.5f * (in[0][i] + in[1][i]) : in[0][i];
        double slow = (double)half;
        keep_missing(c, in, i);
        if (c->factor == 1 || decimate_step(&c->slow, (double)half, &slow))
            keep_sample(c, (float)slow);
    }
}

bool clicks_found(Clicks *c, double *db)
{
    const bool found = c->found;
    c->found = false;
    *db = c->db;
    return found;
}
