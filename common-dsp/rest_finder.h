/* Is this a rest, a breath in a rest, or a phrase? It answers at once, from the powers of four bands (rest_bands.h) and
 * from how far they swing while only the room sounds (rests_memory.h).
 *
 * A phrase begins when any band rises over what the rest's noise reaches, and ends 120 ms after all are back under it,
 * when the word has decayed. A breath lies mostly between 350 Hz and 3.5 kHz, in the duller half and in the brighter
 * (breaths.h), with little below, where a voice's lowest partials are, and above, where s and f are. It has no pitch
 * (voicing.h). While it lasts it is part of the rest; what rises faster than a breath does begins a phrase. A sound in
 * a phrase that is like a breath for longer than any consonant is a breath too, and ends the phrase.
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
    double follow, settle, rise;  /* a cell: smoothing of a breath's spectrum, of its level; its steepest climb */
    double threshold[REST_BANDS]; /* power over which something sounds */
    double loudest;               /* power, summed over the bands: no breath is louder */
    double slow[REST_BANDS];      /* power, smoothed: the spectrum that a breath is told by */
    double breath[REST_BANDS];    /* power, smoothed further: the level of the breath under way */
    double climb_from, climb; /* power of a breath's two bands, rising no faster than a breath, from climb_from up */
    double since_sound;       /* s since something sounded */
    double breathing;         /* s that the sound has been like a breath */
    double unlike;            /* s that a sound in a rest has been unlike a breath */
    double looked;            /* s since a pitch was looked for */
    bool voiced;              /* the last look found a pitch */
    RestKind kind;
} RestFinder;

/* rate: Hz. Starts in a phrase (REST_NONE); call rest_finder_know() before rest_finder_hear(). */
void rest_finder_init(RestFinder *f, double rate);

/* As after init, but what rest_finder_know() set stays. */
void rest_finder_reset(RestFinder *f);

/* Sets the thresholds, from dB: how far each band swings in a rest, the voice's level, `over` added to the swings. */
void rest_finder_know(RestFinder *f, const double swing[REST_BANDS], double level, double over);

/* Call once a cell, after rest_bands_tick(): what the cell that has ended belongs to. */
RestKind rest_finder_hear(RestFinder *f, const RestBands *bands);

#endif
