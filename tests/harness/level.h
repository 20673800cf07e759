/* The harness's own meters, apart from those of the plug-ins, so that a report does not rest on what it reports on. */
#ifndef LINCTUS_HARNESS_LEVEL_H
#define LINCTUS_HARNESS_LEVEL_H

#include "loudness.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LEVEL_SILENT (-200.0)           /* dB: what silence reads */
#define LEVEL_BLOCK  0.4                /* s: what is shorter has no level */
#define LEVEL_BOTH   3.0102999566398120 /* dB: one channel on both speakers, over one speaker */

/* Plain RMS of 400 ms blocks every 100 ms, mean over the channels, gated at -70 dBFS and at 10 dB below the mean of
 * what is left (the way BS.1770 gates, without its weighting); the highest sample; loudness by BS.1770. */
typedef struct {
    Loudness loudness;
    uint32_t channels, hop, at;
    double sum;   /* power of the current hop */
    double *hops; /* mean power of each 100 ms */
    size_t used, room;
    double peak; /* magnitude */
    bool ok;     /* false: out of memory, the readings are then of the part before */
} Level;

/* channels: 1 or 2. rate in Hz. */
void level_init(Level *l, double rate, uint32_t channels);
void level_done(Level *l);
void level_process(Level *l, const float *const *in, uint32_t n);

double level_rms(const Level *l); /* dB; LEVEL_SILENT where nothing passes the gates */
/* LUFS, integrated; LOUDNESS_LOW: nothing passes the gates. One channel counts as sounding from both speakers (3 dB
 * more than the standard reads on a mono file), so that a mono take and its stereo mix can be compared. */
double level_loudness(const Level *l);
double level_peak(const Level *l); /* dBFS of the highest sample */

#endif
