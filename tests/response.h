/* The plate's answer to one full-scale sample: its impulse response, for the checks against published methods. */
#ifndef LINCTUS_RESPONSE_H
#define LINCTUS_RESPONSE_H

#include "plate.h"

typedef struct {
    double rate; /* Hz */
    uint32_t n;
    float *out[2]; /* left, right */
} Response;

/* What the sample comes in on: both inputs of two, which is what one alone does too, or either of two. */
typedef enum { RESPONSE_TO_BOTH, RESPONSE_TO_LEFT, RESPONSE_TO_RIGHT, RESPONSE_INPUTS } ResponseInput;

/* seed: of the tables (plate_tables.h); response_take() has those of the rate. Wet at 0 dB, dry silent, pre-delay off,
 * low cut 200 Hz, width 100 %. A cmocka failure if there is no memory. */
void response_take(Response *r, double rate, double decay, double damping, double seconds);
void response_take_from(Response *r, uint32_t seed, ResponseInput input, double rate, double decay, double damping,
                        double seconds);
void response_free(Response *r);

/* The first sample that is within 60 dB of the largest. */
uint32_t response_first(const Response *r, uint32_t channel);

#endif
