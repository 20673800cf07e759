/* What Booth has learned of a room, and the figures that follow from it.
 *
 * The room: in each of five bands, the decay times of the falls after words (booth_falls.h) and how much late sound
 * they held. The quickest quarter of the falls decides whether there is a room; its decay times are medians; the late
 * sound is one figure for all bands. The rules and their reasons: booth.md.
 *
 * The loudness (even_loudness.h): once a room is known, blocks of 400 ms by their level, and their K-weighted energy by
 * the gain that each bin would get without a lower limit. So the loudness is known for any such limit. */
#ifndef LINCTUS_BOOTH_MEMORY_H
#define LINCTUS_BOOTH_MEMORY_H

#include "even_loudness.h"
#include "learned.h"
#include "tally.h"

/* Chosen, not searched. */
enum {
    BOOTH_BANDS = 5,        /* 150 to 500 Hz, then an octave each, the last from 4 kHz to the top */
    BOOTH_DECAY_BINS = 120, /* bins of a tally of decay times, log2 of seconds */
    BOOTH_LATE_BINS = 100,  /* bins of a tally of late over early energy, dB */
    BOOTH_GAINS = 17,       /* columns: gains from 0 to 1 in steps of 1/16; the last is 1 exactly */
    BOOTH_UNITS = 1024,     /* units of energy that a block in the middle of its row has */
};

/* What is learned and stored: tallies of falls, by band; blocks by level; energy by level and gain. */
typedef struct {
    uint32_t decay[BOOTH_BANDS][BOOTH_DECAY_BINS];
    uint32_t late[BOOTH_BANDS][BOOTH_LATE_BINS];
    uint32_t blocks[EVEN_FINE];
    uint32_t energy[EVEN_ROWS][BOOTH_GAINS];
} BoothMemory;

extern const LearnedSchema booth_schema;

/* What is known of the room. */
typedef struct {
    double sure;   /* 0..1: share of the removal in use; 0: nothing is done */
    double middle; /* s: decay time of the bands below 4 kHz as one, by their quickest quarter of falls; 0: not known */
    double decay[BOOTH_BANDS]; /* s: median falls; an unknown band has its neighbour's; all 0: none is known */
    double late;               /* energy that comes BOOTH_LEARNED_FROM after a sound or later, over that before */
} BoothRoom;

#define BOOTH_LEARNED_FROM 0.05 /* s after a sound: `late` of a room counts from here */

/* Energy of a room's own sound after BOOTH_LEARNED_FROM, over all of it: 0..1. decay: the room's, s, over 0. */
double booth_memory_left(double decay);

/* Lower end of a band, Hz; BOOTH_BANDS gives the last one's upper end, infinity. band: 0..BOOTH_BANDS. */
double booth_band_low(uint32_t band);

/* Counts one more fall. seconds: its decay time, over 0. band: 0..BOOTH_BANDS - 1, here and below. */
void booth_memory_decay(BoothMemory *m, uint32_t band, double seconds);

/* s: the decay time that a quarter of the band's falls are quicker than; 0: too few falls. */
double booth_memory_decay_of(const BoothMemory *m, uint32_t band);

/* Counts the late sound of a fall that is about as quick as the room's. late: over early energy, over 0. */
void booth_memory_late(BoothMemory *m, uint32_t band, double late);

/* Falls counted in the band that has most of them. */
uint32_t booth_memory_falls(const BoothMemory *m);

/* The room as known now; all 0 where too little was heard. */
BoothRoom booth_memory_room(const BoothMemory *m);

/* Counts a block. energy: its K-weighted mean square by the gain that it would get; column g is for gains of g / 16 to
 * (g + 1) / 16. false: the block was silence and does not count. */
bool booth_memory_block(BoothMemory *m, const double energy[BOOTH_GAINS]);

/* dB: the gain that keeps the loudness where no gain is under `lowest` (0..1, linear). Exactly 0 where nothing is
 * turned down; 0 until enough blocks are known. */
double booth_memory_makeup(const BoothMemory *m, double lowest);

#endif
