#include "retype.h"

#include "names.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* ---- Words ---- */

typedef struct {
    char *text;
    size_t size, used;
    bool fits;
} Line;

static void add_character(Line *l, char c)
{
    if (l->used + 1 >= l->size || (unsigned char)c < ' ' || c == 127) {
        l->fits = false;
        return;
    }
    l->text[l->used++] = c;
    l->text[l->used] = '\0';
}

static bool needs_quotes(const char *word)
{
    for (const char *c = word; *c; ++c) {
        const bool plain = (unsigned char)*c >= 0x80 || (*c >= '0' && *c <= '9') || (*c >= 'A' && *c <= 'Z') ||
                           (*c >= 'a' && *c <= 'z') || strchr("_-./=,:+@%", *c) != NULL;
        if (!plain)
            return true;
    }
    return !*word;
}

static void add_word(Line *l, const char *word)
{
    const bool quotes = needs_quotes(word);
    if (l->used)
        add_character(l, ' ');
    if (quotes)
        add_character(l, '\'');
    for (const char *c = word; *c; ++c) {
        if (*c == '\'')
            for (const char *escaped = "'\\'"; *escaped; ++escaped)
                add_character(l, *escaped);
        add_character(l, *c);
    }
    if (quotes)
        add_character(l, '\'');
}

/* ---- Lines ---- */

/* Does the word begin with these characters, blanks in it left aside? */
static bool begins_alike(const char *word, const char *with, size_t length)
{
    for (size_t k = 0; k < length; ++k, ++word) {
        word += strspn(word, " ");
        if (*word != with[k])
            return false;
    }
    return true;
}

/* "--set P.S=VALUE", in one word or two, of the control that is to be set to something else. */
static bool is_set_anew(const Options *o, int at, Change change)
{
    static const char option[] = "--set";
    const size_t length = change.set ? strcspn(change.set, "=") + 1 : 0;
    const char *word = o->argv[at];
    if (!length)
        return false;
    if (!strcmp(word, option))
        return at + 1 < o->argc && begins_alike(o->argv[at + 1], change.set, length);
    word += strncmp(word, "--set=", sizeof option) != 0 ? 0 : sizeof option;
    return o->role[at] != ROLE_TAKE && begins_alike(word, change.set, length);
}

static bool stays(const Options *o, int at, Change change)
{
    const char role = o->role[at];
    return !(role == ROLE_OUT && change.out) && !(role == ROLE_REPLACE && change.replace) &&
           !(role == ROLE_REPORT && change.report && strcmp(o->argv[at], "--report-audio") != 0) &&
           !(change.without && o->argv[at] == change.without) && !(change.besides && o->argv[at] == change.besides) &&
           !is_set_anew(o, at, change);
}

static void add_all(Line *l, const Options *o, Change change)
{
    add_word(l, o->argc ? o->argv[0] : "render");
    if (change.replace)
        add_word(l, "--replace");
    if (change.out) {
        add_word(l, "-o");
        add_word(l, change.out);
    }
    const char *const more[][2] = {{"--report", change.report},
                                   {"--set", change.set},
                                   {"--save-preset", change.preset},
                                   {"--repair", change.repair ? "auto" : NULL},
                                   {"--stages", change.stages}};
    for (size_t i = 0; i < sizeof more / sizeof *more; ++i) {
        if (!more[i][1])
            continue;
        add_word(l, more[i][0]);
        add_word(l, more[i][1]);
    }
    for (int at = 1; at < o->argc; ++at)
        if (stays(o, at, change))
            add_word(l, o->argv[at]);
}

void retype(char text[RETYPED], const Options *o, Change change)
{
    Line l = {.text = text, .size = RETYPED, .fits = true};
    text[0] = '\0';
    add_all(&l, o, change);
    if (!l.fits)
        snprintf(text, RETYPED, "the same again with %s%s%.200s%s%.200s%s%s%s%.60s%s%s",
                 change.replace ? "--replace " : "", change.out ? "-o " : "", change.out ? change.out : "",
                 change.report ? "--report " : "", change.report ? change.report : "", change.set ? "--set " : "",
                 change.set ? change.set : "", change.preset ? "--save-preset " : "",
                 change.preset ? change.preset : "", change.stages ? "--stages " : "",
                 change.stages ? change.stages : "");
}

/* Bytes that are enough for every argument, with quotes and what is new. */
static size_t most_typed(const Options *o, Change change)
{
    const char *const more[] = {change.out, change.report, change.set, change.preset, change.stages};
    size_t bytes = RETYPED;
    for (int at = 0; at < o->argc; ++at)
        bytes += 4 * strlen(o->argv[at]) + 3;
    for (size_t i = 0; i < sizeof more / sizeof *more; ++i)
        bytes += more[i] ? 4 * strlen(more[i]) : 0;
    return bytes;
}

char *retype_whole(const Options *o, Change change)
{
    Line l = {.size = most_typed(o, change), .fits = true};
    l.text = calloc(l.size, 1);
    if (!l.text)
        return NULL;
    add_all(&l, o, change);
    if (l.fits)
        return l.text;
    free(l.text);
    return NULL;
}

/* Where the bare name begins; a slash at the end stays. Names that are read keep the folders that tell them apart. */
static size_t bare_from(const Options *o, const char *name)
{
    const size_t read = o->ins + (o->like ? 1 : 0);
    for (size_t k = 0; k < read; ++k)
        if (o->in[k] == name)
            return (size_t)(name_apart(name, o->in, read) - name);
    size_t end = strlen(name);
    while (end && name[end - 1] == '/')
        --end;
    while (end && name[end - 1] != '/')
        --end;
    return end;
}

/* "--like=songs/a.wav" and "songs/a.wav" without "songs/". */
static void add_bare(Line *l, const Options *o, const char *word)
{
    char bare[PATH_MAX];
    const char *equals = *word == '-' ? strchr(word, '=') : NULL, *name = equals ? equals + 1 : word;
    const size_t ahead = (size_t)(name - word);
    if (snprintf(bare, sizeof bare, "%.*s%s", (int)ahead, word, name + bare_from(o, name)) >= (int)sizeof bare)
        l->fits = false;
    add_word(l, bare);
}

char *retype_bare(const Options *o)
{
    Line l = {.size = most_typed(o, (Change){0}), .fits = true};
    l.text = calloc(l.size, 1);
    for (int at = 0; l.text && at < o->argc; ++at)
        if (o->role[at] != ROLE_REPLACE)
            add_bare(&l, o, o->argv[at]);
    if (l.text && l.fits)
        return l.text;
    free(l.text);
    return NULL;
}

void retype_word(const char *word, FILE *to)
{
    const size_t size = 4 * strlen(word) + 3;
    Line l = {.text = calloc(size, 1), .size = size, .fits = true};
    if (l.text)
        add_word(&l, word);
    fputs(l.text && l.fits ? l.text : "(a name that cannot be typed)", to);
    free(l.text);
}

void retype_advise(char text[RETYPED], const Options *o)
{
    Line l = {.text = text, .size = RETYPED, .fits = true};
    text[0] = '\0';
    add_word(&l, o->argc ? o->argv[0] : "render");
    add_word(&l, "--advise");
    if (o->bundle) {
        add_word(&l, "--bundle");
        add_word(&l, o->bundle);
    }
    for (uint32_t t = 0; t < o->ins; ++t) {
        if (*o->in[t] == '-')
            add_word(&l, "--");
        add_word(&l, o->in[t]);
    }
    if (!l.fits)
        snprintf(text, RETYPED, "render --advise, and the takes");
}

void free_name(char *name, size_t size, const char *stem, const char *ending)
{
    struct stat st;
    const char *here = *stem == '-' ? "./" : ""; /* else it would read as an option */
    snprintf(name, size, "%s%s%s", here, stem, ending);
    for (int k = 2; k < 1000 && !lstat(name, &st); ++k)
        snprintf(name, size, "%s%s-%d%s", here, stem, k, ending);
}
