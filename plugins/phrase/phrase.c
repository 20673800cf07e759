/* Phrase: ports onto the processor. */
#include "phrase.h"
#include "phrase-ports.h"

static void set(void *dsp, const float *control)
{
    const PhraseParams params = {
        .within = control[PHRASE_WITHIN],
        .most_up = control[PHRASE_MOST_UP],
        .most_down = control[PHRASE_MOST_DOWN],
        .even_loudness = control[PHRASE_EVEN_LOUDNESS] > 0.f,
        .learn = control[PHRASE_LEARN] > 0.f,
    };
    phrase.set(dsp, &params);
}

static void report(const void *dsp, float *meter)
{
    PhraseReport heard;
    processor_report(&phrase, dsp, &heard);
    meter[PHRASE_USUAL_LEVEL] = (float)heard.usual;
    meter[PHRASE_LEVEL_NOW] = (float)heard.level;
    meter[PHRASE_GAIN] = (float)heard.gain;
    meter[PHRASE_MAKEUP_NOW] = (float)heard.makeup;
    meter[PHRASE_FARTHEST] = (float)heard.farthest;
}

SHELL_PLUGIN(phrase, PHRASE, .set = set, .report = report);
