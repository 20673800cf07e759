/* The figures that Check shows, as a pure function of its memory: the same memory gives the same report, to the bit,
 * whenever and in however many steps it is worked out.
 *
 * Levels are plain RMS in dB (a full-scale sine reads -3.01) unless said otherwise.
 *
 * Faults: each is a figure past a limit; limits are common practice (ours), in one table in check_figures.c. The
 * verdict names the fault that lies furthest past its limit, counted in steps of that fault; clipping comes first, as
 * nothing mends it. Faults and verdict wait until CHECK_ENOUGH blocks of voice (about 3 s) were heard. */
#ifndef LINCTUS_CHECK_FIGURES_H
#define LINCTUS_CHECK_FIGURES_H

#include "check_memory.h"
#include "voice_range.h"

enum {
    CHECK_ENOUGH = 30, /* blocks of voice, one every 100 ms */
    CHECK_STEPS = 10,  /* of working a report out */
};

typedef enum {
    VERDICT_LISTENING, /* too little voice heard */
    VERDICT_READY,
    VERDICT_CLIPPED,
    VERDICT_LEVEL,
    VERDICT_NOISY,
    VERDICT_HUM,
    VERDICT_ROOMY,
    VERDICT_POPPING,
    VERDICT_UNEVEN,
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
    CHECK_FAULTS,
} CheckFault;

typedef enum { ROOM_UNKNOWN, ROOM_DRY, ROOM_IN_BETWEEN, ROOM_LIVE } CheckRoom;

typedef struct {
    double voice_level;     /* dB; UNITS_DB_FLOOR until a second of voice was heard */
    double peak;            /* dBTP, highest true peak; UNITS_DB_FLOOR: silence */
    double clipped;         /* samples (clipping.h), of all channels; counts to 65535 */
    double noise_floor;     /* dB, 20 Hz and up, hum too: mean power of the quiet blocks of 80 ms in the rests, those
                               within 3 dB of the level that one in twenty stays under; so breaths and a room's tail do
                               not count. Of blocks 6 dB or more under the voice: louder ones are voice.
                               UNITS_DB_FLOOR: fewer than four such blocks, or rests of digital silence */
    double signal_to_noise; /* dB: voice_level less noise_floor; 0: one of them is not known */
    double hum_hz;          /* 50 or 60; 0: no hum */
    double hum_level;       /* dB, RMS of its first ten harmonics: the middle one of all windows in the rests, where a
                               family stands out in more than half of them (hum.h), of four windows or more. A hum is
                               steady: four in ten windows lie within 3 dB of it, and it is no more than 3 dB louder than
                               the middle block of the rests. UNITS_DB_FLOOR: no hum */
    double decay;   /* s, T60 between 350 and 1400 Hz: the middle one of all free decays (decay.h), of three or more;
                       0: fewer heard */
    CheckRoom room; /* dry under 0.3 s, live from 0.5 s on */
    double pops;    /* bursts of low sound (pops.h) that lie over the voice's level */
    double lowest, highest;       /* MIDI notes held for 120 ms or more; 0: none */
    double lowest_hz, highest_hz; /* the same, Hz; 0: none */
    VoiceRange range;
    double uneven;         /* dB: from the level a tenth of the phrases stay under to that which a tenth pass; 0: fewer
                              than three phrases */
    double loudness;       /* LUFS, integrated (BS.1770); LOUDNESS_LOW: none */
    double loudness_range; /* LU (EBU Tech 3342) */
    bool fault[CHECK_FAULTS];
    CheckVerdict verdict;
} CheckReport;

/* Step 0..CHECK_STEPS - 1, in this order and on the same report; each needs what those before it found, and none walks
 * more than three tallies. After the last one `report` is whole. Any memory will do, also one that changes between the
 * steps: then a figure is that of the memory as its step saw it. */
void check_figures_step(const CheckMemory *memory, uint32_t step, CheckReport *report);

/* All steps. */
void check_figures(const CheckMemory *memory, CheckReport *report);

#endif
