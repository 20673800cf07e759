/* Tone: takes out of a voice what clouds it, and lifts the air: a Butterworth low cut, three dips, a high shelf. Every
 * band follows its analog prototype up to half the rate (design.h) and moves smoothly in log-frequency, dB and octaves.
 * A dip or shelf at 0 dB, and a low cut that is off, pass the sound to the bit. No latency.
 *
 * Listening (tone.md): dips stand where resonances were found, the low cut where the lowest note allows it; where
 * nothing is sure nothing is done. Even loudness: one gain makes up for what the bands take from the voice or add to it
 * (tone_even.h), so air_lift makes nothing louder. It is exactly 1 where no band does anything.
 *
 * A dip that works only when it builds up (build_up.h) does nothing, to the bit, while its band does not stand out.
 *
 * Pointing out raises a band to +TONE_POINT_DB in place of its depth or lift, and lowers the whole by as much and by
 * the dip's depth: at no frequency does it get louder than it was. When it ends, everything else comes back up by those
 * dB. */
#ifndef LINCTUS_TONE_H
#define LINCTUS_TONE_H

#include "bridge.h"
#include "build_up.h"
#include "heard_before.h"
#include "living.h"
#include "partials.h"
#include "processor.h"
#include "smooth.h"
#include "sos.h"
#include "standstill.h"
#include "tone_band.h"
#include "tone_cut.h"
#include "tone_even.h"
#include "tone_memory.h"

#define TONE_POINT_DB 12.0 /* dB */

enum { TONE_AIR = TONE_DIPS, TONE_BANDS };

/* Sections, in the order of the signal path: the low cut, then the bands. */
enum { TONE_SECTIONS = TONE_CUT_SECTIONS + TONE_BANDS };

/* A band's choice of TonePoint is its index + 1. */
typedef enum { TONE_POINT_NONE, TONE_POINT_DIP_1, TONE_POINT_DIP_2, TONE_POINT_DIP_3, TONE_POINT_AIR } TonePoint;

typedef struct {
    double freq;   /* Hz, 100..4000 */
    double depth;  /* dB, -12..0 */
    double width;  /* octaves between the half-gain points, 0.2..3 */
    bool build_up; /* the dip works only while its band stands out from the voice (build_up.h) */
} ToneDip;

typedef struct {
    double low_cut; /* Hz, 20..300: where the low cut is 3 dB down */
    ToneSlope slope;
    ToneDip dip[TONE_DIPS];
    double air_freq; /* Hz, 6000..16000: where the lift has half its dB */
    double air_lift; /* dB, 0..9 */
    TonePoint point_out;
    bool learn;     /* true: keep learning; false: hold what was found. Hold -> learn starts afresh */
    bool listening; /* dips take the frequencies, depths and widths found, in place of `dip`; nothing found: no dip */
    bool cut_listening; /* the low cut's frequency follows from the lowest note; LOW_CUT_UNKNOWN until that is sure */
    bool even_loudness; /* a gain keeps the loudness of the input */
    double take_out;    /* dB, 0..12: no dip set by listening is deeper */
} ToneParams;

typedef struct {
    struct {
        double freq;  /* Hz; 0: none */
        double depth; /* dB, -take_out..0 */
        double width; /* octaves; 0: none */
        double sure;  /* natural logarithm of the odds, RESONANCE_SURE or more; 0: none */
    } found[TONE_DIPS];
    double voice_heard; /* s of voice since learning began, without repeats; up to 1310 */
    double lowest_note; /* Hz, once it is sure (TONE_NOTE_SURE); 0: not yet */
    double low_cut;     /* Hz: the one that suits this voice and the slope (low_cut.h); 0: no note is sure */
    double makeup;      /* dB, now: the gain that keeps the loudness */
} ToneReport;

/* A frequency as it was last worked out; hz is 0 before the first time. */
typedef struct {
    double octave, hz; /* log2 of Hz, and Hz */
} ToneHz;

typedef struct {
    double rate;
    uint32_t channels;
    ToneParams params;
    double hand_octave[TONE_BANDS]; /* log2 of the frequencies set by hand, in Hz */
    bool fresh;                     /* nothing has run since the last reset: settings are jumped to */
    uint32_t still; /* cells for which nothing has moved, on hold; from STILL on nothing will until a setting changes */
    ToneCut cut;
    ToneBand band[TONE_BANDS];
    Sos filter;
    BuildUp build_up[TONE_DIPS];
    bool watched[TONE_DIPS];
    Smooth whole;      /* dB, of the whole sound, while a band is pointed out */
    double whole_gain; /* the same as a factor */

    LearnSwitch learn;
    Living living;
    Bridge bridge[DSP_CHANNELS]; /* bridges holes in what the finder hears */
    Standstill standstill;       /* leaves silence out of what the finder hears */
    HeardBefore repeats;         /* of what the finder hears */
    uint32_t remembered;         /* count of new stretches, at the last cell */
    Partials partials;
    ResonanceFinder finder;
    SpectrumEar ear;
    ToneMemory memory;
    double before;            /* dB: gain that the input has already gone through (tone_hear_through()) */
    bool listened;            /* the last cell was listened to */
    uint32_t heard, worked;   /* pieces heard since the reset; the same when the finder last started */
    ToneBand goal[TONE_DIPS]; /* where findings move their dips, slowly */
    ToneEven even;
    ToneHz cut_hz, goal_hz[TONE_DIPS]; /* the frequencies of cut and goal */
    double even_db;                    /* dB: even_gain was worked out for this */
    Smooth even_gain;                  /* a factor */
} Tone;

/* Starts with everything off. No latency. */
extern const Processor tone;

/* For a chain of processors that learn at the same time. Call it before a tick on learn: the input has gone through a
 * gain that is still moving, now at `now` dB. The spectrum of the voice's loudness is counted as it would be at 0 dB;
 * nothing else that is learned depends on a level. */
void tone_hear_through(Tone *t, double now);

#endif
