/* What Booth has learned of a room, and the figures that follow from it.
 *
 * In each of five bands: the decay times of the falls after words (booth_falls.h), and how much late sound there was in
 * them. Whether there is a room is told by what the quarter of falls is quickest with: a room cannot fall more quickly
 * than it does, a voice that dies away slowly only makes a fall slower. Dry takes fall in 0.1 to 0.2 s by that figure,
 * with 0.3 s and more in the slowest of their falls. Where there is one, its decay times are those of the middle falls.
 *
 * How much late sound there is: the falls of a take tell it within 2 or 3 dB only, and too much is worse
 * than too little: it makes holes in the voice. So all falls are one row, the figure is one that four tenths
 * of them stay under, and it is drawn to what a room with that decay time adds where the direct sound is 3 dB over all
 * that the room adds: half-way where there are 15 falls, and never by more than 6 dB away. In short rooms it counts for
 * 1 dB less, in longer ones for up to 2 dB more. The rules are this project's own; on 64 takes of voices for tuning the
 * error's standard deviation is 1.9 dB, and it was 2.4 with the middle fall of each band and their mean.
 *
 * And for the loudness (even_loudness.h): blocks of 400 ms by their level, each with its K-weighted energy by the gain
 * that it would get if nothing held that from below, from when a room is known on. So what any such limit leaves of it
 * is known. */
#ifndef LINCTUS_BOOTH_MEMORY_H
#define LINCTUS_BOOTH_MEMORY_H

#include "even_loudness.h"
#include "learned.h"
#include "tally.h"

enum {
    BOOTH_BANDS = 5,        /* 150 to 500 Hz, then an octave each, the last from 4 kHz to the top */
    BOOTH_DECAY_BINS = 120, /* of log2 of seconds */
    BOOTH_LATE_BINS = 100,  /* of dB */
    BOOTH_GAINS = 17,       /* columns: gains from 0 to 1 in steps of 1/16; the last is 1 exactly */
    BOOTH_UNITS = 1024,     /* of energy: a block in the middle of its row */
};

/* Learned. */
typedef struct {
    uint32_t decay[BOOTH_BANDS][BOOTH_DECAY_BINS];
    uint32_t late[BOOTH_BANDS][BOOTH_LATE_BINS];
    uint32_t blocks[EVEN_FINE];
    uint32_t energy[EVEN_ROWS][BOOTH_GAINS];
} BoothMemory;

extern const LearnedSchema booth_schema;

/* What is known of the room. */
typedef struct {
    double sure;   /* 0: nothing is done; 1: all of it */
    double middle; /* s: decay time of the bands below 4 kHz, as one, by their quickest falls; 0: not known */
    double decay[BOOTH_BANDS]; /* s, of middle falls; a band that is not known has its neighbour's; 0 where none is */
    double late;               /* energy that comes 50 ms after a sound and later, over that which comes before */
} BoothRoom;

#define BOOTH_LEARNED_FROM 0.05 /* s: what `late` of a room speaks of */

/* Energy that is left of a room's sound from then on, over all of it; a room with this decay time in seconds, over 0.
 */
double booth_memory_left(double decay);

/* Hz: where the band begins; the end of the last is infinite. band: 0..BOOTH_BANDS. */
double booth_band_low(uint32_t band);

/* One more fall. seconds: its decay time, over 0. */
void booth_memory_decay(BoothMemory *m, uint32_t band, double seconds);

/* s, by the quickest quarter of falls; 0: too few. */
double booth_memory_decay_of(const BoothMemory *m, uint32_t band);

/* Late over early energy, as a fall of about the room's own decay time gave it. Over 0. */
void booth_memory_late(BoothMemory *m, uint32_t band, double late);

/* Falls that the figures are from, of the band that has most. */
uint32_t booth_memory_falls(const BoothMemory *m);

BoothRoom booth_memory_room(const BoothMemory *m);

/* A block's K-weighted mean square by the gain that it would get: column g holds gains of g / 16 to (g + 1) / 16.
 * False: it was silence. */
bool booth_memory_block(BoothMemory *m, const double energy[BOOTH_GAINS]);

/* dB that keep the loudness where gains are held from below at `lowest`; exactly 0 where nothing is turned down. */
double booth_memory_makeup(const BoothMemory *m, double lowest);

#endif
