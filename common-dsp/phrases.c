#include "phrases.h"

#include "units.h"

/* Chosen, not searched; a phrase ends at 20 dB under the voice in plain measures of phrases too. */
#define SOUND_UNDER_VOICE 20.0 /* dB under the voice: anything fainter is rest */
#define LOUD_OVER         6.0  /* dB, assumed excess of the loudest frame over the voice while its level is not known */
#define LOUD_KEEPS        0.9977 /* ratio of power a frame: the loudest frame fades by 1 dB a second */
#define FLOOR_RISE        1.0023 /* ratio of power a frame: the faintest frame rises by 1 dB a second */
#define SOUND_OVER_NOISE  3.0 /* ratio of power: sound needs no pitch where its least power is so far over the noise */

enum {                   /* frames of 10 ms */
       REST = 30,        /* least rest that ends a phrase */
       SHORTEST = 20,    /* shortest phrase */
       LEAST_VOICE = 10, /* least voiced frames in a phrase */
       LONGEST = 1500,   /* after which a phrase is cut */
       TRAIL = 20,       /* for which sound after a pitch counts, in loud noise */
};

static bool sounds(Phrases *p, const HearingFrame *frame, double power, double level)
{
    p->loud = fmax(power, p->loud * LOUD_KEEPS);
    if (power > 0.0)
        p->noise = p->noise > 0.0 ? fmin(power, p->noise * FLOOR_RISE) : power;
    p->unvoiced = frame->hz > 0.0 ? 0 : p->unvoiced + 1;
    const double voice = level > UNITS_DB_FLOOR ? level : power_to_db(p->loud) - LOUD_OVER;
    const double least = db_to_power(voice - SOUND_UNDER_VOICE);
    return power >= least && (p->unvoiced < TRAIL || SOUND_OVER_NOISE * p->noise < least);
}

static void end(Phrases *p)
{
    p->length = p->voiced = p->silent = 0;
    p->power = p->since = 0.0;
}

bool phrases_hear(Phrases *p, const HearingFrame *frame, double level, double *db)
{
    const double power = hearing_over_low(frame);
    if (sounds(p, frame, power, level)) {
        p->power += p->since + power;
        p->length += p->silent + 1;
        p->voiced += frame->hz > 0.0;
        p->silent = 0;
        p->since = 0.0;
    } else if (p->length) {
        ++p->silent;
        p->since += power;
    }
    if (p->silent < REST && p->length < LONGEST)
        return false;
    const bool found = p->length >= SHORTEST && p->voiced >= LEAST_VOICE;
    *db = found ? power_to_db(p->power / p->length) : UNITS_DB_FLOOR;
    end(p);
    return found;
}
