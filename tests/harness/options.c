#include "options.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

static const char starter_chain[] = "trim,tone,compressor,esses,plate";

static bool usage(Error *e, const char *what, const char *which)
{
    return error_set(e, ERROR_USAGE, "%s%s (render --help tells more)", what, which);
}

/* Copies the characters up to `end`; false: none, or too many. */
static bool copy_part(char *to, size_t size, const char *from, const char *end)
{
    const size_t length = (size_t)(end - from);
    if (!length || length >= size)
        return false;
    memcpy(to, from, length);
    to[length] = '\0';
    return true;
}

static bool read_setting(Options *o, const char *text, Error *e)
{
    Setting *s = &o->set[o->sets];
    const char *equals = strchr(text, '=');
    const char *dot = equals ? memchr(text, '.', (size_t)(equals - text)) : NULL;
    if (!dot || !copy_part(s->plugin, sizeof s->plugin, text, dot) ||
        !copy_part(s->symbol, sizeof s->symbol, dot + 1, equals))
        return usage(e, "--set takes PLUGIN.SYMBOL=VALUE, not ", text);
    s->value = equals + 1;
    ++o->sets;
    return true;
}

static bool stage_is_there(const Options *o, const char *name)
{
    for (uint32_t i = 0; i < o->stages; ++i)
        if (!strcasecmp(o->stage[i], name))
            return true;
    return false;
}

static bool read_stages(Options *o, const char *list, Error *e)
{
    o->stages = 0;
    free(o->stage);
    o->stage = calloc(strlen(list) + 1, sizeof *o->stage);
    if (!o->stage)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (const char *at = list;; ++at) {
        const char *end = at + strcspn(at, ",");
        char *name = o->stage[o->stages];
        if (!copy_part(name, sizeof *o->stage, at, end))
            return usage(e, "--stages takes names with commas between, not ", list);
        if (stage_is_there(o, name))
            return usage(e, "--stages names a plug-in twice: ", name);
        ++o->stages;
        if (!*end)
            return true;
        at = end;
    }
}

/* Options with a value: --name VALUE or --name=VALUE. */
static bool take_value(const char *name, int argc, char **argv, int *at, const char **value)
{
    const size_t length = strlen(name);
    if (strncmp(argv[*at], name, length) != 0)
        return false;
    if (argv[*at][length] == '=') {
        *value = argv[*at] + length + 1;
        return true;
    }
    if (argv[*at][length])
        return false;
    *value = *at + 1 < argc ? argv[++*at] : NULL;
    return true;
}

/* Something was written in the arguments first..last. */
static void note_role(Options *o, char role, int first, int last)
{
    for (int at = first; at <= last && at < o->argc; ++at)
        o->role[at] = role;
}

static bool read_out(Options *o, const char *out, int first, int last, Error *e)
{
    if (!out || !*out)
        return usage(e, "-o needs the name of the result", "");
    if (*out == '-')
        return error_set(e, ERROR_USAGE, "-o %s: a name that begins with - is typed with ./ in front: -o ./%s", out,
                         out);
    if (o->out)
        return error_set(e, ERROR_USAGE, "-o is given twice, %s and %s: leave one of them out", o->out, out);
    o->out = out;
    note_role(o, ROLE_OUT, first, last);
    return true;
}

static bool read_report(Options *o, const char *page, int first, int last, Error *e)
{
    if (!page || !*page || *page == '-')
        return usage(e, "--report needs the name of the page: --report take.html", "");
    if (o->report)
        return error_set(e, ERROR_USAGE, "--report is given twice, %s and %s: leave one of them out", o->report, page);
    o->report = page;
    note_role(o, ROLE_REPORT, first, last);
    return true;
}

static bool read_valued(Options *o, int argc, char **argv, int *at, bool *taken, Error *e)
{
    const char *option = argv[*at], *value = NULL;
    *taken = true;
    const int first = *at;
    if (take_value("-o", argc, argv, at, &value) || take_value("--out", argc, argv, at, &value))
        return read_out(o, value, first, *at, e);
    if (take_value("--report", argc, argv, at, &value))
        return read_report(o, value, first, *at, e);
    if (take_value("--voice", argc, argv, at, &value))
        o->voice = value;
    else if (take_value("--save-preset", argc, argv, at, &value))
        o->preset = value;
    else if (take_value("--bundle", argc, argv, at, &value))
        o->bundle = value;
    else if (take_value("--set", argc, argv, at, &value))
        return value ? read_setting(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--stages", argc, argv, at, &value))
        return value ? read_stages(o, value, e) : usage(e, option, " needs a value");
    else
        *taken = false;
    return !*taken || value || usage(e, option, " needs a value");
}

static bool read_switch(Options *o, const char *text)
{
    const struct {
        const char *name;
        bool *is;
    } switches[] = {{"--help", &o->help},     {"--list", &o->list},       {"--together", &o->together},
                    {"--apart", &o->apart},   {"--float", &o->is_float},  {"-h", &o->help},
                    {"--advise", &o->advise}, {"--replace", &o->replace}, {"--report-audio", &o->report_audio}};
    for (size_t i = 0; i < sizeof switches / sizeof *switches; ++i) {
        if (!strcmp(text, switches[i].name)) {
            *switches[i].is = true;
            return true;
        }
    }
    return false;
}

/* Somebody's take may be called -1.wav. */
static bool no_such_option(const char *text, Error *e)
{
    struct stat st;
    if (!lstat(text, &st))
        return error_set(e, ERROR_USAGE, "no such option: %s; to name the file of that name type ./%s", text, text);
    return usage(e, "no such option: ", text);
}

static void read_take(Options *o, int at)
{
    o->in[o->ins++] = o->argv[at];
    o->role[at] = ROLE_TAKE;
}

static char role_of(const char *text)
{
    if (!strcmp(text, "--replace"))
        return ROLE_REPLACE;
    return strcmp(text, "--report-audio") != 0 ? ROLE_OPTION : ROLE_REPORT;
}

static bool read_all(Options *o, Error *e)
{
    bool only_files = false, taken;
    for (int at = 1; at < o->argc; ++at) {
        const char *text = o->argv[at];
        if (only_files || text[0] != '-' || !text[1]) {
            read_take(o, at);
        } else if (!strcmp(text, "--")) {
            only_files = true;
        } else if (read_switch(o, text)) {
            o->role[at] = role_of(text);
        } else {
            if (!read_valued(o, o->argc, o->argv, &at, &taken, e))
                return false;
            if (!taken)
                return no_such_option(text, e);
        }
    }
    return true;
}

static bool check_advise(const Options *o, Error *e)
{
    if (o->preset)
        return usage(e, "--advise learns nothing that --save-preset could save", "");
    if (o->report || o->report_audio)
        return usage(e, "--advise writes nothing: leave out --report ", o->report ? o->report : "");
    return !o->out || usage(e, "--advise writes nothing: leave out -o ", o->out);
}

bool options_read(Options *o, int argc, char **argv, Error *e)
{
    *o = (Options){.argc = argc, .argv = argv};
    o->in = calloc((size_t)argc + 1, sizeof *o->in);
    o->set = calloc((size_t)argc + 1, sizeof *o->set);
    o->role = calloc((size_t)argc + 1, sizeof *o->role);
    if (!o->in || !o->set || !o->role)
        return error_set(e, ERROR_INSIDE, "out of memory");
    if (!read_stages(o, starter_chain, e) || !read_all(o, e))
        return false;
    if (o->help || o->list)
        return true;
    if (!o->ins)
        return usage(e, "no take is named; type: render TAKE.wav ", o->advise ? "--advise" : "-o MIX.wav");
    if (o->advise)
        return check_advise(o, e);
    if (o->report_audio && !o->report)
        return usage(e, "--report-audio needs the name of the page: --report take.html", "");
    if (o->preset && o->ins > 1 && !o->together)
        return usage(e, "--save-preset takes one take, or several with --together", "");
    return true;
}

void options_free(Options *o)
{
    free(o->in);
    free(o->set);
    free(o->stage);
    free(o->role);
    *o = (Options){0};
}
