#include "spoken.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <sndfile.h>

static bool absent(const char *package)
{
    printf("not there: Debian package %s\n", package);
    return false;
}

static bool program_there(const char *name)
{
    char command[128];
    snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", name);
    return system(command) == 0; /* NOLINT(cert-env33-c): the names are ours */
}

/* The text as one word of the shell. */
static void quote(char *to, size_t room, const char *text)
{
    size_t at = 0;
    to[at++] = '\'';
    for (; *text; text++) {
        assert_true(at + 6 < room);
        if (*text == '\'')
            at += (size_t)sprintf(to + at, "'\\''");
        else
            to[at++] = *text;
    }
    to[at++] = '\'';
    to[at] = 0;
}

static void read_sound(Spoken *s, const char *path, double raw_rate)
{
    SF_INFO info = {0};
    if (raw_rate > 0) {
        info.samplerate = (int)raw_rate;
        info.channels = 1;
        info.format = SF_FORMAT_RAW | SF_FORMAT_PCM_16 | SF_ENDIAN_LITTLE;
    }
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file)
        fail_msg("%s: %s", path, sf_strerror(NULL));
    assert_int_equal(info.channels, 1);
    assert_true(info.frames > 0);
    s->rate = info.samplerate;
    s->n = (uint32_t)info.frames;
    s->x = malloc(s->n * sizeof *s->x);
    assert_non_null(s->x);
    const sf_count_t got = sf_readf_float(file, s->x, info.frames);
    sf_close(file);
    assert_true(got == info.frames);
}

/* "pau:0.247 w:0.301 ...": each phone with the time it ends. */
static void read_phones(Spoken *s, FILE *from)
{
    char word[64];
    double start = 0;
    while (fscanf(from, "%63s", word) == 1) {
        char *colon = strchr(word, ':');
        if (!colon)
            continue;
        *colon = 0;
        SpokenPhone *grown = realloc(s->phone, (s->phones + 1) * sizeof *grown);
        assert_non_null(grown);
        s->phone = grown;
        SpokenPhone *p = &s->phone[s->phones++];
        p->start = start;
        p->end = start = strtod(colon + 1, NULL);
        snprintf(p->name, sizeof p->name, "%.7s", word);
    }
}

/* Runs a synthesiser's command, which must end where a file name goes, and reads what it wrote. */
static void synthesise(Spoken *s, const char *command_before_path, const char *command_after_path)
{
    char path[] = "/tmp/linctus-spoken-XXXXXX";
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    char command[2048];
    const int length = snprintf(command, sizeof command, "%s %s %s", command_before_path, path, command_after_path);
    assert_true(length > 0 && (size_t)length < sizeof command);
    FILE *out = popen(command, "r"); /* NOLINT(cert-env33-c): the texts are quoted and ours */
    assert_non_null(out);
    read_phones(s, out);
    const int status = pclose(out);
    if (status == 0) {
        read_sound(s, path, 0);
        spoken_end_phones(s);
    }
    unlink(path);
    if (status != 0)
        fail_msg("exit status %d: %s", status, command);
}

bool spoken_say(Spoken *s, const char *voice, const char *text)
{
    *s = (Spoken){0};
    if (!program_there("flite"))
        return absent("flite");
    char words[1024], command[1400];
    quote(words, sizeof words, text);
    snprintf(command, sizeof command, "flite -voice %s -psdur -t %s -o", voice, words);
    synthesise(s, command, "");
    assert_true(s->phones > 0);
    return true;
}

bool spoken_robot(Spoken *s, const char *voice, int pitch, const char *text)
{
    *s = (Spoken){0};
    if (!program_there("espeak-ng"))
        return absent("espeak-ng");
    char words[1024], command[1400];
    quote(words, sizeof words, text);
    snprintf(command, sizeof command, "espeak-ng -v %s -p %d -w", voice, pitch);
    synthesise(s, command, words);
    return true;
}

typedef struct {
    const char *name, *package, *path;
    double raw_rate; /* of a file without a header, else 0 */
} Recording;

#define SPHINX      "pocketsphinx-testdata"
#define SPHINX_PATH "/usr/share/pocketsphinx/test/data/"
#define READING     SPHINX_PATH "librivox/sense_and_sensibility_01_austen_64kb-0"

static const Recording recordings[] = {
    {"walk", "supercollider-common", "/usr/share/SuperCollider/sounds/a11wlk01-44_1.aiff", 0},
    {"cards1", SPHINX, SPHINX_PATH "cards/001.wav", 0},
    {"cards2", SPHINX, SPHINX_PATH "cards/002.wav", 0},
    {"cards3", SPHINX, SPHINX_PATH "cards/003.wav", 0},
    {"cards4", SPHINX, SPHINX_PATH "cards/004.wav", 0},
    {"cards5", SPHINX, SPHINX_PATH "cards/005.wav", 0},
    {"numbers", SPHINX, SPHINX_PATH "numbers.raw", 16000},
    {"something", SPHINX, SPHINX_PATH "something.raw", 16000},
    {"forward", SPHINX, SPHINX_PATH "goforward.raw", 16000},
    {"reading1", SPHINX, READING "870.wav", 0},
    {"reading2", SPHINX, READING "880.wav", 0},
    {"reading3", SPHINX, READING "890.wav", 0},
    {"reading4", SPHINX, READING "920.wav", 0},
    {"reading5", SPHINX, READING "930.wav", 0},
};

bool spoken_load(Spoken *s, const char *which)
{
    *s = (Spoken){0};
    for (size_t i = 0; i < sizeof recordings / sizeof *recordings; i++) {
        const Recording *r = &recordings[i];
        if (strcmp(r->name, which) != 0)
            continue;
        if (access(r->path, R_OK) != 0)
            return absent(r->package);
        read_sound(s, r->path, r->raw_rate);
        return true;
    }
    fail_msg("no recording is called %s", which);
    return false;
}
