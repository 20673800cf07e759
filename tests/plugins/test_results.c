/* What render hands over: another sample rate, names by a pattern, a sheet beside the file, mono kept mono. */
#include "figure.h"
#include "resample.h"
#include "runs.h"
#include "true_peak.h"

/* ---- Another sample rate, by the module itself ---- */

/* Keeps what it gets. */
typedef struct {
    Sink sink;
    float *x[DSP_CHANNELS];
    uint32_t channels, n, room;
    bool ended;
} Kept;

static bool keep(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Kept *k = (Kept *)s;
    (void)e;
    assert_true(k->n + n <= k->room);
    for (uint32_t c = 0; c < k->channels; ++c)
        memcpy(k->x[c] + k->n, in[c], n * sizeof(float));
    k->n += n;
    return true;
}

static bool keep_end(Sink *s, Error *e)
{
    (void)e;
    ((Kept *)s)->ended = true;
    return true;
}

/* A second or so of a sine in each channel, in pieces of odd lengths, to another rate. */
static Kept convert(double hz, double from, double rate, uint32_t channels, uint32_t n)
{
    Kept k = {.sink = {keep, keep_end}, .channels = channels, .room = (uint32_t)(n * rate / from) + 2};
    Resample r;
    Error e = {0};
    float piece[DSP_CHANNELS][700];
    const float *const in[DSP_CHANNELS] = {piece[0], piece[1]};
    for (uint32_t c = 0; c < channels; ++c)
        k.x[c] = every_floats(k.room);
    assert_true(resample_start(&r, &k.sink, from, rate, channels, &e));
    for (uint32_t at = 0, m = 0; at < n; at += m) {
        m = (m * 7 + 13) % 700;
        m = n - at < m ? n - at : m;
        for (uint32_t i = 0; i < m; ++i)
            for (uint32_t c = 0; c < channels; ++c)
                piece[c][i] = (float)(0.5 * sin(2.0 * DSP_PI * hz * (c + 1) * (at + i) / from));
        assert_true(r.sink.write(&r.sink, in, m, &e));
    }
    assert_true(r.sink.end(&r.sink, &e) && k.ended);
    resample_free(&r);
    return k;
}

static void kept_free(Kept *k)
{
    for (uint32_t c = 0; c < k->channels; ++c)
        free(k->x[c]);
}

/* Of what comes out, away from the ends, which ring; against a sine of 0.5 in its place. */
typedef struct {
    double all, sine, rest; /* dB to such a sine: its power; the part of it that is the sine; what else there is */
} Came;

static Came measure(const Kept *k, uint32_t channel, double hz, double rate)
{
    const uint32_t edge = (uint32_t)(0.05 * rate);
    double all = 0.0, both = 0.0, sine = 0.0, off = 0.0;
    for (uint32_t i = edge; i + edge < k->n; ++i) {
        const double x = (double)k->x[channel][i], y = 0.5 * sin(2.0 * DSP_PI * hz * i / rate);
        all += x * x;
        both += x * y;
        sine += y * y;
        off += (x - y) * (x - y);
    }
    return (Came){power_to_db(all / sine), gain_to_db(both / sine), power_to_db(off / sine)};
}

static const struct {
    double from, rate;
} rates[] = {{48000, 44100}, {44100, 48000}, {44100, 96000}, {96000, 44100},
             {48000, 16000}, {8000, 384000}, {44100, 22050}};

enum { RATES = sizeof rates / sizeof *rates };

static void a_sine_keeps_its_level_and_its_place(void **state)
{
    double off = 0.0, rest = -200.0;
    (void)state;
    for (int k = 0; k < RATES; ++k) {
        const double from = rates[k].from, rate = rates[k].rate, hz = 0.2 * fmin(from, rate);
        Kept got = convert(hz, from, rate, 2, (uint32_t)from);
        for (uint32_t c = 0; c < 2; ++c) {
            const Came came = measure(&got, c, hz * (c + 1), rate);
            off = fmax(off, fabs(came.sine));
            rest = fmax(rest, came.rest);
        }
        kept_free(&got);
    }
    figure_at_most("Suite", "--rate: a sine's level is off by", off, 0.001, "dB", "0.2 and 0.4 of the lower rate");
    figure_at_most("Suite", "--rate: images, and what is out of place, to the sine", rest, -130.0, "dB",
                   "24 bit reach 144 dB down");
}

static void what_would_fold_back_is_gone(void **state)
{
    double worst = -200.0;
    (void)state;
    for (int k = 0; k < RATES; ++k) {
        const double from = rates[k].from, rate = rates[k].rate;
        if (rate >= from)
            continue;
        Kept got = convert(0.52 * rate, from, rate, 1, (uint32_t)from);
        worst = fmax(worst, measure(&got, 0, 0.2 * rate, rate).all);
        kept_free(&got);
    }
    figure_at_most("Suite", "--rate: a sine over half the new rate comes back at", worst, -130.0, "dB",
                   "24 bit reach 144 dB down");
}

static void lengths_are_right_to_the_frame(void **state)
{
    static const uint32_t lengths[] = {1, 2, 100, 511, 4800, 12345};
    (void)state;
    for (int k = 0; k < RATES; ++k)
        for (size_t i = 0; i < sizeof lengths / sizeof *lengths; ++i) {
            Kept got = convert(100.0, rates[k].from, rates[k].rate, 1, lengths[i]);
            assert_int_equal(got.n, llrint(lengths[i] * rates[k].rate / rates[k].from));
            kept_free(&got);
        }
}

static void one_rate_changes_nothing(void **state)
{
    (void)state;
    Kept got = convert(997.0, 48000.0, 48000.0, 1, 5000);
    assert_int_equal(got.n, 5000);
    for (uint32_t i = 0; i < got.n; ++i)
        assert_true(got.x[0][i] == (float)(0.5 * sin(2.0 * DSP_PI * 997.0 * i / 48000.0)));
    kept_free(&got);
}

/* ---- And by render ---- */

#define AS_IT_IS "--stages trim --set trim.enabled=off "

/* The files get the rate, what lies beside them too, and the peak that was asked for is that of the new samples. */
static void files_get_the_rate(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 3.0, -6.0);
    run_well(b, "--rate 44100 --peak -2 --matched --stages trim,plate in.wav -o out.wav");
    Sound out = sound_load(b, "out.wav"), before = sound_load(b, "out-before.wav");
    assert_int_equal(out.info.samplerate, 44100);
    assert_int_equal(before.info.samplerate, 44100);
    assert_int_equal(out.n, before.n);
    assert_non_null(strstr(b->out, "stereo, 44100 Hz, 24 bit"));
    TruePeak meter;
    true_peak_init(&meter, 44100.0);
    float peak = 0.f, *side = every_floats(out.n + 64);
    for (uint32_t c = 0; c < 2; ++c) {
        for (uint32_t i = 0; i < out.n; ++i)
            side[i] = out.x[2 * i + c];
        peak = fmaxf(peak, true_peak_above(&meter, c, side, 0.f, out.n + 64));
    }
    figure_at_most("Suite", "--rate: the true peak asked for is off by", fabs(gain_to_db((double)peak) + 2.0), 0.01,
                   "dB", "true_peak.h, over the file");
    free(side);
    sound_free(&out);
    sound_free(&before);
    run_well(b, "--rate '96000 Hz' --apart --stages trim,plate in.wav -o two.wav");
    Sound voice = sound_load(b, "two-voice.wav"), ambience = sound_load(b, "two-ambience.wav");
    assert_int_equal(voice.info.samplerate, 96000);
    assert_int_equal(voice.n, ambience.n);
    sound_free(&voice);
    sound_free(&ambience);
}

/* ---- Mono ---- */

static uint32_t channels_of(Bench *b, const char *arguments)
{
    char line[300];
    snprintf(line, sizeof line, "--replace %s -o out.wav", arguments);
    run_well(b, line);
    Sound out = sound_load(b, "out.wav");
    const uint32_t channels = out.channels;
    assert_non_null(strstr(b->out, channels == 1 ? ", mono, 48000 Hz, 24 bit" : ", stereo, 48000 Hz, 24 bit"));
    sound_free(&out);
    return channels;
}

static void mono_stays_mono_where_nothing_makes_it_stereo(void **state)
{
    Bench *b = *state;
    save_take(b, "one.wav", WAV_24, RATE, 1, 2.0, -6.0);
    save_take(b, "two.wav", WAV_24, RATE, 2, 2.0, -6.0);
    assert_int_equal(channels_of(b, "one.wav --stages trim,tone,compressor,esses"), 1);
    assert_int_equal(channels_of(b, "one.wav --stages trim,plate --set plate.enabled=off"), 1);
    assert_int_equal(channels_of(b, "one.wav --stages plate,trim --set plate.enabled=off"), 1);
    assert_int_equal(channels_of(b, "one.wav --matched --stages trim,plate --set plate.enabled=off"), 1);
    Sound before = sound_load(b, "out-before.wav");
    assert_int_equal(before.channels, 1);
    sound_free(&before);
    assert_int_equal(channels_of(b, "one.wav --stages plate,trim --set trim.enabled=off"), 2);
    assert_int_equal(channels_of(b, "one.wav --stages trim,plate"), 2);
    assert_int_equal(channels_of(b, "two.wav --stages trim"), 2);
}

/* ---- Names ---- */

static void names_follow_the_pattern(void **state)
{
    Bench *b = *state;
    prepare(b, "mkdir sub");
    save_take(b, "verse.wav", WAV_24, RATE, 1, 0.3, -6.0);
    save_take(b, "sub/verse.wav", WAV_24, 44100, 1, 0.3, -6.0);
    run_well(b, AS_IT_IS "--name '{take}-{voice}-{rate}' --voice mezzo verse.wav -o mixes");
    assert_true(is_there(b, "mixes/verse-mezzo-48000.wav"));
    run_well(b,
             AS_IT_IS "--name '{number} {rate} {bits}' --bits 16 verse.wav sub/verse.wav -o mixes --matched --sheet");
    static const char *const names[] = {"mixes/1 48000 16.wav", "mixes/2 44100 16.wav", "mixes/1 48000 16-before.wav",
                                        "mixes/2 44100 16.txt"};
    for (size_t i = 0; i < sizeof names / sizeof *names; ++i)
        assert_true(is_there(b, names[i]));
    run_well(b, AS_IT_IS "--name '{take}{rate}' --rate 22050 --float verse.wav -o mixes/");
    run_well(b, AS_IT_IS "--name '{bits}' --float verse.wav -o mixes/");
    assert_true(is_there(b, "mixes/verse22050.wav") && is_there(b, "mixes/float.wav"));
    assert_int_equal(files_in(b, "mixes"), 9);
}

static const struct {
    const char *arguments;
    int status;
    const char *says;
} refused[] = {
    {"--name '{take}' v.wav -o v.wav", ERROR_USAGE, "v.wav is a take"},
    {"--name '{take}' v.wav -o new.wav", ERROR_USAGE, "--name names the files of a folder. Type: "},
    {"--name '{take}' v.wav", ERROR_USAGE, " -o mixes --stages"},
    {"--name '../{take}' v.wav -o mixes", ERROR_USAGE, "../v would leave it"},
    {"--name '{voice}' --voice ../x v.wav -o mixes", ERROR_USAGE, "../x would leave it"},
    {"--name 'mix' v.wav w.wav -o mixes", ERROR_USAGE, "put {take} or {number} into --name"},
    {"--name '{take}-{loud}' v.wav -o mixes", ERROR_USAGE, "{rate} and {bits}, not {loud}"},
    {"--name '{take' v.wav -o mixes", ERROR_USAGE, "not {take"},
    {"--name 'take}' v.wav -o mixes", ERROR_USAGE, "not }"},
    {"--name '{voice}' v.wav -o mixes", ERROR_USAGE, "--voice NAME is needed too"},
    {"--name '' v.wav -o mixes", ERROR_USAGE, "--name needs a pattern"},
    {"--name 'x.WAV' v.wav -o mixes", ERROR_USAGE, "without their ending"},
    {"--name v v.wav -o .", ERROR_USAGE, "./v.wav is a take"},
    {"--name there w.wav -o .", ERROR_WRITE, "./there.wav is there already"},
    {"--sheet w.wav -o there.wav", ERROR_WRITE, "there.wav is there already"},
    {"--sheet w.wav -o said.wav", ERROR_WRITE, "said.txt is there already"},
    {"--rate 44.1 v.wav -o new.wav", ERROR_USAGE, "--rate takes 8000 to 384000 Hz, as 44100, not 44.1"},
    {"--rate 7999 v.wav -o new.wav", ERROR_USAGE, "--rate takes"},
    {"--rate 44100.5 v.wav -o new.wav", ERROR_USAGE, "--rate takes"},
    {"--rate v.wav -o new.wav", ERROR_USAGE, "--rate takes"},
    {"v.wav -o new.wav --rate", ERROR_USAGE, "--rate needs a value"},
    {"v.wav -o new.wav --name", ERROR_USAGE, "--name needs a value"},
    {"--advise --sheet v.wav", ERROR_USAGE, "leave out --sheet"},
};

static void what_cannot_be_meant_is_refused(void **state)
{
    Bench *b = *state;
    save_take(b, "v.wav", WAV_24, RATE, 1, 0.1, -6.0);
    prepare(b, "cp v.wav w.wav && cp v.wav there.wav && echo words >said.txt");
    for (size_t i = 0; i < sizeof refused / sizeof *refused; ++i) {
        char line[300];
        snprintf(line, sizeof line, AS_IT_IS "%s", refused[i].arguments);
        if (run(b, line) != refused[i].status || !strstr(b->err, refused[i].says))
            fail_msg("%s: status %d, %s", line, b->status, b->err);
        assert_int_equal(files_in(b, "."), 4);
    }
    assert_int_equal(run_after(b, "cat v.wav |", AS_IT_IS "--name '{rate}' /dev/stdin -o mixes"), ERROR_USAGE);
    assert_non_null(strstr(b->err, "the {rate} of /dev/stdin, a pipe, is not known yet: add --rate HZ"));
}

/* ---- The sheet ---- */

static char *sheet_load(const Bench *b, const char *name)
{
    static char text[TEXT];
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    slurp(path, text);
    return text;
}

/* Every line of the sheet up to its settings is one of the table's, so no number can differ. */
static void expect_lines_of_table(const Bench *b, const char *sheet)
{
    const char *end = strstr(sheet, "\nevery setting\n");
    assert_non_null(end);
    const char head[] = "Linctus render: what was done\n\n";
    assert_memory_equal(sheet, head, sizeof head - 1);
    for (const char *at = sheet + sizeof head - 1; at < end; at += strcspn(at, "\n") + 1) {
        char line[400];
        snprintf(line, sizeof line, "%.*s\n", (int)strcspn(at, "\n"), at);
        if (!strstr(b->out, line) && strcmp(line, "made from this take\n") != 0)
            fail_msg("not in the table: %s", line);
    }
}

static void the_sheet_says_what_the_table_says(void **state)
{
    Bench *b = *state;
    save_singer(b, "my take.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .seconds = 6, .gain_db = -9});
    run_well(b, "--sheet --rate 44100 --bits 16 --loudness -20 --set trim.target=-20 'my take.wav' -o mix.wav");
    assert_non_null(strstr(b->out, "\nmix.txt: what was done, to hand over with it\n"));
    const char *sheet = sheet_load(b, "mix.txt");
    expect_lines_of_table(b, sheet);
    static const char *const has[] = {
        "mix.wav\n  level ",
        "loudness -20.0 LUFS, true peak ",
        "in the file ",
        "the mix before that: level ",
        "true peak ",
        ", stereo, 44100 Hz, 16 bit",
        "my take.wav: 0:06.0, mono, 48000 Hz",
        "  Target ",
        " -20.0 dB, as asked\n",
        "\nplate\n",
        "the preset's\n",
        "--sheet --rate 44100 --bits 16 --loudness -20 --set trim.target=-20 'my take.wav' -o mix.wav\n"};
    for (size_t i = 0; i < sizeof has / sizeof *has; ++i)
        if (!strstr(sheet, has[i]))
            fail_msg("no \"%s\" in: %s", has[i], sheet);
    if (strchr(sheet, '/') || strstr(sheet, "\n\n\n"))
        fail_msg("folders or empty lines in: %s", sheet);
}

/* The table tells what went, not what the plug-in alone, which hears too few rests to be sure, would have taken. */
static void what_the_whole_take_tells_of_a_hum_is_counted(void **state)
{
    Bench *b = *state;
    save_singer(b, "v.wav",
                &(SingerSpec){.voice = SINGER_TENOR, .seed = 3, .seconds = 6, .hum_hz = 50.0, .hum_db = -24.0});
    run_well(b, "--repair hum --stages trim v.wav -o m.wav");
    assert_non_null(strstr(b->out, "  did    took out a hum that lay 23."));
    assert_non_null(strstr(b->out, "         followed from all of the take"));
}

/* A figure by hand that a found one stands in for is said to be idle, on the page too, and only then. */
static void an_idle_figure_is_told(void **state)
{
    Bench *b = *state;
    static const char *const idle[] = {"Low cut by hand", "Dip 1 frequency", "Dip 2 depth",  "Dip 3 width",
                                       "Threshold   ",    "Centre by hand",  "Mains by hand"};
    save_singer(b, "v.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .seconds = 6, .gain_db = -9});
    run_well(b, "--sheet --repair hum v.wav -o found.wav --report found.html");
    run_well(b, "--sheet --repair hum v.wav -o hand.wav --set tone.dips_placed_by=hand --set tone.low_cut_set_by=hand "
                "--set compressor.threshold_set_by=hand --set esses.centre_set_by=hand --set hum.mains_set_by=hand");
    for (int by_hand = 0; by_hand < 2; ++by_hand) {
        const char *sheet = strstr(sheet_load(b, by_hand ? "hand.txt" : "found.txt"), "\nevery setting\n");
        uint32_t told = 0;
        for (const char *at = sheet; (at = strstr(at, "; by hand, not in use\n")); ++at)
            ++told;
        assert_int_equal(told, by_hand ? 0 : 13);
        for (size_t i = 0; i < sizeof idle / sizeof *idle; ++i) {
            const char *line = strstr(sheet, idle[i]);
            assert_non_null(line);
            const char *note = line ? strstr(line, "; by hand, not in use\n") : NULL;
            assert_int_equal(note && note < line + strcspn(line, "\n"), !by_hand);
        }
    }
    prepare(b, "test $(grep -o '; by hand, not in use</dd>' found.html | wc -l) = 13");
}

/* Takes that share what was learned have a sheet each, of what was done to that one. */
static void each_take_has_its_own_sheet(void **state)
{
    Bench *b = *state;
    save_singer(b, "one.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .seconds = 6, .gain_db = -9});
    save_singer(b, "two.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 4, .seconds = 5, .gain_db = -3});
    run_well(b, "--sheet --together --stages trim,compressor one.wav two.wav -o mixes");
    const char *did = strstr(b->out, "two.wav: ");
    char sheet[TEXT], own[200];
    snprintf(sheet, sizeof sheet, "%s", sheet_load(b, "mixes/two.txt"));
    did = strstr(did + 1, "two.wav: ");
    assert_non_null(did);
    snprintf(own, sizeof own, "  did    %.*s\n", (int)strcspn(did + 9, "\n"), did + 9);
    if (!strstr(sheet, own) || strstr(sheet, "one.wav: "))
        fail_msg("no \"%s\" alone in: %s", own, sheet);
    assert_non_null(strstr(sheet, "\ntwo.wav\n  level "));
    assert_non_null(strstr(sheet, " -o mixes\n"));
    assert_non_null(strstr(sheet_load(b, "mixes/one.txt"), "one.wav: 0:06.0"));
}

/* What tells them apart is their folder, and no folder above it. */
static void takes_of_one_name_are_told_apart(void **state)
{
    Bench *b = *state;
    char line[1200], build[3000];
    prepare(b, "mkdir -p all/old all/new");
    save_take(b, "all/old/1.wav", WAV_24, RATE, 1, 1.0, -6.0);
    save_take(b, "all/new/1.wav", WAV_24, RATE, 1, 1.5, -9.0);
    run_well(b, "--sheet --stages trim --name '{number}-{take}' all/old/1.wav $PWD/all/new/1.wav -o mixes");
    assert_non_null(strstr(b->out, "Is old/1.wav usable? "));
    assert_non_null(strstr(b->out, "Is new/1.wav usable? "));
    const char *sheet = sheet_load(b, "mixes/2-1.txt"), *typed = strstr(sheet, "\nto make it again");
    assert_non_null(strstr(sheet, "new/1.wav: 0:01.5"));
    assert_true(typed && !strstr(sheet, "all/") && !strstr(sheet, b->folder));
    snprintf(line, sizeof line, "%s", strchr(typed + 1, '\n') + 1);
    line[strcspn(line, "\n")] = '\0';
    assert_non_null(strstr(line, " old/1.wav new/1.wav -o mixes"));
    char command[4500];
    build_folder(build, sizeof build);
    snprintf(command, sizeof command,
             "cd all && { PATH=%s:$PATH; %s >/dev/null 2>&1; test $? = %d; } && cmp mixes/2-1.wav ../mixes/2-1.wav",
             build, line, b->status);
    prepare(b, command);
}

/* The line that it ends with makes the same file, to the byte. */
static void the_sheets_line_makes_it_again(void **state)
{
    Bench *b = *state;
    char line[1000];
    save_take(b, "it's.wav", WAV_24, RATE, 1, 1.0, -6.0);
    run_well(b, "--sheet --stages trim --set trim.target=-30 \"it's.wav\" -o mix.wav");
    prepare(b, "mv mix.wav first.wav && mv mix.txt first.txt");
    const char *sheet = sheet_load(b, "first.txt"), *typed = strstr(sheet, "\nto make it again");
    assert_non_null(typed);
    snprintf(line, sizeof line, "%s", strchr(typed + 1, '\n') + 1);
    line[strcspn(line, "\n")] = '\0';
    char command[4500], build[3000];
    build_folder(build, sizeof build);
    snprintf(command, sizeof command,
             "{ PATH=%s:$PATH; %s >/dev/null 2>&1; test $? = %d; } && cmp mix.wav first.wav && cmp mix.txt first.txt",
             build, line, b->status);
    prepare(b, command);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sine_keeps_its_level_and_its_place),
        cmocka_unit_test(what_would_fold_back_is_gone),
        cmocka_unit_test(lengths_are_right_to_the_frame),
        cmocka_unit_test(one_rate_changes_nothing),
        BENCH_TEST(files_get_the_rate),
        BENCH_TEST(mono_stays_mono_where_nothing_makes_it_stereo),
        BENCH_TEST(names_follow_the_pattern),
        BENCH_TEST(what_cannot_be_meant_is_refused),
        BENCH_TEST(the_sheet_says_what_the_table_says),
        BENCH_TEST(what_the_whole_take_tells_of_a_hum_is_counted),
        BENCH_TEST(an_idle_figure_is_told),
        BENCH_TEST(each_take_has_its_own_sheet),
        BENCH_TEST(takes_of_one_name_are_told_apart),
        BENCH_TEST(the_sheets_line_makes_it_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
