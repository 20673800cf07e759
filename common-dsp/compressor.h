/* Compressor: evens out loud and quiet, by a threshold set by hand or found for a wanted reduction.
 *
 * Static curve: D. Giannoulis, M. Massberg, J. D. Reiss, "Digital Dynamic Range Compressor Design", JAES 60(6), 2012
 * (curve.h). The detector takes the larger of the channels' magnitudes after its low cut and holds it for 12 ms (cut to
 * whole samples): that bridges the whole period of a note from 84 Hz up and half of one from 42 Hz up, so that a steady
 * note is turned down steadily, without distortion. The curve gives the reduction in dB; a Follower (envelope.h) gives
 * it its attack and release; it is applied to the input of 5 ms ago, and the detector is `look_ahead` early.
 *
 * Learning (levels.h) counts what the detector reads over everything heard since learning began. The threshold for a
 * wanted reduction is a pure function of these counts and of the controls, so it follows the controls on hold too: it
 * lies where the curve turns the middle of the loudest quarter of voiced frames down by what is wanted, or at -60 dB
 * where that is out of reach. With fewer than 20 voiced frames (1 s) the hand threshold holds or, when learning has
 * begun afresh, what was known before. What is learned moves the threshold by at most 6 dB/s; a control moves it within
 * a quarter of a second. The counts are those of the detector low cut as it stood: learn again after moving it. A
 * living channel stands in for a dead one (living.h).
 *
 * Even loudness: the found makeup is a pure function of the same memory and the controls. It rises by at most 6 dB/s
 * and falls faster than the curve moves, so that no control can make a burst; 0..40 dB. */
#ifndef LINCTUS_COMPRESSOR_H
#define LINCTUS_COMPRESSOR_H

#include "delay.h"
#include "dsp.h"
#include "envelope.h"
#include "levels.h"
#include "living.h"
#include "loudness.h"
#include "processor.h"
#include "smooth.h"
#include "sos.h"
#include "voice.h"

typedef struct {
    bool wanted;             /* true: the threshold is found for wanted_reduction; false: it is `threshold` */
    double threshold;        /* dB, a steady sine counts as its peak level, -60..0 */
    double wanted_reduction; /* dB, 0..12: median over the loudest quarter of voiced 50 ms frames */
    bool learn;              /* true: keep learning how loud the voice is; false: hold that */
    double ratio;            /* 1..20 */
    double attack;           /* ms, 0.1..100: time to 63 % of a dB step of the gain */
    double release;          /* ms, 5..1000: time back to 37 %, counted after the peak hold */
    double knee;             /* dB, 0..18 */
    double look_ahead;       /* ms, 0..5; the latency is always 5 ms */
    double detector_low_cut; /* Hz, 20..300, 12 dB per octave, before the detector only */
    double makeup;           /* dB, -12..24: can make things loud; adds to what even_loudness finds */
    bool even_loudness;      /* true: a makeup is found that keeps the loudness of what went in */
    double blend;            /* per cent of the compressed signal, 0..100; 0 is the delayed input, to the bit */
} CompressorParams;

typedef struct {
    double reduction;       /* dB, 0 or more, now, before blend */
    double usual_reduction; /* dB, measured: median over the loudest quarter of voiced 50 ms frames, before blend, since
                               the curve or its times last changed. Loudest: as the detector follows them. A change
                               shows after 20 frames. On hold nobody measures: it is what the curve takes off the voice
                               that was learned, at the middle of its loudest quarter; 0: nothing learned */
    double threshold_now;   /* dB, in force */
    double makeup_now;      /* dB, found and asked for together */
} CompressorReport;

enum {
    COMPRESSOR_PENDING = 64, /* frames: those whose voice is not known yet, and a block */
    COMPRESSOR_SHOWN = 512,  /* bins of reduction, 1/8 dB each */
};

/* A frame: sums over its cells while it is heard, means from then on; its voice is known later. */
typedef struct {
    LevelsFrame heard;             /* complete when the frame has ended; until then sums of reductions in dB */
    double level, level_by_energy; /* of the peak hold, dB */
    double reduction;              /* of the gain proper, dB */
    uint32_t voiced;               /* cells */
} CompressorFrame;

/* Reductions of voiced frames. */
typedef struct {
    uint32_t frames, count[COMPRESSOR_SHOWN];
    double threshold; /* in force when counting began */
    double usual;     /* dB, the last figure worth showing */
} CompressorShown;

/* What is computed from the memory, one small step at a time, over and over. */
typedef struct {
    double due; /* steps that should have been taken by now */
    uint32_t stage;
    LevelsMix mix;
    double loud; /* being summed up */
    double gain[LEVELS_GAINS];
    LevelsSums sums;
} CompressorRound;

typedef struct {
    double rate;
    uint32_t channels, latency;
    CompressorParams params;
    bool started;  /* set since the last reset */
    bool listened; /* to the cell that lies behind */
    LearnSwitch learn;

    /* Detector. */
    Sos low_cut;
    Smooth low_cut_hz; /* steps once a cell */
    PeakHold hold;
    float held;
    double held_db;

    /* Gain. */
    Smooth threshold, slope, knee, rise, fall;
    Follower reduction;
    double target; /* dB of reduction, of the held level */
    Delay ahead;   /* of the reduction */
    Smooth behind; /* samples the reduction waits */
    double reduction_out;
    Delay dry[DSP_CHANNELS];
    Smooth makeup, blend;
    double wet_db, wet;

    /* Listening. */
    Living living;
    Voice voice;
    KWeight weight;
    Follower speed[LEVELS_SPEEDS]; /* reductions, as every speed has them; step once a cell */
    double rise_of[LEVELS_ATTACKS], fall_of[LEVELS_RELEASES];
    double followed_at;              /* dB: the threshold they were followed at last */
    double loudest;                  /* dB, that the detector has read since the reset */
    double cell_energy;              /* K-weighted, of the cell so far, over its samples and channels */
    uint64_t cells;                  /* ended since the reset */
    uint32_t frame_cells, lag_cells; /* a frame, and the voice's lag, in cells */
    CompressorFrame frame[COMPRESSOR_PENDING];
    CompressorShown shown;

    /* Learned. */
    Levels memory[2]; /* the one being filled, and the one from before learning began afresh */
    uint32_t filling; /* which of them */
    uint32_t version; /* counts changes of the memories */
    CompressorRound round;
    bool known;         /* loud and found are there */
    bool at_once;       /* the next figures hold at once */
    double loud_target; /* dB: the middle of the loudest quarter */
    double loud;        /* the same, as far as it has moved */
    double found;       /* dB of makeup */
    double found_now;   /* the same, as far as it has risen */
} Compressor;

/* Latency: 5 ms, rounded to samples. */
extern const Processor compressor;

#endif
