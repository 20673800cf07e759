/* Held notes, and the lowest and highest of a take: the one rule by which Check tells a voice's range and Tone lays its
 * low cut.
 *
 * A note is held while the pitch stays within HELD_WITHIN for HELD_FRAMES; speech does that too, in passing. What is
 * not held is no note: a slide, or a slip of the pitch tracker, whose octaves last for a few frames, in noise above
 * all. Of the frames that were held a few still are slips, so the lowest note is that which a share of them stay under.
 */
#ifndef LINCTUS_HELD_H
#define LINCTUS_HELD_H

#include "tally.h"

#include <stdbool.h>

#define HELD_WITHIN 1.5  /* semitones */
#define HELD_ENDS   0.02 /* share of the held frames: under the lowest note of a range, and over its highest */

/* The same where a low cut goes by the note: it has to spare one that is seldom sung too. On the invented singer a
 * share of 0.02 misses the lowest note of a fifth of the takes by more than a semitone, 0.008 of none. */
#define HELD_LEAST 0.008

enum { HELD_FRAMES = 12, HELD_ENOUGH = 8 }; /* of 10 ms: of a note; of all notes, for a lowest one to be told */

/* Zero it to reset. */
typedef struct {
    double note[HELD_FRAMES]; /* a ring */
    uint32_t sounding, told;  /* frames since the pitch began, without a break; of them, up to which they were told */
} Held;

/* Frames count once: a note that has just been held long enough brings all its frames at once. */
typedef struct {
    uint32_t frames; /* more of a note that is held; 0: none is: */
    double note;     /* its mean over HELD_FRAMES */
} HeldFound;

/* The next frame of 10 ms. note: MIDI number with fractions, of what sounds. */
HeldFound held_hear(Held *h, double note);

/* A frame in which nothing sounds. */
void held_rest(Held *h);

/* Of notes that were counted, frame by frame; 0: fewer than HELD_ENOUGH. The one that this share of them lie under: */
double held_under(const Tally *notes, const TallyScale *scale, double share);

/* and the lowest at which, in three neighbouring bins, HELD_LEAST of them lie: no slips that are strewn below it move
 * it. What nearly is enough just below draws it down, so that one frame more or less moves it by little. */
double held_spared(const Tally *notes, const TallyScale *scale);

#endif
