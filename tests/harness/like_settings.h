/* The controls that --like sets, in the place of the command line's --set: Tone's by hand, and Compressor's wanted
 * reduction. */
#ifndef LINCTUS_HARNESS_LIKE_SETTINGS_H
#define LINCTUS_HARNESS_LIKE_SETTINGS_H

#include "stage.h"
#include "tone_even.h"

enum { LIKE_SETTINGS = 24 /* at most */ };

#define LIKE_REDUCTION_MOST 12.0 /* dB: what Compressor takes for wanted */

typedef struct {
    ToneCurve tone;
    double reduction; /* dB, 0..LIKE_REDUCTION_MOST */
    bool compressor;  /* there is a Compressor to set it on */
} LikeMoves;

/* The values as text: the settings point to them. */
typedef struct {
    char text[LIKE_SETTINGS][24];
} LikeValues;

/* Writes the settings, at most LIKE_SETTINGS, and returns how many. */
uint32_t like_settings(const LikeMoves *moves, LikeValues *values, Setting *set);

/* Is this one of the controls? Letter case does not matter in the plug-in's name. */
bool like_sets(const char *plugin, const char *symbol);

#endif
