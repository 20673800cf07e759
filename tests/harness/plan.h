/* What a run will do, settled before a take is read: the bundle, the stages with their settings, who learns. */
#ifndef LINCTUS_HARNESS_PLAN_H
#define LINCTUS_HARNESS_PLAN_H

#include "options.h"
#include "stage.h"

#include <stdio.h>

typedef struct {
    const Options *options;
    Host *host;
    const char *voice; /* label of the one that was named; NULL: none */
    char saved[4200];  /* folder of the preset to begin with; "": none */
    StagePlan *stage;  /* options->stages of them */
} Plan;

/* Opens the bundle that was asked for, or the one beside this program or in ../lib/lv2 of it. The options are kept, not
 * copied. Followed by plan_free() in any case. */
bool plan_open(Plan *p, const Options *options, Error *e);
void plan_free(Plan *p); /* safe on a zeroed struct */

/* The stages, anew where they have changed; fails where a plug-in or a voice does not exist, and where a setting is for
 * no stage. Letter case does not matter in the name of a plug-in: the options get it as the bundle has it. */
bool plan_stages(Plan *p, Error *e);

/* Starts every stage once as it will run on a take, so that a wrong setting is told before a long listen; notes which
 * of them learn. */
bool plan_try(Plan *p, uint32_t channels, double rate, Error *e);

/* Is there such a plug-in, for mono and for stereo? */
bool plan_has(const Plan *p, const char *plugin);

/* How many takes share what is learned: one, or all of them with --together. */
uint32_t plan_group(const Plan *p);

/* Does any stage learn? After plan_try(). */
bool plan_learns(const Plan *p);

/* Does Check listen first? It does where a stage learns, where it has to tell the voice or the repairs, and for a
 * report. After plan_try(). */
bool plan_asks_check(const Plan *p);

const StagePlan *plan_last(const Plan *p);

/* The voices, the plug-ins and their controls. */
void plan_list(const Plan *p, FILE *to);

#endif
