/* Booth: makes a live room drier. It turns down late sound, which comes 50 ms or more after the voice, and keeps the
 * voice and its early reflections.
 *
 * From spectra of 32 ms frames (stft.h) it learns how the room decays in five bands and how much late sound it adds;
 * the ends of words tell (booth_falls.h, booth_memory.h). From that it estimates how much of each bin is late, and
 * turns that down, never by more than asked for (booth_late.h). The output is the delayed input minus what is removed,
 * so where no room is known, or 0 dB is asked for, the output is the input to the bit.
 *
 * Taking late sound out makes a take softer. even_loudness restores the loudness of the input (even_loudness.h) by a
 * gain that follows from what was learned and from `down_by`; the other controls count as they stood during learning.
 * Nothing else here makes anything louder, and this does so by a few dB at most.
 *
 * On hold nothing is learned. With nothing learned, and in dry takes, it does nothing. Both channels get the same
 * gains, from the sum of their powers. */
#ifndef LINCTUS_BOOTH_H
#define LINCTUS_BOOTH_H

#include "booth_falls.h"
#include "booth_late.h"
#include "fade.h"
#include "processor.h"
#include "smooth.h"
#include "removal.h"
#include "stft.h"
#include "work.h"

enum { BOOTH_HOPS = 4 }; /* hops of 100 ms in a loudness block, as in BS.1770 */

typedef struct {
    double down_by;      /* dB, 0..15: most that late sound is turned down by; 0: nothing is done */
    double from;         /* s, 0.03..0.1: how long after the voice sound counts as late */
    double counts_up_to; /* dB, -6..6: added to the late sound's estimated power */
    bool even_loudness;  /* keep the loudness of the input */
    bool learn;          /* keep learning the room; false holds it. Hold -> learn starts afresh */
    bool hear_removed;   /* put out only what is removed: silence where nothing is */
} BoothParams;

typedef struct {
    double decay; /* s: the room's decay time, one figure for the bands below 4 kHz; 0: no sure room, nothing is done */
    double
        late; /* dB: energy that comes 50 ms or more after a sound, over the energy before; UNITS_DB_FLOOR: not sure */
    double falls;   /* ends of words that the room was learned from, up to 1000 */
    double down;    /* dB, 0 or less: change of level over the last half second, without makeup */
    double removed; /* per cent of the energy since the last reset */
    double makeup;  /* dB: gain that keeps the loudness */
} BoothReport;

typedef struct {
    double rate;
    uint32_t channels;
    BoothParams params;
    LearnSwitch learn;
    BoothMemory memory;
    uint32_t version; /* of the memory */
    BoothRoom known;  /* the room that the memory gives */
    double falls;

    Stft stft;
    BoothLate late;
    BoothFalls fall[BOOTH_BANDS];
    BoothSearch search[BOOTH_BANDS]; /* for late sound by each band's last fall */
    Work searching;                  /* spreads these over two frames */
    double band[BOOTH_BANDS];        /* mean square of this frame */
    float *power, *gain; /* this frame's, by bin; `power` lies in memory that `stft` lends during a frame's work */
    float *weight;       /* factor from a bin's power to K-weighted mean square; allocated behind `gain` */
    double to_square;    /* factor from a bin's power to mean square */

    double hop[BOOTH_HOPS][BOOTH_GAINS]; /* K-weighted mean squares by gain, a ring of hops */
    uint32_t hop_frames, frames, hops;   /* frames in a hop; in the one under way; hops so far */

    float lowest;  /* gain: the least, by `down_by` */
    float part;    /* 0..1, moving: share of the removal in use; 1 where a room is sure */
    uint32_t step; /* the next step of a frame's work */
    Work pace;     /* spreads these steps over a hop */
    bool begun;    /* a grid point was reached since the reset */
    bool works;    /* something of this frame's spectrum is removed */
    bool stale;    /* the makeup has to be found again */
    bool fell;     /* a fall was counted, which `known` does not know of yet */
    bool told;     /* `known` does, but what follows from it is not worked out yet */
    double wished; /* dB: the makeup's goal */
    double now;    /* dB: the makeup on its way there */
    Smooth makeup; /* linear gain */
    Fade hear;

    Removal removal;
} Booth;

/* Latency: a frame and a hop, 42.7 ms at 48 kHz; 31 to 47 ms at any rate. */
extern const Processor booth;

#endif
