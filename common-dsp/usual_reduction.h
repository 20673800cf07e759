/* How much is usually taken away: the median reduction of the loudest quarter of voiced frames, those that the gain
 * follows as the loudest. What is measured, not what was wished for. */
#ifndef LINCTUS_USUAL_REDUCTION_H
#define LINCTUS_USUAL_REDUCTION_H

#include <stdint.h>

enum { USUAL_REDUCTION_BINS = 512 }; /* 1/8 dB each */

/* Zero it to reset. */
typedef struct {
    uint32_t frames, count[USUAL_REDUCTION_BINS];
    double threshold; /* dB, in force when counting began */
    double usual;     /* dB, the last figure worth showing, in steps of 1/8; 0: none yet */
} UsualReduction;

/* Counting begins again, because the curve or its times have changed; `usual` stays until 20 frames are counted. */
void usual_reduction_restart(UsualReduction *u, double threshold);

/* One more voiced frame; dB, 0 or more. Over 63.8 counts as that. */
void usual_reduction_add(UsualReduction *u, double reduction);

#endif
