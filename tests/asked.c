#include "asked.h"

#include "singer.h"
#include "voices.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

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

void asked_singers(uint32_t seed, double seconds, void (*judge)(const char *name, const Spoken *take, uint32_t number))
{
    for (uint32_t v = asked_for("tune") ? 0 : 1; v < SINGER_VOICES; v += 2) {
        SingerTake t;
        const SingerSpec spec = {.voice = (SingerVoice)v, .seed = seed + v, .rate = VOICES_RATE, .seconds = seconds};
        assert_true(singer_sing(&spec, &t));
        judge(singer_voice_name(spec.voice), &(Spoken){.rate = VOICES_RATE, .n = t.frames, .x = t.voice}, 100 + v);
        singer_free(&t);
    }
}
