/* The usual gain reduction: the median over the quarter of the voiced frames that are reduced most. It is measured, not
 * what was asked for. */
#ifndef LINCTUS_USUAL_REDUCTION_H
#define LINCTUS_USUAL_REDUCTION_H

#include <stdint.h>

enum { USUAL_REDUCTION_BINS = 512 }; /* 1/8 dB each */

/* Zero it to reset. */
typedef struct {
    uint32_t frames, count[USUAL_REDUCTION_BINS];
    double threshold; /* dB, the one in force when counting began */
    double usual;     /* dB, the last figure from 20 frames or more, in steps of 1/8; 0: none yet */
} UsualReduction;

/* Call when the curve or its times have changed: counting begins again; `usual` stays until 20 frames are counted.
 * threshold: dB. */
void usual_reduction_restart(UsualReduction *u, double threshold);

/* Counts one more voiced frame. reduction: dB, 0 or more; over 63.875 counts as that. */
void usual_reduction_add(UsualReduction *u, double reduction);

#endif
