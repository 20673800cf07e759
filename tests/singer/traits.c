#include "traits.h"

#include <string.h>

/* What the throat and the chest add, fitted by hand to the long-term spectra of Byrne et al., JASA 96 (1994). */
static const SingerBell sung_man[BODY_BELLS] = {
    {450, 2, 1.2}, {1000, -3, 1.2}, {2700, -3, 1.2}, {5000, 4, 1.2}, {10000, 14, 0.6}};
static const SingerBell sung_woman[BODY_BELLS] = {
    {450, 0.5, 1.2}, {1000, -5, 1.2}, {2900, -9, 0.9}, {5400, 7, 1.2}, {10000, 14, 0.6}};
static const SingerBell spoken_man[BODY_BELLS] = {{400, 3, 1.2}, {850, -3.5, 1.2}, {2600, -2, 1.2}, {10000, 10, 0.6}};
static const SingerBell spoken_woman[BODY_BELLS] = {{400, 2.5, 1.2}, {800, -4, 1.2}, {2500, -6, 1.2}, {10000, 10, 0.6}};

/* Ranges by common usage. Sung voices draw F4 and F5 together: the singer's formant near 3 kHz. */
static const VoiceTraits voices[SINGER_VOICES] = {
    [SINGER_BASS] = {"bass", 40, 64, false, true, 0.55, 5000, -32, {2950, 3500}, 5800, 5.2, 45, sung_man},
    [SINGER_BARITONE] = {"baritone", 45, 69, false, true, 0.55, 5000, -32, {3000, 3550}, 6000, 5.4, 50, sung_man},
    [SINGER_TENOR] = {"tenor", 48, 72, false, true, 0.55, 5000, -32, {3100, 3700}, 6200, 5.6, 50, sung_man},
    [SINGER_ALTO] = {"alto", 53, 77, true, true, 0.62, 5000, -30, {3550, 4300}, 6800, 5.6, 50, sung_woman},
    [SINGER_MEZZO] = {"mezzo", 57, 81, true, true, 0.62, 5000, -30, {3650, 4400}, 7000, 5.8, 55, sung_woman},
    [SINGER_SOPRANO] = {"soprano", 60, 84, true, true, 0.62, 5000, -30, {3750, 4500}, 7200, 6.0, 55, sung_woman},
    [SINGER_SPOKEN_LOW] = {"spoken-low", 42, 57, false, false, 0.6, 4000, -30, {3400, 4400}, 6200, 0, 0, spoken_man},
    [SINGER_SPOKEN_HIGH] =
        {"spoken-high", 50, 65, true, false, 0.66, 4000, -28, {4000, 5000}, 7200, 0, 0, spoken_woman},
};

/* Peterson & Barney, JASA 24 (1952), means for men and women. */
static const struct {
    const char *name;
    double man[FORMANTS], woman[FORMANTS];
} vowels[SINGER_VOWELS] = {
    [SINGER_I] = {"i", {270, 2290, 3010}, {310, 2790, 3310}},
    [SINGER_E] = {"e", {530, 1840, 2480}, {610, 2330, 2990}},
    [SINGER_AE] = {"ae", {660, 1720, 2410}, {860, 2050, 2850}},
    [SINGER_A] = {"a", {730, 1090, 2440}, {850, 1220, 2810}},
    [SINGER_O] = {"o", {570, 840, 2410}, {590, 920, 2710}},
    [SINGER_U] = {"u", {300, 870, 2240}, {370, 950, 2670}},
    [SINGER_UH] = {"uh", {640, 1190, 2390}, {760, 1400, 2780}},
};

/* Peaks of fricatives: Jongman, Wayland & Wong, JASA 108 (2000), numbers from memory. Durations near theirs; levels,
 * loci and bursts are common knowledge of phonetics, from memory. */
static const ConsonantTraits consonants[SINGER_CONSONANTS] = {
    [SINGER_NONE] = {"-", ONSET_NONE, 0, 0, 0, 0, 0, 0, 1, 0, {0}},
    [SINGER_M] = {"m", ONSET_HUMMED, 0, .06, .1, 0, 0, 0, .4, 0, {250, 1000, 2200}},
    [SINGER_N] = {"n", ONSET_HUMMED, 0, .06, .09, 0, 0, 0, .4, 0, {250, 1550, 2500}},
    [SINGER_L] = {"l", ONSET_HUMMED, 0, .05, .08, 0, 0, 0, .6, 0, {350, 1100, 2600}},
    [SINGER_P] = {"p", ONSET_PLOSIVE, .07, .010, .014, -14, 900, .5, 0, .04, {300, 900, 2200}},
    [SINGER_B] = {"b", ONSET_PLOSIVE, .06, .008, .012, -18, 700, .5, .12, 0, {250, 900, 2200}},
    [SINGER_T] = {"t", ONSET_PLOSIVE, .06, .014, .022, -10, 4500, .9, 0, .04, {300, 1750, 2600}},
    [SINGER_D] = {"d", ONSET_PLOSIVE, .05, .010, .014, -15, 4000, .9, .12, 0, {250, 1750, 2600}},
    [SINGER_K] = {"k", ONSET_PLOSIVE, .06, .016, .026, -12, 1900, 1.5, 0, .05, {300, 2100, 2450}},
    [SINGER_G] = {"g", ONSET_PLOSIVE, .05, .012, .018, -16, 1900, 1.5, .12, 0, {250, 2100, 2450}},
    [SINGER_F] = {"f", ONSET_FRICATIVE, 0, .1, .15, -22, 7733, .4, 0, 0, {300, 1000, 2300}},
    [SINGER_TH] = {"th", ONSET_FRICATIVE, 0, .1, .15, -23, 7470, .4, 0, 0, {300, 1400, 2500}},
    [SINGER_S] = {"s", ONSET_SIBILANT, 0, .13, .18, -8, 0, 1.5, 0, 0, {300, 1750, 2600}},
    [SINGER_Z] = {"z", ONSET_SIBILANT, 0, .1, .13, -12, 0, 1.5, .25, 0, {250, 1750, 2600}},
    [SINGER_SH] = {"sh", ONSET_SIBILANT, 0, .13, .18, -8, 3820, 1.3, 0, 0, {300, 1900, 2500}},
    [SINGER_ZH] = {"zh", ONSET_SIBILANT, 0, .1, .13, -12, 3820, 1.3, .25, 0, {250, 1900, 2500}},
    [SINGER_CH] = {"ch", ONSET_SIBILANT, .05, .09, .12, -8, 3820, 1.3, 0, 0, {300, 1900, 2500}},
};

const VoiceTraits *voice_traits(SingerVoice voice)
{
    return &voices[voice];
}

const ConsonantTraits *consonant_traits(SingerConsonant consonant)
{
    return &consonants[consonant];
}

const char *singer_voice_name(SingerVoice voice)
{
    return voices[voice].name;
}

bool singer_voice_named(const char *name, SingerVoice *voice)
{
    for (int v = 0; v < SINGER_VOICES; v++)
        if (!strcmp(name, voices[v].name)) {
            *voice = (SingerVoice)v;
            return true;
        }
    return false;
}

const char *singer_vowel_name(SingerVowel vowel)
{
    return vowels[vowel].name;
}

const char *singer_consonant_name(SingerConsonant consonant)
{
    return consonants[consonant].name;
}

void singer_range(SingerVoice voice, double *low_note, double *high_note)
{
    *low_note = voices[voice].low_note;
    *high_note = voices[voice].high_note;
}

void singer_formants(SingerVoice voice, SingerVowel vowel, double formants[3])
{
    const double *f = voices[voice].woman ? vowels[vowel].woman : vowels[vowel].man;
    memcpy(formants, f, sizeof vowels[vowel].man);
}
