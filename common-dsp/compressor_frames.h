/* What Compressor learns from, in frames of 50 ms: how loud its detector would read them at each of the speeds of
 * levels.h, how much energy they have, and whether a voice sounded. It is fed cell by cell with what the detector
 * reads, and frame by frame with what is heard of the voice (listening.h), which comes later; it touches no audio. Why
 * reductions are followed and not levels: compressor.md. */
#ifndef LINCTUS_COMPRESSOR_FRAMES_H
#define LINCTUS_COMPRESSOR_FRAMES_H

#include "envelope.h"
#include "levels.h"
#include "listening.h"

#include <stdbool.h>

enum {
    COMPRESSOR_PARTS = 5,    /* frames of listening.h in one of these */
    COMPRESSOR_PENDING = 32, /* kept: those whose voice is not known yet, and a block */
};

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
    double followed_at;   /* dB: the threshold of the curve they were followed with last */
    uint32_t frame_cells; /* cells of a frame */
    uint64_t cells;       /* ended since the reset */
    uint32_t parts;       /* heard of the frame that waits for the voice */
    uint64_t answered;    /* frames given out since the reset */
    CompressorFrame frame[COMPRESSOR_PENDING];
} CompressorFrames;

/* How listening.h has to cut the take: frames of 50 ms, to a cell, each in COMPRESSOR_PARTS. */
ListeningGrid compressor_frames_grid(double rate);

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Reset: nothing was heard. */
void compressor_frames_init(CompressorFrames *f, double rate);
void compressor_frames_reset(CompressorFrames *f);

/* The next cell. curve: the one that learning is on its way to. */
void compressor_frames_cell(CompressorFrames *f, const CompressorCell *cell, const Curve *curve);

/* The next frame that was heard. Returns the one of 50 ms that is known now as a whole, until the next call; NULL:
 * none. */
const CompressorFrame *compressor_frames_hear(CompressorFrames *f, const ListeningFrame *heard);

/* Right after a frame was returned: true when a block ends with it, every second time from the eighth frame on. Then
 * its frames, in order. */
bool compressor_frames_block(const CompressorFrames *f, const LevelsFrame *block[LEVELS_BLOCK]);

#endif
