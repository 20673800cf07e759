#include "options.h"

#include "jobs.h"
#include "like_settings.h"
#include "near.h"
#include "repair.h"
#include "saved.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

static const char starter_chain[] = "trim,tone,compressor,esses,plate";

static bool usage(Error *e, const char *what, const char *which)
{
    return error_set(e, ERROR_USAGE, "%s%s (render --help tells more)", what, which);
}

/* Copies the characters up to `end`, without blanks round them; false: none, or too many. */
static bool copy_part(char *to, size_t size, const char *from, const char *end)
{
    from += strspn(from, " ");
    while (end > from && end[-1] == ' ')
        --end;
    if (end < from)
        return false;
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
    s->value = equals + 1 + strspn(equals + 1, " ");
    ++o->sets;
    return true;
}

/* ---- Lists of plug-ins ---- */

typedef char Name[64];

static bool is_named(Name *name, uint32_t names, const char *which)
{
    for (uint32_t i = 0; i < names; ++i)
        if (!strcasecmp(name[i], which))
            return true;
    return false;
}

/* "trim,tone" becomes names; what stood there before goes. Room is left for repairs. */
static bool read_names(const char *option, const char *list, Name **names, uint32_t *n, Error *e)
{
    *n = 0;
    free(*names);
    *names = calloc(strlen(list) + 1 + REPAIRS, sizeof **names);
    if (!*names)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (const char *at = list;; ++at) {
        const char *end = at + strcspn(at, ",");
        char *name = (*names)[*n];
        if (!copy_part(name, sizeof **names, at, end))
            return error_set(e, ERROR_USAGE, "%s takes names with commas between, not %s (render --help tells more)",
                             option, list);
        if (is_named(*names, *n, name))
            return error_set(e, ERROR_USAGE, "%s names a plug-in twice: %s (render --help tells more)", option, name);
        ++*n;
        if (!*end)
            return true;
        at = end;
    }
}

static bool read_stages(Options *o, const char *list, Error *e)
{
    o->stages_asked = true;
    return read_names("--stages", list, &o->stage, &o->stages, e);
}

static bool no_repair(const char *name, Error *e)
{
    char known[256] = "";
    size_t used = 0;
    for (uint32_t i = 0; i < REPAIRS && used < sizeof known; ++i)
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i ? ", " : "", repairs[i].plugin);
    const char *meant = NULL;
    for (uint32_t i = 0; i < REPAIRS; ++i)
        if (near_enough(name, repairs[i].plugin))
            meant = repairs[i].plugin;
    if (!strcasecmp(name, "auto") || !strcasecmp(name, "none"))
        return error_set(e, ERROR_USAGE, "--repair takes %s alone, or some of %s with commas between", name, known);
    return error_set(e, ERROR_USAGE, "--repair takes auto, none or some of %s with commas between, not %s%s%s%s", known,
                     name, meant ? "; did you mean " : "", meant ? meant : "", meant ? "?" : "");
}

static bool read_repairs(Options *o, const char *list, Error *e)
{
    o->repairs = 0;
    o->repair_heard = !strcasecmp(list, "auto");
    o->repair_none = !strcasecmp(list, "none");
    if (o->repair_heard || o->repair_none)
        return true;
    if (!read_names("--repair", list, &o->repair, &o->repairs, e))
        return false;
    for (uint32_t i = 0; i < o->repairs; ++i)
        if (!repair_named(o->repair[i]))
            return no_repair(o->repair[i], e);
    return true;
}

/* "trim,tone": what the bundle holds of these plug-ins. */
static void list_saved(const char *folder, const char *plugin, char *list, size_t size)
{
    const size_t used = strlen(list);
    if (saved_holds(folder, plugin))
        snprintf(list + used, size - used, "%s%s", used ? "," : "", plugin);
}

/* Of a saved preset comes its row of plug-ins too, in their usual order, unless they are named. No such preset: that is
 * told later, with what else may be wrong. */
static bool take_saved_row(Options *o, Error *e)
{
    static const char *const chain[] = {"trim", "tone", "compressor", "esses", "plate", "chain"};
    char folder[4200], row[256] = "", list[256] = "";
    Error none;
    if (!o->from || o->stages_asked || !saved_find(o->from, folder, sizeof folder, &none))
        return true;
    for (size_t i = 0; i < sizeof chain / sizeof *chain; ++i)
        list_saved(folder, chain[i], row, sizeof row);
    for (uint32_t i = 0; i < REPAIRS && !o->repairs && !o->repair_heard && !o->repair_none; ++i)
        list_saved(folder, repairs[i].plugin, list, sizeof list);
    if (!*row)
        return true;
    o->stages_saved = true;
    return read_names("--from-preset", row, &o->stage, &o->stages, e) &&
           (!*list || read_names("--from-preset", list, &o->repair, &o->repairs, e));
}

double options_rate(const Options *o, double take)
{
    return o->rate > 0.0 ? o->rate : take;
}

bool options_has_stage(const Options *o, const char *plugin)
{
    return is_named(o->stage, o->stages, plugin);
}

void options_put_stage(Options *o, uint32_t at, const char *plugin)
{
    memmove(o->stage + at + 1, o->stage + at, (o->stages - at) * sizeof *o->stage);
    snprintf(o->stage[at], sizeof *o->stage, "%s", plugin);
    ++o->stages;
    ++o->put;
}

/* In their own order, however they were named. */
static bool put_repairs(Options *o, Error *e)
{
    uint32_t at = 0;
    for (uint32_t i = 0; i < REPAIRS; ++i) {
        const char *plugin = repairs[i].plugin;
        if (!is_named(o->repair, o->repairs, plugin))
            continue;
        if (options_has_stage(o, plugin))
            return usage(e, "--repair and --stages both name ", plugin);
        options_put_stage(o, at++, plugin);
    }
    return true;
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

static bool read_bits(Options *o, const char *text, Error *e)
{
    for (SoundBits b = 0; b < SOUND_BITS; ++b) {
        const char *name = sound_bits_name(b);
        if (strcasecmp(text, name) != 0 && !(strlen(text) == 2 && !strncmp(text, name, 2) && name[2] == ' '))
            continue;
        o->bits = b;
        return true;
    }
    return usage(e, "--bits takes 16, 24 or float, not ", text);
}

/* "-16", "-16 LUFS" */
static bool read_level(const char *text, const char *unit, double lowest, double highest, double *level)
{
    char *end;
    *level = strtod(text, &end);
    while (*end == ' ')
        ++end;
    return end != text && (!*end || !strcasecmp(end, unit)) && *level >= lowest && *level <= highest;
}

static bool read_loudness(Options *o, const char *text, Error *e)
{
    o->delivery.by_loudness = true;
    return read_level(text, "LUFS", -60.0, -6.0, &o->delivery.loudness) ||
           usage(e, "--loudness takes -60 to -6 LUFS, not ", text);
}

static bool read_peak(Options *o, const char *text, Error *e)
{
    o->delivery.by_peak = true;
    return read_level(text, "dBTP", -40.0, 0.0, &o->delivery.peak) ||
           usage(e, "--peak takes -40 to 0 dBTP, not ", text);
}

static bool read_like(Options *o, const char *other, Error *e)
{
    if (!*other || *other == '-')
        return usage(e, "--like needs the name of a vocal: --like earlier.wav", "");
    if (o->like)
        return error_set(e, ERROR_USAGE, "--like is given twice, %s and %s: leave one of them out", o->like, other);
    o->like = other;
    return true;
}

static bool read_jobs(Options *o, const char *text, Error *e)
{
    char *end;
    const long jobs = strtol(text, &end, 10);
    o->jobs = jobs >= 1 && jobs <= JOBS_MOST ? (uint32_t)jobs : 0;
    return (o->jobs && end != text && !*end) || usage(e, "--jobs takes 1 to 64 takes at a time, not ", text);
}

static bool read_rate(Options *o, const char *text, Error *e)
{
    return (read_level(text, "Hz", DSP_RATE_MIN, DSP_RATE_MAX, &o->rate) && o->rate == floor(o->rate)) ||
           usage(e, "--rate takes 8000 to 384000 Hz, as 44100, not ", text);
}

static bool read_pattern(Options *o, const char *text, Error *e)
{
    static const char ending[] = ".wav";
    const size_t length = strlen(text), less = sizeof ending - 1;
    o->pattern = text;
    if (!length)
        return usage(e, "--name needs a pattern, as '{take}-{rate}'", "");
    return length < less || strcasecmp(text + length - less, ending) != 0 ||
           usage(e, "--name takes names without their ending, which is .wav, not ", text);
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
    else if (take_value("--loudness", argc, argv, at, &value))
        return value ? read_loudness(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--peak", argc, argv, at, &value))
        return value ? read_peak(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--bits", argc, argv, at, &value))
        return value ? read_bits(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--jobs", argc, argv, at, &value))
        return value ? read_jobs(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--rate", argc, argv, at, &value))
        return value ? read_rate(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--name", argc, argv, at, &value))
        return value ? read_pattern(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--from-preset", argc, argv, at, &value))
        o->from = value;
    else if (take_value("--like", argc, argv, at, &value))
        return value ? read_like(o, value, e) : usage(e, option, " needs the name of a vocal");
    else if (take_value("--bundle", argc, argv, at, &value))
        o->bundle = value;
    else if (take_value("--set", argc, argv, at, &value))
        return value ? read_setting(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--stages", argc, argv, at, &value))
        return value ? read_stages(o, value, e) : usage(e, option, " needs a value");
    else if (take_value("--repair", argc, argv, at, &value))
        return value ? read_repairs(o, value, e) : usage(e, option, " needs a value");
    else
        *taken = false;
    return !*taken || value || usage(e, option, " needs a value");
}

static bool read_switch(Options *o, const char *text)
{
    bool is_float = false;
    const struct {
        const char *name;
        bool *is;
    } switches[] = {{"--help", &o->help},
                    {"--version", &o->version},
                    {"--list", &o->list},
                    {"--together", &o->together},
                    {"--apart", &o->apart},
                    {"--float", &is_float},
                    {"-h", &o->help},
                    {"--advise", &o->advise},
                    {"--compare", &o->compare},
                    {"--backing", &o->backing},
                    {"--matched", &o->matched},
                    {"--sheet", &o->sheet},
                    {"--replace", &o->replace},
                    {"--install-preset", &o->install},
                    {"--report-audio", &o->report_audio}};
    for (size_t i = 0; i < sizeof switches / sizeof *switches; ++i) {
        if (!strcmp(text, switches[i].name)) {
            *switches[i].is = true;
            o->bits = is_float ? SOUND_FLOAT : o->bits;
            return true;
        }
    }
    return false;
}

static const char *const option_names[] = {
    "--help",         "--version",        "--list",    "--together", "--apart",  "--float",
    "--advise",       "--compare",        "--backing", "--matched",  "--sheet",  "--replace",
    "--report-audio", "--install-preset", "--out",     "--report",   "--voice",  "--loudness",
    "--save-preset",  "--peak",           "--bits",    "--jobs",     "--rate",   "--name",
    "--like",         "--from-preset",    "--bundle",  "--set",      "--stages", "--repair"};

/* The option that may be meant; NULL: none is near. */
static const char *option_near(const char *text)
{
    char typed[NEAR_LONGEST + 1];
    if (!copy_part(typed, sizeof typed, text, text + strcspn(text, "=")))
        return NULL;
    const char *nearest = NULL;
    for (size_t i = 0; i < sizeof option_names / sizeof *option_names; ++i)
        if (near_enough(typed, option_names[i]) &&
            (!nearest || near_slips(typed, option_names[i]) < near_slips(typed, nearest)))
            nearest = option_names[i];
    return nearest;
}

/* Somebody's take may be called -1.wav. */
static bool no_such_option(const char *text, Error *e)
{
    struct stat st;
    const char *meant = option_near(text);
    if (!lstat(text, &st))
        return error_set(e, ERROR_USAGE, "no such option: %s; to name the file of that name type ./%s", text, text);
    if (meant)
        return error_set(e, ERROR_USAGE, "no such option: %s; did you mean %s? (render --help tells more)", text,
                         meant);
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

static bool check_backing(const Options *o, Error *e)
{
    if (o->together || o->apart)
        return usage(e, "--backing sets takes under a lead, one file each; that leaves no room for ",
                     o->together ? "--together" : "--apart");
    return o->ins > 1 ||
           usage(e, "--backing needs a lead and what stands under it: render LEAD.wav --backing OTHER.wav, not only ",
                 o->in[0]);
}

static bool delivers(const Options *o)
{
    return o->delivery.by_loudness || o->delivery.by_peak;
}

/* Whatever it finds itself can be asked for by hand only without it. */
static bool check_like(const Options *o, Error *e)
{
    if (!o->like)
        return true;
    if (o->ins > 1 || o->apart || o->together)
        return usage(e, "--like fits one take to one file: name one take, without --together, --apart and --backing",
                     "");
    if (o->delivery.by_loudness)
        return usage(e, "--like brings the file to the loudness of the other vocal: leave out --loudness", "");
    if (!options_has_stage(o, "tone"))
        return usage(e, "--like sets Tone, which is not among the --stages", "");
    for (uint32_t s = 0; s < o->sets; ++s)
        if (like_sets(o->set[s].plugin, o->set[s].symbol))
            return error_set(e, ERROR_USAGE, "--like finds %s.%s itself: leave out --set %s.%s=%s, or --like",
                             o->set[s].plugin, o->set[s].symbol, o->set[s].plugin, o->set[s].symbol, o->set[s].value);
    return true;
}

static bool check_advise(const Options *o, Error *e)
{
    if (o->backing)
        return usage(e, "--advise does nothing to takes, and leaves no room for --backing", "");
    if (o->preset)
        return usage(e, "--advise learns nothing that --save-preset could save", "");
    if (o->like)
        return usage(e, "--advise sets nothing that could be like ", o->like);
    if (o->report || o->report_audio)
        return usage(e, "--advise writes nothing: leave out --report ", o->report ? o->report : "");
    if (o->matched || o->sheet)
        return usage(e, "--advise writes nothing: leave out ", o->matched ? "--matched" : "--sheet");
    return !o->out || usage(e, "--advise writes nothing: leave out -o ", o->out);
}

static bool check_compare(const Options *o, Error *e)
{
    if (o->advise || o->together || o->apart || o->backing || o->like)
        return usage(e, "--compare does nothing to takes, and leaves no room for ",
                     o->advise     ? "--advise"
                     : o->together ? "--together"
                     : o->apart    ? "--apart"
                     : o->like     ? "--like"
                                   : "--backing");
    if (o->preset)
        return usage(e, "--compare learns nothing that --save-preset could save", "");
    if (o->report_audio)
        return usage(e, "--compare has no players: leave out --report-audio", "");
    if (o->ins < 2)
        return usage(e, "--compare needs two takes of one song or more; it got only ", o->in[0]);
    if (o->matched || o->sheet)
        return usage(e, "--compare writes no mix: leave out ", o->matched ? "--matched" : "--sheet");
    return !o->out || usage(e, "--compare writes no mix: leave out -o ", o->out);
}

bool options_read(Options *o, int argc, char **argv, Error *e)
{
    *o = (Options){.argc = argc, .argv = argv, .delivery.peak = DELIVERY_PEAK, .jobs = jobs_cores()};
    o->in = calloc((size_t)argc + 1, sizeof *o->in);
    o->set = calloc((size_t)argc + 1 + LIKE_SETTINGS, sizeof *o->set);
    o->role = calloc((size_t)argc + 1, sizeof *o->role);
    if (!o->in || !o->set || !o->role)
        return error_set(e, ERROR_INSIDE, "out of memory");
    if (!read_names("--stages", starter_chain, &o->stage, &o->stages, e) || !read_all(o, e) || !take_saved_row(o, e) ||
        !put_repairs(o, e))
        return false;
    o->in[o->ins] = o->like;
    if (o->help || o->list || o->version)
        return true;
    if (!o->ins)
        return usage(e, "no take is named; type: render TAKE.wav ",
                     o->compare  ? "OTHER.wav --compare"
                     : o->advise ? "--advise"
                                 : "-o MIX.wav");
    if (o->compare)
        return check_compare(o, e);
    if (o->advise)
        return check_advise(o, e);
    if (o->backing && !check_backing(o, e))
        return false;
    if (o->report_audio && !o->report)
        return usage(e, "--report-audio needs the name of the page: --report take.html", "");
    if (delivers(o) && (o->apart || o->together))
        return usage(e, "--loudness and --peak are of one file by itself; that leaves no room for ",
                     o->apart ? "--apart" : "--together");
    if (o->matched && o->apart)
        return usage(e, "--matched is about one file, the mix: leave out it or --apart", "");
    if (o->install && !o->preset)
        return usage(e, "--install-preset needs a name for the preset: --save-preset NAME", "");
    if (o->preset && o->ins > 1 && !o->together)
        return usage(e, "--save-preset holds one setting: name one take, or add --together for one that suits all", "");
    return check_like(o, e);
}

void options_free(Options *o)
{
    free(o->in);
    free(o->set);
    free(o->stage);
    free(o->repair);
    free(o->role);
    *o = (Options){0};
}
