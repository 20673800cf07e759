/* Is this a rest, a breath in one, or a phrase? An answer at once, from the powers of four bands (rest_bands.h) and
 * from how far those swing while only the room sounds (rests_memory.h).
 *
 * A phrase begins when any band rises over what the rest's noise reaches, and ends a while after all are back under it,
 * so that a word has decayed before anybody takes it for over. A breath in a rest is told by where it lies: mostly
 * between 350 Hz and 3.5 kHz, in the duller half as in the brighter (breaths.h), with little under that, where a
 * voice's lowest partials are, and over it, where s and f are. While it lasts it counts as part of the rest, whose
 * level rises with it; what rises out of it quicker than a breath does is a phrase. What has a pitch is none
 * (voicing.h). A sound in a phrase that is like a breath for longer than a consonant is one too, and ends the phrase.
 *
 * Thresholds against the noise, with hysteresis and a hold time, are a gate's, common practice. Telling breaths by
 * their spectrum: Ruinskiy and Lavner 2007, from memory, as in breaths.h. The rules are this project's own, settled by
 * trial on the voices that constants may be set on (tests/voices.h). */
#ifndef LINCTUS_REST_FINDER_H
#define LINCTUS_REST_FINDER_H

#include "rest_bands.h"

typedef enum { REST_NONE, REST_ROOM, REST_BREATH } RestKind;

typedef struct {
    double cell;                  /* s */
    double follow, settle, rise;  /* a cell: of a breath's spectrum, of its level; times that it may climb */
    double threshold[REST_BANDS]; /* power: over it something sounds */
    double loudest;               /* power, summed over the bands: no breath is louder */
    double slow[REST_BANDS];      /* power, smoothed: what a breath is told by */
    double breath[REST_BANDS];    /* power, smoothed further: the level that the breath under way has */
    double climb_from, climb;     /* power of a breath's two bands: follows up no quicker than a breath climbs */
    double since_sound;           /* s since something sounded */
    double breathing;             /* s for which it has been like a breath */
    double unlike;                /* s for which something in a rest has been unlike one */
    double looked;                /* s since a pitch was looked for; */
    bool voiced;                  /* one was found */
    RestKind kind;
} RestFinder;

/* Nothing is known: no rest. */
void rest_finder_init(RestFinder *f, double rate);

/* As after init; what is known stays. */
void rest_finder_reset(RestFinder *f);

/* What is known, dB: how far each band swings in a rest, the voice's level; `over` is added to the former. */
void rest_finder_know(RestFinder *f, const double swing[REST_BANDS], double level, double over);

/* The next cell: what the bands have just heard. */
RestKind rest_finder_hear(RestFinder *f, const RestBands *bands);

#endif
