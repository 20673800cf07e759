/* Held notes, and the lowest and highest notes of a take: the range that Check reports, and what Tone sets its low cut
 * by.
 *
 * A note is held while the pitch stays within HELD_WITHIN for HELD_FRAMES; speech does that too, in passing. Anything
 * else is not a note: slides, and octave errors of the pitch tracker, which last for a few frames, above all in noise.
 * A few held frames still are such errors. So the ends of a range are the notes that a share of the held frames lie
 * beyond. A low cut spares every note that was held, though: what it takes from a voice is worse than the rumble that
 * it leaves. */
#ifndef LINCTUS_HELD_H
#define LINCTUS_HELD_H

#include "tally.h"

#define HELD_WITHIN 1.5  /* semitones from the lowest to the highest pitch of a held note */
#define HELD_ENDS   0.02 /* share of the held frames that lie below a range, and share that lie above it */

enum { HELD_FRAMES = 12 }; /* frames of 10 ms that the pitch stays within HELD_WITHIN */

/* Zero it to reset. */
typedef struct {
    double note[HELD_FRAMES]; /* the last pitches, a ring of MIDI numbers */
    uint32_t sounding, told; /* frames since the pitch began, without a break; how many of them were reported as held */
} Held;

/* Each frame is reported once: when a note has been held for long enough, all its frames are reported together. */
typedef struct {
    uint32_t frames;          /* newly reported frames of a held note; 0: no note is held */
    double note[HELD_FRAMES]; /* their pitches, the newest first, MIDI numbers with fractions; 0 beyond `frames` */
} HeldFound;

/* Takes in the next frame of 10 ms. note: its pitch, MIDI number with fractions. */
HeldFound held_hear(Held *h, double note);

/* Takes in a frame without a pitch. */
void held_rest(Held *h);

/* The note that `share` (0..1) of the tallied held frames lie under; 0 for fewer than HELD_FRAMES. */
double held_under(const Tally *notes, const TallyScale *scale, double share);

/* The lowest note at which three neighbouring bins together hold HELD_FRAMES, those of one held note; 0: there is none.
 * Bins just below that hold nearly enough draw it down, so that one frame more or less moves it only a little.
 *
 * With a share of 0.008 of all held frames in place of HELD_FRAMES, notes held for 0.1 to 0.5 s were missed in long
 * takes: seven songs of each recorded voice for tuning, joined into a take of four minutes, lost up to 1.6 dB of their
 * lowest note; now they lose 0.82 dB at most. In the same songs no note more than a semitone under the lowest is taken
 * for held by mistake, nor with a hiss 25 dB under them. With the hiss 15 dB under them two are, in 27 minutes; in a
 * room of 0.8 s one every 30 s, since notes ring into each other: there the cut lies lower than it could. Once a bin is
 * full (eleven minutes of one note) and all are halved, a note that was held once is no longer spared. */
double held_spared(const Tally *notes, const TallyScale *scale);

#endif
