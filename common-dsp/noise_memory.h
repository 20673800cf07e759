/* What is remembered of a steady noise: its density in bands, whatever the sample rate. */
#ifndef LINCTUS_NOISE_MEMORY_H
#define LINCTUS_NOISE_MEMORY_H

#include "learned.h"

enum {
    NOISE_BANDS = 32,
    NOISE_TIMES = 240, /* most listenings that a mean is of */
};

#define NOISE_NONE   0           /* of a band: nothing known */
#define NOISE_STEP   (1. / 256.) /* dB of a count */
#define NOISE_LOWEST (-220.0)    /* dB: what a count of 0 would be */

/* Learned. A level counts steps over NOISE_LOWEST: the density, dB of power (full scale 1) a Hz. */
typedef struct {
    uint32_t level[NOISE_BANDS];
    uint32_t times[NOISE_BANDS]; /* listenings that it is the mean of, up to NOISE_TIMES: then it forgets slowly */
} NoiseMemory;

/* How it is stored. */
extern const LearnedSchema noise_schema;

/* Hz: where band b ends and the next begins; even on the mel scale, 82 Hz wide at the lower end of the spectrum, 2.6
 * kHz at 24 kHz. The last band goes on to the top, whatever the rate. */
double noise_band_end(uint32_t b);

/* One more listening, of a band in which the noise is known now. db: density; held within the range. */
void noise_memory_add(NoiseMemory *m, uint32_t band, double db);

/* dB; NOISE_LOWEST where nothing is known. */
double noise_memory_level(const NoiseMemory *m, uint32_t band);

#endif
