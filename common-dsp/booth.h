/* Booth: makes a live room drier. What comes late, 50 ms and more after the voice, is turned down; the voice and the
 * early reflections, which belong to its sound, stay.
 *
 * From spectra of frames of 32 ms (stft.h) it learns how the room decays in five bands and how much late sound it adds,
 * from the ends of words (booth_falls.h, booth_memory.h). From these follows how much of each bin is late now, and what
 * that is turned down by, never more than asked for (booth_late.h). What is removed is a spectrum too: the output is
 * the input, delayed, minus that. So where no room is known, or 0 dB is asked for, the output is the input to the bit.
 *
 * A take without late sound is softer. With even_loudness its loudness is that of what came in (even_loudness.h): a
 * gain that follows from what was learned and `down_by`; the other controls count in it as they stood while it
 * learned. It is the one thing here that makes anything louder, by a few dB at most.
 *
 * On hold nothing is learned. On hold with nothing learned, and in dry takes, it does nothing. Both channels get the
 * same gains, from their power together. */
#ifndef LINCTUS_BOOTH_H
#define LINCTUS_BOOTH_H

#include "booth_falls.h"
#include "booth_late.h"
#include "fade.h"
#include "processor.h"
#include "smooth.h"
#include "stft.h"
#include "work.h"

enum { BOOTH_HOPS = 4 }; /* of 100 ms, in a block of the loudness */

typedef struct {
    double down_by;      /* dB, 0..15: what late sound is turned down by at most; 0: nothing is done */
    double from;         /* s, 0.03..0.1: what comes so long after the voice is late */
    double counts_up_to; /* dB over the late sound found, -6..6: what is taken for its power */
    bool even_loudness;  /* keep the loudness of what went in */
    bool learn;          /* keep learning the room; false holds it. Hold -> learn starts afresh */
    bool hear_removed;   /* puts out only what is taken away; silent where nothing is */
} BoothParams;

typedef struct {
    double decay; /* s: the room's, of the bands below 4 kHz as one; 0: nothing sure, and nothing is done */
    double late;  /* dB: energy of what comes 50 ms and more after a sound, over the rest; UNITS_DB_FLOOR: none sure */
    double falls; /* ends of words that it was learned from, up to 1000 */
    double down;  /* dB, 0 or less: of the last half second, without makeup */
    double removed; /* per cent of the energy, since the last reset */
    double makeup;  /* dB, for the loudness */
} BoothReport;

typedef struct {
    double rate;
    uint32_t channels;
    BoothParams params;
    LearnSwitch learn;
    BoothMemory memory;
    uint32_t version; /* of the memory */
    BoothRoom known;  /* what follows from it */
    double falls;

    Stft stft;
    BoothLate late;
    BoothFalls fall[BOOTH_BANDS];
    double band[BOOTH_BANDS]; /* mean square of this frame */
    float *power, *gain;      /* for each bin: this frame's; its power while `stft` lends room for it */
    float *weight;            /* from power to K-weighted mean square; behind the gains */
    double to_square;         /* from power to mean square */

    double hop[BOOTH_HOPS][BOOTH_GAINS]; /* K-weighted mean squares by gain: a ring */
    uint32_t hop_frames, frames, hops;

    float lowest;  /* gain, for `down_by` */
    float part;    /* 0..1, moving: 1 where a room is sure */
    uint32_t step; /* of a frame's work, the next */
    Work pace;     /* all of them in a hop */
    bool begun;    /* a grid point was reached since the reset */
    bool works;    /* something of this frame's spectrum is removed */
    bool stale;    /* the makeup follows from something that has changed */
    double wished; /* dB: the makeup; */
    double now;    /* on its way there */
    Smooth makeup; /* gain */
    Fade hear;

    double in, removed;           /* energy, since the last reset */
    double in_lately, out_lately; /* the same of the last half second, fading */
} Booth;

/* Latency: a frame and a hop, 42.7 ms at 48 kHz; 31 to 47 ms at any rate. */
extern const Processor booth;

#endif
