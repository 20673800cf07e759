/* All that Check has heard: tallies (tally.h, voice_level.h) and a few figures. Its size is bounded, however long the
 * take, and it is stored and restored to the bit. A new value is counted within a cell. check_figures.h works out what
 * is shown. */
#ifndef LINCTUS_CHECK_MEMORY_H
#define LINCTUS_CHECK_MEMORY_H

#include "learned.h"
#include "tally.h"
#include "voice_level.h"

/* What is counted, each on a scale of its own. */
typedef enum {
    CHECK_NOISE,         /* dB, blocks of 80 ms in the rests (rests.h) */
    CHECK_HUM_50,        /* dB, windows in the rests: harmonics of 50 Hz (hum.h) */
    CHECK_HUM_60,        /* dB, the same of 60 Hz */
    CHECK_DECAYS,        /* log2 of seconds: T60 of free decays, each as often as it counts (decay.h) */
    CHECK_BURSTS,        /* dB, bursts of low sound (pops.h) */
    CHECK_NOTES,         /* MIDI notes, frames that hold one (notes.h) */
    CHECK_PHRASES,       /* dB, phrases (phrases.h) */
    CHECK_MOMENTARY,     /* LUFS, blocks of 400 ms (loudness.h) */
    CHECK_SHORT_TERM,    /* LUFS, blocks of 3 s */
    CHECK_CENTS,         /* semitones, 0..1: how far a sung note lies over the next lower one at A4 = 440 Hz; frames */
    CHECK_CLICK_LEVELS,  /* dB, clicks (clicks.h) */
    CHECK_BREATH_LEVELS, /* dB, breaths (breaths.h) */
    CHECK_TOP_LEVELS,    /* dB, tops of swings (flat_tops.h), flat or not */
    CHECK_FLAT_LEVELS,   /* dB, flat ones */
    CHECK_TALLIES,
} CheckTally;

enum {
    CHECK_COUNT_CLIPPED, /* samples, to TALLY_MOST */
    CHECK_COUNT_VOICED,  /* voiced frames; when it is full, it and the counts of such frames are halved */
    CHECK_COUNT_STEADY,  /* voiced frames that are steady (notes.h) */
    CHECK_COUNTERS,
};

/* Counters that older sessions lack. */
typedef enum {
    CHECK_MORE_FALLS,   /* free decays, to TALLY_MOST */
    CHECK_MORE_SUNG,    /* voiced frames in notes that are sung (notes.h) */
    CHECK_MORE_LASTING, /* voiced frames in notes of 0.7 s or more */
    CHECK_MORE_RESTS,   /* rests with a block that counts, to TALLY_MOST */
    CHECK_MORE_SILENT,  /* frames of digital silence, up to the first second of each, to TALLY_MOST */
    CHECK_MORE_QUIET,   /* level of the quietest window of a rest, in 1/4 dB over -200 dB; 0: none yet */
    CHECK_MORE_BLOCKS,  /* blocks of voice; when it is full, it and the tallies of clicks and breaths are halved */
    CHECK_MORE,
} CheckMore;

/* What Check keeps a time for: the faults of check_figures.h, in their order, then the present. */
enum { CHECK_TIMES = 11, CHECK_NOW = CHECK_TIMES - 1 };

#define CHECK_TIME_STEP (1.0 / 128.0) /* s: step of a stored time */
#define CHECK_NOW_STEP  0.125         /* s: step of CHECK_NOW, so that passing time alone rarely changes the memory */

typedef struct {
    Tally level; /* of the voice (voice_level.h) */
    Tally tally[CHECK_TALLIES];
    double peak; /* dBTP, rounded up to 1/256; UNITS_DB_FLOOR: silence */
    uint32_t counter[CHECK_COUNTERS], more[CHECK_MORE];
    uint32_t when[CHECK_TIMES]; /* CHECK_TIME_STEPs since learning began, from 1 on; 0: not yet */
} CheckMemory;

/* The scale of each tally, by CheckTally. */
extern const TallyScale check_scale[CHECK_TALLIES];

/* How it is stored. */
extern const LearnedSchema check_schema;

/* Empties the memory: nothing was heard. Has to be called before anything else. */
void check_memory_clear(CheckMemory *m);

/* Counts a value, in the tally's unit. One beyond an end of the scale counts at that end. */
void check_memory_count(CheckMemory *m, CheckTally which, double value);

/* Counts a value `times` times. */
void check_memory_count_many(CheckMemory *m, CheckTally which, double value, uint32_t times);

/* Counts a top. Both tallies are halved where the one of all tops is full. */
void check_memory_top(CheckMemory *m, double db, bool flat);

/* Counts a voiced frame. steady: it is; sung, lasting: frames, this one and some before it, that are now known to lie
 * in notes held so long (notes.h). */
void check_memory_frame(CheckMemory *m, bool steady, uint32_t sung, uint32_t lasting);

/* Counts a block of voice. db: its level. */
void check_memory_block(CheckMemory *m, double db);

/* Adds 1 to one of the counters that stop at TALLY_MOST. */
void check_memory_more(CheckMemory *m, CheckMore which);

/* Takes note of a window to look for hum in. db: its level. false: it is not worth looking, as others were far quieter.
 * A window far quieter than any before discards what those gave. */
bool check_memory_window(CheckMemory *m, double db);

/* Notes that `which` (a fault, or CHECK_NOW) was heard `seconds` after learning began, rounded up to CHECK_TIME_STEP,
 * or CHECK_NOW_STEP for CHECK_NOW. true: this is later than what was known. */
bool check_memory_when(CheckMemory *m, uint32_t which, double seconds);

/* s after learning began that `which` was last heard; -1: not yet. */
double check_memory_time(const CheckMemory *m, uint32_t which);

/* Takes a true peak, dBTP, and adds `clipped` clipped samples. true: that changed anything. */
bool check_memory_peak(CheckMemory *m, double peak, uint32_t clipped);

/* How many values a tally holds, and how many of them are `value` or more; as tally_total() and tally_from(). */
double check_memory_total(const CheckMemory *m, CheckTally which);
double check_memory_from(const CheckMemory *m, CheckTally which, double value);

/* The value under which `count` of those counted lie; as tally_below(). */
double check_memory_below(const CheckMemory *m, CheckTally which, double count);

/* dB: the level of the mean power of values from..to; as tally_mean_db(). */
double check_memory_mean_db(const CheckMemory *m, CheckTally which, double from, double to);

#endif
