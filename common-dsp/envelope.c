#include "envelope.h"

#include "four_math.h"
#include "inlined.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool peak_hold_init(PeakHold *p, uint32_t samples)
{
    uint32_t leaves = 1;
    while (leaves < samples + 1)
        leaves *= 2;
    *p = (PeakHold){.node = calloc(2 * (size_t)leaves, sizeof *p->node), .leaves = leaves, .length = samples + 1};
    return p->node;
}

void peak_hold_done(PeakHold *p)
{
    free(p->node);
    *p = (PeakHold){0};
}

void peak_hold_reset(PeakHold *p)
{
    memset(p->node, 0, 2 * (size_t)p->leaves * sizeof *p->node);
    p->at = 0;
}

bool cell_hold_init(CellHold *h, uint32_t samples)
{
    const uint32_t cells = samples / DSP_CELL + 2;
    *h = (CellHold){
        .largest = calloc((size_t)(cells + 1) * DSP_CELL, sizeof *h->largest), .samples = samples, .cells = cells};
    return h->largest;
}

void cell_hold_done(CellHold *h)
{
    free(h->largest);
    *h = (CellHold){0};
}

void cell_hold_reset(CellHold *h)
{
    memset(h->largest, 0, (size_t)(h->cells + 1) * DSP_CELL * sizeof *h->largest);
    h->at = h->into = 0;
}

static inline float larger(float a, float b)
{
    return a > b ? a : b;
}

static float *cell_of(const CellHold *h, uint32_t at)
{
    return h->largest + (size_t)at * DSP_CELL;
}

static uint32_t next(const CellHold *h, uint32_t at)
{
    return at + 1 < h->cells ? at + 1 : 0;
}

/* The largest sample from the cell at `from` up to the one before the cell under way. */
static float largest_since(const CellHold *h, uint32_t from)
{
    float most = 0.f;
    for (uint32_t at = from; at != h->at; at = next(h, at))
        most = larger(most, *cell_of(h, at));
    return most;
}

/* With t samples of this cell the window holds `samples` - t before it: whole cells, and the end of an older one. The
 * ring's oldest cell is the next one in it. What is left of it in the window, by sample, goes on in memory with the
 * cell after it. */
static void begin_cell(CellHold *h)
{
    const uint32_t rest = h->samples % DSP_CELL, oldest = next(h, h->at), second = next(h, oldest);
    const float *left = cell_of(h, oldest) + DSP_CELL - rest, whole = *cell_of(h, second);
    const Four fewer = four_all(largest_since(h, next(h, second)));
    for (uint32_t t = 0; t < DSP_CELL; t += FOUR)
        four_store(h->before + t, four_max(four_load(left + t), fewer));
    for (uint32_t t = 0; t < rest; ++t)
        h->before[t] = larger(h->before[t], whole);
    h->so_far = 0.f;
}

/* Replaces each sample of the cell by the largest from it on. The first cell is stored again behind the last. */
static void end_cell(CellHold *h)
{
    float *cell = cell_of(h, h->at), largest = 0.f;
    UNROLLED
    for (uint32_t t = DSP_CELL; t > 0; --t)
        cell[t - 1] = largest = larger(cell[t - 1], largest);
    if (h->at == 0)
        memcpy(cell_of(h, h->cells), cell, DSP_CELL * sizeof *cell);
    h->at = next(h, h->at);
    h->into = 0;
}

void cell_hold_run(CellHold *h, const float *x, float *held, uint32_t n)
{
    if (!h->into)
        begin_cell(h);
    float *here = cell_of(h, h->at) + h->into, *before = h->before + h->into, so_far = h->so_far;
    dsp_copy(here, x, n);
    UNROLLED
    for (uint32_t t = 0; t < n; ++t)
        held[t] = so_far = larger(here[t], so_far);
    uint32_t t = 0;
    for (; t + FOUR <= n; t += FOUR)
        four_store(held + t, four_max(four_load(held + t), four_load(before + t)));
    for (; t < n; ++t)
        held[t] = larger(held[t], before[t]);
    h->so_far = so_far;
    h->into += n;
    if (h->into == DSP_CELL)
        end_cell(h);
}

/* After n samples two poles a leave (1 + n (1 - a)) a^n of a jump; n = seconds rate need not be whole. With
 * a = exp(-z/n), that is 1/e where z = 1 + log(1 + n (1 - exp(-z/n))). Newton's method, from above, solves this within
 * these rounds for any n. */
double follower_keep(double seconds, double rate)
{
    const double n = seconds * rate;
    if (!(n > 0.0))
        return 0.0;
    double z = 2.2;
    for (int round = 0; round < 8; ++round) {
        const double inside = 1.0 - n * expm1(-z / n);
        const double miss = 1.0 + log(inside) - z;
        const double slope = exp(-z / n) / inside - 1.0;
        z -= miss / slope;
    }
    return exp(-z / n);
}

/* One step of a pole towards x. */
static inline double pole(double value, double x, double rise, double fall, double from_rise, double from_fall)
{
    return x > value ? from_rise * x + rise * value : from_fall * x + fall * value;
}

void follower_run(Follower *f, double rise, double fall, const float *x, float *value, uint32_t n)
{
    const double from_rise = 1.0 - rise, from_fall = 1.0 - fall;
    double first = f->first, second = f->value;
    for (uint32_t t = 0; t < n; ++t) {
        first = pole(first, (double)x[t], rise, fall, from_rise, from_fall);
        second = pole(second, first, rise, fall, from_rise, from_fall);
        value[t] = (float)second;
    }
    *f = (Follower){first, second};
}
