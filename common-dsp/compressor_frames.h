/* What Compressor learns from, in frames of 50 ms: how loud its detector would read them at each of the speeds of
 * levels.h, how much energy they have, and whether a voice sounded. It is fed a cell at a time, with figures; it
 * touches no audio. Why reductions are followed and not levels: compressor.md. */
#ifndef LINCTUS_COMPRESSOR_FRAMES_H
#define LINCTUS_COMPRESSOR_FRAMES_H

#include "envelope.h"
#include "levels.h"

#include <stdbool.h>

enum { COMPRESSOR_PENDING = 64 }; /* frames kept: those whose voice is not known yet, and a block */

/* A cell that has ended. */
typedef struct {
    double level;     /* dB, as the detector's peak hold reads it */
    double energy;    /* mean square after K weighting, summed over the channels */
    double reduction; /* dB, of the gain that is in force */
} CompressorCell;

/* Sums over the cells while the frame goes on, means from then on. */
typedef struct {
    LevelsFrame levels;            /* until the frame has ended: sums of reductions in dB, not levels */
    double level, level_by_energy; /* dB, of the peak hold; the second weighed by energy */
    double reduction;              /* dB, of the gain that is in force */
    uint32_t sounding;             /* cells */
    bool voiced;                   /* a voice sounds in half of its cells or more: known when the frame is given out */
} CompressorFrame;

typedef struct {
    Follower speed[LEVELS_SPEEDS]; /* reductions, as every speed has them; a step a cell */
    double rise_of[LEVELS_ATTACKS], fall_of[LEVELS_RELEASES];
    double followed_at;              /* dB: the threshold of the curve they were followed with last */
    uint64_t cells;                  /* ended since the reset */
    uint64_t answered;               /* frames given out since the reset */
    uint32_t frame_cells, lag_cells; /* a frame, and the voice's lag, in cells */
    CompressorFrame frame[COMPRESSOR_PENDING];
} CompressorFrames;

/* voice_lag: samples by which the answer about the voice comes late. false: more frames would have to wait for it than
 * are kept. */
bool compressor_frames_init(CompressorFrames *f, double rate, uint32_t voice_lag);
void compressor_frames_reset(CompressorFrames *f);

/* The next cell. curve: the one that learning is on its way to; `sounding`: the voice's answer, which is about the cell
 * of voice_lag ago. Returns the frame that is known now as a whole, until the next call; NULL: none. */
const CompressorFrame *compressor_frames_cell(CompressorFrames *f, const CompressorCell *cell, const Curve *curve,
                                              bool sounding);

/* Right after a frame was returned: true when a block ends with it, every second time from the eighth frame on. Then
 * its frames, in order. */
bool compressor_frames_block(const CompressorFrames *f, const LevelsFrame *block[LEVELS_BLOCK]);

#endif
