/* Check: tells if a take is usable, and what is wrong with it. The output is the input, to the bit.
 *
 * While it learns, every figure is that of all it has heard since learning began; on hold the figures stay as they are.
 * Figures are made from bounded memories (tally.h, voice_level.h) alone, so that a restored session shows the same ones
 * and goes on from there. A figure moves within 10 ms of what changed it; what depends on where the voice is comes
 * about half a second after the sound. Learning started afresh (hold -> learn while running) forgets everything.
 *
 * Levels are plain RMS in dB (a full-scale sine reads -3.01) unless said otherwise. Of two channels: the voice level
 * and the noise floor are the mean of both powers, peaks and clipped samples are of both, hum, room, pops and notes are
 * looked for in their half sum. For all of these, loudness too, a living channel stands in for a dead one (living.h): a
 * take with a dead channel shows the figures that it will have once its living one is put on both.
 *
 * Faults: each is a figure past a limit; limits are common practice (ours), in one table in check.c. The verdict names
 * the fault that lies furthest past its limit, counted in steps of that fault; clipping comes first, as nothing mends
 * it. Faults and verdict wait until CHECK_ENOUGH blocks of voice (about 3 s) were heard. */
#ifndef LINCTUS_CHECK_H
#define LINCTUS_CHECK_H

#include "clipping.h"
#include "decay.h"
#include "hearing.h"
#include "living.h"
#include "loudness.h"
#include "notes.h"
#include "phrases.h"
#include "pops.h"
#include "processor.h"
#include "rests.h"
#include "tally.h"
#include "true_peak.h"
#include "voice_range.h"

enum { CHECK_ENOUGH = 30 };

typedef struct {
    bool learn; /* true: go on hearing; false: hold. Hold -> learn starts afresh */
} CheckParams;

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
    double lowest, highest; /* MIDI notes held for 120 ms or more; 0: none */
    VoiceRange range;
    double uneven;         /* dB: from the level a tenth of the phrases stay under to that which a tenth pass; 0: fewer
                              than three phrases */
    double loudness;       /* LUFS, integrated (BS.1770); LOUDNESS_LOW: none */
    double loudness_range; /* LU (EBU Tech 3342) */
    bool fault[CHECK_FAULTS];
    CheckVerdict verdict;
} CheckReport;

/* All that was heard. */
typedef struct {
    LevelMemory level;
    Tally noise, hum[HUM_FAMILIES], decays, bursts, notes, phrases, momentary, short_term;
    double peak;             /* dBTP, in steps of 1/256 */
    uint32_t clipped;        /* to TALLY_MOST */
    uint32_t voiced, steady; /* frames; both are halved when one is full */
} CheckMemory;

typedef struct {
    uint32_t channels;
    CheckParams params;
    LearnSwitch learn;

    Living living;
    Hearing hearing;
    Rests rests;
    Decay decay;
    Pops pops;
    Notes notes;
    Phrases phrases;
    Loudness loudness;
    uint64_t hops; /* of loudness, that were taken */
    TruePeak true_peak;
    float cell_peak;
    Clipping clipping[DSP_CHANNELS];
    uint32_t cell_clipped;

    CheckMemory memory;
    uint32_t version;
    uint32_t step;     /* of the conclusion under way */
    CheckReport draft; /* what it has found so far */
    CheckReport report;
} Check;

/* No latency: what comes in goes out, to the bit. */
extern const Processor check;

#endif
