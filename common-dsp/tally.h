/* A histogram on a scale of equal steps: a memory of fixed size that holds a take of any length, and from which means
 * and percentiles can be drawn at any time. Values beyond an end of the scale count at that end. */
#ifndef LINCTUS_TALLY_H
#define LINCTUS_TALLY_H

#include <stdbool.h>
#include <stdint.h>

enum {
    TALLY_BINS = 512,   /* bins of a scale, at most */
    TALLY_MOST = 65535, /* values in a bin, at most */
};

typedef struct {
    double low, step; /* bin b holds values from low + b step to low + (b + 1) step */
    uint32_t bins;
} TallyScale;

/* Zero it to empty it. */
typedef struct {
    uint16_t count[TALLY_BINS];
} Tally;

/* Counts a value. If its bin is full (TALLY_MOST), all bins are halved first, and true is returned. */
bool tally_add(Tally *t, const TallyScale *scale, double value);

/* How many values lie in bins whose middle is `from` or more; and in all bins. */
uint32_t tally_from(const Tally *t, const TallyScale *scale, double from);
uint32_t tally_total(const Tally *t, const TallyScale *scale);

/* The value under which `count` of the values lie, each bin's taken as spread evenly over its width. count: 0..total;
 * not for an empty tally. */
double tally_below(const Tally *t, const TallyScale *scale, double count);

/* For values in dB: the level of the mean power of those in bins whose middle lies in from..to; UNITS_DB_FLOOR when
 * there are none. */
double tally_mean_db(const Tally *t, const TallyScale *scale, double from, double to);

#endif
