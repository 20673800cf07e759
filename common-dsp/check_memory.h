/* All that Check has heard: counts on scales (tally.h, voice_level.h) and a few figures. Its size is bounded, however
 * long the take; what it holds is stored and restored to the bit. A value that is new lands in a bin within a cell.
 * The figures drawn from it are check_figures.h. */
#ifndef LINCTUS_CHECK_MEMORY_H
#define LINCTUS_CHECK_MEMORY_H

#include "learned.h"
#include "tally.h"
#include "voice_level.h"

/* What is counted, each on a scale of its own. */
typedef enum {
    CHECK_NOISE,      /* dB, blocks of 80 ms in the rests (rests.h) */
    CHECK_HUM_50,     /* dB, windows in the rests: harmonics of 50 Hz (hum.h) */
    CHECK_HUM_60,     /* dB, the same of 60 Hz */
    CHECK_DECAYS,     /* log2 of seconds: T60 of free decays (decay.h) */
    CHECK_BURSTS,     /* dB, bursts of low sound (pops.h) */
    CHECK_NOTES,      /* MIDI notes, frames that hold one (notes.h) */
    CHECK_PHRASES,    /* dB, phrases (phrases.h) */
    CHECK_MOMENTARY,  /* LUFS, blocks of 400 ms (loudness.h) */
    CHECK_SHORT_TERM, /* LUFS, blocks of 3 s */
    CHECK_TALLIES,
} CheckTally;

typedef enum {
    CHECK_COUNT_CLIPPED, /* samples, to TALLY_MOST */
    CHECK_COUNT_VOICED,  /* frames; both are halved when this one is full */
    CHECK_COUNT_STEADY,
    CHECK_COUNTERS,
} CheckCounter;

typedef struct {
    Tally level; /* of the voice (voice_level.h) */
    Tally tally[CHECK_TALLIES];
    double peak; /* dBTP, in steps of 1/256, rounded up; UNITS_DB_FLOOR: silence */
    uint32_t counter[CHECK_COUNTERS];
} CheckMemory;

/* The scale of each tally, by CheckTally. */
extern const TallyScale check_scale[CHECK_TALLIES];

/* How it is stored. */
extern const LearnedSchema check_schema;

/* Nothing was heard. Has to be called before anything else. */
void check_memory_clear(CheckMemory *m);

/* One more value, in the tally's unit; beyond an end of its scale it counts at that end. */
void check_memory_count(CheckMemory *m, CheckTally which, double value);

/* One more voiced frame; `steady`: of a note that is held long enough to be sung (notes.h). */
void check_memory_frame(CheckMemory *m, bool steady);

/* A true peak in dB, and so many clipped samples more. True when that changed anything. */
bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped);

#endif
