/* What is remembered of a steady noise: its density in bands, whatever the sample rate. */
#ifndef LINCTUS_NOISE_MEMORY_H
#define LINCTUS_NOISE_MEMORY_H

#include "learned.h"

/* Chosen, not searched. */
enum {
    NOISE_BANDS = 32,
    NOISE_TIMES = 240, /* most readings in a mean: after these the oldest fade */
};

#define NOISE_NONE   0           /* level of a band of which nothing is known */
#define NOISE_STEP   (1. / 256.) /* dB, step of a level */
#define NOISE_LOWEST (-220.0)    /* dB, density that a level of 0 would be */

/* What is learned. */
typedef struct {
    uint32_t level[NOISE_BANDS]; /* density, power (full scale 1) per Hz, in steps of NOISE_STEP over NOISE_LOWEST */
    uint32_t times[NOISE_BANDS]; /* readings that the level is the mean of, up to NOISE_TIMES */
} NoiseMemory;

/* How it is stored. */
extern const LearnedSchema noise_schema;

/* Frequency at which band b ends and the next begins, Hz. Bands are equal on the mel scale: the lowest is 82 Hz wide,
 * the one below 24 kHz 2.6 kHz wide. The last band extends to the top at any rate. */
double noise_band_end(uint32_t b);

/* Adds a reading of a band. db: density of the noise, dB, held to the range of a level. */
void noise_memory_add(NoiseMemory *m, uint32_t band, double db);

/* The learned density of a band, dB; NOISE_LOWEST where nothing is known. */
double noise_memory_level(const NoiseMemory *m, uint32_t band);

#endif
