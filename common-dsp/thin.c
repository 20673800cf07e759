#include "thin.h"

#include "inlined.h"
#include "rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ROOM = 2 * DSP_CELL }; /* samples that fit in the line before its past is moved back to the front */

#define SILENT_STATE 1e-20f /* far above a float's least: products with denormals would cost many times as much */

static double sinc(double x)
{
    return x == 0.0 ? 1.0 : sin(DSP_PI * x) / (DSP_PI * x);
}

static void design(Thin *t, double share)
{
    const double middle = 0.5 * (t->taps - 1.0);
    double sum = 0.0;
    for (int round = 0; round < 2; ++round) /* the second round divides by the sum, which makes the gain 1 */
        for (uint32_t k = 0; k < t->taps; ++k) {
            const double window = 0.54 + 0.46 * cos(DSP_PI * (k - middle) / (middle + 1.0));
            const double tap = window * sinc(2.0 * share * (k - middle));
            sum += round == 0 ? tap : 0.0;
            t->tap[k] = (float)(tap / sum);
        }
}

static bool allocate(Thin *t, uint32_t factor, uint32_t taps)
{
    *t = (Thin){.factor = factor, .taps = taps};
    t->tap = calloc(t->taps, sizeof *t->tap);
    t->line = calloc(t->taps + ROOM, sizeof *t->line);
    if (!t->tap || !t->line) {
        thin_done(t);
        return false;
    }
    return true;
}

bool thin_init(Thin *t, uint32_t factor, double corner, double rate)
{
    if (!allocate(t, factor, THIN_TAPS * factor))
        return false;
    design(t, corner / rate);
    return true;
}

bool thin_init_with(Thin *t, uint32_t factor, const double *tap, uint32_t taps)
{
    if (!allocate(t, factor, taps))
        return false;
    for (uint32_t k = 0; k < taps; ++k)
        t->tap[k] = (float)tap[k];
    return true;
}

void thin_done(Thin *t)
{
    free(t->tap);
    free(t->line);
    *t = (Thin){0};
}

void thin_reset(Thin *t)
{
    memset(t->line, 0, (t->taps + ROOM) * sizeof *t->line);
    t->phase = t->at = 0;
}

static float hushed(float x)
{
    return x > -SILENT_STATE && x < SILENT_STATE ? 0.f : x;
}

static INLINED void take_in(float *restrict to, const float *restrict in, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        to[i] = hushed(in[i]);
}

/* Filter outputs for `count` windows: the first begins at x, the others follow every `factor` samples. Writes an even
 * number: after the last one, if need be, that one again. */
static void sums(const Thin *t, const float *x, uint32_t count, float *out)
{
    for (uint32_t done = 0, some; done < count; done += some) {
        const uint32_t left = count - done;
        some = left >= ROWS_PAIRS ? ROWS_PAIRS : 2;
        rows_filter(t->tap, x + (size_t)t->factor * done, left > 1 ? t->factor : 0, some, t->taps, out + done);
    }
}

uint32_t thin_run(Thin *t, const float *in, uint32_t n, float *out)
{
    const uint32_t past = t->taps - 1, kept = (t->phase + n) / t->factor;
    if (t->at + n > ROOM) {
        memmove(t->line, t->line + t->at, past * sizeof *t->line);
        t->at = 0;
    }
    if (n == DSP_CELL) /* spelt out, so that the compiler takes several at once */
        take_in(t->line + t->at + past, in, DSP_CELL);
    else
        take_in(t->line + t->at + past, in, n);
    sums(t, t->line + t->at + t->factor - 1 - t->phase, kept, out);
    t->at += n;
    t->phase = (t->phase + n) % t->factor;
    return kept;
}
