/* The level of the current phrase so far, and a slow level that follows it, from the powers of four bands
 * (rest_bands.h), weighted about as BS.1770 does.
 *
 * It hears only sound less than 30 dB under the voice's level that has a pitch (voicing.h), or had one less than 0.25 s
 * ago: so consonants belong to a phrase, and rests, breaths and hum do not. 0.3 s without such sound end a phrase
 * (phrases.h). Its level is the mean power of what was heard of it, over the last 5 s at most. The slow level moves
 * towards that by 3.33 dB a second at most, of which phrase_evening() makes 3, and stands still where nothing is heard.
 */
#ifndef LINCTUS_PHRASE_LEVEL_H
#define LINCTUS_PHRASE_LEVEL_H

#include "rest_bands.h"

typedef struct {
    double cell;     /* length of a cell, s */
    double usual;    /* the voice's usual level, dB, set by the caller; UNITS_DB_FLOOR: not known */
    double loud;     /* power of the loudest moment, falling slowly */
    double looked;   /* s since a pitch was last looked for */
    double unvoiced; /* s since a pitch was last found */
    double silent;   /* s since a voice sounded */
    double heard;    /* s of voice in this phrase */
    double mean;     /* mean power of this phrase */
    bool sounds;     /* a voice sounds, and has for long enough to give a level */
    double level;    /* level of this phrase, dB; UNITS_DB_FLOOR before the first */
    double slow;     /* the slow level, dB; UNITS_DB_FLOOR before the first phrase */
} PhraseLevel;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Starts without a phrase and without a usual level. */
void phrase_level_init(PhraseLevel *p, double rate);

/* Back to the state before the first phrase; `usual` stays. */
void phrase_level_reset(PhraseLevel *p);

/* Takes in the next cell. */
void phrase_level_hear(PhraseLevel *p, const RestBands *bands);

#endif
