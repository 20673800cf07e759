/* A take in frames of 10 ms, for who works on it once all of it was heard: how loud each is, to the ear and in the four
 * bands of rest_bands.h, and whether a voice sounds in it. Some 20 bytes a frame: a take of an hour takes 9 MB. */
#ifndef LINCTUS_TAKE_FRAMES_H
#define LINCTUS_TAKE_FRAMES_H

#include "listening.h"
#include "rest_bands.h"

#define TAKE_FRAME 0.01 /* s */

typedef struct {
    float weighted;         /* mean square after K weighting, summed over the channels */
    float band[REST_BANDS]; /* mean squares, a channel */
    float hz;               /* pitch, 60..1100; 0: no voice sounds */
} TakeFrame;

typedef struct {
    Listening listening;
    RestBands bands;
    uint64_t heard, ends_at, filling, waiting; /* samples; where the frame under way ends; numbers of frames */
    uint32_t cells;                            /* of the frame under way */
    TakeFrame ring[LISTENING_FRAMES];
} TakeFrames;

/* Allocates. false: no memory, or rate or channels out of range. */
bool take_frames_init(TakeFrames *t, double rate, uint32_t channels);
void take_frames_done(TakeFrames *t);

/* Call it before each cell: true where a frame was answered since the last call, at most one, 0.4 s late. Frame k
 * begins at k times TAKE_FRAME. A second of silence after the take brings the last of them. */
bool take_frames_next(TakeFrames *t, TakeFrame *frame);

/* n: what is left of the cell or less. */
void take_frames_process(TakeFrames *t, const float *const *in, uint32_t n);

#endif
