#include "tally.h"

#include "dsp.h"
#include "units.h"

void tally_add(Tally *t, const TallyScale *scale, double value)
{
    const uint32_t bin = (uint32_t)dsp_clamp((value - scale->low) / scale->step, 0.0, scale->bins - 1);
    if (t->count[bin] < TALLY_MOST) {
        ++t->count[bin];
        return;
    }
    for (uint32_t b = 0; b < scale->bins; ++b)
        t->count[b] /= 2;
    t->count[bin] = (TALLY_MOST + 1) / 2;
}

static double middle(const TallyScale *scale, uint32_t bin)
{
    return scale->low + (bin + 0.5) * scale->step;
}

/* First bin of which the middle is at least `value`. */
static uint32_t first_from(const TallyScale *scale, double value)
{
    return (uint32_t)dsp_clamp(ceil((value - scale->low) / scale->step - 0.5), 0.0, scale->bins);
}

uint32_t tally_from(const Tally *t, const TallyScale *scale, double from)
{
    uint32_t sum = 0;
    for (uint32_t b = first_from(scale, from); b < scale->bins; ++b)
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

/* Values in the bins from `first` on, and their mean. */
static double place(const Tally *t, const TallyScale *scale, uint32_t first, uint32_t width, double *mean)
{
    double values = 0.0, sum = 0.0;
    for (uint32_t b = first; b < first + width; ++b) {
        values += t->count[b];
        sum += t->count[b] * middle(scale, b);
    }
    *mean = values > 0.0 ? sum / values : 0.0;
    return values;
}

double tally_lowest(const Tally *t, const TallyScale *scale, uint32_t width, double least)
{
    double mean;
    for (uint32_t b = 0; b + width <= scale->bins; ++b)
        if (place(t, scale, b, width, &mean) >= least)
            return mean;
    return 0.0;
}

double tally_highest(const Tally *t, const TallyScale *scale, uint32_t width, double least)
{
    double mean;
    for (uint32_t b = scale->bins - width + 1; b > 0; --b)
        if (place(t, scale, b - 1, width, &mean) >= least)
            return mean;
    return 0.0;
}

double tally_mean_db(const Tally *t, const TallyScale *scale, double from, double to)
{
    const double ratio = db_to_power(scale->step);
    uint32_t b = first_from(scale, from);
    double power = db_to_power(middle(scale, b)), values = 0.0, sum = 0.0;
    for (; b < scale->bins && middle(scale, b) <= to; ++b) {
        values += t->count[b];
        sum += t->count[b] * power;
        power *= ratio;
    }
    return values > 0.0 ? power_to_db(sum / values) : UNITS_DB_FLOOR;
}
