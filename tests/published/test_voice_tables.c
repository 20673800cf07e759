/* The invented singer against published measurements of people.
 *
 * Byrne et al., "An international comparison of long-term average speech spectra", JASA 96 (1994), Table II (seen
 * second-hand; the power sums are 69.998 and 69.740 dB, as they should be): spoken voices lie within 6 dB of it in
 * each third octave from 200 Hz to 8 kHz, sung ones within 10 dB from twice their lowest note on, 2.5 to 4 kHz exempt
 * (the singer's formant). Levels are aligned by the mean difference.
 *
 * Peterson & Barney, "Control methods used in a study of the vowels", JASA 24 (1952), mean formants (seen
 * second-hand): the vowels as sung have their formants there.
 *
 * And the published figures that the library holds itself: the average voice, the voice ranges. */
#include "average_voice.h"
#include "figure.h"
#include "singer.h"
#include "spectrum.h"
#include "units.h"
#include "voice_range.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

/* ---- Byrne ---- */

enum { BANDS = AVERAGE_VOICE_BANDS };
/* As they are named; the middles in use are not rounded. */
static const double nominal_hz[BANDS] = {63,   80,   100,  125,  160,  200,  250,  315,  400,  500,   630,   800,  1000,
                                         1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000};

static const struct {
    SingerVoice voice;
    AverageVoice people;
    double from; /* Hz */
    bool sung;
    double limit; /* dB */
} spectra[] = {
    {SINGER_SPOKEN_LOW, AVERAGE_MEN, 200, false, 6},    {SINGER_SPOKEN_HIGH, AVERAGE_WOMEN, 200, false, 6},
    {SINGER_BASS, AVERAGE_MEN, 2 * 82.41, true, 10},    {SINGER_BARITONE, AVERAGE_MEN, 2 * 110.0, true, 10},
    {SINGER_TENOR, AVERAGE_MEN, 2 * 130.81, true, 10},  {SINGER_ALTO, AVERAGE_WOMEN, 2 * 174.61, true, 10},
    {SINGER_MEZZO, AVERAGE_WOMEN, 2 * 220.0, true, 10}, {SINGER_SOPRANO, AVERAGE_WOMEN, 2 * 261.63, true, 10},
};

static void power_sums_are_seventy(void **state)
{
    (void)state;
    double sums[2] = {0};
    for (int b = 0; b < BANDS; b++) {
        sums[0] += db_to_power(average_voice_db(AVERAGE_MEN, b));
        sums[1] += db_to_power(average_voice_db(AVERAGE_WOMEN, b));
    }
    assert_true(fabs(10 * log10(sums[0]) - 69.998) < 0.001);
    assert_true(fabs(10 * log10(sums[1]) - 69.740) < 0.001);
}

static void bands_and_powers_are_those_of_the_table(void **state)
{
    (void)state;
    for (int b = 0; b < BANDS; b++) {
        assert_true(fabs(average_voice_hz(b) / nominal_hz[b] - 1.0) < 0.02); /* nominal values are rounded */
        const double power =
            pow(10, average_voice_db(AVERAGE_MEN, b) / 10) + pow(10, average_voice_db(AVERAGE_WOMEN, b) / 10);
        assert_true(fabs(average_voice_power(b) / power - 1.0) < 1e-9);
    }
}

static bool counts(int band, double from, bool sung)
{
    const double hz = nominal_hz[band];
    return hz >= from && hz <= 8000 && !(sung && hz >= 2500 && hz <= 4000);
}

static double worst_band(const Spectrum *s, AverageVoice people, double from, bool sung)
{
    double off[BANDS], mean = 0, worst = 0;
    int count = 0;
    for (int b = 0; b < BANDS; b++) {
        const double centre = 1000 * exp2(round(3 * log2(nominal_hz[b] / 1000)) / 3);
        off[b] = spectrum_band(s, centre * exp2(-1.0 / 6), centre * exp2(1.0 / 6)) - average_voice_db(people, b);
        if (!counts(b, from, sung))
            continue;
        mean += off[b];
        count++;
    }
    for (int b = 0; b < BANDS; b++)
        if (counts(b, from, sung))
            worst = fmax(worst, fabs(off[b] - mean / count));
    return worst;
}

static void long_term_spectra_are_those_of_people(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof spectra / sizeof *spectra; i++) {
        double worst = 0;
        for (uint64_t seed = 1; seed <= 3; seed++) {
            SingerTake t;
            assert_true(singer_sing(&(SingerSpec){.voice = spectra[i].voice, .seed = seed, .seconds = 60}, &t));
            Spectrum s = spectrum_of(t.audio, t.frames, 8192, t.rate);
            worst = fmax(worst, worst_band(&s, spectra[i].people, spectra[i].from, spectra[i].sung));
            spectrum_free(&s);
            singer_free(&t);
        }
        char what[80];
        snprintf(what, sizeof what, "%s, worst third octave of three takes", singer_voice_name(spectra[i].voice));
        figure_at_most("Singer", what, worst, spectra[i].limit, "dB", "Byrne et al., JASA 96 (1994)");
    }
}

/* ---- Peterson & Barney ---- */

typedef struct {
    const char *name;
    SingerVowel vowel;
    double man[3], woman[3];
} Vowel;

static const Vowel vowels[SINGER_VOWELS] = {
    {"i", SINGER_I, {270, 2290, 3010}, {310, 2790, 3310}},   {"e", SINGER_E, {530, 1840, 2480}, {610, 2330, 2990}},
    {"ae", SINGER_AE, {660, 1720, 2410}, {860, 2050, 2850}}, {"a", SINGER_A, {730, 1090, 2440}, {850, 1220, 2810}},
    {"o", SINGER_O, {570, 840, 2410}, {590, 920, 2710}},     {"u", SINGER_U, {300, 870, 2240}, {370, 950, 2670}},
    {"uh", SINGER_UH, {640, 1190, 2390}, {760, 1400, 2780}},
};

enum { LOW_NOTE = 31 }; /* 49 Hz: so low that its harmonics draw the formants */

/* Levels of the harmonics of a vowel, in dB, over all its notes. */
enum { HARMONICS = 90 };
static void harmonics_of(const SingerTake *t, SingerVowel vowel, double level[HARMONICS])
{
    double power[HARMONICS] = {0};
    for (size_t i = 0; i < t->note_count; i++) {
        const SingerNote *n = &t->notes[i];
        if (n->vowel != vowel)
            continue;
        Spectrum s =
            spectrum_of(t->voice + (size_t)((n->start + 0.1) * t->rate), (size_t)(0.22 * t->rate), 8192, t->rate);
        for (int h = 1; h < HARMONICS; h++)
            power[h] += pow(10, spectrum_band(&s, (h - 0.5) * n->hz, (h + 0.5) * n->hz) / 10);
        spectrum_free(&s);
    }
    for (int h = 1; h < HARMONICS; h++)
        level[h] = 10 * log10(power[h]);
}

/* The peak of the envelope nearest to `expected`, between harmonics by a parabola; 0 when there is none. */
static double formant_near(const double level[HARMONICS], double hz, double expected)
{
    double found = 0;
    for (int h = 2; h + 1 < HARMONICS; h++) {
        if (level[h] < level[h - 1] || level[h] < level[h + 1])
            continue;
        const double bend = level[h - 1] - 2 * level[h] + level[h + 1];
        const double at = hz * (h + 0.5 * (level[h - 1] - level[h + 1]) / bend);
        if (fabs(at - expected) < fabs(found - expected))
            found = at;
    }
    return found;
}

static void vowels_have_their_formants(void **state)
{
    (void)state;
    for (int woman = 0; woman < 2; woman++) {
        const SingerVoice voice = woman ? SINGER_SPOKEN_HIGH : SINGER_SPOKEN_LOW;
        SingerTake t;
        assert_true(singer_sing(&(SingerSpec){.voice = voice,
                                              .seed = 1,
                                              .seconds = 20,
                                              .low_note = LOW_NOTE,
                                              .high_note = LOW_NOTE,
                                              .ladder = true,
                                              .no_consonants = true},
                                &t));
        double worst[3] = {0};
        for (int v = 0; v < SINGER_VOWELS; v++) {
            double told[3], level[HARMONICS];
            const double *expected = woman ? vowels[v].woman : vowels[v].man;
            singer_formants(voice, vowels[v].vowel, told);
            harmonics_of(&t, vowels[v].vowel, level);
            for (int f = 0; f < 3; f++) {
                assert_true(told[f] == expected[f]);
                const double off = formant_near(level, t.lowest_hz, expected[f]) / expected[f] - 1;
                if (fabs(off) > 0.06)
                    print_message("%s %s F%d: %.0f for %.0f Hz\n", singer_voice_name(voice), vowels[v].name, f + 1,
                                  (1 + off) * expected[f], expected[f]);
                worst[f] = fmax(worst[f], fabs(off));
            }
        }
        for (int f = 0; f < 3; f++) {
            char what[80];
            snprintf(what, sizeof what, "%s, worst F%d of seven vowels", singer_voice_name(voice), f + 1);
            figure_at_most("Singer", what, 100 * worst[f], 10, "%", "Peterson & Barney, JASA 24 (1952)");
        }
        singer_free(&t);
    }
}

/* ---- Voice ranges ---- */

/* Common usage, E2 to C6 at A4 = 440 Hz. A semitone more or less at either end makes no other singer of anybody. */
static void each_range_is_told_by_its_ends(void **state)
{
    (void)state;
    static const struct {
        VoiceRange range;
        double lowest, highest; /* Hz */
    } published[] = {
        {RANGE_BASS, 82.41, 329.63},  {RANGE_BARITONE, 110.0, 440.0},      {RANGE_TENOR, 130.81, 523.25},
        {RANGE_ALTO, 174.61, 698.46}, {RANGE_MEZZO_SOPRANO, 220.0, 880.0}, {RANGE_SOPRANO, 261.63, 1046.50},
    };
    for (size_t i = 0; i < sizeof published / sizeof *published; i++) {
        const double low = hz_to_note(published[i].lowest), high = hz_to_note(published[i].highest);
        for (int off = -1; off <= 1; off++) {
            assert_int_equal(voice_range_of(low + off, high, 0.5 * (low + high), true), published[i].range);
            assert_int_equal(voice_range_of(low, high + off, 0.5 * (low + high), true), published[i].range);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(power_sums_are_seventy),
        cmocka_unit_test(bands_and_powers_are_those_of_the_table),
        cmocka_unit_test(long_term_spectra_are_those_of_people),
        cmocka_unit_test(vowels_have_their_formants),
        cmocka_unit_test(each_range_is_told_by_its_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
