/* The gain that evens the phrases of a take known as a whole, as a hand on a fader does on a second listening: a pure
 * function of where the phrases are and how loud they are (phrase_spans.h).
 *
 * Each phrase has one gain from beginning to end, so nothing moves inside it. All phrases are brought as near to one
 * level as is asked for. That level is the median of all phrases, weighted by their voiced time, or if most_up and
 * most_down do not reach all of them from there, a level that leaves the least out of reach, if several the one nearest
 * to the median. Where phrases are no further apart than most_up, most_down and `within` together, all are reached. A
 * brief phrase (PHRASE_BRIEF) gets the gain of the nearest that is not. In a rest the gain is the lower of those of the
 * phrases around it, and no more than 0 dB: so no rest, breath or noise comes out louder than it went in. It leaves the
 * gain of one phrase 40 ms after its end, in 150 ms, and reaches that of the next 40 ms before its beginning, in 80 ms;
 * less in short rests.
 *
 * Riding the level of a voice is common practice; the method is this project's own. */
#ifndef LINCTUS_PHRASE_RIDE_H
#define LINCTUS_PHRASE_RIDE_H

#include "phrase_memory.h"
#include "phrase_spans.h"

typedef struct {
    const PhraseSpan *span;
    uint32_t spans;
    PhraseEvening evening; /* usual: the level that all phrases are brought to */
    double makeup;         /* dB, added to the gain of every phrase */
} PhraseRide;

/* The level, dB, that phrases are brought to; UNITS_DB_FLOOR: fewer than two are not brief. evening->usual is not read.
 */
double phrase_ride_level(const PhraseSpan *span, uint32_t spans, const PhraseEvening *evening);

/* The gain of phrase number `span`, dB; 0 where there is no level to bring it to. */
double phrase_ride_gain(const PhraseRide *r, uint32_t span);

/* The gain at any time, dB. at: seconds. Exactly 0 where no phrase is moved. */
double phrase_ride_at(const PhraseRide *r, double at);

/* Adds the take's n frames to blocks and sums, as blocks of 400 ms, for even_gain() (even_loudness.h) to work out the
 * makeup with blend 1. */
void phrase_ride_sum(const PhraseRide *r, const TakeFrame *frame, uint32_t n, uint32_t blocks[EVEN_FINE],
                     EvenSums *sums);

#endif
