#include "late.h"

#include "dsp.h"

#include <math.h>
#include <stdlib.h>

#define LONGEST  0.0101  /* s */
#define SHORTEST 0.00025 /* s: what is less is hardly heard */
#define EVERY    0.002   /* s */
#define ALIKE    0.5     /* of the correlation of equal sides */
#define BETTER   1.5     /* times that of nearly no lag */

bool late_start(Late *l, double rate, Error *e)
{
    *l = (Late){.rate = rate, .longest = (uint32_t)(LONGEST * rate), .every = (uint32_t)(EVERY * rate)};
    const uint32_t lags = 2 * l->longest + 1;
    for (int side = 0; side < 2; ++side)
        l->past[side] = calloc(lags, sizeof(float));
    l->product = calloc(lags, sizeof(double));
    return (l->past[0] && l->past[1] && l->product) || error_set(e, ERROR_INSIDE, "out of memory");
}

void late_free(Late *l)
{
    for (int side = 0; side < 2; ++side)
        free(l->past[side]);
    free(l->product);
    *l = (Late){0};
}

/* The moment is the middle of the ring: the first side there, the second one at every place. */
static void correlate(Late *l)
{
    const uint32_t lags = 2 * l->longest + 1, middle = (l->at + l->longest) % lags;
    const double first = (double)l->past[0][middle], second = (double)l->past[1][middle];
    for (uint32_t k = 0; k < lags; ++k)
        l->product[k] += first * (double)l->past[1][l->at + k < lags ? l->at + k : l->at + k - lags];
    l->square[0] += first * first;
    l->square[1] += second * second;
}

void late_hear(Late *l, const float *first, const float *second, uint32_t n)
{
    const uint32_t lags = 2 * l->longest + 1;
    for (uint32_t i = 0; i < n; ++i) {
        const float now[2] = {dsp_undamaged(first[i]), dsp_undamaged(second[i])};
        for (int side = 0; side < 2; ++side) {
            l->past[side][l->at] = now[side] - l->last[side];
            l->last[side] = now[side];
        }
        l->at = l->at + 1 < lags ? l->at + 1 : 0;
        if (l->wait--)
            continue;
        correlate(l);
        l->wait = l->every - 1;
    }
}

double late_by(const Late *l)
{
    const double alike = sqrt(l->square[0] * l->square[1]);
    double best = 0.0, none = 0.0;
    int32_t lag = 0;
    for (uint32_t k = 0; l->product && k <= 2 * l->longest; ++k) {
        const int32_t by = (int32_t)k - (int32_t)l->longest;
        const double product = fabs(l->product[k]);
        if (abs(by) < SHORTEST * l->rate)
            none = fmax(none, product);
        else if (product > best) {
            best = product;
            lag = by;
        }
    }
    return best > ALIKE * alike && best > BETTER * none ? 1000.0 * lag / l->rate : 0.0;
}
