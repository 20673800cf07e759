#include "voices.h"

#include "design.h"
#include "seeds.h"

#include <glob.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>
#include <sndfile.h>

#define REST_LEAST 0.25 /* s */
#define REST_MOST  0.6
#define GRAIN      0.04 /* s: grains of noise that fill a rest are this long to half as long again */
#define JOINT      0.01 /* s: they are faded into each other over this to twice this, words and rests over twice this */
#define QUIET      0.12 /* s: the quietest stretch of a word, which they are cut from */
#define BLOCK      0.01 /* s */
#define OVER_NOISE 4.0  /* times a word's quietest stretch: what is under it is none either */
#define MARGIN     0.12 /* s: kept before and after a word */
#define FAINT      3e-3 /* of a word's loudest block: what is fainter is no part of it */
#define SPEECH     0.75 /* s of speech for a second of song: enough for takes of single words too */
#define HEADROOM   4.0f /* songs are louder here and there; praat's files clip at 1 */
#define BRIEF      0.03 /* s */
#define RUMBLE     150.0 /* Hz */
#define EDITION    "-2"  /* in the names of what was made: raised when the same take is made otherwise */
#define STRETCH    2.5   /* of voiced parts, when they are turned into singing */
#define APART      0.6   /* octaves between bells */
#define BELL_LOW   180.0 /* Hz */
#define BELL_HIGH  1200.0

#define SPHINX      "/usr/share/pocketsphinx/test/data/"
#define TUBERLING   "/usr/share/ktuberling/sounds/"
#define PROMPTS     "/usr/share/asterisk/sounds/it_IT_m_Carlo/"
#define FILLETS     "/usr/share/games/fillets-ng/sound/*/nl/*-m-*.ogg"
#define DEBIAN_TUBE "ktuberling-data"

/* Where a voice's words are: files that match one pattern or two, but for those that match `but`; of one sample rate
 * where it says so. Or flite's voice. Shuffled, since neighbours in the alphabet say nearly the same. */
typedef struct {
    const char *package, *pattern, *more, *but, *flite;
    double rate;     /* 0: any */
    double raw_rate; /* of files without a header */
    bool shuffled;
} Source;

static const Source source[VOICES_ALL] = {
    {DEBIAN_TUBE, TUBERLING "en/*.ogg", NULL, NULL, NULL, 0, 0, true},
    {DEBIAN_TUBE, TUBERLING "fr/*.wav", NULL, NULL, NULL, 44100, 0, true},
    {DEBIAN_TUBE, TUBERLING "da/tux-*.ogg", NULL, NULL, NULL, 0, 0, true},
    {"asterisk-core-sounds-it-g722", PROMPTS "*.g722", PROMPTS "phonetic/*.g722", PROMPTS "beep*", NULL, 0, 0, true},
    {"flite", NULL, NULL, NULL, "awb", 0, 0, false},
    {"flite", NULL, NULL, NULL, "slt", 0, 0, false},
    {"pocketsphinx-testdata", SPHINX "librivox/*.wav", NULL, NULL, NULL, 0, 0, false},
    {DEBIAN_TUBE, TUBERLING "de/*.ogg", NULL, NULL, NULL, 0, 0, true},
    {DEBIAN_TUBE, TUBERLING "da/*.ogg", NULL, TUBERLING "da/*tux*", NULL, 0, 0, true},
    {"fillets-ng-data-nl", FILLETS, NULL, NULL, NULL, 0, 0, true},
    {"flite", NULL, NULL, NULL, "rms", 0, 0, false},
    {"flite", NULL, NULL, NULL, "kal16", 0, 0, false},
    {"pocketsphinx-testdata", SPHINX "cards/*.wav", NULL, NULL, NULL, 0, 0, false},
    {DEBIAN_TUBE, TUBERLING "it/*.wav", NULL, NULL, NULL, 8000, 0, false},
    {"pocketsphinx-testdata", SPHINX "[gns]*.raw", NULL, NULL, NULL, 0, 16000, false},
    {DEBIAN_TUBE, TUBERLING "nl/*.wav", NULL, NULL, NULL, 8000, 0, false},
    {DEBIAN_TUBE, TUBERLING "es/*.wav", NULL, NULL, NULL, 8000, 0, false},
};

static const char *const more_sentences[] = {
    "Yesterday evening our neighbour carried two heavy buckets up the stairs.",
    "Could you open that window before the kettle starts to boil?",
    "Nobody ever told me where the green umbrella had been left.",
    "The farmer ought to bring a dozen eggs and half a pound of butter.",
    "Every autumn the birds gather around the church tower and fly south.",
    "I would rather walk than wait another hour for the bus.",
    "Her brother plays the oboe, and badly enough to empty a house.",
    "Put the good cups on the lower shelf, out of the baby's reach.",
    "About eleven o'clock the fog lifted and the harbour came into view.",
    "They argued over the map until the daylight had almost gone.",
    "A hungry fox turned over all the bins behind the bakery.",
    "Your father knew this valley before the road was ever built.",
};
enum { MORE = sizeof more_sentences / sizeof *more_sentences };

/* ---- Dice ---- */

static double dice(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return (double)(*state >> 8) / 16777216.0;
}

static void shuffle(char **item, size_t n)
{
    uint32_t state = 12345;
    for (size_t i = n; i > 1; --i) {
        const size_t k = (size_t)(dice(&state) * (double)i);
        char *const kept = item[i - 1];
        item[i - 1] = item[k];
        item[k] = kept;
    }
}

/* ---- Sounds ---- */

/* Fades from what is there into what comes, over so many samples at most: two recordings that are joined hard make a
 * click where one has a rumble. Their powers add up to one. */
static void append(Spoken *to, const float *x, uint32_t n, uint32_t fade)
{
    if (!n)
        return;
    const uint32_t shorter = to->n < n ? to->n : n, over = fade < shorter ? fade : shorter;
    float *const grown = realloc(to->x, (to->n + n) * sizeof *grown);
    assert_non_null(grown);
    to->x = grown;
    to->n -= over;
    for (uint32_t i = 0; i < over; ++i) {
        const double turn = 0.5 * DSP_PI * (i + 0.5) / over;
        to->x[to->n + i] = to->x[to->n + i] * (float)cos(turn) + x[i] * (float)sin(turn);
    }
    memcpy(to->x + to->n + over, x + over, (n - over) * sizeof *x);
    to->n += n;
}

/* The mean of the channels. */
static void read_all(Spoken *s, SNDFILE *file, const SF_INFO *info)
{
    const size_t channels = (size_t)info->channels;
    float *const all = calloc((size_t)info->frames * channels + 1, sizeof *all);
    assert_non_null(all);
    const sf_count_t got = sf_readf_float(file, all, info->frames);
    *s = (Spoken){.rate = info->samplerate, .n = (uint32_t)got, .x = calloc((size_t)got + 1, sizeof *s->x)};
    assert_non_null(s->x);
    for (size_t i = 0; i < s->n * channels; ++i)
        s->x[i / channels] += all[i] / (float)channels;
    free(all);
}

static void read_file(Spoken *s, const char *path, double raw_rate)
{
    const int raw = SF_FORMAT_RAW | SF_FORMAT_PCM_16 | SF_ENDIAN_LITTLE;
    SF_INFO info = {.samplerate = (int)raw_rate, .channels = raw_rate > 0, .format = raw_rate > 0 ? raw : 0};
    SNDFILE *const file = sf_open(path, SFM_READ, &info);
    if (!file)
        fail_msg("%s: %s", path, sf_strerror(NULL));
    read_all(s, file, &info);
    sf_close(file);
}

static void write_file(const Spoken *s, const char *path)
{
    SF_INFO info = {.samplerate = (int)s->rate, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *const file = sf_open(path, SFM_WRITE, &info);
    if (!file)
        fail_msg("%s: %s", path, sf_strerror(NULL));
    assert_true(sf_writef_float(file, s->x, s->n) == s->n);
    sf_close(file);
}

static bool run(const char *command)
{
    return system(command) == 0; /* NOLINT(cert-env33-c): the commands are ours */
}

static bool absent(const char *package)
{
    printf("not there: Debian package %s\n", package);
    return false;
}

/* ---- The build folder ---- */

enum { PATH_ROOM = 512 };

/* An absolute path: praat counts others from where its script lies. */
static void cached(char path[PATH_ROOM], const char *what, uint32_t voice, uint32_t part, double seconds)
{
    const char *const set = getenv("LINCTUS_BUILD"), *const build = set ? set : "build";
    char here[PATH_ROOM] = "";
    assert_true(build[0] == '/' || getcwd(here, sizeof here));
    mkdir(build, 0777);
    snprintf(path, PATH_ROOM, "%.200s/%.200s/voices", here, build);
    mkdir(path, 0777);
    snprintf(path, PATH_ROOM, "%.200s/%.200s/voices/%s%s-%u-%.0f" EDITION ".%u", here, build, what, voices[voice].name,
             part, 1000 * seconds, seeds_added());
}

/* Other tests may be making the same: it appears under its name when it is whole. */
static void part_path(char to[PATH_ROOM], const char *path)
{
    snprintf(to, PATH_ROOM, "%.400s.%ld.part", path, (long)getpid());
}

static void keep(const Spoken *s, const char *path)
{
    char part[PATH_ROOM];
    part_path(part, path);
    write_file(s, part);
    assert_int_equal(rename(part, path), 0);
}

/* ---- Words ---- */

typedef struct {
    Spoken *take;
    double from, to; /* seconds of the whole that the take has */
    double at;
    uint32_t state;
} Stringing;

/* Where the quietest stretch of `length` samples starts. */
static uint32_t quietest(const Spoken *word, uint32_t length)
{
    double sum = 0, least = INFINITY;
    uint32_t best = 0;
    for (uint32_t i = 0; i < word->n; ++i) {
        sum += (double)word->x[i] * (double)word->x[i];
        if (i < length)
            continue;
        sum -= (double)word->x[i - length] * (double)word->x[i - length];
        best = sum < least ? i - length + 1 : best;
        least = fmin(sum, least);
    }
    return best;
}

static uint32_t drawn(Stringing *s, double least, double most)
{
    return (uint32_t)((least + (most - least) * dice(&s->state)) * s->take->rate);
}

/* Grains of this noise, at times and from places drawn at random, joined so that their power adds up to what it was. */
static void append_grains(Stringing *s, Spoken *rest, const Spoken *noise, uint32_t n)
{
    while (rest->n < n) {
        const uint32_t grain = drawn(s, GRAIN, 1.5 * GRAIN), over = drawn(s, JOINT, 2 * JOINT);
        append(rest, noise->x + (uint32_t)(dice(&s->state) * (noise->n - grain)), grain, over);
    }
}

/* A rest of the word's own noise and direct current; silent after a word that is too short to have any. A direct
 * current goes through as it is: joined as noise is, it would swell at every joint. */
static void append_rest(Stringing *s, const Spoken *word)
{
    const uint32_t n = drawn(s, REST_LEAST, REST_MOST), quiet = (uint32_t)(QUIET * word->rate);
    const bool enough = word->n >= quiet;
    Spoken noise = {.n = quiet, .x = calloc(quiet + 1, sizeof *noise.x)}, rest = {0};
    assert_non_null(noise.x);
    double mean = 0;
    if (enough)
        memcpy(noise.x, word->x + quietest(word, quiet), quiet * sizeof *noise.x);
    for (uint32_t i = 0; i < quiet; ++i)
        mean += (double)noise.x[i] / quiet;
    for (uint32_t i = 0; i < quiet; ++i)
        noise.x[i] -= (float)mean;
    append_grains(s, &rest, &noise, n);
    for (uint32_t i = 0; rest.x && i < n; ++i)
        rest.x[i] += (float)mean;
    append(s->take, rest.x, rest.x ? n : 0, (uint32_t)(2 * JOINT * word->rate));
    spoken_free(&noise);
    spoken_free(&rest);
}

static double power(const Spoken *word, uint32_t first, uint32_t n)
{
    double squares = 0;
    for (uint32_t i = first; i < first + n; ++i)
        squares += (double)word->x[i] * (double)word->x[i];
    return squares / n;
}

/* Without rumble. */
static Spoken high_passed(const Spoken *word)
{
    const Biquad section = design_high_pass(RUMBLE, 0.7, word->rate);
    const Svf filter = svf_from_biquad(&section);
    SvfState state = {0};
    Spoken high = {.rate = word->rate, .n = word->n, .x = malloc((word->n + 1) * sizeof *high.x)};
    assert_non_null(high.x);
    for (uint32_t i = 0; i < word->n; ++i)
        high.x[i] = (float)svf_step(&filter, &state, (double)word->x[i]);
    return high;
}

/* Where the word sounds, with a little before and after: some files hold seconds of nothing, some a noisy room. */
static void bounds(const Spoken *word, uint32_t *first, uint32_t *last)
{
    const uint32_t block = (uint32_t)(BLOCK * word->rate), margin = (uint32_t)(MARGIN * word->rate);
    const uint32_t quiet = (uint32_t)(QUIET * word->rate);
    const double noise = word->n > quiet ? power(word, quietest(word, quiet), quiet) : 0;
    double loudest = 0;
    for (uint32_t at = 0; at + block <= word->n; at += block)
        loudest = fmax(loudest, power(word, at, block));
    *first = *last = 0;
    for (uint32_t at = 0; at + block <= word->n; at += block) {
        if (power(word, at, block) < fmax(FAINT * loudest, OVER_NOISE * noise))
            continue;
        *first = *last ? *first : at;
        *last = at + block;
    }
    *first = *first > margin ? *first - margin : 0;
    *last = *last + margin < word->n ? *last + margin : word->n;
}

/* The word and a rest, where they belong to this part. */
static void string_word(Stringing *s, const Spoken *word)
{
    if (s->take->n == 0)
        s->take->rate = word->rate;
    if (word->rate != s->take->rate)
        return;
    uint32_t first, last;
    Spoken high = high_passed(word);
    bounds(&high, &first, &last);
    spoken_free(&high);
    const double seconds = (last - first) / word->rate + 0.5 * (REST_LEAST + REST_MOST);
    if (s->at >= s->from && s->at < s->to) {
        append(s->take, word->x + first, last - first, (uint32_t)(2 * JOINT * word->rate));
        append_rest(s, word);
    }
    s->at += seconds;
}

static void load_word(Spoken *word, const char *path, const Source *from)
{
    const size_t length = strlen(path);
    if (length < 5 || strcmp(path + length - 5, ".g722") != 0) {
        read_file(word, path, from->raw_rate);
        return;
    }
    char wav[] = "/tmp/linctus-voices-XXXXXX", command[2 * PATH_ROOM];
    const int fd = mkstemp(wav);
    assert_true(fd >= 0);
    close(fd);
    snprintf(command, sizeof command, "ffmpeg -v error -y -i '%s' -f wav '%s' </dev/null", path, wav);
    assert_true(run(command));
    read_file(word, wav, 0);
    unlink(wav);
}

static bool is_among(const char *path, const glob_t *list)
{
    for (size_t i = 0; i < list->gl_pathc; ++i)
        if (strcmp(path, list->gl_pathv[i]) == 0)
            return true;
    return false;
}

static bool string_files(Stringing *s, const Source *from)
{
    glob_t found = {0}, but = {0};
    if (glob(from->pattern, 0, NULL, &found) != 0)
        return absent(from->package);
    if (from->more)
        glob(from->more, GLOB_APPEND, NULL, &found);
    if (from->but)
        glob(from->but, 0, NULL, &but);
    if (from->shuffled)
        shuffle(found.gl_pathv, found.gl_pathc);
    for (size_t i = 0; i < found.gl_pathc && s->at < s->to; ++i) {
        Spoken word;
        if (is_among(found.gl_pathv[i], &but))
            continue;
        load_word(&word, found.gl_pathv[i], from);
        if (word.n && (from->rate == 0 || word.rate == from->rate))
            string_word(s, &word);
        spoken_free(&word);
    }
    globfree(&found);
    globfree(&but);
    return true;
}

static bool string_sentences(Stringing *s, const char *voice)
{
    for (uint32_t i = 0; i < SPOKEN_SENTENCES + MORE && s->at < s->to; ++i) {
        Spoken sentence;
        const char *const text = i < MORE ? more_sentences[i] : spoken_sentences[i - MORE];
        if (!spoken_say(&sentence, voice, text))
            return false;
        string_word(s, &sentence);
        spoken_free(&sentence);
    }
    return true;
}

/* ---- Takes ---- */

static bool there(const char *program)
{
    char command[128];
    snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", program);
    return run(command) || absent(program);
}

/* At the rate of the recording. */
static bool string_together(Spoken *take, uint32_t voice, uint32_t part, double seconds)
{
    const Source *const from = &source[voice];
    Stringing s = {.take = take, .from = part * seconds, .to = (part + 1) * seconds, .state = seeded(voice + 1)};
    if (strstr(from->package, "g722") && !there("ffmpeg"))
        return false;
    return from->flite ? string_sentences(&s, from->flite) : string_files(&s, from);
}

bool voices_speak(Spoken *take, uint32_t voice, uint32_t part, double seconds)
{
    char path[PATH_ROOM];
    *take = (Spoken){0};
    assert_true(voice < VOICES_ALL && seconds > 0);
    cached(path, "", voice, part, seconds);
    if (access(path, R_OK) == 0) {
        read_file(take, path, 0);
        return true;
    }
    if (!string_together(take, voice, part, seconds))
        return false;
    if (!take->n)
        return true;
    spoken_resample(take, VOICES_RATE);
    keep(take, path);
    return true;
}

/* ---- Singing ---- */

static void read_notes(VoicesSong *song, const char *path)
{
    FILE *const file = fopen(path, "r");
    assert_non_null(file);
    char line[128];
    while (fgets(line, sizeof line, file)) {
        char *rest;
        VoicesNote n = {.start = strtod(line, &rest)};
        n.end = strtod(rest, &rest);
        n.hz = strtod(rest, NULL);
        if (n.hz <= 0 || n.start >= song->take.n / song->take.rate)
            continue;
        n.end = fmin(n.end, song->take.n / song->take.rate);
        if (n.end - n.start < BRIEF) /* a note that began where its voiced part ended */
            continue;
        VoicesNote *const grown = realloc(song->note, (song->notes + 1) * sizeof *grown);
        assert_non_null(grown);
        song->note = grown;
        song->note[song->notes++] = n;
    }
    fclose(file);
}

static bool make_song(const char *path, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones)
{
    Spoken speech;
    char from[PATH_ROOM], part_of[PATH_ROOM], to[PATH_ROOM], command[6 * PATH_ROOM];
    if (!there("praat") || !voices_speak(&speech, voice, part, SPEECH * seconds))
        return false;
    const bool any = speech.n > 0;
    spoken_free(&speech);
    if (!any)
        return true;
    cached(from, "", voice, part, SPEECH * seconds);
    part_path(part_of, path);
    snprintf(command, sizeof command, "praat --run tests/sing.praat '%s' '%s' %u %g %g %g %g", from, part_of, seed,
             voices[voice].pitch_low, voices[voice].pitch_high, STRETCH, semitones);
    if (!run(command))
        fail_msg("%s", command);
    snprintf(from, sizeof from, "%.480s.txt", part_of);
    snprintf(to, sizeof to, "%.480s.txt", path);
    assert_int_equal(rename(from, to), 0);
    assert_int_equal(rename(part_of, path), 0);
    return true;
}

bool voices_sing(VoicesSong *song, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones)
{
    char path[PATH_ROOM], what[64];
    *song = (VoicesSong){0};
    assert_true(voice < VOICES_ALL && seconds > 0);
    snprintf(what, sizeof what, "song%u%+g-", seed, semitones);
    cached(path, what, voice, part, seconds);
    if (access(path, R_OK) != 0 && !make_song(path, voice, part, seconds, seed, semitones))
        return false;
    if (access(path, R_OK) != 0)
        return true;
    read_file(&song->take, path, 0);
    song->take.n = (uint32_t)fmin(song->take.n, seconds * song->take.rate);
    for (uint32_t i = 0; i < song->take.n; ++i)
        song->take.x[i] *= HEADROOM;
    strncat(path, ".txt", sizeof path - strlen(path) - 1);
    read_notes(song, path);
    return true;
}

void voices_song_free(VoicesSong *song)
{
    spoken_free(&song->take);
    free(song->note);
    *song = (VoicesSong){0};
}

/* ---- Pitch ---- */

#define SONG_LOW  0.7 /* times the pitch of the speech: what a song may reach */
#define SONG_HIGH 1.7

static bool track(const char *sound, const char *path, double low, double high)
{
    char part[PATH_ROOM], command[4 * PATH_ROOM];
    if (!there("praat"))
        return false;
    part_path(part, path);
    snprintf(command, sizeof command, "praat --run tests/pitch.praat '%s' '%s' %g %g", sound, part, low, high);
    if (!run(command))
        fail_msg("%s", command);
    assert_int_equal(rename(part, path), 0);
    return true;
}

static void read_pitch(VoicesPitch *pitch, const char *path, double most)
{
    FILE *const file = fopen(path, "r");
    assert_non_null(file);
    char line[64];
    while (fgets(line, sizeof line, file)) {
        char *rest;
        const double seconds = strtod(line, &rest), hz = strtod(rest, NULL);
        const uint32_t frame = (uint32_t)(100.0 * seconds + 0.5);
        if (seconds > most)
            break;
        double *const grown = realloc(pitch->hz, (frame + 1) * sizeof *grown);
        assert_non_null(grown);
        pitch->hz = grown;
        while (pitch->frames <= frame)
            grown[pitch->frames++] = 0.0;
        grown[frame] = hz;
    }
    fclose(file);
}

/* Of what the take was read from: made before, as the take is. */
bool voices_pitch(VoicesPitch *pitch, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones)
{
    char sound[PATH_ROOM], path[PATH_ROOM], what[64] = "";
    const double move = seed ? pow(2.0, semitones / 12.0) : 1.0;
    *pitch = (VoicesPitch){0};
    if (seed)
        snprintf(what, sizeof what, "song%u%+g-", seed, semitones);
    cached(sound, what, voice, part, seconds);
    snprintf(path, sizeof path, "%.490s.pitch", sound);
    if (access(path, R_OK) != 0 && !track(sound, path, voices[voice].pitch_low * move * (seed ? SONG_LOW : 1.0),
                                          voices[voice].pitch_high * move * (seed ? SONG_HIGH : 1.0)))
        return false;
    read_pitch(pitch, path, seed ? seconds : INFINITY); /* songs are cut, words are not */
    return true;
}

void voices_pitch_free(VoicesPitch *pitch)
{
    free(pitch->hz);
    *pitch = (VoicesPitch){0};
}
