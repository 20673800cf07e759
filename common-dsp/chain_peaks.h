/* How much higher or lower the peaks of a loud voice come out of Tone, as Compressor's detector reads them, than they
 * did before Tone had found anything. Its makeup keeps the loudness, but where a dip takes out a strong harmonic, or a
 * low cut turns the phase of a low one, the peaks move by up to a dB. What Compressor counted before has to be moved by
 * so much.
 *
 * The take goes through Tone as it was at first as well, and what the detector reads of both is counted, cell by cell,
 * from when Tone's curve changes by 2 dB somewhere. What counts is by how much the middle of the loudest quarter of the
 * one lies over that of the other, as Compressor has it (levels.h). What was known before weighs as much as four
 * seconds of voice, and after eight it stays until the next change: what is counted under one curve is all counted
 * alike. Two channels: the higher one. */
#ifndef LINCTUS_CHAIN_PEAKS_H
#define LINCTUS_CHAIN_PEAKS_H

#include "design.h"
#include "envelope.h"
#include "lanes.h"
#include "tally.h"
#include "tone_even.h"

enum { PEAKS_SECTIONS = (DESIGN_BUTTERWORTH_MAX + 1) / 2 + 2 }; /* low cut; air; the detector's low cut */

typedef struct {
    double rate;
    uint32_t channels, sections;
    ToneCurve curve;     /* that the sections are of, */
    double detector_cut; /* Hz */
    Svf section[PEAKS_SECTIONS];
    SvfState state[DSP_CHANNELS][PEAKS_SECTIONS];
    float cell;    /* highest of the cell under way */
    PeakHold hold; /* of cells */

    Tally read[2];                /* of Tone as it was at first, of Tone; dB */
    double found, before;         /* dB; of the curve before */
    uint32_t due;                 /* cells until it is worked out again */
    double power[SPECTRUM_BANDS]; /* of the curve that these stand for, */
    uint32_t first, end;          /* and the bands where it may be found to be another one */
} ChainPeaks;

/* Allocates. false: no memory. */
bool peaks_init(ChainPeaks *p, double rate, uint32_t channels);
void peaks_done(ChainPeaks *p);  /* safe on a zeroed struct */
void peaks_reset(ChainPeaks *p); /* forgets the audio; the mean is what was known before */

/* At a grid point: where Tone's bands were aimed at at first (its dips do not count), what they do to power in each
 * band now, and the detector's low cut. */
void peaks_set(ChainPeaks *p, const ToneCurve *curve, const double power[SPECTRUM_BANDS], double detector_cut);

/* Samples of one cell, as they go into Tone. */
void peaks_process(ChainPeaks *p, const float *const *in, uint32_t n);

/* At a grid point on learn. out: dB, the detector's reading of what comes out of Tone, with the makeup that it is bound
 * for; gain: dB, the one before Tone; counts: a voice sounds. */
void peaks_tick(ChainPeaks *p, double out, double gain, bool counts);

/* dB */
double peaks_raised(const ChainPeaks *p);

/* Takes this, in dB, for all that is known. */
void peaks_known(ChainPeaks *p, double raised);

#endif
