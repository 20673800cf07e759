/* The figures that Check shows, as a pure function of its memory: the same memory gives the same report, to the bit,
 * whenever and in however many steps it is worked out.
 *
 * Levels are plain RMS in dB (a full-scale sine reads -3.01) unless said otherwise.
 *
 * A fault is a figure past its limit. The limits are common practice (ours), in one table in check_faults.c. The
 * verdict names the fault furthest past its limit, counted in that fault's steps; clipping comes first, as nothing
 * mends it. Faults and verdict wait until CHECK_ENOUGH blocks of voice (about 3 s) were heard. */
#ifndef LINCTUS_CHECK_FIGURES_H
#define LINCTUS_CHECK_FIGURES_H

#include "check_memory.h"
#include "mains.h"
#include "voice_range.h"

enum {
    CHECK_ENOUGH = 30, /* blocks of voice, one every 100 ms */
    CHECK_STEPS = 13,  /* steps in which a report is worked out */
};

typedef enum {
    VERDICT_LISTENING, /* too little voice heard */
    VERDICT_READY,
    VERDICT_CLIPPED,
    VERDICT_TOO_QUIET,
    VERDICT_TOO_LOUD,
    VERDICT_NOISY,
    VERDICT_HUM,
    VERDICT_ROOMY,
    VERDICT_POPPING,
    VERDICT_UNEVEN,
    VERDICT_CLICKING,
    VERDICT_BREATHY,
} CheckVerdict;

typedef enum {
    FAULT_TOO_QUIET,
    FAULT_TOO_LOUD,
    FAULT_CLIPPED,
    FAULT_NOISY,
    FAULT_HUM,
    FAULT_ROOMY,
    FAULT_POPPING,
    FAULT_UNEVEN,
    FAULT_CLICKING,
    FAULT_BREATHY,
    CHECK_FAULTS,
} CheckFault;

_Static_assert((int)CHECK_FAULTS == (int)CHECK_NOW, "a time for each fault");

typedef enum { ROOM_UNKNOWN, ROOM_DRY, ROOM_IN_BETWEEN, ROOM_LIVE } CheckRoom;

typedef struct {
    double voice_level; /* dB; UNITS_DB_FLOOR until a second of voice was heard */
    double peak;        /* dBTP, highest true peak; UNITS_DB_FLOOR: silence */
    double clipped;     /* samples (clipping.h), of all channels; counts to 65535 */
    double flat_tops;   /* tops of the wave (flat_tops.h) that were clipped before the take came in, of all channels:
                           the flat ones of the 1 dB that has most of them, if it has eight or more and hardly any
                           tops lie over it, and three in twenty of the tops in it are flat; else 0 */
    double flat_tops_level; /* dB of full scale as a peak: their mean; UNITS_DB_FLOOR: none */
    double noise_floor;     /* dB, from 20 Hz up, with hum: mean power of the quiet blocks of 80 ms in the rests. Quiet
                               are those up to 3 dB over the level that one in twenty stays under, so breaths and a
                               room's tail do not count; blocks less than 6 dB under the voice are voice and do not
                               count either. UNITS_DB_FLOOR: too few rests to tell, that is fewer than three and less
                               than 1.5 s of them, or hardly any beside digital silence */
    double rest_heard;      /* s of rests, without blocks of voice */
    double signal_to_noise; /* dB: voice_level less noise_floor; 0: one of them is not known */
    double hum_hz;          /* 50 or 60; 0: no hum */
    double hum_level; /* dB, RMS of the first ten harmonics: median over the quiet windows (rests.h) in which a family
                         stands out (hum.h). A hum is steady: three windows or more, and more than a third of all, lie
                         within 3 dB of it, and it is no more than 3 dB louder than the median block of the rests, nor
                         more than 60 dB under the voice. UNITS_DB_FLOOR: no hum */
    double decay;     /* s, T60 between 350 and 1400 Hz, from three or more free decays (decay.h); 0: fewer */
    CheckRoom room;   /* dry under 0.3 s, live from 0.5 s on */
    double pops;      /* bursts of low sound (pops.h) over the voice's level */
    double clicks;    /* clicks (clicks.h) no more than 32 dB under the voice's level */
    double breaths;   /* breaths (breaths.h) 3 to 18 dB under the voice's level */
    double breath_level;          /* dB, their median; UNITS_DB_FLOOR: none */
    double lowest, highest;       /* MIDI notes: the 2nd and 98th percentile of frames in notes held for 120 ms or more;
                                     0: fewer than eight such frames */
    double lowest_hz, highest_hz; /* the same, Hz; 0: none */
    VoiceRange range;
    double tuning;      /* cents from A4 = 440 Hz, -50..50: circular mean over what is sung (notes.h) */
    double out_of_tune; /* cents: mean distance from equal temperament at that tuning; -1: less than a second was sung,
                           and `tuning` is 0 */
    double far_out;     /* 0..1: share of what is sung that lies more than 30 cents off */
    double uneven;      /* dB: from the level that 13 % of the phrases stay under to the one that 13 % pass; 0: fewer
                           than three phrases */
    double loudness;    /* LUFS, integrated (BS.1770); LOUDNESS_LOW: none */
    double loudness_range; /* LU (EBU Tech 3342) */
    double voice_heard;    /* s */
    bool fault[CHECK_FAULTS];
    double last[CHECK_FAULTS]; /* s since learning began: when the fault was last heard; -1: there is no such fault */
    CheckVerdict verdict;
} CheckReport;

#define CHECK_VOICE_HOP    0.1  /* s: from one block of voice to the next */
#define CHECK_LIVE_ROOM    0.5  /* s: decay time from which on a room is live; common practice, ours */
#define CHECK_CLICK_UNDER  32.0 /* dB under the voice's level: fainter clicks do not count */
#define CHECK_BREATH_UNDER 18.0 /* dB under the voice's level: fainter breaths do not count */
#define CHECK_BREATH_MOST  3.0  /* dB under the voice's level: what is louder is a puff or a consonant, no breath */

/* One step, 0..CHECK_STEPS - 1. They have to be done in order and on the same report, as each needs what those before
 * it found; none walks more than three tallies. After the last one `report` is complete. The memory may change between
 * steps: each figure is then that of the memory as its step saw it. */
void check_figures_step(const CheckMemory *memory, uint32_t step, CheckReport *report);

/* All steps at once. */
void check_figures(const CheckMemory *memory, CheckReport *report);

#endif
