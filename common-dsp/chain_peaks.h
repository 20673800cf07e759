/* How much Tone raises the peaks of a loud voice, as Compressor's detector reads them, against the time before Tone had
 * found anything. Tone's makeup keeps the loudness, but where a dip takes out a strong harmonic, or a low cut turns the
 * phase of a low one, the peaks move by up to a dB. What Compressor has counted before is moved by this figure.
 *
 * The take also goes through Tone as it was at first. Each time Tone's curve changes by 2 dB somewhere, the detector's
 * readings of both are counted anew, cell by cell. The figure is the difference between the middles of their loudest
 * quarters (levels.h). The figure from before weighs as much as 4 s of voice at first, and evenly less until the
 * new one has 8 s: that one stays, by itself, until the next change, so that all that is counted under one curve is
 * counted alike. Of two channels the higher one counts. */
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
    ToneCurve curve;     /* the sections are designed for this curve */
    double detector_cut; /* Hz: the detector's low cut; the last section */
    Svf section[PEAKS_SECTIONS];
    SvfState state[DSP_CHANNELS][PEAKS_SECTIONS];
    float cell;     /* largest magnitude of the cell under way */
    PeakHold hold;  /* of cells */
    bool heard;     /* samples of the cell under way were heard */
    uint32_t cells; /* heard without a rest, up to WARM */

    Tally read[2];                /* readings, dB: of Tone as it was at first, and of Tone now */
    double found, before;         /* dB: the figure, and that of the curve before */
    bool settled;                 /* it stays until the next change */
    uint32_t due;                 /* cells until it is worked out again */
    double power[SPECTRUM_BANDS]; /* what Tone does to the power in each band, as of the last change */
    uint32_t first, end;          /* bands whose power may make it another curve: first up to end - 1 */
} ChainPeaks;

/* rate: Hz; channels: 1..DSP_CHANNELS. Allocates; false: no memory. */
bool peaks_init(ChainPeaks *p, double rate, uint32_t channels);
void peaks_done(ChainPeaks *p);  /* safe on a zeroed struct */
void peaks_reset(ChainPeaks *p); /* forgets the audio; the figure stays, as that from before */

/* At a grid point. curve: Tone's as it was at first, without its dips; power: factor that Tone has on the power in each
 * band now; detector_cut: Hz, the detector's low cut. */
void peaks_set(ChainPeaks *p, const ToneCurve *curve, const double power[SPECTRUM_BANDS], double detector_cut);

/* Whether anything is to be found at present: a cell that is not heard then changes nothing. */
bool peaks_seek(const ChainPeaks *p);

/* Hears n samples of one cell, as they go into Tone: all of a cell's samples or none. */
void peaks_process(ChainPeaks *p, const float *const *in, uint32_t n);

/* At a grid point on learn. out: dB, the detector's reading of Tone's output, with the makeup that Tone is bound for;
 * gain: dB, before Tone; counts: a voice sounds. */
void peaks_tick(ChainPeaks *p, double out, double gain, bool counts);

/* dB by which Tone raises the peaks. */
double peaks_raised(const ChainPeaks *p);

/* Forgets all that was counted and takes `raised`, dB, for the figure. */
void peaks_known(ChainPeaks *p, double raised);

#endif
