#include "rest_finder.h"

#include "units.h"

#include <string.h>

/* Set on the voices for tuning, not searched one by one. */
#define FAINTEST_THRESHOLD 65.0  /* dB under the voice: no threshold lies lower */
#define PHRASE_HOLD        0.12  /* s that a phrase goes on after its last sound */
#define SPECTRUM_TAU       0.012 /* s: time constant that smooths the spectrum a breath is told by */
#define LEVEL_TAU          0.03  /* s: time constant that smooths a breath's level */
#define BREATH_CLIMB       900.0 /* dB/s: no breath gets louder faster */
#define LEFT_BEHIND        4.0   /* times (6 dB): what exceeds such a climb by this is no breath */
#define CLIMB_FROM         42.0  /* dB under the voice: the climb is followed from this level up */
#define OVER_BREATH        12.6  /* times (11 dB) the breath's own level in any band: a phrase begins */
#define UNLIKE_FOR         0.003 /* s: a breath may look unlike one for this long, as it begins in noise */
#define BREATH_OVER_VOICE  3.0   /* dB over the voice: no moment of a breath is louder */
#define LONGEST_CONSONANT  0.25  /* s: what looks like a breath for longer is no consonant */
#define PITCH_EVERY        0.006 /* s between two looks for a pitch */
#define OVER_HUM           2.0   /* times the second band's threshold: above it a pitch is not a hum's */
#define BREATH_GAP         0.06  /* s without sound: a breath is over */

/* dB by which a band's noise in a rest may exceed what was learned of its swings. Learned is the highest of ten looks;
 * this goes from there to what is passed once in a million, by a chi-square distribution of twice the bandwidth times 8
 * ms degrees of freedom, plus 1 dB. */
static const double beyond[REST_BANDS] = {7.0, 4.5, 3.5, 3.0};

void rest_finder_init(RestFinder *f, double rate)
{
    memset(f, 0, sizeof *f);
    f->cell = DSP_CELL / rate;
    f->follow = one_pole(SPECTRUM_TAU, 1.0 / f->cell);
    f->settle = one_pole(LEVEL_TAU, 1.0 / f->cell);
    f->rise = db_to_power(BREATH_CLIMB * f->cell);
}

void rest_finder_reset(RestFinder *f)
{
    memset(f->slow, 0, sizeof f->slow);
    memset(f->breath, 0, sizeof f->breath);
    f->climb = f->since_sound = f->breathing = f->unlike = f->looked = 0.0;
    f->voiced = false;
    f->kind = REST_NONE;
}

void rest_finder_know(RestFinder *f, const double swing[REST_BANDS], double level, double over)
{
    for (int b = 0; b < REST_BANDS; ++b)
        f->threshold[b] = db_to_power(fmax(swing[b] + beyond[b] + over, level - FAINTEST_THRESHOLD));
    f->climb_from = db_to_power(level - CLIMB_FROM);
    f->loudest = db_to_power(level + BREATH_OVER_VOICE);
}

static bool like_breath(const RestFinder *f)
{
    return rest_bands_breath(f->slow) && f->slow[0] + (f->slow[1] + f->slow[2]) + f->slow[3] < f->loudest;
}

static bool sounds(const RestFinder *f, const double power[REST_BANDS])
{
    bool any = false;
    for (int b = 0; b < REST_BANDS; ++b)
        any |= power[b] > f->threshold[b];
    return any;
}

/* Does anything rise out of the breath? */
static bool rises(const RestFinder *f, const double power[REST_BANDS])
{
    bool any = power[1] + power[2] > LEFT_BEHIND * f->climb;
    for (int b = 0; b < REST_BANDS; ++b)
        any |= power[b] > fmax(f->threshold[b], OVER_BREATH * f->breath[b]);
    return any;
}

static void follow(RestFinder *f, const double power[REST_BANDS])
{
    for (int b = 0; b < REST_BANDS; ++b) {
        f->slow[b] = dsp_hush(power[b] + f->follow * (f->slow[b] - power[b]));
        f->breath[b] = dsp_hush(power[b] + f->settle * (f->breath[b] - power[b]));
    }
    f->climb = fmax(fmin(power[1] + power[2], f->climb * f->rise), f->climb_from);
}

static RestKind in_phrase(RestFinder *f)
{
    if (f->since_sound >= PHRASE_HOLD)
        return REST_ROOM;
    return f->breathing >= LONGEST_CONSONANT ? REST_BREATH : REST_NONE;
}

static RestKind in_rest(RestFinder *f, const double power[REST_BANDS], bool breath)
{
    const bool sounds_now = f->since_sound == 0.0;
    f->unlike = sounds_now && !breath ? f->unlike + f->cell : 0.0;
    if (rises(f, power) || f->unlike > UNLIKE_FOR)
        return REST_NONE;
    if (sounds_now)
        return breath ? REST_BREATH : f->kind;
    return f->since_sound >= BREATH_GAP ? REST_ROOM : f->kind;
}

/* Looks for a pitch every PITCH_EVERY, only where it decides between a voice and a breath. */
static void look(RestFinder *f, const RestBands *bands, bool breath)
{
    f->looked += f->cell;
    if (!breath || bands->power[1] < OVER_HUM * f->threshold[1]) {
        f->voiced = false;
    } else if (f->looked >= PITCH_EVERY) {
        f->voiced = rest_bands_voiced(bands);
        f->looked = 0.0;
    }
}

RestKind rest_finder_hear(RestFinder *f, const RestBands *bands)
{
    const bool was_rest = f->kind != REST_NONE;
    f->since_sound = sounds(f, bands->power) ? 0.0 : f->since_sound + f->cell;
    follow(f, bands->power);
    const bool like = f->since_sound == 0.0 && like_breath(f);
    look(f, bands, like);
    const bool breath = like && !f->voiced;
    f->breathing = breath ? f->breathing + f->cell : 0.0;
    f->kind = was_rest ? in_rest(f, bands->power, breath) : in_phrase(f);
    return f->kind;
}
