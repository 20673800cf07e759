#include "asked.h"

#include "voices.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool asked_for(const char *word)
{
    const char *const wish = getenv("LINCTUS_VOICES");
    return wish && strcmp(wish, word) == 0;
}

bool asked_voice(uint32_t voice)
{
    return asked_for("all") || voices[voice].use == (asked_for("tune") ? VOICES_TUNE : VOICES_JUDGE);
}

const char *asked_whom(const char *what)
{
    static char text[160];
    const char *const who = asked_for("all") ? "" : asked_for("tune") ? " for tuning" : " for judging";
    snprintf(text, sizeof text, "voices%s, %s", who, what);
    return text;
}
