/* A bundle of presets: what a run set and learned, for any LV2 host to load. */
#ifndef LINCTUS_HARNESS_PRESET_H
#define LINCTUS_HARNESS_PRESET_H

#include "stage.h"

typedef struct {
    char *folder; /* "songs/lead.lv2" */
    char *label;  /* "lead" */
    bool made;    /* and not kept yet */
} PresetBundle;

/* "songs/lead" or "songs/lead.lv2". Fails where the folder is there already: nothing is overwritten. Writes nothing. */
bool preset_bundle_plan(PresetBundle *b, const char *name, Error *e);

bool preset_bundle_make(PresetBundle *b, Error *e);

/* A preset of the stage's plug-in, one for mono and one for stereo, where there are both: its controls as the plan has
 * them, Learn on hold, and what was learned. Where a found figure has a control that the plug-in leaves aside while it
 * goes by what it found, that control gets the figure, so that a host that loads no state has it too. state: what was
 * learned, NULL: nothing. mixed: what the ports showed in the mix. */
bool preset_bundle_add(PresetBundle *b, const StagePlan *plan, const char *state, const Readings *mixed, double rate,
                       Error *e);

/* It stays. */
void preset_bundle_keep(PresetBundle *b);

/* Takes away again what was not kept. */
void preset_bundle_free(PresetBundle *b);

#endif
