/* Sings one phrase of a score. */
#ifndef LINCTUS_SINGER_PHRASE_H
#define LINCTUS_SINGER_PHRASE_H

#include "glottis.h"
#include "score.h"
#include "traits.h"

#include <stdbool.h>

#define PHRASE_TAIL 0.08 /* s a phrase rings on after its last syllable */

typedef enum { TRACK_PITCH, TRACK_LOUDNESS, TRACK_BREATH, TRACK_F1, TRACK_F2, TRACK_F3, TRACK_GAIN, TRACKS } Track;

/* What a phrase is sung into. Tracks hold one value a tick (2 ms). */
typedef struct {
    const SingerSpec *spec;
    const VoiceTraits *traits;
    Corners corners;
    double rate;
    uint32_t tick; /* samples */
    size_t room, tick_room;
    size_t n, ticks; /* of the phrase at hand */
    float *voice;    /* the phrase, level 0 dB (RMS over its syllables) */
    float *raised;   /* what exploding sibilants add to it */
    float *track[TRACKS];
    float *scratch;
} Singing;

/* false: no memory. Then, too, singing_done() is due. */
bool singing_init(Singing *s, const SingerSpec *spec, double rate, double longest);
void singing_done(Singing *s);

/* Sings into s->voice and s->raised, s->n samples, and leaves the pitch in Hz and the loudness of the voice in the
 * tracks. `number` seeds it: a phrase sounds the same wherever it lies. */
void singing_phrase(Singing *s, const Score *score, uint32_t number);

#endif
