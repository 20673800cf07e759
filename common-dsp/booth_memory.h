/* What Booth has learned of a room, and the figures that follow from it.
 *
 * In each of five bands: the decay times of the falls after words (booth_falls.h), and how much late sound there was in
 * them. The room is what the quarter of falls is quickest with: a room cannot fall more quickly than it does, a voice
 * that dies away slowly only makes a fall slower. Dry takes fall in 0.1 to 0.2 s by that figure, with 0.3 s and more in
 * the slowest of their falls. How much late sound there is differs little between bands, and one figure serves all: the
 * mean in dB of each band's middle one, with 2 dB
 * off in rooms of 0.35 s and 1.5 dB more from 0.5 s on. The rules are this project's own.
 *
 * And for the loudness (even_loudness.h): blocks of 400 ms by their level, each with its K-weighted energy by the gain
 * that it would get if nothing held that from below. So what any such limit leaves of it is known. */
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
    double sure;               /* 0: nothing is done; 1: all of it */
    double middle;             /* s: decay time of the bands below 4 kHz, as one; 0: not known */
    double decay[BOOTH_BANDS]; /* s; a band that is not known has its neighbour's; 0 where none is */
    double late;               /* energy that comes 50 ms after a sound and later, over that which comes before */
} BoothRoom;

/* Hz: where the band begins; the end of the last is infinite. band: 0..BOOTH_BANDS. */
double booth_band_low(uint32_t band);

/* One more fall. seconds: its decay time, over 0. */
void booth_memory_decay(BoothMemory *m, uint32_t band, double seconds);

/* s, as far as is known; 0: too few falls. */
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
