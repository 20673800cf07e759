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
    CHECK_DECAYS,     /* log2 of seconds: T60 of free decays, each as often as it counts (decay.h) */
    CHECK_BURSTS,     /* dB, bursts of low sound (pops.h) */
    CHECK_NOTES,      /* MIDI notes, frames that hold one (notes.h) */
    CHECK_PHRASES,    /* dB, phrases (phrases.h) */
    CHECK_MOMENTARY,  /* LUFS, blocks of 400 ms (loudness.h) */
    CHECK_SHORT_TERM, /* LUFS, blocks of 3 s */
    CHECK_CENTS, /* semitones, 0..1: by how much a note that is sung lies over one in tune at A4 = 440 Hz; frames */
    CHECK_CLICK_LEVELS,  /* dB, clicks (clicks.h) */
    CHECK_BREATH_LEVELS, /* dB, breaths (breaths.h) */
    CHECK_TALLIES,
} CheckTally;

typedef enum {
    CHECK_COUNT_CLIPPED, /* samples, to TALLY_MOST */
    CHECK_COUNT_VOICED,  /* frames; halved, with all that is counted of them, when it is full */
    CHECK_COUNT_STEADY,  /* of them */
    CHECK_COUNTERS,
} CheckCounter;

/* Counted since later versions. */
typedef enum {
    CHECK_MORE_FALLS,   /* free decays, to TALLY_MOST; older sessions have no such count, and all that follow */
    CHECK_MORE_SUNG,    /* frames, of the voiced: in notes that are sung (notes.h), */
    CHECK_MORE_LASTING, /* and in those of 0.7 s */
    CHECK_MORE_RESTS,   /* rests with a block that counts, to TALLY_MOST */
    CHECK_MORE_SILENT,  /* frames of digital silence, the first second of each, to TALLY_MOST */
    CHECK_MORE_QUIET,   /* level of the quietest window of a rest: 1/4 dB over -200 dB, 0: none yet */
    CHECK_MORE_BLOCKS,  /* of voice; halved, with clicks and breaths, when it is full */
    CHECK_MORE,
} CheckMore;

/* What Check tells the time of: the faults of check_figures.h, in their order, and now. */
enum { CHECK_TIMES = 11, CHECK_NOW = CHECK_TIMES - 1 };

#define CHECK_TIME_STEP (1.0 / 128.0) /* s */
#define CHECK_NOW_STEP  0.125         /* s: nothing is new only because time passes, but so often */

typedef struct {
    Tally level; /* of the voice (voice_level.h) */
    Tally tally[CHECK_TALLIES];
    double peak; /* dBTP, in steps of 1/256, rounded up; UNITS_DB_FLOOR: silence */
    uint32_t counter[CHECK_COUNTERS], more[CHECK_MORE];
    uint32_t when[CHECK_TIMES]; /* in steps of CHECK_TIME_STEP since learning began, from 1 on; 0: not yet */
} CheckMemory;

/* The scale of each tally, by CheckTally. */
extern const TallyScale check_scale[CHECK_TALLIES];

/* How it is stored. */
extern const LearnedSchema check_schema;

/* Nothing was heard. Has to be called before anything else. */
void check_memory_clear(CheckMemory *m);

/* One more value, in the tally's unit; beyond an end of its scale it counts at that end. */
void check_memory_count(CheckMemory *m, CheckTally which, double value);

/* The same for so many values. */
void check_memory_count_many(CheckMemory *m, CheckTally which, double value, uint32_t times);

/* One more voiced frame; `steady`, `sung`, `lasting`: frames more, this one and those before it, of notes that are held
 * so long (notes.h). */
void check_memory_frame(CheckMemory *m, bool steady, uint32_t sung, uint32_t lasting);

/* One more block of voice, of this level in dB. */
void check_memory_block(CheckMemory *m, double db);

/* One more of what is counted to TALLY_MOST and no further. */
void check_memory_more(CheckMemory *m, CheckMore which);

/* A window of this level in dB is there to look for a hum in. False: it is not worth it, as there are far quieter ones.
 * A far quieter one than any before makes those count no more. */
bool check_memory_window(CheckMemory *m, double db);

/* It was heard so many seconds after learning began. True when that changed anything: a time is rounded up to a step,
 * CHECK_NOW to one of CHECK_NOW_STEP. */
bool check_memory_when(CheckMemory *m, uint32_t which, double seconds);

/* Seconds; -1: not yet. */
double check_memory_time(const CheckMemory *m, uint32_t which);

/* A true peak in dB, and so many clipped samples more. True when that changed anything. */
bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped);

#endif
