/* One plug-in's turn in the chain: a listen pass over every take it shall learn from, then, in a fresh instance that
 * gets the saved state, a mix pass on hold. */
#ifndef LINCTUS_HARNESS_STAGE_H
#define LINCTUS_HARNESS_STAGE_H

#include "host.h"
#include "level.h"
#include "progress.h"
#include "spool.h"

/* A wish from the command line: PLUGIN.SYMBOL=VALUE. */
typedef struct {
    char plugin[64], symbol[64];
    const char *value;
} Setting;

typedef struct {
    Host *host;
    const char *name;   /* the plug-in's stem */
    const char *voice;  /* label of the presets to load; NULL: the plug-in's own defaults */
    const Setting *set; /* those of other plug-ins are passed over */
    uint32_t sets;
    double silence; /* seconds of silence played after a take that it listened to, for answers that come late */
} StagePlan;

/* What a port showed over a pass, or over a pass of each of several takes, looked at every 512 frames. A control shows
 * what it was set to. */
typedef struct {
    float last, lowest, highest;
    float total;    /* what it showed at the end of each take, added up: for a count that begins afresh with each */
    uint32_t rises; /* how often it went from 0 to above 0 */
} Reading;

typedef struct {
    const Plugin *plugin; /* NULL: nothing was read */
    Reading *port;        /* plugin->ports of them */
} Readings;

void readings_free(Readings *r);

/* Those of one more take. They may be of the other variant of the plug-in: ports go by their symbols. */
bool readings_add(Readings *to, const Readings *take, Error *e);

const Reading *readings_of(const Readings *r, const char *symbol, const Port **port); /* NULL: no such port */

typedef struct {
    double level, loudness, peak; /* dB RMS, LUFS, dBFS: see level.h */
} Figures;

/* What the mix pass did. */
typedef struct {
    Figures in, out;
    Readings readings;
    double tail; /* seconds it went on after the take */
} Effect;

void effect_free(Effect *effect);

/* A control pinned to a value, whatever the plan says. symbol NULL: none. */
typedef struct {
    const char *symbol;
    float value;
} Pin;

/* An instance as the plan asks for, not activated; NULL: see the error. */
Instance *stage_instance(const StagePlan *plan, uint32_t channels, double rate, Error *e);

/* Does it learn, with these settings? */
bool stage_learns(const Instance *i);

/* Listens to the whole of `in`. *state is what was learned before (NULL: nothing) and is replaced by what is known
 * now; to *heard is added what the ports showed (with silence after the take: at its end too). Leaves both alone where
 * the stage does not learn. */
bool stage_listen(const StagePlan *plan, const char *take, Spool *in, char **state, Readings *heard, Progress *p,
                  Error *e);

/* Runs `in` through and leaves a new spool in *out: latency taken off; as long as the input, or, from a reverberator,
 * until what comes out stays under -100 dBFS. frames above 0: exactly that long. `effect` may be NULL. */
bool stage_mix(const StagePlan *plan, const char *take, const char *state, Pin pin, uint64_t frames, Spool *in,
               const char *folder, Spool **out, Effect *effect, Progress *p, Error *e);

#endif
