#include "phrase_level.h"

#include "units.h"

#include <string.h>

/* Set on the voices for tuning: the spread of their phrases over 2 s, moved by 6 dB to each side, falls by 43.2 % in
 * the median (test_phrase_voices). Half and twice of CONSONANT_TIME and LEVEL_WINDOW move that by 0.2 at most; at 20 dB
 * SOUND_UNDER_VOICE makes 42.6 %, at 40 dB 44.5 %, but moves the gain in rests. FOLLOW_SPEED is what is needed for the
 * speed of the gain that is required; doubled, it changes third octaves twice as much. The rest was not searched. */
#define FOLLOW_SPEED      3.33 /* dB/s, fastest move of the slow level */
#define SOUND_UNDER_VOICE 30.0 /* dB under the voice: anything fainter is its room, or hum */
#define LOUDEST_FALL      1.0  /* dB/s, fall of the loudest moment */
#define LOUDEST_OVER      6.0 /* dB, assumed excess of the loudest moment over the voice while its level is not known */
#define PITCH_EVERY       0.01  /* s, how often a pitch is looked for */
#define CONSONANT_TIME    0.25  /* s after a pitch in which sound may be a consonant */
#define REST_TIME         0.3   /* s without voice that end a phrase */
#define LEVEL_WINDOW      5.0   /* s of voice, most that a phrase's level is averaged over */
#define LOUD_JUMP         300.0 /* ratio of power, 25 dB: after so large a jump the mean so far was not of voice */
#define LEAST_VOICE       0.03  /* s of voice, least that gives a level */

/* Weights of the bands' powers, about those of BS.1770. */
static const double weight[REST_BANDS] = {0.8, 1.0, 2.2, 2.5};

void phrase_level_init(PhraseLevel *p, double rate)
{
    memset(p, 0, sizeof *p);
    p->cell = DSP_CELL / rate;
    p->usual = UNITS_DB_FLOOR;
    phrase_level_reset(p);
}

void phrase_level_reset(PhraseLevel *p)
{
    p->loud = p->looked = p->heard = p->mean = 0.0;
    p->silent = REST_TIME;
    p->unvoiced = CONSONANT_TIME;
    p->sounds = false;
    p->level = p->slow = UNITS_DB_FLOOR;
}

static double weighed(const double power[REST_BANDS])
{
    double sum = 0.0;
    for (int b = 0; b < REST_BANDS; ++b)
        sum += weight[b] * power[b];
    return sum;
}

/* Whether a voice sounds in this cell. power: smoothed. */
static bool voice_sounds(PhraseLevel *p, const RestBands *bands, double power)
{
    p->loud = fmax(power, p->loud * (1.0 - 0.23 * LOUDEST_FALL * p->cell));
    p->looked += p->cell;
    p->unvoiced += p->cell;
    const double voice = p->usual > UNITS_DB_FLOOR ? p->usual : power_to_db(p->loud) - LOUDEST_OVER;
    if (power_to_db(power) < voice - SOUND_UNDER_VOICE)
        return false;
    if (p->looked >= PITCH_EVERY) {
        p->looked = 0.0;
        if (rest_bands_voiced(bands))
            p->unvoiced = 0.0;
    }
    return p->unvoiced < CONSONANT_TIME;
}

/* Adds a cell of this power to the phrase. */
static void add(PhraseLevel *p, double power)
{
    if (p->silent >= REST_TIME || power > LOUD_JUMP * p->mean)
        p->heard = p->mean = 0.0;
    p->silent = 0.0;
    p->heard += p->cell;
    p->mean += (power - p->mean) * p->cell / fmin(p->heard, LEVEL_WINDOW);
    p->sounds = p->heard >= LEAST_VOICE;
}

/* Moves the slow level. Until the usual level is known it is the phrase's level, and no gain follows from it. */
static void follow(PhraseLevel *p)
{
    const double most = FOLLOW_SPEED * p->cell;
    p->level = power_to_db(p->mean);
    if (!(p->usual > UNITS_DB_FLOOR))
        p->slow = p->level;
    else if (!(p->slow > UNITS_DB_FLOOR))
        p->slow = p->usual;
    else
        p->slow = dsp_clamp(p->level, p->slow - most, p->slow + most);
}

void phrase_level_hear(PhraseLevel *p, const RestBands *bands)
{
    p->sounds = false;
    if (voice_sounds(p, bands, weighed(bands->power)))
        add(p, weighed(bands->cell));
    else
        p->silent += p->cell;
    if (p->sounds)
        follow(p);
}
