/* How loud the phrase under way is, as far as it has come, and how loud the voice has been with an ear that follows
 * slowly: from the powers of four bands (rest_bands.h), weighed about as BS.1770 weighs them.
 *
 * It hears only what lies less than 30 dB under the voice's level and has a pitch (voicing.h), or had one less than
 * 0.25 s ago: so consonants belong to a phrase, and rests, breaths and hum do not. A phrase ends with 0.3 s without
 * (phrases.h), and its level is the mean power of what was heard of it, over the last 5 s at most. The slow level moves
 * towards it by 3.33 dB a second at most, and stands still where nothing is heard: of which phrase_evening() makes 3.
 */
#ifndef LINCTUS_PHRASE_LEVEL_H
#define LINCTUS_PHRASE_LEVEL_H

#include "rest_bands.h"

typedef struct {
    double cell;     /* s */
    double usual;    /* dB: the voice's usual level; UNITS_DB_FLOOR: not known */
    double loud;     /* power: the loudest moment, falling slowly */
    double looked;   /* s since a pitch was looked for, */
    double unvoiced; /* and since one was found */
    double silent;   /* s since a voice sounded */
    double heard;    /* s of voice in this phrase */
    double mean;     /* power of it */
    bool sounds;     /* a voice sounds, and has for long enough to tell a level: */
    double level;    /* dB, of this phrase */
    double slow;     /* dB; UNITS_DB_FLOOR before the first sound */
} PhraseLevel;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. No phrase yet, no usual level. */
void phrase_level_init(PhraseLevel *p, double rate);

/* No phrase yet; `usual` stays. */
void phrase_level_reset(PhraseLevel *p);

/* The next cell. */
void phrase_level_hear(PhraseLevel *p, const RestBands *bands);

#endif
