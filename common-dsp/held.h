/* Held notes, and the lowest and highest notes of a take. Check reports a voice's range and Tone sets its low cut by
 * the same rule.
 *
 * A note is held while the pitch stays within HELD_WITHIN for HELD_FRAMES; speech does that too, in passing. Anything
 * else is not a note: slides, and octave errors of the pitch tracker, which last for a few frames, above all in noise.
 * A few held frames still are such errors, so the lowest note is the one that a given share of held frames lie under.
 */
#ifndef LINCTUS_HELD_H
#define LINCTUS_HELD_H

#include "tally.h"

#define HELD_WITHIN 1.5  /* semitones from the lowest to the highest pitch of a held note */
#define HELD_ENDS   0.02 /* share of the held frames that lie below a range, and share that lie above it */

/* Share of the held frames that make the lowest note for a low cut, which has to spare notes that are seldom sung. On
 * the invented singer a share of 0.02 misses the lowest note of a fifth of the takes by more than a semitone, 0.008 of
 * none. */
#define HELD_LEAST 0.008

enum {
    HELD_FRAMES = 12, /* frames of 10 ms that the pitch stays within HELD_WITHIN */
    HELD_ENOUGH = 8,  /* held frames in a take, at least, for it to have a lowest note */
};

/* Zero it to reset. */
typedef struct {
    double note[HELD_FRAMES]; /* the last pitches, a ring of MIDI numbers */
    uint32_t sounding, told; /* frames since the pitch began, without a break; how many of them were reported as held */
} Held;

/* Each frame is reported once: when a note has been held for long enough, all its frames are reported together. */
typedef struct {
    uint32_t frames; /* newly reported frames of a held note; 0: no note is held */
    double note;     /* mean over the last HELD_FRAMES, MIDI number with fractions; valid where frames > 0 */
} HeldFound;

/* Takes in the next frame of 10 ms. note: its pitch, MIDI number with fractions. */
HeldFound held_hear(Held *h, double note);

/* Takes in a frame without a pitch. */
void held_rest(Held *h);

/* The note that `share` (0..1) of the tallied held frames lie under; 0 for fewer than HELD_ENOUGH. */
double held_under(const Tally *notes, const TallyScale *scale, double share);

/* The lowest note at which three neighbouring bins together hold HELD_LEAST of the tallied held frames, so that errors
 * scattered below do not move it; 0 for fewer than HELD_ENOUGH. Bins just below that hold nearly enough draw it down,
 * so that one frame more or less moves it only a little. */
double held_spared(const Tally *notes, const TallyScale *scale);

#endif
