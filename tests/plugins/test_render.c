/* The program build/render, run as a person runs it. */
#include "figure.h"
#include "late.h"
#include "level.h"
#include "low_cut.h"
#include "regular.h"
#include "runs.h"
#include "seeds.h"
#include "spoken.h"
#include "two_levels.h"
#include "units.h"

#include <lv2/atom/atom.h>
#include <lv2/presets/presets.h>
#include <ctype.h>
#include <signal.h>

/* Plain RMS of a channel in dB. */
static double rms_db(const Sound *s, uint32_t channel, uint32_t from, uint32_t to)
{
    double sum = 0.0;
    for (uint32_t k = from; k < to; ++k) {
        const double x = (double)s->x[k * s->channels + channel];
        sum += x * x;
    }
    return power_to_db(sum / (to - from));
}

static double voice_level(const Sound *s)
{
    Level l;
    level_init(&l, s->info.samplerate, 1);
    for (uint32_t k = 0; k < s->n; ++k)
        level_process(&l, (const float *const[]){&s->x[(size_t)k * s->channels]}, 1);
    const double db = level_rms(&l);
    level_done(&l);
    return db;
}

/* The first number behind a text, and what stands behind it. */
static double number_after(const char *text, const char *mark, const char **after)
{
    const char *found = strstr(text, mark);
    if (!found)
        fail_msg("no \"%s\" in: %s", mark, text);
    char *end = NULL;
    const double x = found ? strtod(found + strlen(mark), &end) : NAN;
    if (after)
        *after = end;
    return x;
}

/* ---- Errors ---- */

typedef struct {
    const char *arguments;
    int status;
    const char *says;
} Fault;

static const Fault faults[] = {
    /* No -o, as a hand types that is used to "from to". */
    {"", ERROR_USAGE, "no take is named; type: render TAKE.wav -o MIX.wav"},
    {"--advise", ERROR_USAGE, "no take is named; type: render TAKE.wav --advise"},
    {"in.wav", ERROR_USAGE, "render -o in-mix.wav in.wav\n"},
    {"a/in.wav", ERROR_USAGE, "render -o a/in-mix.wav a/in.wav\n"},
    {"in.wav a/two.wav", ERROR_USAGE, "render -o mixes-2 in.wav a/two.wav\n"},
    {"in.wav out.wav", ERROR_USAGE, "out.wav is no take; if the result shall go there, type: "},
    {"in.wav out.wav", ERROR_USAGE, "render -o out.wav in.wav\n"},
    {"--voice none in.wav b.lv2", ERROR_USAGE, "render -o b.lv2 --voice none in.wav\n"},
    {"in.wav a/two.wav out.wav", ERROR_USAGE, "render -o mixes-2 in.wav a/two.wav\n"},
    {"in.wav a/two.wav new", ERROR_USAGE, "render -o new in.wav a/two.wav\n"},
    {"\"that's it.wav\"", ERROR_USAGE, "render -o 'that'\\''s it-mix.wav' 'that'\\''s it.wav'\n"},
    {"-- -1.wav", ERROR_USAGE, "render -o ./-1-mix.wav -- -1.wav\n"},
    {"-1.wav -o out.wav", ERROR_USAGE, "no such option: -1.wav; to name the file of that name type ./-1.wav"},
    /* An -o that is not right. */
    {"in.wav -o", ERROR_USAGE, "-o needs the name"},
    {"in.wav -o ''", ERROR_USAGE, "-o needs the name"},
    {"in.wav -o --replace", ERROR_USAGE, "type"},
    {"in.wav -o a.wav -o b.wav", ERROR_USAGE, "-o is given twice, a.wav and b.wav"},
    {"in.wav -o out", ERROR_USAGE, "render -o out.wav in.wav\n"},
    {"in.wav -o out.mp3", ERROR_USAGE, "render -o out.wav in.wav\n"},
    {"in.wav -o in.flac", ERROR_USAGE, "render -o in-2.wav in.wav\n"},
    {"in.wav a/two.wav -o all.wav", ERROR_USAGE, "render -o mixes-2 in.wav a/two.wav\n"},
    {"in.wav a/two.wav -o words.txt", ERROR_USAGE, "render -o mixes-2 in.wav a/two.wav\n"},
    {"in.wav -o old.wav/", ERROR_USAGE, "render -o in-mix.wav in.wav\n"},
    {"in.wav -o none/out.wav", ERROR_WRITE, "make it first: mkdir -p 'none/'"},
    {"in.wav a/two.wav -o none/mixes", ERROR_WRITE, "make it first: mkdir -p 'none'"},
    {"in.wav -o pipe.wav", ERROR_WRITE, "pipe.wav: cannot write: not a plain file"},
    {"in.wav -o pipe.wav --replace", ERROR_WRITE, "pipe.wav: cannot write: not a plain file"},
    {"in.wav -o /dev/full", ERROR_WRITE, "/dev/full: cannot write: not a plain file"},
    {"in.wav -o circle.wav", ERROR_WRITE, "circle.wav: cannot write: "},
    {"in.wav -o lost.wav", ERROR_WRITE, "lost.wav: cannot write: "},
    {"in.wav a/two.wav -o words.txt/mixes", ERROR_WRITE, "words.txt/mixes: this folder cannot be made"},
    {"--advise in.wav -o out.wav", ERROR_USAGE, "--advise writes nothing: leave out -o out.wav"},
    /* Something is there. */
    {"in.wav -o old.wav", ERROR_WRITE, "type: "},
    {"in.wav -o old.wav", ERROR_WRITE, "render --replace in.wav -o old.wav\n"},
    {"--apart in.wav -o out.wav", ERROR_WRITE, "out-ambience.wav is there already"},
    {"in.wav a/two.wav -o mixes", ERROR_WRITE, "mixes/two.wav is there already"},
    {"--matched in.wav -o a.wav", ERROR_WRITE, "a-before.wav is there already"},
    {"--matched --apart in.wav -o out.wav", ERROR_USAGE, "leave out it or --apart"},
    {"--matched --advise in.wav", ERROR_USAGE, "--advise writes nothing: leave out --matched"},
    {"--matched in.wav in-before.wav -o new", ERROR_USAGE, "new/in-before.wav would be written twice"},
    {"--matched in.wav in-before.wav -o .", ERROR_USAGE, "is a take"},
    {"in.wav -o link-to-old.wav", ERROR_WRITE, "link-to-old.wav is there already"},
    {"in.wav -o a/two.wav --replace", ERROR_WRITE, "render -o a/two-2.wav in.wav --replace\n"},
    {"in.wav -o kept.wav --replace", ERROR_WRITE, "kept.wav: cannot write: it is write-protected"},
    /* OUT is an IN. */
    {"in.wav -o in.wav --replace", ERROR_USAGE, "in.wav is a take, and a take is never written over"},
    {"in.wav -o link.wav --replace", ERROR_USAGE, "link.wav is a take"},
    {"in.wav -o soft.wav --replace", ERROR_USAGE, "soft.wav is a take"},
    {"soft.wav -o in.wav --replace", ERROR_USAGE, "in.wav is a take"},
    {"in.wav -o ./in.wav --replace", ERROR_USAGE, "./in.wav is a take"},
    {"in.wav -o a/../in.wav --replace", ERROR_USAGE, "a/../in.wav is a take"},
    {"in.wav -o . --replace", ERROR_USAGE, "./in.wav is a take"},
    {"in.wav a/two.wav -o a --replace", ERROR_USAGE, "a/two.wav is a take"},
    {"in.wav in-voice.wav -o . --apart --replace", ERROR_USAGE, "./in-voice.wav is a take"},
    {"/dev/stdin -o in.wav --replace <in.wav", ERROR_USAGE, "in.wav is a take"},
    {"in.wav a/in.wav -o new", ERROR_USAGE, "would both become new/in.wav: add --name '{number}-{take}'"},
    {"in.wav ./in.wav -o new", ERROR_USAGE, "render in.wav -o new\n"},
    {"in.wav link.wav -o new", ERROR_USAGE, "in.wav and link.wav are the same take"},
    {"two-ways -o new", ERROR_FILE, "two-ways: a folder, not a take; name the files in it: two-ways/*.wav"},
    {"in.wav a/two.wav -o two-ways --replace", ERROR_USAGE, "two-ways/in.wav and two-ways/two.wav would be one file"},
    /* Presets. */
    {"--save-preset x in.wav a/two.wav -o new", ERROR_USAGE, "add --together for one that suits all"},
    {"--save-preset / in.wav -o new.wav", ERROR_USAGE, "no name for a preset"},
    {"--save-preset b in.wav -o new.wav", ERROR_WRITE, "b.lv2 is there already"},
    {"--save-preset b in.wav -o new.wav", ERROR_WRITE, "render --replace --save-preset b in.wav -o new.wav\n"},
    {"--save-preset c in.wav -o new.wav --replace", ERROR_WRITE, "c.lv2: holds more than presets"},
    {"--save-preset d in.wav -o new.wav --replace", ERROR_WRITE, "d.lv2: this folder cannot be made: a file is"},
    {"--save-preset b b.lv2/t.ttl -o new.wav --replace", ERROR_WRITE, "b.lv2: holds more than presets"},
    {"--save-preset b in.wav -o b.lv2/new.wav --replace", ERROR_USAGE, "b.lv2/new.wav would lie there too"},
    {"--save-preset new --together in.wav a/two.wav -o new.lv2", ERROR_USAGE, "new.lv2 would lie there too"},
    {"--save-preset none/x in.wav -o new.wav", ERROR_WRITE, "none/x.lv2: this folder cannot be made"},
    {"--advise --save-preset x in.wav", ERROR_USAGE, "--advise learns nothing"},
    {"--loudness loud in.wav -o new.wav", ERROR_USAGE, "--loudness takes -60 to -6 LUFS, not loud"},
    {"--peak 3 in.wav -o new.wav", ERROR_USAGE, "--peak takes -40 to 0 dBTP, not 3"},
    {"--peak -3 --apart in.wav -o new.wav", ERROR_USAGE, "leaves no room for --apart"},
    {"--bits 20 in.wav -o new.wav", ERROR_USAGE, "--bits takes 16, 24 or float, not 20"},
    {"--install-preset in.wav -o new.wav", ERROR_USAGE, "--install-preset needs a name"},
    {"--install-preset --save-preset a/x in.wav -o new.wav", ERROR_USAGE, "name it without folders, not a/x"},
    /* Takes that are none. */
    {"--advise none.wav", ERROR_FILE, "none.wav: no such file"},
    {"none.wav -o new.wav", ERROR_FILE, "none.wav: no such file"},
    {"a -o new.wav", ERROR_FILE, "a: a folder, not a take; name the files in it: a/*.wav"},
    {"'' -o new.wav", ERROR_FILE, "no such file"},
    {"- -o new.wav", ERROR_FILE, "-: no such file; what comes through a pipe is named /dev/stdin"},
    {"/dev/null -o new.wav", ERROR_FILE, "/dev/null: a device, not a take"},
    {"/dev/zero --advise", ERROR_FILE, "/dev/zero: a device, not a take"},
    {"circle.wav -o new.wav", ERROR_FILE, "circle.wav: "},
    {"in.wav none.wav -o new", ERROR_FILE, "none.wav: no such file"},
    {"words.txt -o new.wav", ERROR_AUDIO,
     "words.txt: no audio that can be read. WAV, AIFF, FLAC, Ogg, Opus and MP3 can"},
    {"words.txt -o new.wav", ERROR_AUDIO, "make a WAV first"},
    {"nothing.wav -o new.wav", ERROR_EMPTY, "nothing.wav: empty: the file has 0 bytes"},
    {"six.wav -o new.wav", ERROR_AUDIO, "six.wav: 6 channels"},
    {"slow.wav -o new.wav", ERROR_AUDIO, "slow.wav: 4000 Hz"},
    {"empty.wav -o new.wav", ERROR_EMPTY, "empty.wav: empty"},
    /* Settings. */
    {"--shiny in.wav -o new.wav", ERROR_USAGE, "no such option: --shiny"},
    {"--repiar hum in.wav -o new.wav", ERROR_USAGE, "no such option: --repiar; did you mean --repair?"},
    {"--loudnes=-20 in.wav -o new.wav", ERROR_USAGE, "no such option: --loudnes=-20; did you mean --loudness?"},
    {"--repair auto,hum in.wav -o new.wav", ERROR_USAGE, "--repair takes auto alone, or some of hum, pops, "},
    {"--repair hum,none in.wav -o new.wav", ERROR_USAGE, "--repair takes none alone, or some of hum, pops, "},
    {"--repair hum,pop in.wav -o new.wav", ERROR_USAGE, "not pop; did you mean pops?"},
    {"--repair hum,trim in.wav -o new.wav", ERROR_USAGE, "between, not trim\n"},
    {"--from-preset laed in.wav -o new.wav", ERROR_FILE, "nor in ~/.lv2; did you mean lead?"},
    {"--from-preset other in.wav -o new.wav", ERROR_FILE, "nor in ~/.lv2\n"},
    {"in.wav o new.wav", ERROR_USAGE, "with a dash it says where the result goes. Type: "},
    {"--set trim.target=-20 in.wav o new.wav", ERROR_USAGE, "render -o new.wav --set trim.target=-20 in.wav\n"},
    {"in.wav a/two.wav out new", ERROR_USAGE, "render -o new in.wav a/two.wav\n"},
    {"--set ' = 3' in.wav -o new.wav", ERROR_USAGE, "PLUGIN.SYMBOL=VALUE"},
    {"--stages 'trim, ' in.wav -o new.wav", ERROR_USAGE, "--stages takes names"},
    {"in.wav -o new.wav --voice", ERROR_USAGE, "--voice needs a value"},
    {"in.wav -o new.wav --set", ERROR_USAGE, "--set needs a value"},
    {"--set trim in.wav -o new.wav", ERROR_USAGE, "PLUGIN.SYMBOL=VALUE"},
    {"--set trim.target in.wav -o new.wav", ERROR_USAGE, "PLUGIN.SYMBOL=VALUE"},
    {"--set =3 in.wav -o new.wav", ERROR_USAGE, "PLUGIN.SYMBOL=VALUE"},
    {"--stages '' in.wav -o new.wav", ERROR_USAGE, "--stages takes names"},
    {"--stages trim,,tone in.wav -o new.wav", ERROR_USAGE, "--stages takes names"},
    {"--stages trim,trim in.wav -o new.wav", ERROR_USAGE, "twice: trim"},
    {"--stages trim,Trim in.wav -o new.wav", ERROR_USAGE, "twice: Trim"},
    {"--repair trim in.wav -o new.wav", ERROR_USAGE, "--repair takes auto, none or some of hum, pops, "},
    {"--repair hum,Hum in.wav -o new.wav", ERROR_USAGE, "--repair names a plug-in twice: Hum"},
    {"--repair hum --stages HUM,trim in.wav -o new.wav", ERROR_USAGE, "--repair and --stages both name hum"},
    {"--apart --stages trim in.wav -o new.wav", ERROR_USAGE, "no dry and wet level"},
    {"--voice basso in.wav -o new.wav", ERROR_VOICE, "no voice \"basso\"; there are: Bass"},
    {"--voice '' in.wav -o new.wav", ERROR_VOICE, "no voice \"\""},
    {"--voice s in.wav -o new.wav", ERROR_VOICE, "more than one voice: Soprano, Spoken low, Spoken high"},
    {"--stages trim,fuzz in.wav -o new.wav", ERROR_PLUGIN, "no plug-in \"fuzz\"; there are: "},
    {"--set fuzz.drive=3 in.wav -o new.wav", ERROR_PLUGIN, "no plug-in \"fuzz\""},
    {"--stages trim --set tone.air_lift=3 in.wav -o new.wav", ERROR_PLUGIN, "not among the stages"},
    {"--set trim.loudness=3 in.wav -o new.wav", ERROR_SYMBOL,
     "trim has no control \"loudness\"; it has: enabled, learn, target"},
    {"--set trim.gain=3 in.wav -o new.wav", ERROR_SYMBOL, "read-out"},
    {"--set trim.in=3 in.wav -o new.wav", ERROR_SYMBOL, "no control \"in\""},
    {"--set trim.target=-50 in.wav -o new.wav", ERROR_VALUE, "goes from -30 to -10 dB"},
    {"--set trim.target=loud in.wav -o new.wav", ERROR_VALUE,
     "does not take \"loud\"; it takes a number from -30 to -10"},
    {"--set trim.target= in.wav -o new.wav", ERROR_VALUE, "does not take \"\""},
    {"--set trim.target=nan in.wav -o new.wav", ERROR_VALUE, "does not take \"nan\""},
    {"--set trim.target=inf in.wav -o new.wav", ERROR_VALUE, "does not take \"inf\""},
    {"--set trim.target=-18Hz in.wav -o new.wav", ERROR_VALUE, "does not take \"-18Hz\""},
    {"--set trim.learn=maybe in.wav -o new.wav", ERROR_VALUE, "it takes \"hold\" (0), \"learn\" (1)"},
    {"--set trim.learn=0.5 in.wav -o new.wav", ERROR_VALUE, "it takes \"hold\" (0), \"learn\" (1)"},
    {"--set trim.enabled=2 in.wav -o new.wav", ERROR_VALUE, "it takes on or off"},
    {"--bundle none in.wav -o new.wav", ERROR_BUNDLE, "none: no LV2 bundle"},
    {"--bundle a in.wav -o new.wav", ERROR_BUNDLE, "a: no LV2 bundle"},
    {"--bundle b.lv2 in.wav -o new.wav", ERROR_BUNDLE, "b.lv2: no plug-in in this bundle"},
};

static void lay_out_faults(Bench *b)
{
    const float silence[6 * 100] = {0};
    prepare(b, "mkdir lead.lv2 && echo >lead.lv2/manifest.ttl && mkdir a b.lv2 c.lv2 mixes two-ways && echo '# "
               "nothing' >b.lv2/manifest.ttl && echo x >c.lv2/x.so && "
               "echo x >d.lv2 && echo 'just words' >words.txt && : >nothing.wav && mkfifo pipe.wav");
    save_take(b, "in.wav", WAV_24, RATE, 1, 0.5, 0.0);
    run_well(b, "--stages trim in.wav -o old.wav");
    prepare(b, "cp old.wav a/in.wav && cp in.wav a/two.wav && cp in.wav ./-1.wav && "
               "cp in.wav \"that's it.wav\" && cp in.wav b.lv2/t.ttl && cp in.wav in-voice.wav && "
               "cp in.wav in-before.wav && cp old.wav a-before.wav && "
               "cp in.wav kept.wav && chmod a-w kept.wav");
    prepare(b,
            "cp old.wav out-ambience.wav && cp old.wav mixes/two.wav && ln in.wav link.wav && ln -s in.wav soft.wav && "
            "ln -s circle.wav circle.wav && ln -s none/lost.wav lost.wav && ln -s old.wav link-to-old.wav && "
            "ln -s ../other.wav two-ways/in.wav && ln -s ../other.wav two-ways/two.wav");
    save(b, "six.wav", WAV_24, RATE, 6, silence, 100);
    save(b, "slow.wav", WAV_24, 4000, 1, silence, 100);
    save(b, "empty.wav", WAV_24, RATE, 1, silence, 0);
}

static void errors_are_one_line_and_a_status(void **state)
{
    Bench *b = *state;
    lay_out_faults(b);
    const uint32_t files = files_in(b, ".");
    for (size_t i = 0; i < sizeof faults / sizeof *faults; ++i) {
        const Fault *f = &faults[i];
        run(b, f->arguments);
        if (b->status != f->status || !strstr(b->err, f->says))
            fail_msg("render %s: status %d, \"%s\"; expected %d, \"%s\"", f->arguments, b->status, b->err, f->status,
                     f->says);
        const char *end = strchr(b->err, '\n');
        if (strncmp(b->err, "render: ", 8) != 0 || !end || end[1])
            fail_msg("render %s: not one line: \"%s\"", f->arguments, b->err);
        if (*b->out)
            fail_msg("render %s: prints \"%s\"", f->arguments, b->out);
        if (files_in(b, ".") != files)
            fail_msg("render %s: leaves something behind", f->arguments);
    }
}

/* A full disk, as a limit of the size of files. */
static void a_full_disk_leaves_the_old_file(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 20.0, 0.0);
    save_take(b, "short.wav", WAV_24, RATE, 1, 0.1, 0.0);
    run_well(b, "--stages trim short.wav -o out.wav");
    prepare(b, "rm short.wav");
    Sound old = sound_load(b, "out.wav");
    assert_int_equal(run_after(b, "ulimit -f 1000 &&", "--replace --stages trim in.wav -o out.wav"), ERROR_WRITE);
    assert_non_null(strstr(b->err, "no room"));
    /* A working copy of float takes more than 24 bit; this limit lets it be and stops a longer OUT. */
    assert_int_equal(run_after(b, "ulimit -f 7600 &&", "--replace --stages trim in.wav -o out.wav"), 0);
    assert_int_equal(run_after(b, "ulimit -f 1000 &&", "--stages trim in.wav -o new.wav"), ERROR_WRITE);
    assert_false(is_there(b, "new.wav"));
    assert_int_equal(files_in(b, "."), 2);
    Sound now = sound_load(b, "out.wav");
    assert_int_equal(now.n, 20 * RATE);
    sound_free(&old);
    sound_free(&now);
}

static void a_signal_leaves_nothing(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 2, 60.0, 0.0);
    run_after(b, "timeout -s TERM 0.3", "--stages trim,tone in.wav -o out.wav");
    assert_int_equal(b->status, 124); /* timeout's own: it had to stop it */
    run_after(b, "timeout --preserve-status -s INT 0.3", "--stages trim,tone in.wav -o out.wav");
    assert_int_equal(b->status, ERROR_STOPPED);
    assert_non_null(strstr(b->err, "stopped"));
    assert_int_equal(files_in(b, "."), 1);
}

/* Of every option that the help lists, with a letter doubled. */
static void every_option_is_near_itself(Bench *b)
{
    static char help[TEXT];
    snprintf(help, sizeof help, "%s", b->out);
    uint32_t options = 0;
    for (const char *at = help; (at = strstr(at, "\n  --")); ++at) {
        char name[64], line[200], says[200];
        snprintf(name, sizeof name, "%.*s", (int)strcspn(at + 3, " \n"), at + 3);
        if (!name[2])
            continue; /* what ends the options */
        snprintf(line, sizeof line, "%.3s%s in.wav", name, name + 2);
        snprintf(says, sizeof says, "; did you mean %s?", name);
        assert_int_equal(run(b, line), ERROR_USAGE);
        if (!strstr(b->err, says))
            fail_msg("%s: %s", line, b->err);
        ++options;
    }
    assert_true(options > 20);
}

static void help_and_list_tell(void **state)
{
    Bench *b = *state;
    run_well(b, "--help");
    assert_non_null(strstr(b->out, "render [--voice NAME]"));
    every_option_is_near_itself(b);
    run_well(b, "--version");
    assert_true(!strncmp(b->out, "Linctus render ", 15) && b->out[15] >= '0' && b->out[15] <= '9');
    run_well(b, "--list");
    assert_non_null(strstr(b->out, "even_loudness"));
    assert_non_null(strstr(b->out, "as it comes / as it went in"));
    assert_non_null(strstr(b->out, "Mezzo-soprano"));
}

/* ---- What is written ---- */

static const char all_off[] = "--stages trim,tone,compressor,esses --set trim.enabled=off --set tone.enabled=off "
                              "--set compressor.enabled=off --set esses.enabled=off ";

/* Every plug-in bypassed gives its input back, delayed; render takes the delay off: the file is the same to the bit. */
static void lines_up_to_the_sample(void **state)
{
    Bench *b = *state;
    static const int rates[] = {8000, 44100, 48000, 96000, 192000};
    for (int r = 0; r < 5; ++r) {
        for (int channels = 1; channels <= 2; ++channels) {
            char arguments[512];
            save_take(b, "in.wav", WAV_24, rates[r], channels, 0.8, 0.0);
            snprintf(arguments, sizeof arguments, "%s --replace in.wav -o out.wav", all_off);
            run_well(b, arguments);
            Sound in = sound_load(b, "in.wav"), out = sound_load(b, "out.wav");
            assert_int_equal(out.info.samplerate, rates[r]);
            assert_int_equal(out.info.format, WAV_24);
            assert_int_equal(out.channels, in.channels);
            assert_int_equal(out.n, in.n);
            assert_memory_equal(in.x, out.x, (size_t)in.n * in.channels * sizeof(float));
            sound_free(&in);
            sound_free(&out);
        }
    }
}

/* A tone of half a step would be rounded to nothing. With dither it is there in full, and what was rounded away does
 * not follow it: it has no part at three times its frequency. */
static void dither_keeps_what_lies_under_a_step(void **state)
{
    Bench *b = *state;
    enum { STEPS_16 = 32768, CYCLE = 48, SECONDS = 4 };
    float *x = every_floats(SECONDS * RATE);
    for (uint32_t k = RATE; k < SECONDS * RATE; ++k)
        x[k] = (float)(0.45 / STEPS_16 * sin(2.0 * DSP_PI * k / CYCLE));
    save(b, "in.wav", WAV_FLOAT, RATE, 1, x, SECONDS * RATE);
    free(x);
    run_well(b, "--bits 16 --stages trim --voice none --set trim.enabled=off in.wav -o out.wav");
    Sound out = sound_load(b, "out.wav");
    assert_int_equal(out.info.format, SF_FORMAT_WAV | SF_FORMAT_PCM_16);
    double tone = 0.0, third = 0.0, silence = 0.0;
    for (uint32_t k = 0; k < RATE; ++k)
        silence = fmax(silence, fabs((double)out.x[k]));
    for (uint32_t k = RATE; k < SECONDS * RATE; ++k) {
        tone += (double)out.x[k] * sin(2.0 * DSP_PI * k / CYCLE) * 2.0 / ((SECONDS - 1) * RATE);
        third += (double)out.x[k] * sin(6.0 * DSP_PI * k / CYCLE) * 2.0 / ((SECONDS - 1) * RATE);
    }
    assert_true(silence <= 0.0);
    figure_within("Suite", "16 bit: a tone of 0.45 steps comes out", tone * STEPS_16, 0.45, 0.01, "steps", "own truth");
    figure_at_most("Suite", "16 bit: of which at three times its frequency", fabs(third) * STEPS_16, 0.01, "steps",
                   "own truth");
    sound_free(&out);
    save_take(b, "in.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, RATE, 1, 0.8, 0.0);
    run_well(b, "--replace --bits=16 --stages trim --voice none --set trim.enabled=off in.wav -o out.wav");
    Sound in = sound_load(b, "in.wav");
    out = sound_load(b, "out.wav");
    assert_memory_equal(in.x, out.x, in.n * sizeof(float));
    sound_free(&in);
    sound_free(&out);
}

/* The whole chain at work: a click in silence is loudest where it was. */
static void the_mix_lines_up_too(void **state)
{
    Bench *b = *state;
    float *x = every_floats(2 * RATE);
    x[RATE] = 0.5f;
    save(b, "in.wav", WAV_24, RATE, 1, x, 2 * RATE);
    free(x);
    run_well(b, "in.wav -o out.wav");
    Sound out = sound_load(b, "out.wav");
    assert_int_equal(out.channels, 2);
    uint32_t top = 0;
    for (uint32_t k = 0; k < out.n; ++k)
        if (fabsf(out.x[(size_t)2 * k]) > fabsf(out.x[(size_t)2 * top]))
            top = k;
    assert_int_equal(top, RATE);
    sound_free(&out);
}

static void the_same_run_writes_the_same_bytes(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, 44100, 2, 2.5, -6.0);
    run_well(b, "--float --voice alto in.wav -o one.wav");
    sleep(1); /* a time of day in the file would show */
    run_well(b, "--float --voice alto in.wav -o two.wav");
    prepare(b, "cmp one.wav two.wav");
}

static void the_tail_is_kept(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 2.3, 0.0); /* ends within a note */
    run_well(b, "--set plate.decay=1.5 in.wav -o out.wav");
    assert_non_null(strstr(b->out, "tail after the take"));
    Sound in = sound_load(b, "in.wav"), out = sound_load(b, "out.wav");
    const uint32_t tenth = RATE / 10;
    assert_true(out.n > in.n + RATE);                   /* 1.5 s for 60 dB, so 2 s or so for what is left of it */
    assert_true(out.n < in.n + (uint32_t)(3.6 * RATE)); /* and no more than 120 dB and the patience */
    assert_true(rms_db(&out, 0, in.n, in.n + tenth) > -60.0);
    assert_true(rms_db(&out, 0, out.n - tenth, out.n) < -95.0);
    const size_t last = (size_t)2 * (out.n - 1); /* the last that is above -100 dBFS, and no silence behind it */
    assert_true(fmaxf(fabsf(out.x[last]), fabsf(out.x[last + 1])) > 0.98e-5f);
    run_well(b, "--stages trim,tone,compressor,esses in.wav -o dry.wav");
    Sound dry = sound_load(b, "dry.wav");
    assert_int_equal(dry.n, in.n);
    assert_int_equal(dry.channels, 1);
    sound_free(&in);
    sound_free(&out);
    sound_free(&dry);
}

static void apart_sums_to_the_mix(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 3.0, -6.0);
    run_well(b, "--float in.wav -o mix.wav");
    run_well(b, "--float --apart in.wav -o parts.wav");
    run_well(b, "--float --stages trim,tone,compressor,esses in.wav -o dry.wav");
    assert_false(is_there(b, "parts.wav"));
    Sound mix = sound_load(b, "mix.wav"), voice = sound_load(b, "parts-voice.wav"),
          ambience = sound_load(b, "parts-ambience.wav"), dry = sound_load(b, "dry.wav");
    assert_int_equal(voice.n, mix.n);
    assert_int_equal(ambience.n, mix.n);
    assert_int_equal(voice.channels, 2);
    double worst = 0.0;
    for (uint32_t k = 0; k < 2 * mix.n; ++k)
        worst = fmax(worst, fabs((double)voice.x[k] + (double)ambience.x[k] - (double)mix.x[k]));
    assert_true(worst < 1e-6);
    for (uint32_t k = 0; k < 2 * voice.n; ++k) /* the voice is the chain before the plate, to the bit */
        assert_true(voice.x[k] == (k / 2 < dry.n ? dry.x[k / 2] : 0.f));
    assert_true(rms_db(&ambience, 0, 0, mix.n) > -60.0);
    sound_free(&mix);
    sound_free(&voice);
    sound_free(&ambience);
    sound_free(&dry);
}

/* ---- Several takes ---- */

static double distance(const Bench *b, const char *one, const char *two)
{
    Sound x = sound_load(b, one), y = sound_load(b, two);
    const double db = voice_level(&x) - voice_level(&y);
    sound_free(&x);
    sound_free(&y);
    return db;
}

/* Verse and chorus of one singer, the verse 9 dB softer. */
static void save_verse_and_chorus(const Bench *b)
{
    save_singer(b, "verse.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .seconds = 10, .gain_db = -12});
    save_singer(b, "chorus.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 4, .seconds = 10, .gain_db = -3});
}

static void together_keeps_the_distance(void **state)
{
    Bench *b = *state;
    save_verse_and_chorus(b);
    run_well(b, "--together --stages trim verse.wav chorus.wav -o together");
    run_well(b, "--stages trim verse.wav chorus.wav -o alone/");
    assert_int_equal(files_in(b, "together"), 2);
    assert_int_equal(files_in(b, "alone"), 2);
    const double was = distance(b, "verse.wav", "chorus.wav");
    assert_true(fabs(distance(b, "together/verse.wav", "together/chorus.wav") - was) < 0.05);
    assert_true(fabs(distance(b, "alone/verse.wav", "alone/chorus.wav")) < 1.0);
    assert_true(was < -8.0);
}

/* One gain for both takes, from all of the voice: the order they are named in does not matter. */
static void together_means_all_of_them(void **state)
{
    Bench *b = *state;
    save_verse_and_chorus(b);
    run_well(b, "--together --stages trim verse.wav chorus.wav -o one");
    run_well(b, "--together --stages trim chorus.wav verse.wav -o two");
    assert_true(fabs(distance(b, "one/verse.wav", "two/verse.wav")) < 0.3);
}

static void takes_of_any_kind_go_together(void **state)
{
    Bench *b = *state;
    save_take(b, "a.wav", WAV_FLOAT, 44100, 1, 2.0, -6.0);
    save_take(b, "b.aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 96000, 2, 1.5, -9.0);
    save_take(b, "c.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 48000, 1, 2.0, 0.0);
    run_well(b, "--together --voice tenor a.wav b.aiff c.flac -o mixes");
    assert_int_equal(files_in(b, "mixes"), 3);
    Sound mix = sound_load(b, "mixes/b.wav");
    assert_int_equal(mix.info.samplerate, 96000);
    sound_free(&mix);
    run_well(b, "--together --apart a.wav c.flac -o parts");
    assert_int_equal(files_in(b, "parts"), 4);
    assert_true(is_there(b, "parts/c-ambience.wav"));
}

/* One take that fails takes the others with it, and the folder that was made for them. */
static void all_takes_or_none(void **state)
{
    Bench *b = *state;
    save_take(b, "a.wav", WAV_24, 8000, 1, 2.0, 0.0);
    save_take(b, "b.wav", WAV_24, 8000, 1, 200.0, 0.0);
    assert_int_equal(run_after(b, "ulimit -f 1500 &&", "--stages trim a.wav b.wav -o mixes"), ERROR_WRITE);
    assert_false(is_there(b, "mixes"));
}

/* ---- Odd takes ---- */

static void numbers_that_are_none_are_told(void **state)
{
    Bench *b = *state;
    Audio a = every_take(4 * RATE, RATE);
    a.channel[0][1000] = NAN;
    a.channel[0][2000] = INFINITY;
    a.channel[0][70000] = -INFINITY;
    save(b, "in.wav", WAV_FLOAT, RATE, 1, a.channel[0], a.n);
    audio_free(&a);
    run_well(b, "--float in.wav -o out.wav");
    assert_non_null(strstr(b->out, "3 samples in it are not numbers"));
    Sound out = sound_load(b, "out.wav");
    for (uint32_t k = 0; k < out.n * out.channels; ++k)
        assert_true(isfinite(out.x[k]));
    sound_free(&out);
}

/* Far over full scale is damage, and no clipping. */
static void damage_is_told(void **state)
{
    Bench *b = *state;
    Audio a = every_take(4 * RATE, RATE);
    for (uint32_t k = 1000; k < 1007; ++k)
        a.channel[0][k] = k % 2 ? DSP_BROKEN : -DSP_BROKEN;
    a.channel[0][2000] = 0.99f * DSP_BROKEN;
    save(b, "in.wav", WAV_FLOAT, RATE, 1, a.channel[0], a.n);
    audio_free(&a);
    run_well(b, "--float in.wav -o out.wav");
    assert_non_null(strstr(b->out, "7 damaged samples in it, at +24 dBFS or over; they were taken for silence."));
    assert_null(strstr(b->out, "clip"));
}

/* One take on both channels, at these gains. */
static void save_wide(const Bench *b, const char *name, float left, float right)
{
    Audio a = every_take(8 * RATE, RATE);
    float *x = every_floats(2 * a.n);
    for (size_t k = 0; k < a.n; ++k) {
        x[2 * k] = left * a.channel[0][k];
        x[2 * k + 1] = right * a.channel[0][k];
    }
    save(b, name, WAV_FLOAT, RATE, 2, x, a.n);
    free(x);
    audio_free(&a);
}

static void channels_that_cancel_are_told_and_heard(void **state)
{
    Bench *b = *state;
    static const char *const told[] = {"Its channels cancel each other", "1. The channels cancel each other"};
    save_wide(b, "opposite.wav", 1.f, -0.95f);
    save_wide(b, "stereo.wav", 1.f, -0.7f);
    run_well(b, "--stages trim opposite.wav -o out.wav");
    assert_int_equal(b->status, 0);
    for (size_t i = 0; i < 2; ++i)
        assert_non_null(strstr(b->out, told[i]));
    assert_null(strstr(b->out, "no voice"));
    Sound out = sound_load(b, "out.wav"); /* as it came, but for the gain */
    for (size_t k = 0; k < out.n; ++k)
        assert_true(fabsf(out.x[2 * k + 1] + 0.95f * out.x[2 * k]) < 1e-6f);
    sound_free(&out);
    run_well(b, "--stages trim stereo.wav -o out2.wav");
    assert_null(strstr(b->out, "cancel"));
}

/* Recorded on one input of a stereo track: its mix would stand on one side, with nobody told. */
static void a_voice_on_one_side_is_told(void **state)
{
    Bench *b = *state;
    static const struct {
        float left, right;
        const char *side; /* NULL: both sound */
    } takes[] = {{1.f, 0.f, "left"},  {1.f, 0.009f, "left"}, {1.f, 0.011f, NULL}, {0.009f, 1.f, "right"},
                 {0.f, 1.f, "right"}, {0.011f, 1.f, NULL},   {0.f, 0.f, NULL}};
    for (size_t i = 0; i < sizeof takes / sizeof *takes; ++i) {
        const char *const side = takes[i].side ? takes[i].side : "other";
        char told[128], next[128];
        save_wide(b, "in.wav", takes[i].left, takes[i].right);
        run_well(b, "--replace --stages trim in.wav -o out.wav");
        snprintf(told, sizeof told, "  Only its %s channel sounds, and so the mix stays on the %s. ", side, side);
        snprintf(next, sizeof next, "  1. Only the %s channel of in.wav sounds: ", side);
        assert_int_equal(strstr(b->out, told) && strstr(b->out, next), takes[i].side != NULL);
        assert_int_equal(strstr(b->out, "channel sounds") || strstr(b->out, "sounds: "), takes[i].side != NULL);
    }
}

/* Mono made wide: a boxy singer, on the right channel so many samples later than on the left one. */
static void save_late(const Bench *b, const char *name, double seconds, int by, double room)
{
    SingerTake s;
    const SingerSpec spec = {.voice = SINGER_TENOR,
                             .seed = 12,
                             .rate = RATE,
                             .seconds = seconds,
                             .room_seconds = room,
                             .room_db = -4,
                             .hiss_db = -60,
                             .boxy = {{420, 9, 4}},
                             .gain_db = -3};
    assert_true(singer_sing(&spec, &s));
    float *x = every_floats(2 * (size_t)s.frames);
    for (int64_t k = 0; k < s.frames; ++k) {
        const int64_t left = k + (by < 0 ? by : 0), right = k - (by > 0 ? by : 0);
        x[2 * k] = left >= 0 ? s.audio[left] : 0.f;
        x[2 * k + 1] = right >= 0 ? 0.8f * s.audio[right] : 0.f;
    }
    save(b, name, WAV_FLOAT, RATE, 2, x, s.frames);
    free(x);
    singer_free(&s);
}

/* From 0.3 to 10 ms; less is none, and so is a room. */
static void a_late_side_is_told(void **state)
{
    Bench *b = *state;
    static const struct {
        int by;
        double room;
        const char *told; /* NULL: nothing */
    } takes[] = {
        {0, 0.0, NULL},
        {0, 0.8, NULL},
        {7, 0.0, NULL},
        {15, 0.0, "right channel is late by 0.3 ms"},
        {-96, 0.0, "left channel is late by 2.0 ms"},
        {240, 0.8, "right channel is late by 5.0 ms"},
        {480, 0.0, "right channel is late by 10.0 ms"},
    };
    for (size_t i = 0; i < sizeof takes / sizeof *takes; ++i) {
        save_late(b, "in.wav", 10.0, takes[i].by, takes[i].room);
        run_well(b, "--replace --stages trim in.wav -o out.wav");
        const char *told = strstr(b->out, " channel is late by ");
        assert_int_equal(told != NULL, takes[i].told != NULL);
        assert_true(!told || (takes[i].told && strstr(b->out, takes[i].told)));
        const bool done =
            strstr(b->out, "make a comb filter. Move it ") && strstr(b->out, "move it earlier by so much");
        assert_int_equal(done, told != NULL);
        assert_null(strstr(b->out, "Tone hears"));
    }
}

/* A steady tone is as like itself a period later; two noises are not alike at all. */
static void steady_tones_are_not_late(void **state)
{
    (void)state;
    for (int noise = 0; noise < 2; ++noise) {
        Late l = {0};
        Error e;
        uint32_t random = 1;
        assert_true(late_start(&l, RATE, &e));
        for (uint32_t i = 0; i < 4 * RATE; ++i) {
            float x[2];
            for (int side = 0; side < 2; ++side) {
                random = random * 1664525u + 1013904223u;
                x[side] =
                    noise ? (float)(random / 4294967296.0 - 0.5) : sinf((float)(i % 120) * 2.f * 3.14159265f / 120);
            }
            late_hear(&l, &x[0], &x[1], 1);
        }
        assert_true(late_by(&l) == 0.0);
        late_free(&l);
    }
}

/* What Tone would do to it: the lines of its dips. */
static void dips_of(const Bench *b, char *dips, size_t size)
{
    const char *tone = strstr(b->out, "\ntone");
    size_t n = 0;
    assert_non_null(tone);
    for (const char *line = tone; (line = strstr(line, " wide, ")) != NULL; ++line) {
        const char *from = line;
        while (from[-1] != '\n')
            --from;
        n += (size_t)snprintf(dips + n, size - n, "%.*s\n", (int)strcspn(from, "\n"), from);
    }
}

/* What --advise says of resonances. */
static void resonances_of(Bench *b, const char *take, char *found, size_t size)
{
    char arguments[64];
    snprintf(arguments, sizeof arguments, "--advise %s", take);
    run_well(b, arguments);
    const char *told = strstr(b->out, "\nResonances\n");
    assert_non_null(told);
    snprintf(found, size, "%.*s", (int)(strstr(told, "  at the source") - told), told);
}

/* The two together have a hole every 333 Hz; the louder one alone has what the mono has. */
static void tone_does_not_hear_a_comb(void **state)
{
    Bench *b = *state;
    char mono[1024] = "", wide[1024] = "";
    save_late(b, "in.wav", 25.0, 0, 0.0);
    run_well(b, "--voice none --stages tone in.wav -o out.wav");
    dips_of(b, mono, sizeof mono);
    save_late(b, "wide.wav", 25.0, 144, 0.0);
    run_well(b, "--voice none --stages tone wide.wav -o out2.wav");
    assert_non_null(
        strstr(b->out, "\nTone hears only the left channel of wide.wav: both together are a comb filter.\n"));
    dips_of(b, wide, sizeof wide);
    assert_non_null(strstr(mono, " dB at "));
    assert_string_equal(mono, wide);
    resonances_of(b, "in.wav", mono, sizeof mono);
    resonances_of(b, "wide.wav", wide, sizeof wide);
    assert_non_null(
        strstr(b->out, "\nTone hears only the left channel of wide.wav: both together are a comb filter.\n"));
    assert_string_equal(mono, wide);
}

/* It finds the resonance of a mono take, and the gain that the level of both asks for. */
static void chain_does_not_hear_a_comb(void **state)
{
    Bench *b = *state;
    double at[2], gain[2];
    const char *rest;
    for (int late = 0; late < 2; ++late) {
        save_late(b, "in.wav", 25.0, late ? 144 : 0, 0.0);
        run_well(b, "--replace --voice none --stages chain in.wav -o out.wav");
        assert_int_equal(strstr(b->out, "\nChain hears only the left channel of in.wav: ") != NULL, late);
        at[late] = number_after(b->out, "a resonance at ", &rest);
        assert_null(strstr(rest, "a resonance at "));
        gain[late] = number_after(b->out, "for voice \"default\"\n         ", NULL);
    }
    assert_true(fabs(at[1] / at[0] - 1.0) < 0.02);
    assert_true(fabs(gain[1] - gain[0]) < 0.11);
}

enum { TALK = 20, SONG = 40 }; /* s */

/* A voice that talks, one that sings, and gains for them. */
typedef struct {
    SingerTake talk, song;
} Parts;

static Parts make_parts(void)
{
    Parts p;
    const SingerSpec talk = {.voice = SINGER_SPOKEN_LOW, .seed = 3, .rate = RATE, .seconds = TALK},
                     song = {.voice = SINGER_TENOR, .seed = 4, .rate = RATE, .seconds = SONG};
    assert_true(singer_sing(&talk, &p.talk) && singer_sing(&song, &p.song));
    return p;
}

static void add_part(float *x, uint32_t *n, const SingerTake *from, uint32_t seconds, double db)
{
    for (uint32_t i = 0; i < seconds * RATE; ++i)
        x[(*n)++] = i < from->frames ? (float)db_to_gain(db) * from->audio[i] : 0.f;
}

static TwoLevelsFound two_levels_of(const float *x, uint32_t n)
{
    TwoLevels l;
    Error e;
    two_levels_start(&l, RATE);
    assert_true(two_levels_hear(&l, &x, 1, n, &e));
    const TwoLevelsFound found = two_levels_found(&l);
    two_levels_free(&l);
    return found;
}

/* dB of the talk, before the song and after it; the song at -22 dB, whole or its second half so much louder. */
static void a_take_of_two_levels(void **state)
{
    (void)state;
    static const struct {
        double before, after, louder; /* 0: no talk */
        double at;                    /* 0: not told */
    } takes[] = {
        {-14, 0, 0, TALK}, {0, -14, 0, SONG}, {-17, 0, 0, TALK}, {-21, 0, 0, 0},
        {-30, 0, 0, 0},    {0, 0, 0, 0},      {-14, -14, 0, 0},  {0, 0, 2, 0},
    };
    float *x = every_floats((2 * TALK + SONG) * RATE);
    Parts p = make_parts();
    for (size_t k = 0; k < sizeof takes / sizeof *takes; ++k) {
        uint32_t n = 0;
        if (takes[k].before < 0.0)
            add_part(x, &n, &p.talk, TALK, takes[k].before + 18.0);
        const uint32_t song = n;
        add_part(x, &n, &p.song, SONG, -4.0);
        for (uint32_t i = song + SONG / 2 * RATE; i < n; ++i)
            x[i] *= (float)db_to_gain(takes[k].louder);
        if (takes[k].after < 0.0)
            add_part(x, &n, &p.talk, TALK, takes[k].after + 18.0);
        const TwoLevelsFound found = two_levels_of(x, n);
        assert_true(fabs(found.at - takes[k].at) <= 2.0 && (found.at > 0.0) == (takes[k].at > 0.0));
        assert_true(found.at == 0.0 || (found.before == (takes[k].before < 0.0) && found.moved >= 1.5));
    }
    singer_free(&p.talk);
    singer_free(&p.song);
    free(x);
}

/* How long a beginning, how loud it and the song behind it. */
static double softer_until(const Parts *p, uint32_t talk, double talk_db, double db)
{
    static float x[(TALK + SONG) * RATE];
    uint32_t n = 0;
    add_part(x, &n, &p->talk, talk, talk_db);
    add_part(x, &n, &p->song, SONG, db);
    return two_levels_of(x, n).softer;
}

static void a_softer_beginning(void **state)
{
    (void)state;
    Parts p = make_parts();
    assert_float_equal(softer_until(&p, TALK, 0.0, 12.0), TALK, 0.0);
    assert_float_equal(softer_until(&p, TALK, 0.0, 40.0), TALK, 0.0);
    assert_float_equal(softer_until(&p, TALK, 0.0, 5.0), 0.0, 0.0);
    assert_float_equal(softer_until(&p, 8, 0.0, 12.0), 8.0, 0.0);
    assert_float_equal(softer_until(&p, 6, 0.0, 12.0), 0.0, 0.0);
    assert_float_equal(softer_until(&p, TALK, -100.0, 0.0), 0.0, 0.0); /* silence */
    singer_free(&p.song);
    singer_free(&p.talk);
}

/* Softer talk before a song, and what Tone finds: what it finds in the song. A soft verse is not talk. */
static void tone_does_not_hear_talk(void **state)
{
    Bench *b = *state;
    static const char told[] = "\nTone hears in.wav from 0:20 on: what comes before is talk.\n";
    float *x = every_floats((TALK + SONG) * RATE);
    double cut[3];
    Parts p = make_parts();
    for (int k = 0; k < 3; ++k) {
        uint32_t n = 0;
        if (k)
            add_part(x, &n, k == 1 ? &p.talk : &p.song, TALK, -14.0);
        add_part(x, &n, &p.song, SONG, 0.0);
        save(b, "in.wav", WAV_24, RATE, 1, x, n);
        run_well(b, "--replace --voice none --stages tone in.wav -o out.wav");
        assert_int_equal(strstr(b->out, told) != NULL, k == 1);
        cut[k] = number_after(b->out, "low cut at ", NULL);
        if (k != 1)
            continue;
        run_well(b, "--advise in.wav");
        assert_non_null(strstr(b->out, told));
        assert_true(fabs(number_after(b->out, "\n  low cut        ", NULL) - cut[1]) < 1.0);
    }
    assert_true(cut[0] > 120.0 && fabs(cut[1] - cut[0]) < 1.0);
    uint32_t n = 0;
    add_part(x, &n, &p.talk, TALK / 2, -14.0);
    add_part(x, &n, &p.talk, TALK, 0.0);
    save(b, "in.wav", WAV_24, RATE, 1, x, n);
    run_well(b, "--replace --voice none --stages tone in.wav -o out.wav");
    assert_null(strstr(b->out, "what comes before"));
    singer_free(&p.talk);
    singer_free(&p.song);
    free(x);
}

static void talk_before_a_song_is_told(void **state)
{
    Bench *b = *state;
    float *x = every_floats((TALK + SONG) * RATE);
    Parts p = make_parts();
    uint32_t n = 0;
    add_part(x, &n, &p.talk, TALK, 4.0);
    add_part(x, &n, &p.song, SONG, -4.0);
    save(b, "in.wav", WAV_24, RATE, 1, x, n);
    run_well(b, "--stages trim in.wav -o out.wav");
    assert_non_null(strstr(b->out, "\n  It is of two levels: up to 0:20 it lies "));
    assert_non_null(strstr(b->out, "\n  1. in.wav is louder up to 0:20, and so the rest lies lower than it should. "));
    singer_free(&p.talk);
    singer_free(&p.song);
    free(x);
}

/* A click track that leaks: short tones at a steady rate, as faint as in a headphone. The same clicks at any time, and
 * none: not told. */
static void a_click_track_that_leaks_is_told(void **state)
{
    Bench *b = *state;
    static const struct {
        double a_minute; /* 0: at any time; -1: none */
        const char *told;
    } takes[] = {{100.0, "  Its clicks are regular, 100 a minute: "},
                 {140.0, "  Its clicks are regular, 140 a minute: "},
                 {0.0, NULL},
                 {-1.0, NULL}};
    for (size_t k = 0; k < sizeof takes / sizeof *takes; ++k) {
        SingerTake t;
        uint32_t random = 7;
        const SingerSpec spec = {
            .voice = SINGER_TENOR, .seed = 4, .rate = RATE, .seconds = 16, .rest_seconds = 1, .hiss_db = -55};
        assert_true(singer_sing(&spec, &t));
        for (double at = 0.1; takes[k].a_minute >= 0.0 && at * RATE + 2400 < t.frames;) {
            for (uint32_t i = 0; i < 2400; ++i)
                t.audio[(uint32_t)(at * RATE) + i] += 0.1f * sinf(0.4f * (float)i) * expf(-(float)i / 200.f);
            random = random * 1664525u + 1013904223u;
            at += takes[k].a_minute > 0.0 ? 60.0 / takes[k].a_minute : 0.2 + 0.8 * random / 4294967296.0;
        }
        save(b, "in.wav", WAV_24, RATE, 1, t.audio, t.frames);
        run_well(b, "--replace --stages trim in.wav -o out.wav");
        assert_int_equal(strstr(b->out, "clicks are regular") != NULL, takes[k].told != NULL);
        assert_true(!takes[k].told || strstr(b->out, takes[k].told));
        singer_free(&t);
    }
}

/* 12 to 43 clicks at any time within two minutes, 64 times. */
static void random_clicks_are_not_regular(void **state)
{
    (void)state;
    static Regular r;
    uint32_t random = 1;
    for (uint32_t trial = 0; trial < 64; ++trial) {
        const uint32_t clicks = 12 + trial / 2;
        const double apart = 120.0 / clicks;
        for (r.times = 0; r.times < clicks; ++r.times) {
            random = random * 1664525u + 1013904223u;
            r.time[r.times] = apart * (r.times + random / 4294967296.0);
        }
        assert_true(regular_rate(&r) == 0.0);
    }
    for (uint32_t k = 0; k < r.times; ++k) { /* each a few ms off its beat, two in nine left out */
        const uint32_t beat = k + 2 * (k / 7);
        r.time[k] = 0.7 + beat * 60.0 / 92.0 + (k % 3) * 0.004;
    }
    assert_true(fabs(regular_rate(&r) - 92.0) < 0.1);
}

/* A click track that leaks an hour after the first of other clicks: it is two minutes that count. */
static void clicks_of_an_hour(void **state)
{
    (void)state;
    static Regular r;
    uint32_t random = 1;
    r.times = 0;
    for (uint32_t k = 0; k < REGULAR_MOST; ++k) {
        random = random * 1664525u + 1013904223u;
        r.time[r.times++] = 14.0 * (k + random / 4294967296.0);
    }
    assert_true(regular_rate(&r) == 0.0);
    for (uint32_t k = 0; k < 13; ++k)
        r.time[200 + k] = 5000.0 + k * 60.0 / 92.0;
    r.times = 213;
    assert_true(fabs(regular_rate(&r) - 92.0) < 0.5);
}

/* A wind at 20 Hz as loud as the voice or 8 dB over it. What the table says to type brings the voice to its level. */
static void rumble_that_counts_as_voice_is_told(void **state)
{
    Bench *b = *state;
    static const char told[] = ". Rumble under the voice counted in its level, so Trim left the voice about ";
    static const char order[] = " --stages tone,trim,compressor,esses,plate in.wav -o out.wav\n";
    for (int loud = 0; loud < 3; ++loud) {
        Audio a = every_take(8 * RATE, RATE);
        const float level[] = {0.f, 0.05f, 0.5f};
        for (size_t k = 0; k < a.n; ++k)
            a.channel[0][k] += level[loud] * sinf(2.f * 3.14159265f * 20.f * (float)k / (float)RATE);
        save(b, "in.wav", WAV_FLOAT, RATE, 1, a.channel[0], a.n);
        audio_free(&a);
        run_well(b, "--replace in.wav -o out.wav");
        const char *step = strstr(b->out, told);
        assert_int_equal(step && strstr(step, order), loud == 2);
    }
    run_well(b, "--replace --stages tone,trim,compressor,esses,plate --set trim.target=-18 in.wav -o out.wav");
    assert_null(strstr(b->out, told));
    const char *level = strstr(b->out, "\n  level ");
    assert_non_null(level);
    const double db = level ? strtod(level + strlen("\n  level "), NULL) : 0.0;
    assert_true(fabs(db + 18.0) < 1.0);
}

static void silence_is_no_error(void **state)
{
    Bench *b = *state;
    float *x = every_floats(2 * RATE);
    save(b, "in.wav", WAV_24, RATE, 1, x, 2 * RATE);
    free(x);
    run_well(b, "in.wav -o out.wav");
    assert_non_null(strstr(b->out, "no voice: nothing was learned"));
    assert_non_null(
        strstr(b->out, "1. The take is silent: see that this is the vocal's track, and that it was not muted "));
    assert_non_null(
        strstr(b->out, "voice: none, plug-ins at their defaults; none was named, and Check could not tell"));
    Sound out = sound_load(b, "out.wav");
    for (uint32_t k = 0; k < out.n * out.channels; ++k)
        assert_true(out.x[k] == 0.f);
    sound_free(&out);
}

/* It says so, and holds the controls as they were set: no figure of nothing by hand. */
static void a_preset_of_nothing_learned(void **state)
{
    Bench *b = *state;
    float *x = every_floats(2 * RATE);
    save(b, "in.wav", WAV_24, RATE, 1, x, 2 * RATE);
    free(x);
    run_well(b, "--save-preset none --set compressor.threshold=-27 in.wav -o out.wav");
    assert_non_null(strstr(b->out, "esses and plate; nothing was learned, so it holds only what was set\n"));
    prepare(b, "grep -A1 '\"threshold\"' none.lv2/compressor.ttl | grep -q 'value -27'");
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(b, "--save-preset some in.wav -o out2.wav");
    assert_non_null(strstr(b->out, "esses and plate, learned figures included\n"));
    run_well(b, "--save-preset dry --stages plate in.wav -o out3.wav");
    assert_non_null(strstr(b->out, "a preset \"dry\" of plate; nothing was learned"));
}

/* Less compression is proposed down to 1 dB: none would be something else. */
static void less_is_not_none(void **state)
{
    Bench *b = *state;
    static const char told[] = "Less compression, so that the noise is lifted less:\n";
    static const struct {
        const char *set, *proposed; /* NULL: nothing */
    } runs[] = {{"6", "=3 "}, {"3", "=1 "}, {"2", "=1 "}, {"1", NULL}, {"0", NULL}};
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 12, .hiss_db = -24});
    for (size_t k = 0; k < sizeof runs / sizeof *runs; ++k) {
        char line[128];
        snprintf(line, sizeof line, "--replace --repair none --set compressor.wanted_reduction=%s in.wav -o out.wav",
                 runs[k].set);
        run_well(b, line);
        const char *step = strstr(b->out, told), *set = step ? strstr(step, "compressor.wanted_reduction") : NULL;
        assert_int_equal(step != NULL, runs[k].proposed != NULL);
        assert_true(!step || (set && runs[k].proposed &&
                              !strncmp(set + strlen("compressor.wanted_reduction"), runs[k].proposed, 3)));
    }
}

static void one_sample_is_a_take(void **state)
{
    Bench *b = *state;
    const float x = 0.25f;
    save(b, "in.wav", WAV_24, RATE, 1, &x, 1);
    run_well(b, "--stages trim,tone,compressor,esses in.wav -o out.wav");
    Sound out = sound_load(b, "out.wav");
    assert_int_equal(out.n, 1);
    sound_free(&out);
}

static void clipping_is_told(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(b, "--stages trim --set trim.hand_trim=24 in.wav -o out.wav");
    assert_non_null(strstr(b->out, "CLIPPED"));
    assert_non_null(strstr(b->err, "clipped"));
    run_well(b, "--stages trim --set trim.hand_trim=24 --float in.wav -o float.wav");
    assert_null(strstr(b->out, "CLIPPED"));
    Sound out = sound_load(b, "out.wav"), whole = sound_load(b, "float.wav");
    for (uint32_t k = 0; k < out.n; ++k) { /* held at full scale, not turned over; dither adds up to a step */
        const double want = dsp_clamp((double)whole.x[k], -1.0, 8388607.0 / 8388608.0);
        assert_true(fabs((double)out.x[k] - want) <= 1.5 / 8388608.0 + 1e-12);
    }
    sound_free(&out);
    sound_free(&whole);
}

/* A take that was clipped, or was not, and then turned down. */
static void save_clipped(const Bench *b, const char *name, int format, bool clip)
{
    SingerTake t;
    const SingerSpec spec = {.voice = SINGER_ALTO, .seed = 4, .rate = RATE, .seconds = 10, .gain_db = 14, .clip = clip};
    assert_true(singer_sing(&spec, &t));
    for (uint32_t i = 0; i < t.frames; ++i)
        t.audio[i] *= clip ? 0.5f : 0.1f;
    save(b, name, format, RATE, 1, t.audio, t.frames);
    singer_free(&t);
}

/* What was not clipped is not told of, however it was coded. */
static void what_was_clipped_before_is_told(void **state)
{
    Bench *b = *state;
    static const struct {
        const char *name;
        int format;
        bool clip;
    } take[] = {
        {"clipped.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, true},
        {"in.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, false},
        {"in.ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, false},
        {"in.mp3", SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, false},
    };
    for (size_t k = 0; k < sizeof take / sizeof *take; ++k) {
        char line[64];
        save_clipped(b, take[k].name, take[k].format, take[k].clip);
        snprintf(line, sizeof line, "--stages trim --replace %s -o out.wav", take[k].name);
        run_well(b, line);
        assert_int_equal(strstr(b->out, "  ! flat tops at -") != NULL, take[k].clip);
        assert_int_equal(strstr(b->out, "usable? Record it again if you can.") != NULL, take[k].clip);
    }
}

/* A file whose head promises more than there is. */
static void a_cut_off_file_is_told(void **state)
{
    Bench *b = *state;
    save_take(b, "in.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, RATE, 1, 4.0, -6.0);
    prepare(b, "truncate -s 60000 in.flac");
    run_well(b, "--stages trim in.flac -o out.wav");
    assert_non_null(strstr(b->out, " of 4.0 s are there"));
    /* A recorder that lost its power: the head was written beforehand. A pipe's head, which knows no length, is none.
     */
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    prepare(b, "cp in.wav whole.wav && truncate -s $((44 + 3 * 72000)) in.wav");
    run_well(b, "--stages trim in.wav -o broken.wav");
    assert_non_null(strstr(b->out, "  The file breaks off: 1.5 of 4.0 s are there.\n"));
    run_well(b, "--advise in.wav");
    assert_non_null(strstr(b->out, "  The file breaks off: 1.5 of 4.0 s are there.\n"));
    run_after(b, "cat in.wav |", "--stages trim /dev/stdin -o piped.wav");
    assert_non_null(strstr(b->out, "  The file breaks off: 1.5 of 4.0 s are there.\n"));
    run_well(b, "--stages trim whole.wav -o whole-mix.wav");
    assert_null(strstr(b->out, "breaks off"));
    prepare(b, "sox whole.wav -t wav - | cat >long.wav && printf '\\377\\377\\377\\377' | dd of=whole.wav bs=1 seek=40 "
               "conv=notrunc 2>.err; rm .err");
    run_well(b, "--stages trim long.wav whole.wav -o mixes");
    assert_null(strstr(b->out, "breaks off"));
}

/* Whatever stands at the head: 1.5 of 4 s are left of each. */
static void a_cut_off_file_of_any_kind_is_told(void **state)
{
    Bench *b = *state;
    static const struct {
        int format;
        int bytes; /* of 1.5 s, with room for the head */
    } kind[] = {
        {SF_FORMAT_AIFF | SF_FORMAT_PCM_24, 3 * 72000 + 54},
        {SF_FORMAT_AIFF | SF_FORMAT_FLOAT, 4 * 72000 + 100},
        {SF_FORMAT_RF64 | SF_FORMAT_PCM_24, 3 * 72000 + 104},
        {SF_FORMAT_RF64 | SF_FORMAT_PCM_16, 2 * 72000 + 104},
    };
    for (size_t k = 0; k < sizeof kind / sizeof *kind; ++k) {
        char command[160];
        save_take(b, "in", kind[k].format, RATE, 1, 4.0, -6.0);
        run_well(b, "--advise in");
        assert_null(strstr(b->out, "breaks off"));
        snprintf(command, sizeof command, "truncate -s %d in", kind[k].bytes);
        prepare(b, command);
        run_well(b, "--advise in");
        assert_non_null(strstr(b->out, "  The file breaks off: 1.5 of 4.0 s are there.\n"));
    }
    /* The end of an Ogg tells its length: without it nobody knows. The mix is a plain WAV all the same. */
    save_take(b, "in.ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, RATE, 1, 4.0, -6.0);
    prepare(b, "truncate -s $(($(stat -c %s in.ogg) / 2)) in.ogg");
    run_well(b, "--voice none --stages plate in.ogg -o out.wav");
    assert_non_null(strstr(b->out, "  The file breaks off: its end is missing, and with it how long it was.\n"));
    prepare(b, "head -c 4 out.wav | grep -q RIFF");
}

/* By what its encoder noted at the head; without that nobody can know. */
static void a_cut_off_mp3_is_told(void **state)
{
    Bench *b = *state;
    static const int rate[] = {44100, 22050};
    for (int k = 0; k < 4; ++k) {
        const int channels = 1 + k % 2;
        save_take(b, "in.mp3", SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, rate[k / 2], channels, 4.0, -6.0);
        run_well(b, "--advise in.mp3");
        assert_null(strstr(b->out, "breaks off"));
        prepare(b, "truncate -s $(($(stat -c %s in.mp3) / 2)) in.mp3");
        run_well(b, "--advise in.mp3");
        const char *told = strstr(b->out, "  The file breaks off: ");
        assert_non_null(told);
        assert_non_null(strstr(told, " of 4.0 s are there.\n"));
        prepare(b, "{ printf 'ID3\\004\\000\\000\\000\\000\\000\\005hello'; cat in.mp3; } >tagged.mp3");
        run_well(b, "--advise tagged.mp3");
        assert_non_null(strstr(b->out, " of 4.0 s are there.\n"));
        prepare(b, "sed -i 's/Xing/Xxxx/; s/Info/Xxxx/' in.mp3");
        run_well(b, "--advise in.mp3");
        assert_null(strstr(b->out, "breaks off"));
    }
    /* The other kind of header, in the place of the first: 345 frames of 576 samples at 22050 Hz make 9 s. */
    prepare(b, "{ printf VBRI | dd of=in.mp3 bs=1 seek=36 conv=notrunc; printf '\\000\\000\\001\\131' | "
               "dd of=in.mp3 bs=1 seek=50 conv=notrunc; } 2>.err; rm .err");
    run_well(b, "--advise in.mp3");
    assert_non_null(strstr(b->out, " of 9.0 s are there.\n"));
}

/* Of a variable bit rate: loud noise, then a soft tone, so that the first frames are far longer than the others. */
static void save_varying(const Bench *b, const char *name, int rate, int channels, uint32_t frames)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    SF_INFO info = {.samplerate = rate, .channels = channels, .format = SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III};
    int mode = SF_BITRATE_MODE_VARIABLE;
    float *x = every_floats(frames * (uint32_t)channels);
    uint32_t seed = 1;
    for (uint32_t i = 0; i < frames * (uint32_t)channels; ++i)
        x[i] = i < frames / 10 ? 0.3f * (float)every_noise(&seed) : 0.02f * (float)sin(0.03 * i);
    SNDFILE *f = sf_open(path, SFM_WRITE, &info);
    assert_non_null(f);
    sf_command(f, SFC_SET_BITRATE_MODE, &mode, sizeof mode);
    assert_int_equal(sf_command(f, SFC_GET_BITRATE_MODE, NULL, 0), mode);
    assert_int_equal(sf_writef_float(f, x, frames), frames);
    sf_close(f);
    free(x);
}

/* Frames by the encoder's own count, which stands behind "Xing" or "Info" and four bytes more. */
static uint32_t counted_frames(const Bench *b, const char *name)
{
    unsigned char head[400] = {0};
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    assert_int_equal(fread(head, 1, sizeof head, f), sizeof head);
    fclose(f);
    uint32_t at = 0;
    while (at + 12 < sizeof head && memcmp(head + at, "Xing", 4) != 0 && memcmp(head + at, "Info", 4) != 0)
        ++at;
    assert_true(at + 12 < sizeof head && head[at + 7] & 1);
    return (uint32_t)head[at + 8] << 24 | (uint32_t)head[at + 9] << 16 | (uint32_t)head[at + 10] << 8 | head[at + 11];
}

static uint32_t rendered_frames(Bench *b, const char *args)
{
    run_well(b, args);
    Sound s = sound_load(b, "out.wav");
    prepare(b, "rm out.wav");
    sound_free(&s);
    return s.n;
}

/* libsndfile would guess by the first frame how long it is, and stop there. The frame that held the count is one more,
 * of silence, once that is spoiled. */
static void an_mp3_without_a_count_is_read_to_its_end(void **state)
{
    Bench *b = *state;
    static const int rate[] = {44100, 22050};
    for (int k = 0; k < 2; ++k) {
        save_varying(b, "in.mp3", rate[k], 1 + k, 4 * (uint32_t)rate[k]);
        const uint32_t samples = k ? 576 : 1152, whole = samples * (counted_frames(b, "in.mp3") + 1);
        prepare(b, "sed -i 's/Xing/Xxxx/; s/Info/Xxxx/' in.mp3");
        assert_int_equal(rendered_frames(b, "--stages trim --voice none in.mp3 -o out.wav"), whole);
        assert_null(strstr(b->out, "breaks off"));
        prepare(b, "{ cat in.mp3; printf TAG; head -c 125 /dev/zero; } >tagged.mp3");
        assert_int_equal(rendered_frames(b, "--stages trim --voice none tagged.mp3 -o out.wav"), whole);
        assert_null(strstr(b->err, "Illegal"));
        prepare(b, "head -c -200 in.mp3 >cut.mp3");
        const uint32_t left = rendered_frames(b, "--stages trim --voice none cut.mp3 -o out.wav");
        assert_true(left < whole && left + 8 * samples > whole);
        assert_null(strstr(b->out, "breaks off"));
    }
}

/* ---- The settings ---- */

static void settings_come_after_the_voice(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(b, "--voice mezzo --set tone.low_cut=66 --set tone.low_cut_set_by=hand --set 'compressor.even_loudness=as "
                "it comes' in.wav -o out.wav");
    assert_non_null(strstr(b->out, "voice: Mezzo-soprano"));
    assert_non_null(strstr(b->out, "low cut at 66 Hz, 18 dB per octave: by hand, as asked\n"));
    assert_non_null(strstr(b->out, "+3.0 dB of air from 12 kHz up: the preset's\n"));
    assert_non_null(strstr(b->out, "loudness: as it comes"));
    run_well(b, "--replace --voice=SPOKEN_low in.wav -o out.wav");
    assert_non_null(strstr(b->out, "voice: Spoken low"));
}

/* README writes Trim, and the table writes -20.0 dB: both may be typed. */
static void names_and_units_are_typed_as_they_are_read(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(b, "--stages trim,esses --set trim.target=-20 in.wav -o one.wav");
    run_well(b, "--stages Trim,ESSES --set Trim.target='-20.0 dB' in.wav -o two.wav");
    assert_non_null(strstr(b->out, "\ntrim\n"));
    run_well(b, "--stages 'trim, esses' --repair none --set ' trim.target = -20 ' in.wav -o three.wav");
    prepare(b, "cmp one.wav two.wav && cmp one.wav three.wav");
    assert_null(strstr(b->out, "--repair auto"));
    run_well(b, "--stages trim --repair 'pops, hum' in.wav -o four.wav");
    assert_true(strstr(b->out, "\nhum\n") && strstr(b->out, "\npops\n"));
}

/* No voice is named: each take gets the presets of the range it was sung in, where these are too far apart for one
 * singer. */
static void the_voice_is_heard(void **state)
{
    Bench *b = *state;
    save_singer(b, "low.wav", &(SingerSpec){.voice = SINGER_BASS, .seed = 5, .seconds = 15, .gain_db = -9});
    save_singer(b, "high.wav", &(SingerSpec){.voice = SINGER_SOPRANO, .seed = 6, .seconds = 15, .gain_db = -9});
    run_well(b, "--stages tone low.wav high.wav -o mixes");
    const char *low = strstr(b->out, "voice: Bass, the range that Check heard"),
               *high = strstr(b->out, "voice: Soprano, the range that Check heard");
    assert_true(low && high && low < high);
    assert_non_null(strstr(low, "differ by more than neighbours do"));
    assert_non_null(strstr(high, "differ by more than neighbours do"));
    assert_non_null(strstr(low, "nearest voice range: Bass"));
    assert_non_null(strstr(low, "+3.0 dB of air from 12 kHz up: the preset's")); /* presets/bass.ttl */
    assert_non_null(strstr(high, "+3.0 dB of air"));
    run_well(b, "--stages tone --voice Bass low.wav -o named.wav");
    assert_null(strstr(b->out, "the range that Check heard"));
    prepare(b, "cmp mixes/low.wav named.wav");
    run_well(b, "--stages tone --voice none low.wav -o plain.wav");
    assert_non_null(strstr(b->out, "voice: none, plug-ins at their defaults\n"));
    assert_null(strstr(b->out, "of air"));
}

static uint32_t times_in(const char *text, const char *what)
{
    uint32_t times = 0;
    for (const char *at = text; (at = strstr(at, what)); at += strlen(what))
        ++times;
    return times;
}

/* The rest of the line that starts with this text. */
static void line_after(const char *text, const char *mark, char *line, size_t size)
{
    const char *found = strstr(text, mark);
    if (!found)
        fail_msg("no \"%s\" in: %s", mark, text);
    else
        snprintf(line, size, "%.*s", (int)strcspn(found + strlen(mark), "\n"), found + strlen(mark));
}

/* Two takes in neighbouring ranges are one singer's, and so is one in which no voice is heard: all get the presets of
 * the range of all of them. One that is named is what they get. */
static void takes_of_one_singer_get_one_voice(void **state)
{
    Bench *b = *state;
    save_singer(b, "low.wav", &(SingerSpec){.voice = SINGER_BARITONE, .seed = 1, .seconds = 15, .gain_db = -9});
    save_singer(b, "high.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 7, .seconds = 15, .gain_db = -9});
    save_take(b, "short.wav", WAV_24, RATE, 1, 0.3, -6.0);
    run_well(b, "--stages tone low.wav high.wav short.wav -o mixes");
    if (seeds_added() == 0) { /* each by itself would get another one */
        assert_int_equal(times_in(b->out, "nearest voice range: Baritone"), 1);
        assert_int_equal(times_in(b->out, "nearest voice range: Tenor"), 1);
    }
    char line[80], voice[16];
    line_after(b->out, "voice: ", line, sizeof line);
    snprintf(voice, sizeof voice, "%.*s", (int)strcspn(line, ","), line);
    snprintf(line, sizeof line, "nearest voice range: %s\n", voice);
    assert_true(times_in(b->out, line) > 0);
    snprintf(line, sizeof line, "voice: %s, the range that Check heard in all 3 takes together", voice);
    assert_int_equal(times_in(b->out, line), 3);
    assert_null(strstr(b->out, "differ by more"));
    snprintf(line, sizeof line, "--stages tone --voice %c%s low.wav high.wav -o named", tolower(voice[0]), voice + 1);
    run_well(b, line);
    snprintf(line, sizeof line, "voice: %s\n", voice);
    assert_int_equal(times_in(b->out, line), 2);
    prepare(b, "cmp mixes/low.wav named/low.wav && cmp mixes/high.wav named/high.wav");
}

/* A voice that speaks is no neighbour of one that sings. */
static void speech_and_song_are_set_apart(void **state)
{
    Bench *b = *state;
    save_singer(b, "sung.wav", &(SingerSpec){.voice = SINGER_SOPRANO, .seed = 5, .seconds = 15, .gain_db = -9});
    save_singer(b, "said.wav", &(SingerSpec){.voice = SINGER_SPOKEN_LOW, .seed = 6, .seconds = 15, .gain_db = -9});
    run_well(b, "--stages tone sung.wav said.wav -o mixes");
    assert_int_equal(times_in(b->out, "voice: Soprano, the range that Check heard; none was named"), 1);
    assert_int_equal(times_in(b->out, "voice: Spoken low, the range that Check heard; none was named"), 1);
    assert_int_equal(times_in(b->out, "differ by more than neighbours do"), 2);
}

/* What was planted is found, and nothing else; the worst comes first, and nothing is written. */
static void advice_is_about_what_is_wrong(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 15, .gain_db = -24, .pops = 6});
    run_well(b, "--advise in.wav");
    assert_int_equal(files_in(b, "."), 1);
    const char *found[] = {strstr(b->out, "\nPopping\n"), strstr(b->out, "\nToo quiet\n")};
    if (!found[0] || !found[1] || (strstr(b->out, "verdict: too quiet") != NULL) != (found[1] < found[0]))
        fail_msg("%s", b->out);
    assert_true(number_after(b->out, "\n       ! pops: ", NULL) >= 2.0); /* "1 pops" would not read well */
    assert_non_null(strstr(b->out, "at the source  Use a pop filter"));
    assert_non_null(strstr(b->out, "then           Trim brings the voice up"));
    assert_null(strstr(b->out, "\nHum\n"));
    assert_null(strstr(b->out, "\nClipped\n"));
    assert_null(strstr(b->out, "levels in dB"));
}

/* --advise and the table tell the low cut that was found, as high as the lowest note that was sung allows, and when
 * none is sure. */
static void the_low_cut_is_told(void **state)
{
    Bench *b = *state;
    SingerSpec spec = {.voice = SINGER_BARITONE, .seed = 5, .seconds = 15};
    SingerTake truth;
    assert_true(singer_sing(&spec, &truth));
    const double wanted = low_cut_for(truth.lowest_hz, 3);
    singer_free(&truth);
    save_singer(b, "in.wav", &spec);
    run_well(b, "--advise in.wav");
    figure_within("Suite", "--advise, a baritone: low cut told", number_after(b->out, "low cut        ", NULL), wanted,
                  0.06 * wanted, "Hz", "requirement: a semitone");
    run_well(b, "--stages tone in.wav -o out.wav");
    figure_within("Suite", "render's table, a baritone: low cut told", number_after(b->out, "low cut at ", NULL),
                  wanted, 0.06 * wanted, "Hz", "requirement: a semitone");
    assert_non_null(strstr(b->out, "18 dB per octave: found\n"));
    spec.seconds = 5;
    save_singer(b, "in.wav", &spec);
    run_well(b, "--advise in.wav");
    assert_non_null(strstr(b->out, "  low cut        60 Hz, under every voice: no note is sure in "));
    run_well(b, "--replace --stages tone in.wav -o out.wav");
    assert_non_null(strstr(b->out, "low cut at 60 Hz, 18 dB per octave: under every voice, as no note is sure\n"));
    assert_non_null(strstr(b->out, "no dip: nothing stood out for sure in "));
}

/* Semitones between two frequencies. */
static double semitones(double a, double b)
{
    return 12.0 * fabs(log2(a / b));
}

/* A resonance that was planted is told with its place and its height, and what to do about it; the table, which says
 * what the plug-in did in the chain, agrees. */
static void resonances_are_told(void **state)
{
    Bench *b = *state;
    char line[256], heard[64];
    const SingerSpec spec = {.voice = SINGER_BARITONE, .seed = 31, .seconds = 25, .boxy = {{360, 8, 3}}};
    save_singer(b, "in.wav", &spec);
    run_well(b, "--advise in.wav");
    line_after(b->out, "Box: ", line, sizeof line); /* with another seed there may be one before it */
    figure_at_most("Suite", "--advise: a resonance at 360 Hz is told off by",
                   semitones(strtod(line, NULL), spec.boxy[0].hz), 1.0, "semitones",
                   "ours; required: 2; wide: this one happens to be met, with other seeds up to 0.8");
    assert_non_null(strstr(line, " % sure; worth a dip of 5.0 dB")); /* Tone's default; 60 to 80 % of 8 */
    assert_non_null(strstr(b->out, "\n  at the source  Sing the line again"));
    assert_non_null(strstr(b->out, "\n                 Box: away from walls"));
    if (seeds_added() == 0) { /* what is not found is not told what to do about */
        assert_null(strstr(b->out, "Boom"));
        assert_null(strstr(b->out, "Mud"));
    }
    assert_null(strstr(b->out, "resonances     no dip"));
    snprintf(heard, sizeof heard, "a resonance at %.*s,", (int)strcspn(line, ","), line);
    run_well(b, "--stages tone in.wav -o out.wav");
    if (!strstr(b->out, heard))
        fail_msg("no \"%s\" in: %s", heard, b->out);
}

/* Two of them: the lower one first, each with what is to be done about it. One that is no higher than a dip is deep is
 * left to the dip. */
static void each_resonance_has_its_own_advice(void **state)
{
    Bench *b = *state;
    char line[256];
    save_singer(b, "in.wav",
                &(SingerSpec){.voice = SINGER_BASS, .seed = 33, .seconds = 30, .boxy = {{820, 9, 4}, {205, 4, 3}}});
    run_well(b, "--advise in.wav");
    const char *boom = strstr(b->out, "Boom: 2"), *honk = strstr(b->out, "Honk: ");
    if (!boom || !honk || boom > honk)
        fail_msg("%s", b->out);
    assert_non_null(strstr(b->out, "Boom: no closer"));
    assert_non_null(strstr(b->out, "Honk: sing a little past"));
    assert_null(strstr(b->out, "Mud"));
    line_after(b->out, "Boom: 2", line, sizeof line);
    if (!(number_after(line, "a dip of ", NULL) < 5.0) || strstr(line, "for the source"))
        fail_msg("%s", b->out);
}

/* Where this voice's s is strongest, as the table has it. */
static void the_sibilance_is_told(void **state)
{
    Bench *b = *state;
    const SingerSpec spec = {.voice = SINGER_ALTO, .seed = 34, .seconds = 30, .sibilant_hz = 7000};
    save_singer(b, "in.wav", &spec);
    run_well(b, "--advise in.wav");
    const double told = 1000.0 * number_after(b->out, "\n  sibilance      strongest at ", NULL);
    figure_at_most("Suite", "--advise, an s at 7 kHz: told off by", semitones(told, spec.sibilant_hz), 4.0, "semitones",
                   "requirement: a third of an octave");
    run_well(b, "--stages esses in.wav -o out.wav");
    assert_true(told == 1000.0 * number_after(b->out, "their centre at ", NULL));
}

/* What is learned goes up by 30 dB at most. */
static void a_target_out_of_reach_is_told(void **state)
{
    Bench *b = *state;
    for (int far = 0; far < 2; ++far) {
        save_singer(b, "in.wav",
                    &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 12, .gain_db = far ? -36 : -20});
        for (int chain = 0; chain < 2; ++chain) {
            run_well(b, chain ? "--replace --voice none --stages chain --report page.html in.wav -o out.wav"
                              : "--replace --voice none --stages trim --report page.html in.wav -o out.wav");
            assert_int_equal(strstr(b->out, "+30.0 dB of gain, to bring ") != NULL, far);
            assert_int_equal(strstr(b->out, "less than was asked for: by itself it goes no higher ") != NULL, far);
            prepare(b, far ? "grep -q 'by itself it goes up by 30 dB at most' page.html"
                           : "! grep -q 'by itself it goes' page.html");
        }
    }
}

/* What too little was heard for is not told as found. */
static void too_quiet_and_too_short_are_told(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 12, .gain_db = -53});
    run_well(b, "--advise in.wav");
    assert_non_null(strstr(b->out, "Is in.wav usable? Too quiet to judge: record it again with more gain.\n"));
    save_singer(b, "short.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 1.6});
    run_well(b, "--stages compressor,esses short.wav -o out.wav");
    assert_non_null(strstr(b->out, "nothing is turned down until a second of voice is heard, 2.5:1\n"));
    assert_non_null(strstr(b->out, "none is caught: too few were heard that last long enough to tell their centre, "));
    assert_null(strstr(b->out, "reduction where the voice is loud"));
}

/* Check counts to 65535: a count that stands there is told as such, and no other is. */
static void a_count_at_its_ceiling_is_told(void **state)
{
    Bench *b = *state;
    enum { N = 10 * RATE };
    Audio a = every_take(N, RATE);
    for (uint32_t k = 0; k < N; ++k)
        a.channel[0][k] = fminf(fmaxf(200.f * a.channel[0][k], -1.f), 1.f);
    save(b, "in.wav", WAV_24, RATE, 1, a.channel[0], N);
    run_well(b, "--advise in.wav");
    assert_non_null(strstr(b->out, "clipped samples: more than 65 thousand\n"));
    assert_non_null(strstr(b->out, "More than 65 thousand samples sit flat"));
    run_well(b, "--stages trim in.wav -o out.wav");
    assert_non_null(strstr(b->out, "clipped samples: more than 65 thousand\n"));
    for (uint32_t k = 0; k < 50000; ++k)
        a.channel[0][k] = k / 50 % 2 ? 1.f : -1.f;
    save(b, "in.wav", WAV_24, RATE, 1, a.channel[0], 50000);
    audio_free(&a);
    run_well(b, "--replace --stages trim in.wav -o out.wav");
    assert_non_null(strstr(b->out, "clipped samples: 50000\n"));
    assert_null(strstr(b->out, "more than 65"));
}

static void advice_knows_when_there_is_none_to_give(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 15, .hiss_db = -60});
    run_well(b, "--advise in.wav");
    if (strncmp(b->out, "Is in.wav usable? Ready.\n", 25) != 0 || !strstr(b->out, "verdict: ready\n") ||
        !strstr(b->out, "\nNothing to put right: the take is ready") ||
        !strstr(b->out, "\n  resonances     no dip: nothing stood out for sure in 1") ||
        strstr(b->out, "\nResonances\n"))
        fail_msg("%s", b->out);
    /* Rests without a sound in them tell no noise. */
    save_singer(b, "still.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 15});
    run_well(b, "--advise still.wav");
    if (strncmp(b->out, "Is still.wav usable? Nothing found so far; noise not told: too few rests.\n", 74) != 0 ||
        !strstr(b->out, "verdict: nothing found so far; noise not told: too few rests\n") ||
        !strstr(b->out, "\nNothing found so far to put right; noise not told: too few rests.") ||
        strstr(b->out, "ready"))
        fail_msg("%s", b->out);
    save_singer(b, "still.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 8, .gain_db = -20});
    run_well(b, "--advise still.wav");
    if (strncmp(b->out, "Is still.wav usable? Usable.\n", 29) != 0 ||
        !strstr(b->out, "verdict: too quiet; noise not told: too few rests\n"))
        fail_msg("%s", b->out);
    const float silence[1000] = {0};
    save(b, "in.wav", WAV_24, RATE, 1, silence, 1000);
    run_well(b, "--advise in.wav");
    assert_int_equal(b->status, ERROR_NO_VOICE);
    assert_non_null(strstr(b->out, "No voice was heard in it"));
    assert_non_null(strstr(b->out, "\nThe take is silent: see that this is the vocal's track"));
    assert_null(strstr(b->out, "the chain sets"));
}

/* ---- The demo ---- */

/* As `make demo VOCAL=...` runs it, in a build folder that holds these programs and nothing else. */
static void the_demo_takes_any_take(void **state)
{
    Bench *b = *state;
    char command[4096], build[3000], here[900];
    build_folder(build, sizeof build);
    snprintf(command, sizeof command, "mkdir '%s/build' && ln -s '%s/render' '%s/build/'", b->folder, build, b->folder);
    assert_int_equal(shell(command), 0);
    save_take(b, "-my take's.wav", WAV_24, 44100, 2, 4.0, -6.0);
    prepare(b, "echo 'just words' >words.wav");
    assert_non_null(getcwd(here, sizeof here));
    snprintf(command, sizeof command, "ln -s '%s/tests/harness/demo.sh' '%s/demo.sh'", here, b->folder);
    assert_int_equal(shell(command), 0);
    prepare(b, "sh demo.sh build \"-my take's.wav\" >.told && grep -q \"^-my take's.wav: 0:04.0\" .told && "
               "grep -q 'levels in dB' build/demo/report.txt && cp build/demo/mixed.wav kept.wav");
    /* Page and what is to be done next name the take, and that line works once the take is another. */
    prepare(b, "grep -q \"<title>-my take\" build/demo/report.html && "
               "line=$(grep -m1 -e '^     build/render --replace' .told) && eval \"$line\" >.again; test $? -le 13 && "
               "grep -q 'The report is build/demo/report.html' .again");
    assert_int_equal(files_in(b, "build/demo"), 5);
    /* The demo's own files are takes like any other, and stay. */
    prepare(b, "cp -r build/demo was && sh demo.sh build build/demo/mixed.wav alto >.told && diff -r build/demo was && "
               "grep -q 'build/demo-2/mixed.wav' .told && grep -q 'voice: Alto' build/demo-2/report.txt");
    assert_int_equal(files_in(b, "build/demo-2"), 5);
    /* What goes wrong leaves nothing; a name that is taken, be it by a link that leads nowhere, is left alone. */
    prepare(b, "! sh demo.sh build words.wav 2>.told && ! sh demo.sh build kept.wav basso 2>>.told && "
               "test $(wc -l <.told) = 2 && diff -r build/demo was && ln -s nowhere build/demo-3 && "
               "sh demo.sh build kept.wav >.told && test -L build/demo-3 && ! test -e build/demo-3");
    assert_int_equal(files_in(b, "build/demo-4"), 5);
    assert_int_equal(files_in(b, "build"), 5); /* and the link, and render */
}

/* ---- Saved presets ---- */

/* A world of its own that knows the plug-ins and a preset bundle, as a host does that finds both in its path. */
typedef struct {
    LilvWorld *world;
    Host *host; /* for its features alone */
    LV2_URID_Map *map;
} Fresh;

static void load_folder(LilvWorld *world, const char *folder)
{
    char slashed[300];
    snprintf(slashed, sizeof slashed, "%s/", folder);
    LilvNode *uri = lilv_new_file_uri(world, NULL, slashed);
    lilv_world_load_bundle(world, uri);
    lilv_node_free(uri);
}

static Fresh fresh_open(const Bench *b, const char *presets)
{
    char path[256];
    Error e;
    Fresh f = {lilv_world_new(), NULL, NULL};
    snprintf(path, sizeof path, "%s/linctus.lv2", every_build());
    f.host = host_open(path, &e);
    assert_non_null(f.host);
    assert_string_equal(host_features(f.host)[0]->URI, LV2_URID__map);
    f.map = host_features(f.host)[0]->data;
    load_folder(f.world, path);
    snprintf(path, sizeof path, "%s/%s", b->folder, presets);
    load_folder(f.world, path);
    return f;
}

static void fresh_close(Fresh *f)
{
    lilv_world_free(f->world);
    host_close(f->host);
}

/* The preset of this label that the world relates to a plug-in. */
static LilvState *fresh_preset(const Fresh *f, const LilvPlugin *plugin, const char *label)
{
    LilvNode *kind = lilv_new_uri(f->world, LV2_PRESETS__Preset);
    LilvNodes *presets = lilv_plugin_get_related(plugin, kind);
    LilvState *found = NULL;
    LILV_FOREACH(nodes, i, presets)
    {
        const LilvNode *preset = lilv_nodes_get(presets, i);
        lilv_world_load_resource(f->world, preset);
        LilvState *state = lilv_state_new_from_world(f->world, f->map, preset);
        const char *its = state ? lilv_state_get_label(state) : NULL;
        if (its && !strcmp(its, label) && !found)
            found = state;
        else
            lilv_state_free(state);
    }
    lilv_nodes_free(presets);
    lilv_node_free(kind);
    return found;
}

typedef struct {
    const LilvPlugin *plugin;
    LilvInstance *instance;
    float control[64];
} Loaded;

static uint32_t port_at(const Fresh *f, const Loaded *l, const char *symbol)
{
    LilvNode *name = lilv_new_string(f->world, symbol);
    const LilvPort *port = lilv_plugin_get_port_by_symbol(l->plugin, name);
    lilv_node_free(name);
    assert_non_null(port);
    return lilv_port_get_index(l->plugin, port);
}

typedef struct {
    const Fresh *fresh;
    Loaded *loaded;
} Setter;

static void set_loaded(const char *symbol, void *data, const void *value, uint32_t size, uint32_t type)
{
    const Setter *s = data;
    assert_int_equal(size, sizeof(float));
    assert_int_equal(type, host_urid(s->fresh->host, LV2_ATOM__Float));
    memcpy(&s->loaded->control[port_at(s->fresh, s->loaded, symbol)], value, sizeof(float));
}

static Loaded fresh_load(const Fresh *f, const char *uri, const char *label)
{
    Loaded l = {0};
    LilvNode *node = lilv_new_uri(f->world, uri);
    l.plugin = lilv_plugins_get_by_uri(lilv_world_get_all_plugins(f->world), node);
    lilv_node_free(node);
    assert_non_null(l.plugin);
    assert_true(lilv_plugin_get_num_ports(l.plugin) <= 64);
    lilv_plugin_get_port_ranges_float(l.plugin, NULL, NULL, l.control);
    l.instance = lilv_plugin_instantiate(l.plugin, RATE, host_features(f->host));
    LilvState *state = fresh_preset(f, l.plugin, label);
    if (!state)
        fail_msg("%s has no preset %s", uri, label);
    lilv_state_restore(state, l.instance, set_loaded, &(Setter){f, &l}, 0, host_features(f->host));
    lilv_state_free(state);
    return l;
}

/* x becomes what the plug-in makes of it, as late as the plug-in is. Returns its latency. */
static uint32_t run_loaded(const Fresh *f, Loaded *l, float *x, uint32_t n)
{
    float *in = every_floats(n);
    memcpy(in, x, n * sizeof *x);
    for (uint32_t p = 0; p < lilv_plugin_get_num_ports(l->plugin); ++p)
        lilv_instance_connect_port(l->instance, p, &l->control[p]);
    const uint32_t in_at = port_at(f, l, "in"), out_at = port_at(f, l, "out");
    lilv_instance_activate(l->instance);
    for (uint32_t at = 0; at < n; at += 256) {
        lilv_instance_connect_port(l->instance, in_at, in + at);
        lilv_instance_connect_port(l->instance, out_at, x + at);
        lilv_instance_run(l->instance, n - at < 256 ? n - at : 256);
    }
    lilv_instance_free(l->instance);
    free(in);
    return (uint32_t)l->control[port_at(f, l, "latency")];
}

enum { LATE = 16384 /* more than the chain is late */ };

/* The take through the saved presets, one after the other. at_once: each hears what the one before has put out, as late
 * as that is; otherwise the latency is taken off in between, as render does it. */
static float *through_presets(const Fresh *f, const Sound *take, bool at_once)
{
    static const char *const uris[] = {"urn:linctus:trim", "urn:linctus:tone", "urn:linctus:compressor",
                                       "urn:linctus:esses"};
    float *x = every_floats(take->n + LATE);
    memcpy(x, take->x, take->n * sizeof *x);
    uint32_t late = 0;
    for (size_t u = 0; u < sizeof uris / sizeof *uris; ++u) {
        Loaded l = fresh_load(f, uris[u], "lead");
        late += run_loaded(f, &l, x, take->n + LATE);
        if (!at_once || u + 1 == sizeof uris / sizeof *uris) {
            memmove(x, x + late, (take->n + LATE - late) * sizeof *x);
            late = 0;
        }
    }
    return x;
}

/* Any host that loads the presets has the mix that render made: each plug-in to the bit. In a row each hears the take
 * as late as those before it are, so that its steps fall on other samples: nearly the same. */
static void a_saved_preset_makes_the_same_mix(void **state)
{
    Bench *b = *state;
    save_singer(
        b, "in.wav",
        &(SingerSpec){
            .voice = SINGER_ALTO, .seed = 5, .seconds = 15, .gain_db = -9, .esses_db = 12, .boxy = {{330, 7, 3}}});
    run_well(b,
             "--float --stages trim,tone,compressor,esses --set tone.dips_placed_by=listening --save-preset lead.lv2 "
             "in.wav -o out.wav");
    assert_non_null(strstr(b->out, "lead.lv2: a preset \"lead\""));
    assert_int_equal(files_in(b, "lead.lv2"), 9);
    Fresh f = fresh_open(b, "lead.lv2");
    Sound in = sound_load(b, "in.wav"), out = sound_load(b, "out.wav");
    assert_int_equal(in.n, out.n);
    float *each = through_presets(&f, &in, false), *row = through_presets(&f, &in, true);
    assert_memory_equal(each, out.x, out.n * sizeof *out.x);
    double off = 0.0, all = 0.0;
    for (uint32_t k = 0; k < out.n; ++k) {
        off += ((double)row[k] - (double)out.x[k]) * ((double)row[k] - (double)out.x[k]);
        all += (double)out.x[k] * (double)out.x[k];
    }
    figure_at_most("Suite", "saved presets in a row, each as late as those before it: off render's mix",
                   power_to_db(off / all), -60.0, "dB",
                   "our own; wide: where Esses cuts or a dip moves, cells begin elsewhere");
    free(each);
    free(row);
    sound_free(&in);
    sound_free(&out);
    fresh_close(&f);
}

/* A host that loads the controls alone still gets the threshold that was found. */
static void a_saved_preset_holds_found_figures_by_hand(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 2, 4.0, -6.0);
    run_well(b, "--stages compressor --save-preset lead in.wav -o out.wav");
    const double threshold = number_after(b->out, "threshold at ", NULL);
    Fresh f = fresh_open(b, "lead.lv2");
    Loaded l = fresh_load(&f, "urn:linctus:compressor-stereo", "lead");
    assert_true(fabs((double)l.control[port_at(&f, &l, "threshold")] - threshold) < 0.051);
    assert_true(l.control[port_at(&f, &l, "learn")] == 0.f);
    lilv_instance_free(l.instance);
    fresh_close(&f);
    assert_int_equal(run(b, "--stages compressor --save-preset lead in.wav -o again.wav"), ERROR_WRITE);
    assert_non_null(strstr(b->err, "lead.lv2 is there already"));
    assert_false(is_there(b, "again.wav"));
}

/* The same singer's next song: the preset's controls, and a gain that is learned from that song. */
static void a_saved_preset_is_a_beginning(void **state)
{
    Bench *b = *state;
    save_take(b, "one.wav", WAV_24, RATE, 1, 4.0, -6.0);
    save_take(b, "two.wav", WAV_24, RATE, 1, 4.0, -16.0);
    assert_int_equal(run_after(b, "HOME=$PWD",
                               "--stages trim,tone --set trim.target=-21 --set tone.air_lift=1.5 --voice none "
                               "--repair hum,pops --save-preset lead --install-preset one.wav -o one-mix.wav"),
                     0);
    assert_non_null(strstr(b->out, ": a preset \"lead\" of hum, pops, trim and tone, learned figures included\n"
                                   "  Chain has none of it"));
    assert_true(is_there(b, ".lv2/lead.lv2/manifest.ttl"));
    const double gain = number_after(b->out, "trim\n  heard  the voice at ", NULL);
    assert_int_equal(run_after(b, "HOME=$PWD", "--from-preset lead --stages trim,tone two.wav -o two-mix.wav"), 0);
    assert_non_null(strstr(b->out, "  it also holds hum,pops: to have that too, add --repair hum,pops\n"));
    assert_non_null(strstr(b->out, "to bring the voice to -21.0 dB"));
    assert_non_null(strstr(b->out, "1.5 dB of air"));
    assert_true(fabs(number_after(b->out, "trim\n  heard  the voice at ", NULL) - gain + 10.0) < 0.2);
    run_well(b,
             "--from-preset .lv2/lead.lv2 --set trim.target=-19 --stages trim --repair hum,pops two.wav -o three.wav");
    assert_null(strstr(b->out, "also holds"));
    assert_non_null(strstr(b->out, "to bring the voice to -19.0 dB"));
    assert_int_equal(run_after(b, "HOME=$PWD", "--from-preset nobody --stages trim two.wav -o four.wav"), ERROR_FILE);
    assert_non_null(strstr(b->err, "no nobody.lv2 here, nor in ~/.lv2"));
    assert_false(is_there(b, "four.wav"));
    assert_int_equal(run_after(b, "HOME=$PWD", "--save-preset lead --install-preset --stages trim two.wav -o four.wav"),
                     ERROR_WRITE);
    assert_non_null(strstr(b->err, "lead.lv2 is there already"));
}

/* Its row comes with it: the repairs, and Chain for the five. What is named on the line goes before. */
static void a_saved_preset_brings_its_row(void **state)
{
    Bench *b = *state;
    save_take(b, "one.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(
        b,
        "--stages trim,tone --set trim.target=-21 --voice none --repair pops,hum --save-preset row one.wav -o 1.wav");
    run_well(b, "--from-preset row one.wav -o 2.wav");
    assert_non_null(
        strstr(b->out, "  its plug-ins, in their usual order: hum, pops, trim, tone; --repair none leaves "));
    prepare(b, "cmp 1.wav 2.wav");
    run_well(b, "--from-preset row --repair none one.wav -o 3.wav");
    assert_non_null(strstr(b->out, "  its plug-ins, in their usual order: trim, tone\n"));
    run_well(b, "--from-preset row --repair pops one.wav -o 4.wav");
    assert_non_null(strstr(b->out, ": pops, trim, tone; "));
    run_well(b, "--from-preset row --stages tone one.wav -o 5.wav");
    assert_non_null(strstr(b->out, "  it also holds hum,pops: to have that too, add --repair hum,pops\n"));
    run_well(b, "--stages chain --set chain.target=-23 --voice none --save-preset single one.wav -o 6.wav");
    run_well(b, "--from-preset single one.wav -o 7.wav");
    assert_non_null(strstr(b->out, "usual order: chain\n"));
    prepare(b, "cmp 6.wav 7.wav");
}

/* A stage listens while the one before it mixes, and what learns nothing mixes in the same pass: the chain is still its
 * stages one by one, to the bit, a reverb's tail in the middle too. */
static void the_chain_is_its_stages_one_by_one(void **state)
{
    static const struct {
        const char *stage[3], *set; /* set: for the second */
    } chains[] = {{{"trim", "compressor", "plate"}, ""},
                  {{"plate", "tone", "esses"}, ""},
                  {{"plate", "trim", "esses"}, "--set trim.learn=hold"}};
    Bench *b = *state;
    save_take(b, "0.wav", WAV_FLOAT, 44100, 2, 5.3, -6.0);
    for (size_t i = 0; i < sizeof chains / sizeof *chains; ++i) {
        const char *const *stage = chains[i].stage;
        char line[256];
        for (size_t k = 0; k < 3; ++k) {
            snprintf(line, sizeof line, "--replace --float --voice alto --stages %s %s %zu.wav -o %zu.wav", stage[k],
                     k == 1 ? chains[i].set : "", k, k + 1);
            run_well(b, line);
        }
        snprintf(line, sizeof line, "--replace --float --voice alto --stages %s,%s,%s %s 0.wav -o all.wav", stage[0],
                 stage[1], stage[2], chains[i].set);
        run_well(b, line);
        prepare(b, "cmp all.wav 3.wav");
    }
}

/* Where no stage learns and the voice is known, nobody listens, and no working copy is made: there would be no room for
 * one. The sound is that of a run in which Check listened. */
static void nobody_listens_where_nothing_learns(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 20.0, -6.0);
    save_take(b, "short.wav", WAV_24, RATE, 1, 0.2, -6.0); /* too short a one for Check to tell the voice */
    static const char *const held[] = {"--stages plate",
                                       "--stages trim,esses --set trim.enabled=off --set esses.learn=hold"};
    for (size_t i = 0; i < sizeof held / sizeof *held; ++i) {
        char line[256];
        snprintf(line, sizeof line, "--voice none %s short.wav -o 1.wav --replace", held[i]);
        assert_int_equal(run(b, line), ERROR_NONE); /* no voice was looked for */
        assert_non_null(strstr(b->out, "\ncheck was not asked, as no stage learns\n"));
        snprintf(line, sizeof line, "%s short.wav -o 2.wav --replace", held[i]);
        assert_int_equal(run(b, line), ERROR_NO_VOICE);
        assert_non_null(strstr(b->out, "\ncheck, of the take as it came\n"));
        prepare(b, "cmp 1.wav 2.wav");
    }
    /* The result has 2.9 MB, a copy would have 3.8. */
    const char *limit = "ulimit -f 6500 &&";
    assert_int_equal(run_after(b, limit, "--voice none --stages trim --set trim.learn=hold in.wav -o 3.wav"),
                     ERROR_NONE);
    assert_int_equal(run_after(b, limit, "--voice none --stages trim in.wav -o 4.wav"), ERROR_WRITE);
    assert_int_equal(run_after(b, "ulimit -f 10 &&", "--advise in.wav"), ERROR_NONE);
}

/* A stage that is on hold from the start has found nothing, and the table does not say that it has. */
static void on_hold_nothing_is_found(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 6, .seconds = 6});
    run_well(b, "--stages trim,compressor --set trim.learn=hold --set compressor.learn=hold in.wav -o out.wav");
    assert_non_null(strstr(b->out, "on hold from the start: nothing was learned"));
    assert_non_null(strstr(b->out, "nothing is turned down, as nothing was learned"));
    assert_null(strstr(b->out, "found for"));
    assert_null(strstr(b->out, "to bring the voice to"));
}

static void stages_run_in_the_order_given(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 1, 4.0, -6.0);
    run_well(b, "--stages tone,trim in.wav -o out.wav");
    const char *tone = strstr(b->out, "\ntone\n"), *trim = strstr(b->out, "\ntrim\n");
    assert_true(tone && trim && tone < trim);
}

/* Trim brings the voice where it is asked to, and says so: its own read-out, the harness's meter and the file agree. */
static void the_table_tells_the_truth(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 5, .seconds = 15, .gain_db = -9});
    run_well(b, "--float --stages trim --set trim.target=-20 in.wav -o out.wav");
    const char *after = NULL;
    const double heard = number_after(b->out, "the voice at ", NULL), gain = number_after(b->out, "  set    ", NULL);
    const double in = number_after(b->out, "\ntrim  ", &after), out = after ? strtod(after, NULL) : NAN;
    Sound file = sound_load(b, "in.wav"), mix = sound_load(b, "out.wav");
    assert_true(fabs(in - voice_level(&file)) < 0.06);
    assert_true(fabs(out - voice_level(&mix)) < 0.06);
    assert_true(fabs(heard - in) < 0.5);
    assert_true(fabs(heard + gain + 20.0) < 0.1);
    sound_free(&file);
    sound_free(&mix);
}

/* ---- Long takes, real takes ---- */

/* The same seconds over and over, so that this program needs no memory either. */
static void save_long(const Bench *b, const char *name, uint32_t times)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    SF_INFO info = {.samplerate = RATE, .channels = 1, .format = WAV_24};
    SNDFILE *f = sf_open(path, SFM_WRITE, &info);
    assert_non_null(f);
    Audio a = every_take(4 * RATE, RATE);
    for (uint32_t k = 0; k < times; ++k)
        sf_writef_float(f, a.channel[0], a.n);
    audio_free(&a);
    sf_close(f);
}

#if defined(__SANITIZE_ADDRESS__)
#define SANITIZED 1
#elif defined(__has_feature)
#define SANITIZED __has_feature(address_sanitizer)
#else
#define SANITIZED 0
#endif

/* Two minutes are 23 MB as float; the program, libraries and all, may take 24, with memory as a person's shell has it
 * (tests/run.sh has it kept). */
static void a_long_take_needs_no_memory(void **state)
{
    Bench *b = *state;
    if (SANITIZED) {
        print_message("The address sanitizer itself needs more than the limit.\n");
        skip();
        return;
    }
    save_long(b, "in.wav", 30);
    if (run_after(b, "unset MALLOC_MMAP_THRESHOLD_ MALLOC_TRIM_THRESHOLD_ && ulimit -v 24000 &&",
                  "--stages trim in.wav -o out.wav"))
        fail_msg("status %d: %s", b->status, b->err);
}

/* A voice that was recorded, not made. */
static void a_recording_becomes_a_mix(void **state)
{
    Bench *b = *state;
    Spoken s;
    if (!spoken_load(&s, "walk")) {
        skip();
        return;
    }
    save(b, "in.wav", WAV_24, (int)s.rate, 1, s.x, s.n);
    spoken_free(&s);
    run_well(b, "--voice 'spoken low' in.wav -o out.wav");
    fputs(b->out, stdout);
    const char *after = NULL;
    number_after(b->out, "\ntrim  ", &after);
    assert_true(after && fabs(strtod(after, NULL) + 20.0) < 1.0); /* the preset asks for -20 */
    Sound out = sound_load(b, "out.wav");
    assert_true(out.n > s.n && out.channels == 2);
    assert_true(voice_level(&out) > -28.0); /* the dips take some out of a voice of little else */
    for (uint32_t k = 0; k < 2 * out.n; ++k)
        assert_true(fabsf(out.x[k]) < 1.f);
    sound_free(&out);
}

/* Level of a phrase of the singer's, and of the rest behind it but for its edges, dB. */
static double level_between(const Sound *s, double from, double to)
{
    double sum = 0.0;
    uint32_t n = 0;
    for (uint32_t k = (uint32_t)(from * RATE); k < (uint32_t)(to * RATE) && k < s->n; ++k, ++n)
        sum += (double)s->x[k] * (double)s->x[k];
    return power_to_db(sum / n);
}

static void check_phrases(const SingerTake *t, const Sound *in, const Sound *out)
{
    double least = INFINITY, most = -INFINITY, lift = -INFINITY;
    for (uint32_t i = 0; i < t->phrase_count; ++i) {
        const double level = level_between(out, t->phrases[i].start, t->phrases[i].end);
        least = fmin(least, level);
        most = fmax(most, level);
    }
    for (uint32_t i = 0; i + 1 < t->phrase_count; ++i) {
        const double from = t->phrases[i].end + 0.25, to = t->phrases[i + 1].start - 0.15;
        lift = to > from ? fmax(lift, level_between(out, from, to) - level_between(in, from, to)) : lift;
    }
    figure_at_most("render", "--repair phrase: phrases planted 10 dB apart lie apart by", most - least, 2.0, "dB",
                   "requirement");
    figure_at_most("render", "--repair phrase: the rest that is lifted most", lift, 0.05, "dB",
                   "requirement: none; wide: measured in the sound");
}

/* One gain a phrase, as render knows the whole take; on hold it is the plug-in, which knows nothing yet. */
static void phrases_are_brought_together(void **state)
{
    Bench *b = *state;
    SingerTake t;
    static const double phrase_db[] = {-5.0, 5.0, 0.0, -2.0};
    const SingerSpec spec = {.voice = SINGER_MEZZO,
                             .seed = 3,
                             .seconds = 22,
                             .phrase_db = phrase_db,
                             .phrase_db_count = 4,
                             .hiss_db = -50.0};
    assert_true(singer_sing(&spec, &t));
    save_singer(b, "in.wav", &spec);
    run_well(b, "--bits float --repair phrase --stages trim --voice none --set trim.enabled=off in.wav -o out.wav");
    assert_non_null(strstr(b->out, " phrases brought from "));
    assert_non_null(strstr(b->out, "moved in rests alone, none of which was lifted"));
    Sound in = sound_load(b, "in.wav"), out = sound_load(b, "out.wav");
    check_phrases(&t, &in, &out);
    sound_free(&out);
    run_well(b, "--bits float --repair phrase --set phrase.learn=hold --stages trim --voice none "
                "--set trim.enabled=off in.wav -o held.wav");
    assert_null(strstr(b->out, "brought from"));
    out = sound_load(b, "held.wav");
    assert_memory_equal(in.x, out.x, in.n * sizeof(float));
    sound_free(&out);
    sound_free(&in);
    singer_free(&t);
}

/* Together they have one level: those of the softer take come up against those of the other. */
static void phrases_of_several_takes_are(void **state)
{
    Bench *b = *state;
    SingerSpec spec = {.voice = SINGER_ALTO, .seed = 4, .seconds = 12, .hiss_db = -50.0};
    save_singer(b, "loud.wav", &spec);
    spec.gain_db = -6.0;
    save_singer(b, "soft.wav", &spec);
    run_well(b, "--together --repair phrase --stages trim --voice none loud.wav soft.wav -o mixes");
    const double loud = number_after(strstr(b->out, "loud.wav: 2 phrases"), "by gains of ", NULL);
    const double soft = number_after(strstr(b->out, "soft.wav: 2 phrases"), "by gains of ", NULL);
    assert_true(soft > loud + 2.0);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        BENCH_TEST(errors_are_one_line_and_a_status),
        BENCH_TEST(a_full_disk_leaves_the_old_file),
        BENCH_TEST(a_signal_leaves_nothing),
        BENCH_TEST(help_and_list_tell),
        BENCH_TEST(lines_up_to_the_sample),
        BENCH_TEST(dither_keeps_what_lies_under_a_step),
        BENCH_TEST(the_mix_lines_up_too),
        BENCH_TEST(the_same_run_writes_the_same_bytes),
        BENCH_TEST(the_tail_is_kept),
        BENCH_TEST(apart_sums_to_the_mix),
        BENCH_TEST(together_keeps_the_distance),
        BENCH_TEST(together_means_all_of_them),
        BENCH_TEST(takes_of_any_kind_go_together),
        BENCH_TEST(all_takes_or_none),
        BENCH_TEST(numbers_that_are_none_are_told),
        BENCH_TEST(damage_is_told),
        BENCH_TEST(channels_that_cancel_are_told_and_heard),
        BENCH_TEST(a_late_side_is_told),
        BENCH_TEST(a_click_track_that_leaks_is_told),
        cmocka_unit_test(random_clicks_are_not_regular),
        cmocka_unit_test(clicks_of_an_hour),
        cmocka_unit_test(a_take_of_two_levels),
        BENCH_TEST(talk_before_a_song_is_told),
        cmocka_unit_test(a_softer_beginning),
        BENCH_TEST(tone_does_not_hear_talk),
        cmocka_unit_test(steady_tones_are_not_late),
        BENCH_TEST(tone_does_not_hear_a_comb),
        BENCH_TEST(chain_does_not_hear_a_comb),
        BENCH_TEST(a_voice_on_one_side_is_told),
        BENCH_TEST(rumble_that_counts_as_voice_is_told),
        BENCH_TEST(silence_is_no_error),
        BENCH_TEST(a_preset_of_nothing_learned),
        BENCH_TEST(less_is_not_none),
        BENCH_TEST(one_sample_is_a_take),
        BENCH_TEST(clipping_is_told),
        BENCH_TEST(what_was_clipped_before_is_told),
        BENCH_TEST(a_cut_off_file_is_told),
        BENCH_TEST(a_cut_off_file_of_any_kind_is_told),
        BENCH_TEST(a_cut_off_mp3_is_told),
        BENCH_TEST(an_mp3_without_a_count_is_read_to_its_end),
        BENCH_TEST(settings_come_after_the_voice),
        BENCH_TEST(names_and_units_are_typed_as_they_are_read),
        BENCH_TEST(the_voice_is_heard),
        BENCH_TEST(takes_of_one_singer_get_one_voice),
        BENCH_TEST(speech_and_song_are_set_apart),
        BENCH_TEST(advice_is_about_what_is_wrong),
        BENCH_TEST(advice_knows_when_there_is_none_to_give),
        BENCH_TEST(the_low_cut_is_told),
        BENCH_TEST(resonances_are_told),
        BENCH_TEST(each_resonance_has_its_own_advice),
        BENCH_TEST(the_sibilance_is_told),
        BENCH_TEST(a_target_out_of_reach_is_told),
        BENCH_TEST(too_quiet_and_too_short_are_told),
        BENCH_TEST(a_count_at_its_ceiling_is_told),
        BENCH_TEST(the_demo_takes_any_take),
        BENCH_TEST(a_saved_preset_makes_the_same_mix),
        BENCH_TEST(a_saved_preset_holds_found_figures_by_hand),
        BENCH_TEST(a_saved_preset_is_a_beginning),
        BENCH_TEST(a_saved_preset_brings_its_row),
        BENCH_TEST(the_chain_is_its_stages_one_by_one),
        BENCH_TEST(nobody_listens_where_nothing_learns),
        BENCH_TEST(on_hold_nothing_is_found),
        BENCH_TEST(stages_run_in_the_order_given),
        BENCH_TEST(the_table_tells_the_truth),
        BENCH_TEST(phrases_are_brought_together),
        BENCH_TEST(phrases_of_several_takes_are),
        BENCH_TEST(a_long_take_needs_no_memory),
        BENCH_TEST(a_recording_becomes_a_mix),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
