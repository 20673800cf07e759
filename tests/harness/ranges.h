/* Voice ranges of several takes: may they be one singer's? */
#ifndef LINCTUS_HARNESS_RANGES_H
#define LINCTUS_HARNESS_RANGES_H

#include "readings.h"

/* Some ranges, gathered one by one. Zero it to begin with. */
typedef struct {
    bool sung, spoken;      /* there are such */
    double lowest, highest; /* of their places in the list of ranges */
} Ranges;

/* Adds what Check heard in a take. A range that it could not tell goes with any other. */
void ranges_add(Ranges *r, const Readings *check);

/* Are they equal or neighbours, all sung or all spoken? True too where there is none. */
bool ranges_are_one(const Ranges *r);

#endif
