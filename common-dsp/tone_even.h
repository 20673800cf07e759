/* The gain with which Tone keeps the loudness of what went in (even_loudness.h): what its filters take from the voice,
 * or add to it, is known from where that voice's loudness lies (voice_spectrum.h). A pure function of what was heard
 * and of where the bands are aimed at; worked out in small steps, and only where one of both has changed. */
#ifndef LINCTUS_TONE_EVEN_H
#define LINCTUS_TONE_EVEN_H

#include "sos.h"
#include "voice_spectrum.h"
#include "work.h"

enum { TONE_EVEN_DIPS = 3, TONE_EVEN_SECTIONS = 2 + TONE_EVEN_DIPS + 1 };

/* Where the bands are aimed at. */
typedef struct {
    double order, low_cut; /* of the low cut, 0: off; Hz */
    double dip_hz[TONE_EVEN_DIPS], dip_db[TONE_EVEN_DIPS], dip_octaves[TONE_EVEN_DIPS];
    double air_hz, air_db;
} ToneCurve;

/* Zero it, but for `rate`, to reset. */
typedef struct {
    double rate;
    double found;    /* dB, in steps of 1/32; exactly 0 where nothing is heard or nothing is done */
    double now;      /* dB, on its way there */
    bool hurries;    /* down as quickly as a control moves the bands */
    bool known;      /* found is that of `curve` and of the spectrum's `version` */
    Work pace;       /* in steps */
    uint32_t stage;  /* of the round under way */
    uint32_t rounds; /* that have ended */
    uint32_t version;
    ToneCurve curve;
    Biquad section[TONE_EVEN_SECTIONS];
    uint32_t sections;
    double power[SPECTRUM_BANDS];
    uint32_t powers; /* of them are those of `curve` */
    EvenSums sums;
} ToneEven;

/* At the start, after a reset: all of it in one go, and the gain holds at once. version: moves with the spectrum. */
void tone_even_start(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on);

/* A cell has passed. on: the gain is wanted; else it goes to 0. */
void tone_even_tick(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on);

/* It has arrived: tone_even_tick() with the same changes nothing that is heard. */
bool tone_even_rests(const ToneEven *e, uint32_t version, const ToneCurve *curve, bool on);

/* A control has moved a band: the gain may fall as quickly, so that it makes no burst. */
void tone_even_hurry(ToneEven *e);

#endif
