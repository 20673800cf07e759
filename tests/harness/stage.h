/* One plug-in's turn in the chain, as it was asked for. */
#ifndef LINCTUS_HARNESS_STAGE_H
#define LINCTUS_HARNESS_STAGE_H

#include "readings.h"

/* A wish from the command line: PLUGIN.SYMBOL=VALUE. */
typedef struct {
    char plugin[64], symbol[64];
    const char *value;
    bool fitted; /* no wish: --like has found it */
} Setting;

typedef struct {
    Host *host;
    const char *name;   /* the plug-in's stem */
    const char *voice;  /* label of the presets to load; NULL: the plug-in's own defaults */
    const char *saved;  /* folder of a saved preset whose controls go over those; NULL: none */
    const Setting *set; /* those of other plug-ins are passed over */
    uint32_t sets;
    const Setting *under; /* what follows from a lead's setting (backing.h), after those */
    uint32_t unders;
    double silence; /* seconds of silence played after a take that it listened to, for answers that come late */
    bool levels;    /* it is a repair that works on the whole take: ride.h plays in its place while it learns */
    bool whole_hum; /* likewise, hum_whole.h */
    bool learns;    /* it listens to the takes before it mixes them */
} StagePlan;

/* An instance as the plan asks for, of the variant for this many channels, not activated. NULL: there is no such
 * variant, or a setting is wrong; see the error. */
Instance *stage_instance(const StagePlan *plan, uint32_t channels, double rate, Error *e);

/* Notes in the readings who set each control: the command line, --like, the voice's preset, or nobody. */
void stage_note_origins(const StagePlan *plan, const Instance *i, Readings *r);

/* Does it learn, with its settings? */
bool stage_learns(const Instance *i);

/* Is it switched off, so that it passes on what comes in? */
bool stage_is_off(const Instance *i);

#endif
