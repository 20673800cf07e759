/* The last step to a file: at a loudness or a true peak that was asked for, or as it is; and what the file got. */
#ifndef LINCTUS_HARNESS_DELIVER_H
#define LINCTUS_HARNESS_DELIVER_H

#include "loudness.h"
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

/* What the file got. Silence has neither a loudness nor a peak: they read LOUDNESS_LOW and LEVEL_SILENT or less. */
typedef struct {
    double gain; /* dB */
    bool held;   /* the peak held it back from the loudness */
    double loudness, true_peak;
} Delivered;

typedef struct {
    Sink sink;
    Delivery wish;
    Writer *to;
    Spool *spool; /* NULL: nothing is asked for */
    uint32_t channels;
    Loudness loudness;
    TruePeak peak;
    float highest;
    Delivered got; /* after its end */
} Deliver;

/* Writes to a writer that was started, and ends it. folder: where a working copy lies, if one is needed. */
bool deliver_start(Deliver *d, Delivery wish, Writer *to, const char *folder, double rate, uint32_t channels, Error *e);
void deliver_free(Deliver *d); /* safe on a zeroed struct, and twice */

#endif
