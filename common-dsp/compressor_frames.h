/* The frames of 50 ms that Compressor learns from: how loud its detector would read each of them at the speeds of
 * levels.h, its energy, and whether a voice sounded. Fed cell by cell with the detector's readings, and later, frame by
 * frame, with whether a voice sounds (listening.h); it touches no audio. Why reductions are followed and not levels:
 * compressor.md. */
#ifndef LINCTUS_COMPRESSOR_FRAMES_H
#define LINCTUS_COMPRESSOR_FRAMES_H

#include "envelope.h"
#include "levels.h"
#include "listening.h"

#include <stdbool.h>

enum {
    COMPRESSOR_PARTS = 5,    /* frames of listening.h in a frame */
    COMPRESSOR_PENDING = 20, /* frames kept: those that wait for the voice, and a block */
};

/* What a cell that has ended gives. */
typedef struct {
    double level;     /* dB, as the detector's peak hold reads it */
    double energy;    /* mean square after K weighting, summed over the channels */
    double reduction; /* dB, of the gain in force */
} CompressorCell;

/* Sums over the cells while the frame goes on, means after it has ended. */
typedef struct {
    LevelsFrame levels;            /* until the frame has ended: sums of reductions in dB, not levels */
    double level, level_by_energy; /* dB, of the peak hold; the second weighted by energy */
    double reduction;              /* dB, of the gain in force */
    uint32_t sounding;             /* cells in which a voice sounds */
    bool voiced;                   /* they are half of its cells or more; known when the frame is given out */
} CompressorFrame;

typedef struct {
    Follower speed[LEVELS_SPEEDS]; /* reduction at each speed, dB; a step a cell */
    double rise_of[LEVELS_ATTACKS], fall_of[LEVELS_RELEASES];
    double followed_at;   /* dB: threshold of the curve in their last step */
    uint32_t frame_cells; /* cells in a frame */
    uint64_t cells;       /* ended since the reset */
    uint32_t parts;       /* frames of listening.h heard of the frame that waits for the voice */
    uint64_t answered;    /* frames given out since the reset */
    CompressorFrame frame[COMPRESSOR_PENDING];
} CompressorFrames;

/* How listening.h has to cut the take: frames of 50 ms, rounded to cells, each in COMPRESSOR_PARTS parts. */
ListeningGrid compressor_frames_grid(double rate);

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Reset: nothing was heard. */
void compressor_frames_init(CompressorFrames *f, double rate);
void compressor_frames_reset(CompressorFrames *f);

/* Takes the next cell. curve: the one that learning is on its way to. */
void compressor_frames_cell(CompressorFrames *f, const CompressorCell *cell, const Curve *curve);

/* Takes the next frame of listening.h. Returns the frame of 50 ms that it completes, valid until the next call; NULL:
 * none. */
const CompressorFrame *compressor_frames_hear(CompressorFrames *f, const ListeningFrame *heard);

/* Call it right after a frame was returned. true: a block ends with that frame, as with every second one from the
 * eighth on, and `block` holds the block's frames in order. */
bool compressor_frames_block(const CompressorFrames *f, const LevelsFrame *block[LEVELS_BLOCK]);

#endif
