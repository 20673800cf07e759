#include "tally.h"

#include "dsp.h"
#include "inlined.h"
#include "units.h"

#include <string.h>

enum { BESIDE = 4 }; /* bins that are looked at together: most that are empty lie beside others */

static inline bool any_of_four(const uint16_t count[BESIDE])
{
    uint64_t all;
    memcpy(&all, count, sizeof all);
    return all != 0;
}

bool tally_add(Tally *t, const TallyScale *scale, double value)
{
    const uint32_t bin = (uint32_t)dsp_clamp((value - scale->low) / scale->step, 0.0, scale->bins - 1);
    if (t->count[bin] < TALLY_MOST) {
        ++t->count[bin];
        return false;
    }
    for (uint32_t b = 0; b < scale->bins; ++b)
        t->count[b] /= 2;
    t->count[bin] = (TALLY_MOST + 1) / 2;
    return true;
}

static double middle(const TallyScale *scale, uint32_t bin)
{
    return scale->low + (bin + 0.5) * scale->step;
}

/* First bin whose middle is at least `value`. */
static uint32_t first_from(const TallyScale *scale, double value)
{
    return (uint32_t)dsp_clamp(ceil((value - scale->low) / scale->step - 0.5), 0.0, scale->bins);
}

/* First bin whose middle is above `value`. */
static uint32_t first_above(const TallyScale *scale, double value)
{
    uint32_t b = first_from(scale, value);
    while (b < scale->bins && middle(scale, b) <= value)
        ++b;
    return b;
}

uint32_t tally_from(const Tally *t, const TallyScale *scale, double from)
{
    uint32_t sum = 0, b = first_from(scale, from);
    for (; b + BESIDE <= scale->bins; b += BESIDE)
        if (any_of_four(t->count + b))
            sum += (uint32_t)t->count[b] + t->count[b + 1] + t->count[b + 2] + t->count[b + 3];
    for (; b < scale->bins; ++b)
        sum += t->count[b];
    return sum;
}

uint32_t tally_total(const Tally *t, const TallyScale *scale)
{
    return tally_from(t, scale, scale->low);
}

double tally_below(const Tally *t, const TallyScale *scale, double count)
{
    double left = count;
    uint32_t b = 0;
    while (b + 1 < scale->bins && (left > t->count[b] || !t->count[b]))
        left -= t->count[b++];
    const double into = t->count[b] ? dsp_clamp(left / t->count[b], 0.0, 1.0) : 0.5;
    return scale->low + (b + into) * scale->step;
}

static INLINED void add_four(const uint16_t count[BESIDE], const double power[BESIDE], double values[BESIDE],
                             double sum[BESIDE])
{
    UNROLLED
    for (uint32_t k = 0; k < BESIDE; ++k) {
        const double n = count[k];
        values[k] += n;
        sum[k] += n * power[k];
    }
}

/* Takes four bins at a time, so that no power waits for the one before it. */
double tally_mean_db(const Tally *t, const TallyScale *scale, double from, double to)
{
    const uint32_t end = first_above(scale, to);
    const double on = db_to_power(BESIDE * scale->step);
    double power[BESIDE], sum[BESIDE] = {0.0}, values[BESIDE] = {0.0};
    uint32_t b = first_from(scale, from);
    for (uint32_t k = 0; k < BESIDE; ++k)
        power[k] = db_to_power(middle(scale, b + k));
    for (; b + BESIDE <= end; b += BESIDE) {
        if (any_of_four(t->count + b))
            add_four(t->count + b, power, values, sum);
        UNROLLED
        for (uint32_t k = 0; k < BESIDE; ++k)
            power[k] *= on;
    }
    for (uint32_t k = 0; b + k < end; ++k) {
        values[k] += t->count[b + k];
        sum[k] += t->count[b + k] * power[k];
    }
    const double all = values[0] + values[1] + values[2] + values[3];
    return all > 0.0 ? power_to_db((sum[0] + sum[1] + sum[2] + sum[3]) / all) : UNITS_DB_FLOOR;
}
