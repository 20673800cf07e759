/* Tone: takes out of a voice what clouds it, and lifts the air: a Butterworth low cut, three dips, a high shelf.
 *
 * Every band follows its analog prototype up to the top of the band (design.h), moves smoothly in log-frequency, dB and
 * octaves, and is bypassed to the bit where its depth or lift is 0 and the low cut is off; also after it was moved back
 * there. No latency. `air_lift` is the one control that can make things louder: by up to 9 dB, above air_freq. */
#ifndef LINCTUS_TONE_H
#define LINCTUS_TONE_H

#include "smooth.h"
#include "sos.h"

enum { TONE_DIPS = 3, TONE_AIR = TONE_DIPS, TONE_BANDS };

typedef enum { TONE_CUT_OFF, TONE_CUT_12, TONE_CUT_18, TONE_CUT_24, TONE_SLOPES } ToneSlope; /* dB per octave */

typedef struct {
    double freq;  /* Hz, 100..4000 */
    double depth; /* dB, -12..0 */
    double width; /* octaves between the half-gain points, 0.2..3 */
} ToneDip;

typedef struct {
    double low_cut; /* Hz, 20..300: where the low cut is 3 dB down */
    ToneSlope slope;
    ToneDip dip[TONE_DIPS];
    double air_freq; /* Hz, 6000..16000: where the lift has half its dB */
    double air_lift; /* dB, 0..9 */
} ToneParams;

typedef struct {
    Smooth octave; /* log2 of the frequency in Hz */
    Smooth db;
    Smooth width; /* octaves; the air lift has none */
} ToneBand;

typedef struct {
    double rate;
    uint32_t channels;
    Cell cell;
    bool fresh;     /* nothing has run since the last reset: settings hold at once */
    Smooth low_cut; /* log2 of the frequency in Hz */
    Smooth share[TONE_SLOPES];
    ToneBand band[TONE_BANDS];
    Sos cut[TONE_SLOPES - 1]; /* all run all the time: a change of slope fades between filters that have settled */
    Sos bands;
} Tone;

/* Starts with everything off. Allocates nothing; false: rate or channels out of range. */
bool tone_init(Tone *t, double rate, uint32_t channels);
void tone_done(Tone *t);
void tone_reset(Tone *t);
void tone_set(Tone *t, const ToneParams *params);
void tone_process(Tone *t, const float *const *in, float *const *out, uint32_t n);
uint32_t tone_latency(const Tone *t);

#endif
