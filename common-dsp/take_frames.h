/* A take in frames of 10 ms, for work that begins once all of it was heard: each frame's loudness to the ear, its power
 * in the four bands of rest_bands.h, and whether a voice sounds in it. 24 bytes a frame: an hour takes 9 MB. */
#ifndef LINCTUS_TAKE_FRAMES_H
#define LINCTUS_TAKE_FRAMES_H

#include "listening.h"
#include "rest_bands.h"

#define TAKE_FRAME 0.01 /* s */

typedef struct {
    float weighted;         /* mean square after K weighting, summed over the channels */
    float band[REST_BANDS]; /* mean square in each band, mean of the channels */
    float hz;               /* pitch, Hz, 60..1100; 0: no voice sounds */
} TakeFrame;

typedef struct {
    Listening listening;
    RestBands bands;
    uint64_t filling; /* number of the frame under way */
    uint32_t cells;   /* of it so far */
    TakeFrame ring[LISTENING_FRAMES];
} TakeFrames;

/* Allocates. rate: Hz. false: no memory, or rate or channels out of range. done() frees. */
bool take_frames_init(TakeFrames *t, double rate, uint32_t channels);
void take_frames_done(TakeFrames *t);

/* Call it before each cell. true: *frame is the next frame, 0.4 s late; at most one a call. Frame k begins at k times
 * TAKE_FRAME. A second of silence after the take brings out its last frames. */
bool take_frames_next(TakeFrames *t, TakeFrame *frame);

/* n samples of each channel that lie within one cell. */
void take_frames_process(TakeFrames *t, const float *const *in, uint32_t n);

#endif
