/* Copies of a take and its mix for the players of a report: at one loudness, equally long, each of two channels, so
 * that switching from one to the other compares the sound and not the level. FLAC of 16 bit, dithered. */
#ifndef LINCTUS_HARNESS_AUDITION_H
#define LINCTUS_HARNESS_AUDITION_H

#include "mix.h"

#include <sndfile.h>

/* dB for each, `before` the take as it came and `after` the mix: so that both have one loudness, at most the mix's own,
 * and no peak passes -1 dBFS. 0 and 0, or less, where one of them has no loudness: then they are not matched. */
typedef struct {
    double before, after;
    bool matched;
} AuditionGains;

AuditionGains audition_gains(const Figures *before, const Figures *after);

typedef struct {
    Sink sink; /* its end completes the file */
    SNDFILE *file;
    const char *name;
    uint32_t channels;    /* of what comes in */
    double gain;          /* linear */
    uint64_t frames, all; /* written; to write: silence makes up for what does not come */
    uint32_t dither;      /* state of the generator */
} Audition;

/* Writes to a handle and owns it from here on. name is for errors, and kept, not copied. */
bool audition_start(Audition *a, int handle, const char *name, double rate, uint32_t channels, double gain_db,
                    uint64_t frames, Error *e);
void audition_free(Audition *a); /* safe on a zeroed struct, and twice */

#endif
