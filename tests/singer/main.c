/* The program `singer`: writes an invented take as a WAV file (32-bit float, mono) and the truth about it as text. */
#include "singer.h"

#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXIT_OK, EXIT_USAGE = 2, EXIT_CANNOT_SING = 3, EXIT_CANNOT_WRITE = 4 };

static const char usage[] =
    "usage: singer [OPTION]... OUT.wav\n"
    "Sings an invented, wordless take into OUT.wav (32-bit float, mono) and tells the truth about it in OUT.txt.\n"
    "\n"
    "What is sung\n"
    "  --voice NAME      bass baritone tenor alto mezzo soprano spoken-low spoken-high (baritone)\n"
    "  --seed N          another take (1)\n"
    "  --rate HZ         sample rate, 8000 to 192000 (48000)\n"
    "  --seconds S       length without added rests, 0.5 to 21600 (30)\n"
    "  --level DB        RMS level of the faultless voice (-18)\n"
    "  --transpose N     semitones\n"
    "  --ladder          every semitone of the range in turn, instead of phrases\n"
    "  --vowels          no consonants\n"
    "  --s-peak HZ       peak of this singer's s, 4000 to 9000\n"
    "\n"
    "Faults (noises are in dB to the faultless voice: a boxy or uneven one is louder or softer than that)\n"
    "  --gain DB         the whole recording too quiet or too hot\n"
    "  --clip            clip at full scale (without it, a hot take goes past full scale: loud)\n"
    "  --uneven DB       phrases differ by up to this to each side\n"
    "  --rests S         seconds added to each rest between phrases; the take gets longer\n"
    "  --boxy HZ:DB[:Q]  a resonance, up to three times (Q 4)\n"
    "  --esses DB[:SHARE]  this share of the sibilants is louder by DB (0.3)\n"
    "  --pops N[:DB]     N plosives pop, their peak DB over the voice (15)\n"
    "  --hum HZ[:DB[:DRIFT]]  mains hum (-40); DRIFT: swing of its frequency in per cent\n"
    "  --breath DB       breath before each phrase\n"
    "  --clicks N[:DB]   mouth clicks, their peak DB over the voice (-6)\n"
    "  --room S[:DB]     a room with this decay time, its sound DB to the direct sound (-6)\n"
    "  --hiss DB         room noise and hiss\n"
    "\n"
    "  --clean FILE.wav  writes the voice alone, too: the same voice at the same level, without room and noises\n"
    "  --help            this text\n"
    "\n"
    "Exit status: 0 done, 2 wrong usage, 3 cannot be sung (out of range, no memory), 4 cannot write.\n";

typedef struct {
    SingerSpec spec;
    int bells;
    const char *out, *clean;
} Wish;

/* Reads up to `most` numbers, split by colons. How many were read; 0 when the text is anything else. */
static int numbers(const char *text, double *x, int most)
{
    for (int count = 0; count < most;) {
        char *end;
        errno = 0;
        x[count++] = strtod(text, &end);
        if (end == text || errno || !isfinite(x[count - 1]))
            return 0;
        if (*end == '\0')
            return count;
        if (*end != ':')
            return 0;
        text = end + 1;
    }
    return 0;
}

static bool count_from(double x, unsigned *count)
{
    if (x < 0 || x > 1e6 || x != floor(x))
        return false;
    *count = (unsigned)x;
    return true;
}

/* Every option that takes a value. false: the value is not one. */
static bool take_value(Wish *w, const char *option, const char *value, bool *known)
{
    SingerSpec *s = &w->spec;
    double x[3] = {0};
    *known = true;
    if (!strcmp(option, "--voice"))
        return singer_voice_named(value, &s->voice);
    if (!strcmp(option, "--clean"))
        return (w->clean = value) && *value;
    if (!strcmp(option, "--boxy")) {
        if (w->bells == SINGER_BOXY || numbers(value, x, 3) < 2)
            return false;
        s->boxy[w->bells++] = (SingerBell){x[0], x[1], x[2]};
        return true;
    }
    if (!strcmp(option, "--seed")) {
        char *end;
        errno = 0;
        s->seed = strtoull(value, &end, 10);
        return end != value && *end == '\0' && !errno && *value != '-';
    }
    if (!strcmp(option, "--pops"))
        return numbers(value, x, 2) && (s->pop_db = x[1], count_from(x[0], &s->pops));
    if (!strcmp(option, "--clicks"))
        return numbers(value, x, 2) && (s->click_db = x[1], count_from(x[0], &s->clicks));

    const struct {
        const char *name;
        double *to[3];
    } options[] = {
        {"--rate", {&s->rate}},
        {"--seconds", {&s->seconds}},
        {"--level", {&s->level_db}},
        {"--transpose", {&s->transpose}},
        {"--s-peak", {&s->sibilant_hz}},
        {"--gain", {&s->gain_db}},
        {"--uneven", {&s->uneven_db}},
        {"--rests", {&s->rest_seconds}},
        {"--esses", {&s->esses_db, &s->esses_share}},
        {"--hum", {&s->hum_hz, &s->hum_db, &s->hum_drift}},
        {"--breath", {&s->breath_db}},
        {"--room", {&s->room_seconds, &s->room_db}},
        {"--hiss", {&s->hiss_db}},
    };
    for (size_t i = 0; i < sizeof options / sizeof *options; i++) {
        if (strcmp(option, options[i].name) != 0)
            continue;
        int most = 0;
        while (most < 3 && options[i].to[most])
            most++;
        const int count = numbers(value, x, most);
        for (int k = 0; k < count; k++)
            *options[i].to[k] = x[k];
        return count > 0;
    }
    *known = false;
    return true;
}

static int complain(const char *what, const char *which)
{
    fprintf(stderr, "singer: %s%s%s (see singer --help)\n", what, *which ? ": " : "", which);
    return EXIT_USAGE;
}

static bool take_flag(Wish *w, const char *option)
{
    bool *flag = !strcmp(option, "--clip")     ? &w->spec.clip
                 : !strcmp(option, "--ladder") ? &w->spec.ladder
                 : !strcmp(option, "--vowels") ? &w->spec.no_consonants
                                               : NULL;
    if (flag)
        *flag = true;
    return flag != NULL;
}

static int read_arguments(Wish *w, int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        if (take_flag(w, argv[i]))
            continue;
        if (argv[i][0] != '-') {
            if (w->out)
                return complain("more than one output", argv[i]);
            w->out = argv[i];
            continue;
        }
        bool known;
        const bool good = take_value(w, argv[i], i + 1 < argc ? argv[i + 1] : "", &known);
        if (!known)
            return complain("unknown option", argv[i]);
        if (i + 1 == argc)
            return complain("no value for", argv[i]);
        if (!good) {
            fprintf(stderr, "singer: %s cannot be '%s' (see singer --help)\n", argv[i], argv[i + 1]);
            return EXIT_USAGE;
        }
        i++;
    }
    return w->out ? EXIT_OK : complain("no output named", "");
}

/* A file that could not be written whole is removed. */
static int write_wav(const char *path, const SingerTake *take, const float *x)
{
    SF_INFO info = {.samplerate = (int)lrint(take->rate), .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file) {
        fprintf(stderr, "singer: cannot write %s: %s\n", path, sf_strerror(NULL));
        return EXIT_CANNOT_WRITE;
    }
    bool good = sf_writef_float(file, x, take->frames) == (sf_count_t)take->frames;
    good = sf_close(file) == 0 && good;
    if (good)
        return EXIT_OK;
    remove(path);
    fprintf(stderr, "singer: cannot write all of %s\n", path);
    return EXIT_CANNOT_WRITE;
}

static void tell_spans(FILE *f, const char *name, const SingerSpan *spans, size_t count)
{
    for (size_t i = 0; i < count; i++)
        fprintf(f, "%s %.4f %.4f %.2f\n", name, spans[i].start, spans[i].end, spans[i].db);
}

static void tell_sounds(FILE *f, const char *name, const SingerSound *sounds, size_t count)
{
    for (size_t i = 0; i < count; i++)
        fprintf(f, "%s %.4f %.4f %.2f %s %.0f\n", name, sounds[i].start, sounds[i].end, sounds[i].raised_db,
                singer_consonant_name(sounds[i].kind), sounds[i].centre_hz);
}

static void tell_whole(FILE *f, const SingerSpec *s, const SingerTake *t)
{
    const double end = t->frames / t->rate;
    fprintf(f, "take 0 %.4f %.0f %s %llu\n", end, t->rate, singer_voice_name(s->voice), (unsigned long long)s->seed);
    fprintf(f, "voice_level 0 %.4f %.2f\n", end, t->voice_level_db);
    fprintf(f, "range 0 %.4f %.2f %.2f\n", end, t->lowest_hz, t->highest_hz);
    fprintf(f, "gain 0 %.4f %.2f %u\n", end, s->gain_db, (unsigned)t->clipped);
    for (int b = 0; b < SINGER_BOXY; b++)
        if (s->boxy[b].hz > 0)
            fprintf(f, "boxy 0 %.4f %.2f %.1f %.2f\n", end, s->boxy[b].db, s->boxy[b].hz,
                    s->boxy[b].q > 0 ? s->boxy[b].q : 4.0);
    if (s->hum_hz > 0)
        fprintf(f, "hum 0 %.4f %.2f %.2f %.2f\n", end, s->hum_db != 0 ? s->hum_db : -40.0, s->hum_hz, s->hum_drift);
    if (s->hiss_db != 0)
        fprintf(f, "hiss 0 %.4f %.2f %.2f\n", end, s->hiss_db, t->hiss_level_db);
    if (s->room_seconds > 0)
        fprintf(f, "room 0 %.4f %.2f %.3f\n", end, s->room_db != 0 ? s->room_db : -6.0, s->room_seconds);
}

static void tell(FILE *f, const SingerSpec *s, const SingerTake *t)
{
    fprintf(
        f,
        "# What was sung, one row each: kind, start and end in seconds, a value in dB, then:\n"
        "# take: rate (in place of dB), voice, seed. voice_level: gated RMS. range: lowest, highest Hz (in place of\n"
        "# dB). gain: clipped frames. boxy: Hz, Q. hum: Hz, drift %%. hiss: dB, RMS, as it lies in\n"
        "# the recording. room: decay in s.\n"
        "# phrase: dB off the others. sibilant, plosive: dB raised (0: ordinary), kind, Hz.\n"
        "# note: MIDI number (in place of dB), Hz, vowel, consonant, start of the vowel, phrase.\n"
        "# pitch: Hz per 10 ms from the start on, 0 where unvoiced. hum_pitch: the same.\n");
    tell_whole(f, s, t);
    tell_spans(f, "phrase", t->phrases, t->phrase_count);
    tell_spans(f, "rest", t->rests, t->rest_count);
    tell_sounds(f, "sibilant", t->sibilants, t->sibilant_count);
    tell_sounds(f, "fricative", t->fricatives, t->fricative_count);
    tell_sounds(f, "plosive", t->plosives, t->plosive_count);
    tell_spans(f, "breath", t->breaths, t->breath_count);
    tell_spans(f, "click", t->clicks, t->click_count);
    for (size_t i = 0; i < t->note_count; i++) {
        const SingerNote *n = &t->notes[i];
        fprintf(f, "note %.4f %.4f %.2f %.2f %s %s %.4f %u\n", n->start, n->end, n->midi, n->hz,
                singer_vowel_name(n->vowel), singer_consonant_name(n->consonant), n->vowel_start, (unsigned)n->phrase);
    }
    const struct {
        const char *name;
        const float *hz;
        size_t count;
    } tracks[] = {{"pitch", t->f0, t->f0_count}, {"hum_pitch", t->hum_hz, t->hum_count}};
    for (int k = 0; k < 2; k++) {
        if (!tracks[k].count)
            continue;
        fprintf(f, "%s 0 %.4f", tracks[k].name, t->frames / t->rate);
        for (size_t i = 0; i < tracks[k].count; i++)
            fprintf(f, " %.2f", (double)tracks[k].hz[i]);
        fputc('\n', f);
    }
}

/* OUT.wav -> OUT.txt. The caller frees. */
static char *truth_path(const char *out)
{
    const size_t length = strlen(out);
    char *path = malloc(length + 5);
    if (!path)
        return NULL;
    memcpy(path, out, length + 1);
    char *end = length > 4 && !strcmp(out + length - 4, ".wav") ? path + length - 4 : path + length;
    memcpy(end, ".txt", 5);
    return path;
}

static int write_truth(const char *out, const SingerSpec *spec, const SingerTake *take)
{
    char *path = truth_path(out);
    FILE *file = path ? fopen(path, "w") : NULL;
    bool good = file != NULL;
    if (file) {
        tell(file, spec, take);
        good = !ferror(file);
        good = fclose(file) == 0 && good;
        if (!good)
            remove(path);
    }
    if (!good)
        fprintf(stderr, "singer: cannot write %s\n", path ? path : out);
    free(path);
    return good ? EXIT_OK : EXIT_CANNOT_WRITE;
}

static int write_all(const Wish *w, const SingerTake *take)
{
    int status = write_wav(w->out, take, take->audio);
    if (status == EXIT_OK)
        status = write_truth(w->out, &w->spec, take);
    if (status == EXIT_OK && w->clean)
        status = write_wav(w->clean, take, take->voice);
    return status;
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        if (!strcmp(argv[i], "--help"))
            return fputs(usage, stdout) < 0;
    Wish w = {.spec = {.voice = SINGER_BARITONE, .seed = 1}};
    int status = read_arguments(&w, argc, argv);
    if (status != EXIT_OK)
        return status;
    SingerTake take;
    if (!singer_sing(&w.spec, &take)) {
        fputs("singer: this take cannot be sung: a value is out of range, or there is no memory (see singer --help)\n",
              stderr);
        return EXIT_CANNOT_SING;
    }
    status = write_all(&w, &take);
    singer_free(&take);
    return status;
}
