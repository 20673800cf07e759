/* The gain path of Compressor: detector, peak hold, curve, attack and release, look-ahead, makeup, blend. The caller
 * sets all targets; they are reached smoothly. The latency is always 5 ms. Method: compressor.md. */
#ifndef LINCTUS_COMPRESSOR_GAIN_H
#define LINCTUS_COMPRESSOR_GAIN_H

#include "curve.h"
#include "delay.h"
#include "dsp.h"
#include "envelope.h"
#include "smooth.h"
#include "sos.h"
#include "svf_block.h"

typedef struct {
    double slope, knee;     /* of the curve (curve.h) */
    double attack, release; /* s */
    double look_ahead;      /* s, 0..0.005; more counts as 0.005 */
    double low_cut;         /* Hz, before the detector only */
    double blend;           /* 0..1: share of the compressed signal; 0 is the delayed input, to the bit */
} CompressorGainParams;

typedef struct {
    double rate;
    uint32_t channels, latency;

    /* Detector. */
    Sos low_cut;
    SvfBlock cut;   /* the low cut at rest */
    bool cut_moved; /* `cut` has to be worked out again */
    SvfBegun begun[DSP_CHANNELS];
    Smooth low_cut_hz; /* steps once a cell */
    CellHold hold;
    float held; /* linear: the detector's reading now */

    /* Gain. */
    Smooth threshold, slope, knee, rise, fall;
    Follower reduction;   /* dB, before the look-ahead */
    float target;         /* dB: reduction that the curve asks for at the held level */
    Delay ahead;          /* of the reduction */
    Smooth behind;        /* samples that the reduction waits */
    double reduction_out; /* dB: after the look-ahead, for the last sample put out */
    Delay dry[DSP_CHANNELS];
    Smooth makeup, blend;
} CompressorGain;

/* rate and channels within the limits of dsp.h. Allocates; false: no memory, and compressor_gain_done() is still safe.
 * The caller has to call compressor_gain_reset() next. */
bool compressor_gain_init(CompressorGain *g, double rate, uint32_t channels);
void compressor_gain_done(CompressorGain *g); /* safe on a zeroed struct */
void compressor_gain_reset(CompressorGain *g);

/* Ends the reduction, as if silence had gone before. Controls that glide go on gliding. */
void compressor_gain_let_go(CompressorGain *g);

/* New targets. at_once: they apply from the next sample, and so does the threshold that is given next; true on the
 * first call after a reset. times_moved: attack or release have changed. */
void compressor_gain_set(CompressorGain *g, const CompressorGainParams *params, bool at_once, bool times_moved);

/* dB: the reading of the detector's peak hold now. */
double compressor_gain_level(const CompressorGain *g);

/* New threshold and makeup, dB. The threshold glides there within a quarter of a second. The makeup is quicker, so that
 * it is down before the curve lets go and no smaller reduction makes a burst. */
void compressor_gain_aim(CompressorGain *g, double threshold, double makeup);

/* At every grid point. */
void compressor_gain_tick(CompressorGain *g);

/* n samples that lie within one cell; out may be in. */
void compressor_gain_process(CompressorGain *g, const float *const *in, float *const *out, uint32_t n);

#endif
