#include "tick_repair.h"

#include "linear_prediction.h"

#include <math.h>
#include <string.h>

/* DRAWN_AMPLITUDE and DRAWN_MOST: set on the voices for tuning, with what other values do in ticks.md. The rest is
 * chosen. */
#define LOUDER          1e4   /* times (power): most that a tick's spectrum lies over white noise of its power */
#define DRAWN_AMPLITUDE 0.4   /* times the fourth root of the predictor's gain: noise drawn, of the error's amplitude */
#define DRAWN_MOST      0.7   /* of that amplitude, at most. The gain is some 2 in hiss, 5 to 200 in a voice */
#define LEAST_PIVOT     1e-12 /* least value of a pivot: keeps a nearly singular matrix finite */
#define TINY            1e-30 /* power: keeps a division by silence finite */

enum { BACK = 8 }; /* unknowns solved by one step of the back substitution */

/* Makes the predictor of the sound (b) from that of its difference (a). */
static void whole_predictor(const double *a, double *b)
{
    for (uint32_t k = 0; k <= TICK_TAPS; ++k)
        b[k] = (k < TICK_TAPS ? a[k] : 0.0) - (k ? a[k - 1] : 0.0);
}

static void with_itself(const double *b, double *alike)
{
    for (uint32_t lag = 0; lag <= TICK_TAPS; ++lag) {
        alike[lag] = 0.0;
        for (uint32_t k = lag; k <= TICK_TAPS; ++k)
            alike[lag] += b[k] * b[k - lag];
    }
}

/* Mean power of the prediction error in the TICK_BESIDE samples from x on, beside the tick. */
static double error_beside(const float *x, const double *b)
{
    double sum = 0.0;
    for (uint32_t i = TICK_TAPS; i < TICK_BESIDE; ++i) {
        double left = 0.0;
        for (uint32_t k = 0; k <= TICK_TAPS; ++k)
            left += b[k] * (double)x[i - k];
        sum += left * left;
    }
    return sum / (TICK_BESIDE - TICK_TAPS);
}

/* The noise drawn follows this channel's error on the quieter side. gain: power factor by which the predictor raises
 * white noise. */
static void take_in(TickRepair *r, uint32_t channel, const float *x, const double *b, double gain)
{
    memcpy(r->x[channel], x, (r->n + 2 * TICK_BESIDE) * sizeof *x);
    const double error = fmin(error_beside(x, b), error_beside(x + TICK_BESIDE + r->n, b));
    r->drawn[channel] = fmin(DRAWN_AMPLITUDE * sqrt(sqrt(gain)), DRAWN_MOST) * sqrt(error);
}

void tick_repair_begin(TickRepair *r, const Tick *tick, const float *const *x, uint32_t channels)
{
    double b[TICK_TAPS + 1];
    const uint32_t piece = tick->n / tick->pieces;
    r->n = tick->n;
    r->channels = channels;
    r->done = 0;
    r->steps = r->n + (r->n + BACK - 1) / BACK;
    whole_predictor(tick->a, b);
    with_itself(b, r->alike);
    const double gain = linear_prediction_gain(tick->a, TICK_ORDER);
    for (uint32_t i = 0; i < r->n; ++i) {
        const double more = tick->error[i / piece] - tick->around;
        r->ease[i] = tick->around * gain / (LOUDER * fmax(more, 1e-3 * tick->around) + TINY);
    }
    for (uint32_t c = 0; c < channels; ++c)
        take_in(r, c, x[c], b, gain);
}

/* Right-hand side of the equations: the prediction error, filtered by the predictor backwards. */
static double right_side(const TickRepair *r, uint32_t channel, uint32_t at)
{
    const float *const x = r->x[channel] + TICK_BESIDE + at;
    double sum = r->alike[0] * (double)x[0];
    for (int k = 1; k <= TICK_TAPS; ++k)
        sum += r->alike[k] * ((double)x[-k] + (double)x[k]);
    return sum;
}

static double *row_of(TickRepair *r, uint32_t at)
{
    return r->row[at % (TICK_TAPS + 1)];
}

/* One row of the Cholesky factor. Its column `to` is kept as number TICK_TAPS - (at - to). Here the effect of rounding
 * grows with the equations' condition, so rows are worked out from rows in double. On the way back it grows with the
 * root of the condition, so all rows are kept in float: what that changes in the output lies 137 dB under the voice. */
static void factor_row(TickRepair *r, uint32_t at)
{
    double *const row = row_of(r, at);
    for (uint32_t k = 0; k <= TICK_TAPS; ++k) {
        const uint32_t apart = TICK_TAPS - k;
        row[k] = 0.0;
        if (apart > at)
            continue;
        const double *const other = row_of(r, at - apart) + apart;
        double sum = r->alike[apart] + (apart ? 0.0 : r->ease[at]);
        for (uint32_t i = 0; i < k; ++i)
            sum -= row[i] * other[i];
        row[k] = apart ? sum / other[k] : sqrt(fmax(sum, LEAST_PIVOT));
    }
    for (uint32_t k = 0; k <= TICK_TAPS; ++k)
        r->kept[at][k] = (float)row[k];
}

static void forward(TickRepair *r, uint32_t channel, uint32_t at)
{
    const double *const row = row_of(r, at);
    double *const y = r->tick[channel], sum = right_side(r, channel, at);
    const uint32_t first = at < TICK_TAPS ? at : TICK_TAPS;
    for (uint32_t k = 1; k <= first; ++k)
        sum -= row[TICK_TAPS - k] * y[at - k];
    y[at] = sum / row[TICK_TAPS];
}

/* White noise of power 1, sample `at`; the same for every tick. */
static double draw(uint32_t at)
{
    uint32_t bits = (at + 1) * 2654435761u;
    bits ^= bits >> 15;
    bits *= 2246822519u;
    bits ^= bits >> 13;
    bits *= 3266489917u;
    bits ^= bits >> 16;
    return sqrt(12.0) * (bits * 0x1p-32 - 0.5);
}

static void back(TickRepair *r, uint32_t channel, uint32_t at)
{
    double *const z = r->tick[channel], sum = z[at] - r->drawn[channel] * draw(at);
    for (uint32_t k = 1; k <= TICK_TAPS && at + k < r->n; ++k)
        sum -= (double)r->kept[at + k][TICK_TAPS - k] * z[at + k];
    z[at] = sum / (double)r->kept[at][TICK_TAPS];
}

static double roughness(const float *x, const double *tick, uint32_t n)
{
    double sum = 0.0, last = (double)x[-1];
    for (uint32_t i = 0; i < n; ++i) {
        const double now = (double)x[i] - (tick ? tick[i] : 0.0);
        sum += (now - last) * (now - last);
        last = now;
    }
    return sum + ((double)x[n] - last) * ((double)x[n] - last);
}

/* Takes nothing out if the rest would not be smoother, nor if anything is NaN, which no sound makes. */
static void judge(TickRepair *r, uint32_t channel)
{
    const float *const x = r->x[channel] + TICK_BESIDE;
    if (!(roughness(x, r->tick[channel], r->n) < roughness(x, NULL, r->n)))
        memset(r->tick[channel], 0, sizeof r->tick[channel]);
}

static void step(TickRepair *r, uint32_t number)
{
    if (number < r->n)
        factor_row(r, number);
    for (uint32_t c = 0; c < r->channels; ++c) {
        if (number < r->n) {
            forward(r, c, number);
            continue;
        }
        const uint32_t left = (r->steps - number - 1) * BACK, from = left + BACK < r->n ? left + BACK : r->n;
        for (uint32_t i = from; i-- > left;)
            back(r, c, i);
        if (!left)
            judge(r, c);
    }
}

void tick_repair_step(TickRepair *r, uint32_t to)
{
    while (r->done < to && r->done < r->steps)
        step(r, r->done++);
}
