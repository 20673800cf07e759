/* render --backing: doubles and harmonies under a lead, as measured in what is written. */
#include "figure.h"
#include "level.h"
#include "runs.h"

enum { SLOW = 16000 };

static void expect_in(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("no \"%s\" in: %.3000s", part, text);
}

/* The first number behind a text, from the n-th time it stands there, counted from 0. */
static double number_behind(const char *text, const char *mark, int n)
{
    const char *found = text;
    for (int k = 0; k <= n && found; ++k)
        found = strstr(k ? found + 1 : found, mark);
    if (!found)
        fail_msg("no \"%s\" in: %.3000s", mark, text);
    return found ? strtod(found + strlen(mark), NULL) : NAN;
}

/* Three of a choir; the lead hums at 50 Hz, so that its low end can be measured. */
static void save_choir(const Bench *b)
{
    const SingerSpec lead = {.voice = SINGER_TENOR,
                             .seed = 5,
                             .rate = SLOW,
                             .seconds = 10.0,
                             .gain_db = -4.0,
                             .hum_hz = 50.0,
                             .hum_db = -26.0};
    const SingerSpec two = {.voice = SINGER_TENOR, .seed = 6, .rate = SLOW, .seconds = 8.0, .gain_db = -16.0};
    const SingerSpec low = {.voice = SINGER_BARITONE, .seed = 7, .rate = SLOW, .seconds = 9.0};
    save_singer(b, "lead.wav", &lead);
    save_singer(b, "double.wav", &two);
    save_singer(b, "low.wav", &low);
    prepare(b, "cp lead.wav same.wav");
}

/* LUFS, one channel counted as on both speakers. */
static double loudness(const Bench *b, const char *name)
{
    Sound s = sound_load(b, name);
    Level l;
    level_init(&l, s.info.samplerate, s.channels);
    for (uint32_t k = 0; k < s.n; ++k) {
        const float *at = &s.x[(size_t)k * s.channels];
        level_process(&l, (const float *const[]){at, at + s.channels - 1}, 1);
    }
    const double lufs = level_loudness(&l);
    level_done(&l);
    sound_free(&s);
    return lufs;
}

/* ---- What is said is what is written ---- */

static void backings_lie_under_the_lead(void **state)
{
    Bench *b = *state;
    save_choir(b);
    run_well(b, "lead.wav --backing double.wav low.wav --voice tenor -o mixes");
    const double lead = loudness(b, "mixes/lead.wav");
    static const char *const file[] = {"mixes/double.wav", "mixes/low.wav"};
    for (int k = 0; k < 2; ++k) {
        const double said = number_behind(b->out, "\n  level      ", k);
        figure_within("render", "a backing's loudness under its lead's, against what is said",
                      lead - loudness(b, file[k]), said, 0.5, "LU", "requirement; wide: it is measured in the file");
        figure_within("render", "a backing under its lead", said, 8.0, 0.5, "LU",
                      "common practice: 6 to 10; wide: requirement");
    }
    expect_in(b->out, "\nunder the lead, lead.wav\n");
    run_well(b, "lead.wav --voice tenor -o alone.wav");
    prepare(b, "cmp alone.wav mixes/lead.wav"); /* the lead is done as if it were alone */
}

/* Power at a frequency over a whole channel, dB. */
static double power_at(const Sound *s, double hz)
{
    double re = 0.0, im = 0.0;
    for (uint32_t k = 0; k < s->n; ++k) {
        const double turn = 2.0 * DSP_PI * hz * k / s->info.samplerate, x = (double)s->x[(size_t)k * s->channels];
        const double window = 0.5 - 0.5 * cos(2.0 * DSP_PI * k / s->n);
        re += window * x * cos(turn);
        im += window * x * sin(turn);
    }
    return power_to_db(re * re + im * im);
}

/* What a Butterworth filter of the third order leaves of 50 Hz. */
static double left_of_hum(double low_cut)
{
    return -power_to_db(1.0 + pow(low_cut / 50.0, 6.0));
}

/* The same take as lead and as backing: all else is alike, and the hum's tenth harmonic tells the gain. */
static void the_low_cut_lies_higher(void **state)
{
    Bench *b = *state;
    save_choir(b);
    run_well(b, "--backing --float --stages tone --voice tenor lead.wav same.wav -o mixes");
    const double here = number_behind(b->out, "low cut    higher: ", 0),
                 lead = number_behind(b->out, " Hz, the lead's ", 0);
    Sound one = sound_load(b, "mixes/lead.wav"), two = sound_load(b, "mixes/same.wav");
    const double gain = power_at(&two, 500.0) - power_at(&one, 500.0);
    figure_within("render", "hum at 50 Hz in a backing against the lead's, by the low cuts that are said",
                  power_at(&two, 50.0) - power_at(&one, 50.0) - gain, left_of_hum(here) - left_of_hum(lead), 0.5, "dB",
                  "Butterworth, third order");
    figure_within("render", "a backing's low cut, 1.5 times its lead's but 200 Hz at most", here,
                  fmin(1.5 * lead, 200.0), 1.0, "Hz", "common practice; wide: whole Hz are told");
    expect_in(b->out, " 18 dB per octave: by hand, from the lead's");
    sound_free(&one);
    sound_free(&two);
}

/* Of two files of one take: how much louder the second's voice is, and its tail. */
static double voice_gain(const Sound *take, const Sound *s)
{
    double both = 0.0, own = 0.0;
    for (uint32_t k = 0; k < take->n; ++k) {
        both += (double)take->x[k] * (double)s->x[(size_t)k * s->channels];
        own += (double)take->x[k] * (double)take->x[k];
    }
    return gain_to_db(both / own);
}

static double tail_db(const Sound *take, const Sound *s)
{
    double sum = 0.0;
    for (uint32_t k = take->n; k < take->n + SLOW / 2; ++k)
        sum += (double)s->x[(size_t)k * s->channels] * (double)s->x[(size_t)k * s->channels];
    return power_to_db(sum);
}

static void there_is_more_ambience(void **state)
{
    Bench *b = *state;
    save_choir(b);
    run_well(b, "--backing --float --stages plate --voice none lead.wav same.wav -o mixes");
    const double here = number_behind(b->out, "stand further back: ", 0),
                 lead = number_behind(b->out, " dB, the lead's ", 0);
    Sound take = sound_load(b, "lead.wav"), one = sound_load(b, "mixes/lead.wav"),
          two = sound_load(b, "mixes/same.wav");
    const double wet = tail_db(&take, &two) - tail_db(&take, &one),
                 dry = voice_gain(&take, &two) - voice_gain(&take, &one);
    figure_within("render", "ambience of a backing over its lead's, against what is said", wet - dry, here - lead, 0.5,
                  "dB", "requirement; wide: the voice is found in the mix");
    figure_within("render", "ambience of a backing over its lead's", here - lead, 3.0, 0.05, "dB",
                  "common practice; wide: tenths are told");
    sound_free(&take);
    sound_free(&one);
    sound_free(&two);
}

/* ---- One setting for the lot ---- */

static void all_backings_get_the_same(void **state)
{
    Bench *b = *state;
    save_choir(b);
    run_well(b,
             "lead.wav double.wav low.wav --backing --voice tenor --set plate.wet=-30 --set esses.catch_above=1 -o m");
    expect_in(b->out, "\n         wet at -30.0 dB, dry at 0.0 dB\n");
    for (int k = 0; k < 2; ++k) {
        assert_float_equal(number_behind(b->out, "stand further back: ", k), -27.0, 1e-9);
        assert_float_equal(number_behind(b->out, "caught earlier: from ", k), -2.0, 1e-9);
        assert_float_equal(number_behind(b->out, "low cut    higher: ", k),
                           number_behind(b->out, "low cut    higher: ", 0), 1e-9);
    }
    expect_in(
        b->out,
        "catches what stands -2.0 dB or more over this voice's usual range, cuts 8.0 dB at most: from the lead's");
    run_well(b, "lead.wav low.wav --backing --stages tone --set tone.low_cut_set_by=hand --set tone.low_cut=180 -o l");
    expect_in(b->out, "  low cut    higher: 200 Hz, the lead's 180 Hz; low sound of many voices adds up\n");
    run_well(b, "lead.wav low.wav --backing --stages tone,plate --set tone.low_cut_set_by=hand --set tone.low_cut=250 "
                "--set plate.wet=0 -o h");
    expect_in(b->out, "  low cut    the lead's: it goes no further\n");
    expect_in(b->out, "  ambience   the lead's: it goes no further\n");
    run_well(b, "lead.wav low.wav --backing --stages tone --set 'tone.low_cut_slope=off' -o n");
    expect_in(b->out, "  low cut    no stage has one\n");
    run_well(b, "lead.wav low.wav --backing --stages chain -o c");
    expect_in(b->out, "stand further back: -17.0 dB, the lead's -20.0 dB\n");
    expect_in(b->out, "caught earlier: from -3.0 dB over this voice's usual range on, the lead's +0.0 dB\n");
    expect_in(b->out, "low cut    higher: ");
    run_well(b, "lead.wav low.wav --backing --stages trim --voice none --loudness -20 -o t");
    expect_in(b->out,
              "  low cut    no stage has one\n  sibilance  no stage catches it\n  ambience   no stage makes any\n");
    assert_float_equal(number_behind(b->out, " LU under it: ", 0), -28.0 + 3.0, 0.06);
    assert_true(fabs(loudness(b, "t/lead.wav") - loudness(b, "t/low.wav") - 8.0) < 0.1); /* mono stays mono */
}

static void odd_leads_are_told(void **state)
{
    Bench *b = *state;
    const float silence[4 * SLOW] = {0};
    save_choir(b);
    save(b, "silent.wav", WAV_24, SLOW, 1, silence, 4 * SLOW);
    assert_int_equal(run(b, "silent.wav low.wav --backing -o mixes"), ERROR_NO_VOICE);
    expect_in(b->out, "  level      as it comes: the lead has no loudness\n");
    assert_int_equal(run(b, "low.wav silent.wav --backing -o more"), ERROR_NO_VOICE);
    expect_in(b->out, "  level      as it comes: too quiet or too short for one\n");
    assert_int_equal(files_in(b, "more"), 2);
}

static void wrong_lines_are_told(void **state)
{
    static const char *const lines[][2] = {
        {"lead.wav --backing -o mixes", "--backing needs a lead and what stands under it"},
        {"lead.wav low.wav --backing --together -o mixes", "that leaves no room for --together"},
        {"lead.wav low.wav --backing --apart -o mixes", "that leaves no room for --apart"},
        {"lead.wav low.wav --backing --advise", "leaves no room for --backing"},
        {"lead.wav low.wav --backing --compare", "leaves no room for --backing"},
        {"lead.wav low.wav --backing --save-preset p -o mixes", "--save-preset holds one setting"},
        {"lead.wav low.wav --backing", "where shall the result go?"},
    };
    Bench *b = *state;
    save_take(b, "lead.wav", WAV_24, 8000, 1, 1.0, 0.0);
    save_take(b, "low.wav", WAV_24, 8000, 1, 1.5, 0.0);
    for (size_t k = 0; k < sizeof lines / sizeof *lines; ++k) {
        assert_int_equal(run(b, lines[k][0]), ERROR_USAGE);
        expect_in(b->err, lines[k][1]);
    }
    assert_int_equal(files_in(b, "."), 2);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        BENCH_TEST(backings_lie_under_the_lead), BENCH_TEST(the_low_cut_lies_higher),
        BENCH_TEST(there_is_more_ambience),      BENCH_TEST(all_backings_get_the_same),
        BENCH_TEST(odd_leads_are_told),          BENCH_TEST(wrong_lines_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
