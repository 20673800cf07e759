/* A bundle of presets: what a run set and learned, for any LV2 host to load. */
#ifndef LINCTUS_HARNESS_PRESET_H
#define LINCTUS_HARNESS_PRESET_H

#include "readings.h"
#include "stage.h"

typedef struct {
    char *folder;    /* "songs/lead.lv2" */
    char *target;    /* the same from the root, links followed */
    char *temporary; /* the folder under a hidden name beside it; NULL: nothing to take away */
    char *label;     /* "lead" */
    bool there;      /* keeping replaces a folder that is there */
} PresetBundle;

/* "songs/lead" or "songs/lead.lv2". Writes nothing. Fails where a file is in its place, not a folder. */
bool preset_bundle_plan(PresetBundle *b, const char *name, Error *e);

/* May the folder that is there be replaced? Only where all that is in it are Turtle files, none of them a take. */
bool preset_bundle_is_plain(const PresetBundle *b, const char *const *take, uint32_t takes, Error *e);

/* Makes the folder, under its hidden name. */
bool preset_bundle_make(PresetBundle *b, Error *e);

/* A preset of the stage's plug-in, one for mono and one for stereo, where there are both: its controls as the plan has
 * them, Learn on hold, and what was learned. Where a found figure has a control that the plug-in leaves aside while it
 * goes by what it found, that control gets the figure, so that a host that loads no state has it too. state: what was
 * learned, NULL: nothing. mixed: what the ports showed in the mix. */
bool preset_bundle_add(PresetBundle *b, const StagePlan *plan, const char *state, const Readings *mixed, double rate,
                       Error *e);

/* The complete folder gets its name. One that is there goes only when the new one has its place. */
bool preset_bundle_keep(PresetBundle *b, Error *e);

/* Takes away again what was not kept. */
void preset_bundle_free(PresetBundle *b);

#endif
