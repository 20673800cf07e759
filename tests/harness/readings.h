/* What the ports of a plug-in showed while audio went through it. */
#ifndef LINCTUS_HARNESS_READINGS_H
#define LINCTUS_HARNESS_READINGS_H

#include "host.h"

/* Who set a control. */
typedef enum { ORIGIN_DEFAULT, ORIGIN_PRESET, ORIGIN_ASKED, ORIGIN_FITTED, ORIGIN_LEAD } Origin;

/* What one port showed over a take, or over several, looked at every STAGE_BLOCK frames (sink.h). A control shows what
 * it was set to. */
typedef struct {
    float last, lowest, highest;
    float total;    /* what it showed at the end of each take, added up: for a count that begins afresh with each */
    uint32_t rises; /* how often it went from 0 to above 0 */
    Origin origin;  /* of a control: stage_note_origins() */
} Reading;

typedef struct {
    const Plugin *plugin; /* NULL: nothing was read */
    Reading *port;        /* plugin->ports of them */
} Readings;

/* Nothing is read yet. Followed by readings_free() in any case. false: out of memory. */
bool readings_start(Readings *r, const Plugin *plugin, Error *e);

/* Safe on a zeroed struct, and twice. */
void readings_free(Readings *r);

/* Looks at every port of an instance of the same plug-in. */
void readings_take(Readings *r, const Instance *i);

/* A read-out shows this at the end, whatever the instance showed. Nothing happens where there is no such port. */
void readings_correct(Readings *r, const char *symbol, float value);

/* Adds those of one more take to what may be empty as yet. The take's may be of the other variant of the plug-in: ports
 * go by their symbols. false: out of memory. */
bool readings_add(Readings *to, const Readings *take, Error *e);

/* The reading of a port, and in *port what the Turtle says of it; NULL in both: no such port, or nothing was read. */
const Reading *readings_of(const Readings *r, const char *symbol, const Port **port);

#endif
