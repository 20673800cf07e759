/* Where the phrases of a take are, and how loud each is, from the frames of the whole take (take_frames.h).
 *
 * A phrase is a stretch of voice. A frame is voice if it has a pitch and is less than 30 dB under the voice of the
 * take, or by its level alone if less than 15; and in either case less than 20 dB under the voice of the second before
 * or that of the second after it, whichever is fainter, so that a room's decay is not part of a phrase. Phrases are
 * separated by 0.3 s of quiet on end: no band louder than in the take's quietest frames, or a breath, recognised by its
 * spectrum (breaths.h) and fainter than the voice. So a consonant does not make a rest. A phrase includes the
 * consonants it begins and ends with: sounds up to 0.25 s before and after its voice (0.12 s if like a breath). There
 * may be a gap of up to 0.12 s before those at its end, the stop of a final t, and of 0.02 s after those at its
 * beginning.
 *
 * The rules are this project's own, settled by trial on the voices that constants may be set on (tests/voices.h). */
#ifndef LINCTUS_PHRASE_SPANS_H
#define LINCTUS_PHRASE_SPANS_H

#include "take_frames.h"

#define PHRASE_BRIEF 0.2 /* s of voice: the level of a phrase with less is meaningless */

typedef struct {
    double from, to; /* s from the beginning of the take */
    double level;    /* mean power, K-weighted, dB */
    double voiced;   /* s of voice in it */
} PhraseSpan;

/* Finds the phrases in n frames (0 or more), in order, `most` at most, and returns their number. They are 0.05 s or
 * more apart. */
uint32_t phrase_spans(const TakeFrame *frame, uint32_t n, PhraseSpan *span, uint32_t most);

/* The most phrases that n frames can hold. */
uint32_t phrase_spans_most(uint32_t n);

#endif
