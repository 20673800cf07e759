/* In the place of tests/spoken.c, for machines that libsndfile is not there for: no speech, so that its tests
 * skip. */
#include "spoken.h"

#include <stdio.h>

static bool none(Spoken *s)
{
    *s = (Spoken){0};
    printf("no speech: sound files are not read on this machine\n");
    return false;
}

bool spoken_say(Spoken *s, const char *voice, const char *text)
{
    (void)voice;
    (void)text;
    return none(s);
}

bool spoken_robot(Spoken *s, const char *voice, int pitch, const char *text)
{
    (void)voice;
    (void)pitch;
    (void)text;
    return none(s);
}

bool spoken_load(Spoken *s, const char *which)
{
    (void)which;
    return none(s);
}
