/* A band of Tone: its frequency, dB and width, each of which moves smoothly; and how a dip follows what listening finds
 * (tone.md). To the same resonance the dip glides; for another one it fades out, jumps and fades in. */
#ifndef LINCTUS_TONE_BAND_H
#define LINCTUS_TONE_BAND_H

#include "smooth.h"
#include "tone_memory.h"

#define TONE_GOAL_TAU 0.25 /* s, of each of the smoother's two poles, when a finding moves its dip */

typedef struct {
    Smooth octave; /* log2 of the frequency in Hz */
    Smooth db;
    Smooth width; /* octaves; the air lift has none */
} ToneBand;

/* Stepped once a cell. rate: Hz; tau: s, of each of the smoothers' two poles. */
void tone_band_init(ToneBand *band, double rate, double tau);

/* Jumps to its target. It will jump to the next target too. */
void tone_band_restart(ToneBand *band);

/* Sets a new target: log2 of Hz, dB, and octaves of width. */
void tone_band_to(ToneBand *band, double octave, double db, double width);

/* Whether nothing of it moves. */
bool tone_band_settled(const ToneBand *band);

/* Gain of the dip for a finding: dB, -take_out..0. take_out: dB, 0..12. */
double tone_band_depth(const Resonance *found, double take_out);

/* Call once a cell: sets the dip of a finding (hz 0: there is none) as the target, and moves on by a cell. */
void tone_band_follow(ToneBand *goal, const Resonance *found, double take_out);

#endif
