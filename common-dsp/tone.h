/* Tone: takes out of a voice what clouds it, and lifts the air: a Butterworth low cut, three dips, a high shelf.
 *
 * Every band follows its analog prototype up to the top of the band (design.h), moves smoothly in log-frequency, dB and
 * octaves, and is bypassed to the bit where its depth or lift is 0 and the low cut is off; also after it was moved back
 * there. No latency. `air_lift` is the one control that can make things louder: by up to 9 dB, above air_freq.
 *
 * Listening. While it learns, Tone hears the sum of its channels for resonances (resonance.h) and for the lowest note.
 * Where dips are placed by listening, each found resonance gets a dip of its own frequency and width, 60 to 80 % as
 * deep as the resonance is high, the surer it is the deeper, but no deeper than take_out. Until the first time that
 * enough was heard, the dips set by hand hold. What is found moves its dip slowly; what is found elsewhere gets a dip
 * only when the old one has faded out. After a fresh start the last findings hold until there are new ones.
 *
 * A dip that works only when it builds up (build_up.h) is out, to the bit, while its band does not stand out.
 *
 * Pointing out raises a band by TONE_POINT_DB in place of its depth or lift, and lowers the whole by as much and by the
 * dip's depth: at no frequency does it get louder than it was. When it ends, all else comes back up by those dB. */
#ifndef LINCTUS_TONE_H
#define LINCTUS_TONE_H

#include "build_up.h"
#include "living.h"
#include "partials.h"
#include "processor.h"
#include "resonance.h"
#include "smooth.h"
#include "sos.h"

#define TONE_POINT_DB 12.0

enum { TONE_DIPS = 3, TONE_AIR = TONE_DIPS, TONE_BANDS };

typedef enum { TONE_CUT_OFF, TONE_CUT_12, TONE_CUT_18, TONE_CUT_24, TONE_SLOPES } ToneSlope; /* dB per octave */

/* A band's choice of TonePoint is its index + 1. */
typedef enum { TONE_POINT_NONE, TONE_POINT_DIP_1, TONE_POINT_DIP_2, TONE_POINT_DIP_3, TONE_POINT_AIR } TonePoint;

typedef struct {
    double freq;   /* Hz, 100..4000 */
    double depth;  /* dB, -12..0 */
    double width;  /* octaves between the half-gain points, 0.2..3 */
    bool build_up; /* works only while its band stands out from the voice */
} ToneDip;

typedef struct {
    double low_cut; /* Hz, 20..300: where the low cut is 3 dB down */
    ToneSlope slope;
    ToneDip dip[TONE_DIPS];
    double air_freq; /* Hz, 6000..16000: where the lift has half its dB */
    double air_lift; /* dB, 0..9 */
    TonePoint point_out;
    bool learn;      /* true: keep listening; false: hold what was found. Hold -> learn starts afresh */
    bool listening;  /* the dips' frequencies, depths and widths are those found */
    double take_out; /* dB, 0..12: the deepest dip of those found */
} ToneParams;

typedef struct {
    struct {
        double freq;  /* Hz; 0: none */
        double depth; /* dB, -take_out..0 */
        double width; /* octaves; 0: none */
        double sure;  /* natural logarithm of the odds, RESONANCE_SURE or more; 0: none */
    } found[TONE_DIPS];
    double voice_heard; /* s, since learning began; up to 1310 */
    double lowest_note; /* Hz; 0: not known */
    double low_cut;     /* Hz: the one that suits this voice (low_cut.h); 0: not known. It is not set by itself */
} ToneReport;

typedef struct {
    Smooth octave; /* log2 of the frequency in Hz */
    Smooth db;
    Smooth width; /* octaves; the air lift has none */
} ToneBand;

typedef struct {
    double rate;
    uint32_t channels;
    ToneParams params;
    bool fresh;     /* nothing has run since the last reset: settings hold at once */
    Smooth low_cut; /* log2 of the frequency in Hz */
    Smooth share[TONE_SLOPES];
    ToneBand band[TONE_BANDS];
    Sos cut[TONE_SLOPES - 1]; /* all run all the time: a change of slope fades between filters that have settled */
    Sos bands;
    BuildUp build_up[TONE_DIPS];
    bool watched[TONE_DIPS];
    Smooth whole;      /* dB: of all of it, while a band is pointed out */
    double whole_gain; /* linear, where it has settled */

    LearnSwitch learn;
    Living living;
    Partials partials;
    ResonanceFinder finder;
    ResonanceMemory memory;
    uint32_t version, heard, worked; /* pieces heard since the reset, and when the finder set out */
    bool concluded;                  /* there was a finding, be it that nothing is there */
    Resonance found[TONE_DIPS];      /* each in the place of its dip */
    ToneBand goal[TONE_DIPS];        /* where the findings lead their dips, slowly */
    double lowest_note;
} Tone;

/* Starts with everything off. No latency. */
extern const Processor tone;

/* dB, -take_out..0: of the dip that a finding gets. */
double tone_dip_depth(const Resonance *r, double take_out);

#endif
