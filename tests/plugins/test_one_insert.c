/* Chain against the five in a row, through the built bundle: on hold, with the same preset, the same controls and the
 * same learned figures, the same audio to the bit, mono and stereo, at 44.1, 48 and 96 kHz; Chain is as late as the
 * five together. And its comparison with the raw take: as late, as loud, never louder by surprise. */
#include "every.h"

#include "figure.h"
#include "level.h"
#include "singer.h"

enum { FIVE = 5, BLOCK = 512 };
static const char *const row[FIVE] = {"trim", "tone", "compressor", "esses", "plate"};

static Host *host;

/* ---- Instances ---- */

static void must(bool ok, const Error *e)
{
    if (!ok)
        fail_msg("%s", e->text);
}

static Instance *set_up(const char *stem, uint32_t channels, double rate, const char *preset)
{
    Error e;
    Instance *i = instance_new(host, host_plugin(host, stem, channels), rate, INSTANCE_PLAIN, &e);
    must(i != NULL, &e);
    if (preset)
        must(instance_preset(i, preset, &e), &e);
    return i;
}

/* Some controls off their presets: those that Chain has too. */
static void turn(Instance *i)
{
    static const struct {
        const char *symbol;
        float value;
    } turned[] = {{"target", -20.f}, {"take_out", 4.f}, {"wanted_reduction", 7.f}, {"catch_above", -3.f},
                  {"wet", -14.f},    {"decay", 1.5f},   {"air_lift", 2.f},         {"learn", 0.f}};
    for (size_t k = 0; k < sizeof turned / sizeof *turned; ++k)
        if (plugin_port(instance_plugin(i), turned[k].symbol))
            instance_set(i, turned[k].symbol, turned[k].value);
}

static void run_blocks(Instance *i, const Audio *in, const Audio *out)
{
    for (uint32_t at = 0, n; at < in->n; at += n) {
        n = in->n - at < BLOCK ? in->n - at : BLOCK;
        instance_run(i, (const float *const[]){in->channel[0] + at, in->channel[1] + at},
                     (float *const[]){out->channel[0] + at, out->channel[1] + at}, n);
    }
}

static Audio take_of(double rate, double seconds)
{
    SingerTake t;
    assert_true(singer_sing(&(SingerSpec){.voice = SINGER_TENOR,
                                          .seed = 4,
                                          .rate = rate,
                                          .seconds = seconds,
                                          .gain_db = -9.0,
                                          .esses_db = 8.0,
                                          .boxy = {{400.0, 9.0, 0.0}}},
                            &t));
    Audio a = audio_new(t.frames);
    for (uint32_t k = 0; k < t.frames; ++k) {
        a.channel[0][k] = t.audio[k];
        a.channel[1][k] = k > 40 ? 0.7f * t.audio[k - 40] : 0.f;
    }
    singer_free(&t);
    return a;
}

/* What Chain learns from the take, as text. */
static char *lesson(const Audio *take, uint32_t channels, double rate, const char *preset)
{
    Error e;
    Instance *i = set_up("chain", channels, rate, preset);
    const Audio out = audio_new(take->n);
    instance_activate(i);
    run_blocks(i, take, &out);
    char *text = instance_save(i, &e);
    must(text != NULL, &e);
    instance_free(i);
    audio_free(&out);
    return text;
}

static Instance *held(const char *stem, uint32_t channels, double rate, const char *preset, const char *text)
{
    Error e;
    Instance *i = set_up(stem, channels, rate, preset);
    turn(i);
    if (instance_state(i))
        must(instance_restore(i, text, false, &e), &e);
    instance_activate(i);
    return i;
}

/* ---- The same to the bit ---- */

static void assert_learned(const Instance *i)
{
    assert_true(instance_value(i, "voice_level") > -60.f);
    assert_true(instance_value(i, "found_low_cut") > 60.f);
    assert_true(instance_value(i, "found1_freq") > 0.f);
    assert_true(instance_value(i, "usual_reduction") > 6.f);
    assert_true(instance_value(i, "found_centre") > 0.f);
    assert_true(instance_value(i, "caught_share") > 0.f);
}

static void same_as_five(uint32_t channels, double rate, const char *preset)
{
    const Audio take = take_of(rate, 16.0);
    char *text = lesson(&take, channels, rate, preset);
    Instance *one = held("chain", channels, rate, preset, text);
    Audio from_one = audio_new(take.n), sound = audio_copy(&take);
    run_blocks(one, &take, &from_one);
    assert_learned(one);
    uint32_t late = 0;
    for (int s = 0; s < FIVE; ++s) {
        Instance *i = held(row[s], channels, rate, preset, text);
        Audio next = audio_new(take.n);
        run_blocks(i, &sound, &next);
        late += instance_latency(i);
        audio_free(&sound);
        sound = next;
        instance_free(i);
    }
    audio_assert_same(&sound, &from_one, 2, 0, "Chain against the five in a row");
    assert_int_equal(instance_latency(one), late);
    instance_free(one);
    free(text);
    audio_free(&take);
    audio_free(&sound);
    audio_free(&from_one);
}

static void is_the_five_in_a_row(void **state)
{
    (void)state;
    static const double rate[] = {44100.0, 48000.0, 96000.0};
    static const char *const preset[] = {NULL, "Tenor", "Spoken high"};
    for (int r = 0; r < 3; ++r)
        for (uint32_t channels = 1; channels <= 2; ++channels)
            same_as_five(channels, rate[r], preset[r]);
    figure_note("Chain", "takes in which it is the five in a row, to the bit", 6, "");
}

/* Every voice's values are those of its presets: what comes out of either is the same from the first sample on. */
static void every_voice_has_the_values_of_its_presets(void **state)
{
    (void)state;
    const Audio take = take_of(16000.0, 3.0);
    for (uint32_t v = 0; host_voice_at(host, v); ++v) {
        const char *voice = host_voice_at(host, v);
        Audio out = audio_new(take.n), sound = audio_copy(&take);
        Instance *one = set_up("chain", 1, 16000.0, voice);
        instance_set(one, "dips_placed_by", 0.f);
        instance_set(one, "learn", 0.f);
        instance_activate(one);
        run_blocks(one, &take, &out);
        for (int s = 0; s < FIVE; ++s) {
            Instance *i = set_up(row[s], 1, 16000.0, voice);
            instance_set(i, "dips_placed_by", 0.f);
            instance_set(i, "learn", 0.f);
            Audio next = audio_new(take.n);
            instance_activate(i);
            run_blocks(i, &sound, &next);
            audio_free(&sound);
            sound = next;
            instance_free(i);
        }
        audio_assert_same(&sound, &out, 2, 0, voice);
        instance_free(one);
        audio_free(&sound);
        audio_free(&out);
    }
    audio_free(&take);
}

/* ---- Comparing ---- */

static double loudness_of(const Audio *a, uint32_t from, double rate)
{
    static Level l;
    level_init(&l, rate, 2);
    level_process(&l, (const float *const[]){a->channel[0] + from, a->channel[1] + from}, a->n - from);
    const double loudness = level_loudness(&l);
    level_done(&l);
    return loudness;
}

static void heard(const Audio *take, const char *text, float wet, float compare, Audio *out)
{
    Error e;
    Instance *i = set_up("chain", 1, 48000.0, "Tenor");
    instance_set(i, "learn", 0.f);
    instance_set(i, "wet", wet);
    instance_set(i, "compare", compare);
    if (text)
        must(instance_restore(i, text, false, &e), &e);
    instance_activate(i);
    run_blocks(i, take, out);
    instance_free(i);
}

/* dB, by which the raw take is louder than the whole. */
static double louder(const Audio *take, const char *text, float wet)
{
    Audio whole = audio_new(take->n), raw = audio_new(take->n);
    heard(take, text, wet, 0.f, &whole);
    heard(take, text, wet, 1.f, &raw);
    const double by = loudness_of(&raw, 0, 48000.0) - loudness_of(&whole, 0, 48000.0);
    audio_free(&whole);
    audio_free(&raw);
    return by;
}

static void compares_at_the_same_loudness(void **state)
{
    (void)state;
    const Audio take = take_of(48000.0, 24.0);
    char *text = lesson(&take, 1, 48000.0, "Tenor");
    figure_within("Chain", "raw take against the whole, ambience 20 dB under", louder(&take, text, -20.f), 0, 0.4, "LU",
                  "ours; wide: -0.2 to 0.35 with LINCTUS_SEEDS 1 to 3");
    figure_within("Chain", "raw take against the whole, ambience 6 dB under", louder(&take, text, -6.f), 0, 0.5, "LU",
                  "ours");
    figure_at_most("Chain", "raw take against the whole, nothing learned: louder by", louder(&take, NULL, -20.f), 0.1,
                   "LU", "ours");
    free(text);
    audio_free(&take);
}

/* As late as the whole, and nothing but a gain. */
static void what_is_compared_is_the_take(void **state)
{
    (void)state;
    const Audio take = take_of(48000.0, 16.0);
    Audio raw = audio_new(take.n);
    char *text = lesson(&take, 1, 48000.0, "Tenor");
    heard(&take, text, -20.f, 1.f, &raw);
    Instance *i = set_up("chain", 1, 48000.0, NULL);
    const uint32_t late = instance_latency(i);
    instance_free(i);
    double cross = 0.0, power = 0.0, left = 0.0;
    for (uint32_t k = late; k < take.n; ++k) {
        cross += (double)take.channel[0][k - late] * (double)raw.channel[0][k];
        power += (double)take.channel[0][k - late] * (double)take.channel[0][k - late];
    }
    const double gain = cross / power;
    for (uint32_t k = late; k < take.n; ++k) {
        const double off = (double)raw.channel[0][k] - gain * (double)take.channel[0][k - late];
        left += off * off;
        assert_true(raw.channel[0][k] == raw.channel[1][k]);
    }
    figure_at_most("Chain", "raw take, compared: all but a gain, under the take", 10.0 * log10(left / (gain * cross)),
                   -120, "dB", "ours");
    free(text);
    audio_free(&take);
    audio_free(&raw);
}

static int open_bundle(void **state)
{
    (void)state;
    Error e;
    char path[4096];
    snprintf(path, sizeof path, "%s/linctus.lv2", every_build());
    host = host_open(path, &e);
    if (!host)
        print_error("%s\n", e.text);
    return host ? 0 : -1;
}

static int close_bundle(void **state)
{
    (void)state;
    host_close(host);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_the_five_in_a_row),
        cmocka_unit_test(every_voice_has_the_values_of_its_presets),
        cmocka_unit_test(compares_at_the_same_loudness),
        cmocka_unit_test(what_is_compared_is_the_take),
    };
    return cmocka_run_group_tests(tests, open_bundle, close_bundle);
}
