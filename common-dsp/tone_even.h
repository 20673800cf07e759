/* The gain with which Tone keeps the loudness of its input (even_loudness.h). How much its filters take from the voice,
 * or add to it, follows from the spectrum of that voice's loudness (voice_spectrum.h). The gain depends only on that
 * spectrum and on the settings the bands are moving to; it is worked out in small steps, and only when one of these has
 * changed. */
#ifndef LINCTUS_TONE_EVEN_H
#define LINCTUS_TONE_EVEN_H

#include "sos.h"
#include "voice_spectrum.h"
#include "work.h"

enum { TONE_EVEN_DIPS = 3, TONE_EVEN_SECTIONS = 2 + TONE_EVEN_DIPS + 1 };

/* The settings that the bands are moving to; dips and air at 0 dB do nothing. */
typedef struct {
    double order, low_cut; /* the low cut: order, 0 for off; Hz */
    double dip_hz[TONE_EVEN_DIPS], dip_db[TONE_EVEN_DIPS], dip_octaves[TONE_EVEN_DIPS];
    double air_hz, air_db;
} ToneCurve;

/* Zero it, but for `rate`, to reset. */
typedef struct {
    double rate;
    double found;   /* dB, in steps of 1/32; exactly 0 where too little was heard or no band does anything */
    double now;     /* dB, the gain on its way there */
    bool hurries;   /* the gain may fall at once, as a control has moved */
    bool known;     /* `curve` and `version` have been set */
    Work pace;      /* counts steps */
    uint32_t stage; /* of the round under way */
    uint32_t version;
    ToneCurve curve;
    Biquad section[TONE_EVEN_SECTIONS];
    uint32_t sections;
    double power[SPECTRUM_BANDS];
    uint32_t powers; /* how many entries of `power` are worked out for `curve` */
    EvenSums sums;
} ToneEven;

/* Call after a reset: works everything out in one go and jumps to the gain. version: a number that changes with the
 * spectrum. on: the gain is wanted; else it is 0 dB. */
void tone_even_start(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on);

/* Call once a cell: works on, and moves the gain. on: the gain is wanted; else it moves to 0 dB. */
void tone_even_tick(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on);

/* true: the gain has arrived; tone_even_tick() with the same arguments would change nothing. */
bool tone_even_rests(const ToneEven *e, uint32_t version, const ToneCurve *curve, bool on);

/* Call when a control moves a band: the gain may then fall as quickly, so that there is no burst. */
void tone_even_hurry(ToneEven *e);

#endif
