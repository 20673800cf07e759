/* Where the phrases of a take lie, and how loud each is, for who has heard all of it (take_frames.h).
 *
 * A phrase is a stretch in which a voice sounds: told by its pitch, less than 30 dB under the voice of the whole take,
 * or by its level alone, less than 15; and less than 20 dB under the voice of the seconds about it, so that the room's
 * decay belongs to no phrase. Between two phrases it is quiet for 0.3 s on end: in no band sounds more than in the
 * take's quietest frames, or what sounds is a breath, told by where it lies (breaths.h) and fainter than the voice. So
 * a consonant makes no rest. To a phrase belong the consonants that it begins and ends with: what sounds up to 0.25 s
 * before and after (like a breath, up to 0.12 s), behind it with a stop of up to 0.12 s in between, that of a final t,
 * before it without.
 *
 * The rules are this project's own, settled by trial on the voices that constants may be set on (tests/voices.h). */
#ifndef LINCTUS_PHRASE_SPANS_H
#define LINCTUS_PHRASE_SPANS_H

#include "take_frames.h"

#define PHRASE_BRIEF 0.2 /* s of voice: with less a phrase has no level that tells anything */

typedef struct {
    double from, to; /* s */
    double level;    /* dB: mean of it, K-weighted */
    double voiced;   /* s of it in which a voice sounds */
} PhraseSpan;

/* Finds them, in order, up to `most`, and returns how many there are. Two of them lie 0.05 s apart or more. n:
 * frames; 0 is fine. */
uint32_t phrase_spans(const TakeFrame *frame, uint32_t n, PhraseSpan *span, uint32_t most);

/* The most phrases that n frames can hold. */
uint32_t phrase_spans_most(uint32_t n);

#endif
