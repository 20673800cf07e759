/* The last step to a file: at a loudness or a true peak that was asked for, or as it is; and what the file got. */
#ifndef LINCTUS_HARNESS_DELIVER_H
#define LINCTUS_HARNESS_DELIVER_H

#include "level.h"
#include "spool.h"
#include "true_peak.h"
#include "writer.h"

/* What is asked for. Both off: the audio goes through as it is. */
typedef struct {
    bool by_loudness, by_peak;
    bool as_heard;   /* the loudness counts one channel on both speakers (level.h); else: */
    double loudness; /* LUFS, as BS.1770 reads the file; LOUDNESS_LOW: none, so that the peak alone holds it */
    double peak;     /* dBTP; with a loudness: the most, which goes before it */
} Delivery;

#define DELIVERY_PEAK (-1.0) /* dBTP: what a loudness may reach where no peak is asked for; common practice */

/* What the file got, and what is in it. Silence has neither a level, a loudness nor a peak: they read LEVEL_SILENT,
 * LOUDNESS_LOW and LEVEL_SILENT or less. */
typedef struct {
    double gain;        /* dB */
    bool held;          /* the peak held it back from the loudness */
    double level, peak; /* dB RMS, dBFS: see level.h */
    double loudness;    /* LUFS, as BS.1770 reads the file: one channel is one speaker */
    double true_peak;   /* dBTP */
} Delivered;

typedef struct {
    Sink sink;
    Delivery wish;
    Writer *to;
    Spool *spool; /* NULL: nothing is asked for */
    uint32_t channels;
    Level level;
    TruePeak peak;
    float highest;
    Delivered got; /* after its end */
} Deliver;

/* Writes to a writer that was started, and ends it. folder: where a working copy lies, if one is needed. */
bool deliver_start(Deliver *d, Delivery wish, Writer *to, const char *folder, double rate, uint32_t channels, Error *e);
void deliver_free(Deliver *d); /* safe on a zeroed struct, and twice */

#endif
