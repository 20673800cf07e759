/* `render --loudness`, `--peak` and `--matched`: what a meter that is not ours (libebur128) reads in the file. */
#include "figure.h"
#include "runs.h"

#ifdef HAVE_EBUR128
#include <ebur128.h>

typedef struct {
    double loudness, true_peak, peak; /* LUFS, dBTP, dBFS */
} Read;

static Read read_file(const Bench *b, const char *name)
{
    Sound s = sound_load(b, name);
    Read r = {0};
    for (uint32_t k = 0; k < s.n * s.channels; ++k)
        r.peak = fmax(r.peak, fabs((double)s.x[k]));
    r.peak = gain_to_db(r.peak);
    ebur128_state *e =
        ebur128_init(s.channels, (unsigned long)s.info.samplerate, EBUR128_MODE_I | EBUR128_MODE_TRUE_PEAK);
    assert_non_null(e);
    if (s.channels == 1)
        ebur128_set_channel(e, 0, EBUR128_LEFT);
    assert_int_equal(ebur128_add_frames_float(e, s.x, s.n), EBUR128_SUCCESS);
    ebur128_loudness_global(e, &r.loudness);
    for (uint32_t c = 0; c < s.channels; ++c) {
        double peak = 0.0;
        ebur128_true_peak(e, c, &peak);
        r.true_peak = fmax(r.true_peak, peak);
    }
    r.true_peak = gain_to_db(r.true_peak);
    ebur128_destroy(&e);
    sound_free(&s);
    return r;
}

static double number_after(const char *text, const char *mark)
{
    const char *found = strstr(text, mark);
    if (!found)
        fail_msg("no \"%s\" in: %s", mark, text);
    return found ? strtod(found + strlen(mark), NULL) : NAN;
}

static void sing(const Bench *b, int channels)
{
    save_singer(b, "sung.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 6, .seconds = 6, .gain_db = -9});
    Sound one = sound_load(b, "sung.wav");
    float *x = every_floats(2 * one.n);
    for (uint32_t k = 0; k < one.n; ++k)
        for (int c = 0; c < channels; ++c)
            x[k * (uint32_t)channels + (uint32_t)c] = one.x[k];
    save(b, "in.wav", WAV_24, one.info.samplerate, channels, x, one.n);
    free(x);
    sound_free(&one);
}

static void a_file_gets_the_loudness_that_was_asked_for(void **state)
{
    Bench *b = *state;
    double worst = 0.0, told = 0.0;
    for (int channels = 1; channels <= 2; ++channels) {
        sing(b, channels);
        run_well(b, "--replace --loudness -24 in.wav -o out.wav");
        const Read r = read_file(b, "out.wav");
        worst = fmax(worst, fabs(r.loudness + 24.0));
        told = fmax(told, fabs(number_after(b->out, "true peak ") - r.true_peak));
        run_well(b, "--replace --loudness '-24 LUFS' --stages trim in.wav -o dry.wav");
        worst = fmax(worst, fabs(read_file(b, "dry.wav").loudness + 24.0));
    }
    figure_at_most("Suite", "--loudness: the file is off by", worst, 0.01, "LU", "libebur128");
    figure_at_most("Suite", "--loudness: true peak told is off by", told, 0.15, "dB",
                   "libebur128, whose points lie elsewhere; told to 0.1 dB");
}

/* A loudness that would put the peak too high stops where the peak may be, and says so. */
static void a_peak_goes_before_a_loudness(void **state)
{
    Bench *b = *state;
    sing(b, 1);
    run_well(b, "--loudness -6 --stages trim in.wav -o loud.wav");
    assert_non_null(strstr(b->out, "holds it back from the loudness"));
    double worst = fabs(read_file(b, "loud.wav").true_peak + 1.0);
    run_well(b, "--peak -6 in.wav -o peak.wav");
    worst = fmax(worst, fabs(read_file(b, "peak.wav").true_peak + 6.0));
    run_well(b, "--loudness=-8 --peak=-12 in.wav -o both.wav");
    worst = fmax(worst, fabs(read_file(b, "both.wav").true_peak + 12.0));
    figure_at_most("Suite", "--peak: the file's true peak is off by", worst, 0.1, "dB",
                   "libebur128, whose points lie elsewhere");
}

/* Nothing to go by: nothing is done. */
static void silence_stays_silence(void **state)
{
    Bench *b = *state;
    float *x = every_floats(RATE);
    save(b, "in.wav", WAV_24, RATE, 1, x, RATE);
    run_well(b, "--loudness -16 --stages trim in.wav -o out.wav");
    run_well(b, "--replace --peak -1 --stages trim in.wav -o out.wav");
    Sound out = sound_load(b, "out.wav");
    assert_memory_equal(out.x, x, out.n * sizeof *x);
    sound_free(&out);
    free(x);
}

/* Without either the file is what it was: the mix. */
static void nothing_asked_nothing_done(void **state)
{
    Bench *b = *state;
    sing(b, 2);
    run_well(b, "--float --stages trim,tone in.wav -o one.wav");
    run_well(b, "--float --stages trim,tone --peak -3 in.wav -o two.wav");
    const double gain = number_after(b->out, "in the file ");
    Sound one = sound_load(b, "one.wav"), two = sound_load(b, "two.wav");
    double off = 0.0;
    for (uint32_t k = 0; k < one.n * one.channels; ++k)
        off = fmax(off, fabs((double)two.x[k] - (double)one.x[k] * db_to_gain(gain)));
    assert_true(off < 0.01); /* the gain is told to 0.1 dB */
    sound_free(&one);
    sound_free(&two);
}

/* dB from the loudness and the peak that stand behind a mark to those of the file. */
static double off_by(const char *text, const char *mark, const Read *r)
{
    const char *line = text ? strstr(text, mark) : NULL;
    if (!line)
        fail_msg("no \"%s\" in: %s", mark, text);
    return fmax(fabs(number_after(line, "loudness ") - r->loudness),
                fabs(number_after(line, ", true peak ") - r->true_peak));
}

/* What stands under a file's name is what is in the file, in the table and on the sheet, and on the page the same. */
static void what_is_told_of_a_file_is_in_it(void **state)
{
    Bench *b = *state;
    static const char *const more[] = {"--loudness -20 --rate 44100 --bits 16", "--rate 32000", "--stages trim,tone",
                                       "--stages trim --peak -9 --rate 96000 --float"};
    double worst = 0.0;
    sing(b, 1);
    for (size_t k = 0; k < sizeof more / sizeof *more; ++k) {
        char line[300], sheet[TEXT], path[128];
        snprintf(line, sizeof line, "--replace --report r.html --report-audio --sheet %s in.wav -o out.wav", more[k]);
        run_well(b, line);
        const Read r = read_file(b, "out.wav");
        snprintf(path, sizeof path, "%s/out.txt", b->folder);
        slurp(path, sheet);
        worst = fmax(worst, off_by(b->out, "\nout.wav\n  level ", &r));
        worst = fmax(worst, off_by(sheet, "out.wav\n  level ", &r));
        const char *level = strstr(b->out, "\nout.wav\n  level ");
        assert_non_null(level);
        snprintf(line, sizeof line, "grep -qF '<b>After:</b> %.*s.</p>' r.html", (int)strcspn(level + 11, "\n"),
                 level + 11);
        prepare(b, line);
    }
    figure_at_most("Suite", "what is told of a file, from what is in it", worst, 0.06, "dB",
                   "libebur128 and the samples; told to 0.1 dB");
}

static void expect_shape_of(const Bench *b, const char *name, const char *like)
{
    Sound one = sound_load(b, name), two = sound_load(b, like);
    assert_int_equal(one.n, two.n);
    assert_int_equal(one.channels, two.channels);
    assert_int_equal(one.info.format, two.info.format);
    sound_free(&one);
    sound_free(&two);
}

/* Voice and ambience each have their own. */
static void what_is_told_of_two_files_is_in_each(void **state)
{
    Bench *b = *state;
    double worst = 0.0;
    sing(b, 1);
    run_well(b, "--apart --rate 44100 in.wav -o out.wav");
    expect_shape_of(b, "out-voice.wav", "out-ambience.wav");
    const Read voice = read_file(b, "out-voice.wav"), ambience = read_file(b, "out-ambience.wav");
    worst = fmax(worst, off_by(b->out, "\n  out-voice.wav: level ", &voice));
    worst = fmax(worst, off_by(b->out, "\n  out-ambience.wav: level ", &ambience));
    assert_non_null(strstr(b->out, ", of the two together before they are files\n"));
    figure_at_most("Suite", "--apart: what is told of two files, from what is in them", worst, 0.06, "dB",
                   "libebur128 and the samples; told to 0.1 dB");
}

/* The take as loud as its mix, and as long: mono into stereo and stereo, mono into mono, quieter mixes too. */
static void a_take_is_matched_to_its_mix(void **state)
{
    Bench *b = *state;
    double apart = 0.0, told = 0.0;
    static const char *const more[] = {"", "--stages trim,tone", "--loudness -30 --bits 16"};
    for (int k = 0; k < 4; ++k) {
        char line[200];
        sing(b, k < 3 ? 1 : 2);
        snprintf(line, sizeof line, "--replace --matched %s in.wav -o out.wav", more[k % 3]);
        run_well(b, line);
        assert_non_null(strstr(b->out, "\nout-before.wav\n  the take at the mix's loudness"));
        const Read mix = read_file(b, "out.wav"), take = read_file(b, "out-before.wav");
        apart = fmax(apart, fabs(mix.loudness - take.loudness));
        told = fmax(told, fabs(number_after(strstr(b->out, "out-before.wav"), "loudness ") - take.loudness));
        expect_shape_of(b, "out-before.wav", "out.wav");
    }
    figure_at_most("Suite", "--matched: the take and its mix are apart by", apart, 0.01, "LU",
                   "libebur128; 0.2 LU is asked for");
    assert_true(told < 0.06); /* told to 0.1 LU */
}

/* Of a compressed mix the take, with higher peaks, cannot be as loud: it stops at its peak, and with what the
 * table says to type the two are matched. */
static void a_match_never_passes_the_peak(void **state)
{
    Bench *b = *state;
    sing(b, 1);
    char line[200];
    run_well(b, "--matched --loudness -9 --peak -6 --set compressor.wanted_reduction=12 in.wav -o out.wav");
    const char *before = strstr(b->out, "out-before.wav");
    assert_non_null(before);
    assert_non_null(strstr(before, "Its peak holds it back"));
    const Read mix = read_file(b, "out.wav"), take = read_file(b, "out-before.wav");
    assert_true(fabs(number_after(before, "holds it back, ") - (mix.loudness - take.loudness)) < 0.06);
    double peak = take.true_peak;
    snprintf(line, sizeof line,
             "--replace --matched --loudness %.1f --peak -6 --set compressor.wanted_reduction=12 in.wav -o out.wav",
             number_after(before, "or ask for --loudness "));
    run_well(b, line);
    assert_non_null(strstr(b->out, "the take at the mix's loudness"));
    peak = fmax(peak, read_file(b, "out-before.wav").true_peak);
    figure_at_most("Suite", "--matched: the take's true peak over what --peak says", peak + 6.0, 0.02, "dB",
                   "libebur128, whose points lie elsewhere");
}

/* No loudness, no match: the take as it came, but never over the peak. */
static void what_has_no_loudness_is_not_matched(void **state)
{
    Bench *b = *state;
    enum { N = RATE / 5 };
    float *x = every_floats(N);
    for (uint32_t k = 0; k < N; ++k)
        x[k] = 1.5f * sinf(0.1f * (float)k);
    save(b, "in.wav", WAV_FLOAT, RATE, 1, x, N);
    run_well(b, "--matched --stages trim --set trim.enabled=off in.wav -o out.wav");
    assert_non_null(strstr(b->out, "too quiet or too short for a loudness to match"));
    assert_true(read_file(b, "out-before.wav").true_peak < -0.9);
    memset(x, 0, N * sizeof *x);
    save(b, "in.wav", WAV_24, RATE, 1, x, N);
    run_well(b, "--replace --matched --stages trim in.wav -o out.wav");
    Sound out = sound_load(b, "out-before.wav");
    assert_memory_equal(out.x, x, out.n * sizeof *x);
    sound_free(&out);
    free(x);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        BENCH_TEST(a_file_gets_the_loudness_that_was_asked_for),
        BENCH_TEST(a_peak_goes_before_a_loudness),
        BENCH_TEST(silence_stays_silence),
        BENCH_TEST(nothing_asked_nothing_done),
        BENCH_TEST(what_is_told_of_a_file_is_in_it),
        BENCH_TEST(what_is_told_of_two_files_is_in_each),
        BENCH_TEST(a_take_is_matched_to_its_mix),
        BENCH_TEST(a_match_never_passes_the_peak),
        BENCH_TEST(what_has_no_loudness_is_not_matched),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#else

int main(void)
{
    puts("skipped test_deliver: no libebur128 to read the files with\n0 passed, 0 failed, 1 skipped");
    return 0;
}

#endif
