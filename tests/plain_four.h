/* The functions of four_math.h, and those of four.h that move lanes, with their vectors in plain C: to be compared with
 * those of the library to the bit. */
#ifndef LINCTUS_PLAIN_FOUR_H
#define LINCTUS_PLAIN_FOUR_H

typedef enum {
    PLAIN_MAX,
    PLAIN_MIN,
    PLAIN_DIV,
    PLAIN_ABS,
    PLAIN_EXP2,
    PLAIN_LOG2,
    PLAIN_BACKWARDS,
    PLAIN_EVENS,
    PLAIN_ODDS,
    PLAIN_MIX_FIRST,
    PLAIN_MIX_LAST,
    PLAIN_FUNCTIONS
} PlainFunction;

/* Four floats each; the functions of one argument take a. */
void plain_four(PlainFunction f, const float *a, const float *b, float *y);

#endif
