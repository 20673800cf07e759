/* The gain that evens the phrases of a take which is known as a whole, as a hand on a fader does that has heard it
 * before: a pure function of where the phrases lie and how loud they are (phrase_spans.h).
 *
 * Each phrase has one gain from its beginning to its end, so nothing moves inside it. All are brought as near to one
 * level as is asked for: the middle of all phrases, by how long they are, or as near to that as lets most_up and
 * most_down bring in most of them; where phrases lie no further apart than most_up, most_down and `within` together,
 * that is all of them. A brief one (PHRASE_BRIEF) goes with the nearest that is none. In a rest the gain is that of the
 * phrase before it or after it, whichever is less, and no more than 0 dB: so no rest, breath or noise comes out louder
 * than it went in. It moves there from 50 ms after the one phrase on, and is where it has to be 50 ms before the other
 * begins, each way in 0.2 s, or as long as the rest leaves room for.
 *
 * Riding the level of a voice is common practice; the method is this project's own. */
#ifndef LINCTUS_PHRASE_RIDE_H
#define LINCTUS_PHRASE_RIDE_H

#include "phrase_memory.h"
#include "phrase_spans.h"

typedef struct {
    const PhraseSpan *span;
    uint32_t spans;
    PhraseEvening evening; /* usual: the level that all are brought to */
    double makeup;         /* dB, on the phrases, all alike */
} PhraseRide;

/* The level, dB, that phrases are brought to; UNITS_DB_FLOOR: fewer than two of them have one. `usual` of the evening
 * is not looked at. */
double phrase_ride_level(const PhraseSpan *span, uint32_t spans, const PhraseEvening *evening);

/* dB, of one phrase; 0 where there is no level to bring it to. */
double phrase_ride_gain(const PhraseRide *r, uint32_t span);

/* dB, at a time in seconds, any. Exactly 0 where no phrase is moved. */
double phrase_ride_at(const PhraseRide *r, double at);

/* Adds what even_gain() (even_loudness.h) needs of the take to learn the makeup, with all of it processed (blend 1):
 * its frames, blocks of 400 ms. */
void phrase_ride_sum(const PhraseRide *r, const TakeFrame *frame, uint32_t n, uint32_t blocks[EVEN_FINE],
                     EvenSums *sums);

#endif
