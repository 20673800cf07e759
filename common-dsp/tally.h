/* How often which value came, on a scale of equal steps: a memory of bounded size that holds a take of any length, and
 * from which means and percentiles can be drawn again at any time. Values beyond an end of the scale count at that
 * end. When one bin has TALLY_MOST, all are halved. */
#ifndef LINCTUS_TALLY_H
#define LINCTUS_TALLY_H

#include <stdint.h>

enum {
    TALLY_BINS = 512, /* most bins of a scale */
    TALLY_MOST = 65535,
};

typedef struct {
    double low, step; /* bin b holds low + b step .. low + (b + 1) step */
    uint32_t bins;
} TallyScale;

/* Zero it to empty it. */
typedef struct {
    uint16_t count[TALLY_BINS];
} Tally;

/* Counts a value; one outside of the scale counts in its first or last bin. Where a bin would pass TALLY_MOST all are
 * halved. */
void tally_add(Tally *t, const TallyScale *scale, double value);

/* How many values lie in bins of which `from` is no higher than the middle. */
uint32_t tally_from(const Tally *t, const TallyScale *scale, double from);
uint32_t tally_total(const Tally *t, const TallyScale *scale);

/* The value under which this many of them lie, as if each bin's lay evenly over its width. count: 0..total; not for an
 * empty tally. */
double tally_below(const Tally *t, const TallyScale *scale, double count);

/* The lowest and the highest place where at least `least` values lie within `width` bins: the mean of those, 0 when
 * there is none. */
double tally_lowest(const Tally *t, const TallyScale *scale, uint32_t width, double least);
double tally_highest(const Tally *t, const TallyScale *scale, uint32_t width, double least);

/* For values in dB: the level of their mean power, of those in bins of which the middle lies in from..to;
 * UNITS_DB_FLOOR when there are none. */
double tally_mean_db(const Tally *t, const TallyScale *scale, double from, double to);

#endif
