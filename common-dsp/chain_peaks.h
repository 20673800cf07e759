/* How much Tone raises the peaks of a loud voice, as Compressor's detector reads them, compared with Tone before it had
 * found anything. Tone's makeup keeps the loudness. But where a dip takes out a strong harmonic, or a low cut shifts
 * the phase of a low one, the peaks move by up to 1 dB. The levels that Compressor has counted before are moved by this
 * figure.
 *
 * The take also goes through Tone's first curve. Each time Tone's present curve changes by 2 dB in some band, the
 * detector's readings of both are counted anew, cell by cell. The figure is the difference between the middles of their
 * loudest quarters (levels.h). At first the earlier figure weighs as much as 4 s of voice; its weight falls linearly to
 * 0 as the new count grows to 8 s. The figure then stays until the next change, so that all levels under one curve are
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

    Tally read[2];                /* readings, dB: of Tone's first curve, and of Tone now */
    double found, before;         /* dB: the figure, and the one under the curve before */
    bool settled;                 /* the figure stays until the next change */
    uint32_t due;                 /* cells until the figure is worked out again */
    double power[SPECTRUM_BANDS]; /* Tone's factor on the power in each band, at the last change */
    uint32_t first, end;          /* bands first to end - 1: a change of power in one of them makes another curve */
} ChainPeaks;

/* rate: Hz; channels: 1..DSP_CHANNELS. Allocates; false: no memory. */
bool peaks_init(ChainPeaks *p, double rate, uint32_t channels);
void peaks_done(ChainPeaks *p);  /* safe on a zeroed struct */
void peaks_reset(ChainPeaks *p); /* forgets the audio; the figure stays, as the earlier one */

/* At a grid point. curve: Tone's first curve, without dips; power: Tone's present factor on the power in each band;
 * detector_cut: Hz, the detector's low cut. */
void peaks_set(ChainPeaks *p, const ToneCurve *curve, const double power[SPECTRUM_BANDS], double detector_cut);

/* Whether a figure is being sought. While it is not, cells need not be heard. */
bool peaks_seek(const ChainPeaks *p);

/* Hears n samples of a cell at Tone's input. It must hear all of a cell's samples or none. */
void peaks_process(ChainPeaks *p, const float *const *in, uint32_t n);

/* At a grid point on learn. out: dB, the detector's reading of Tone's output, with the makeup that Tone is bound for;
 * gain: dB, the gain before Tone; counts: a voice sounds. */
void peaks_tick(ChainPeaks *p, double out, double gain, bool counts);

/* dB by which Tone raises the peaks. */
double peaks_raised(const ChainPeaks *p);

/* Forgets all that was counted and sets the figure to `raised`, dB. */
void peaks_known(ChainPeaks *p, double raised);

#endif
