#include "report.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>

/* ---- What is said of each plug-in ---- */

typedef enum { HEARD, SET, DID } RowKind;

/* A row is printed where the port `when` shows more than `above` (or does not, with `unless`); when NULL: always. In
 * the text {symbol} stands for what the port shows at the end of the pass, {symbol<} and {symbol>} for the lowest and
 * highest over the pass, {symbol#} for how often it came up from 0, {symbol&} for the sum of what it showed at the end
 * of each take, {+symbol} for a value with its sign, {|symbol} for one without. A row is left out where the plug-in
 * lacks one of its ports. */
typedef struct {
    const char *plugin;
    const char *when;
    double above;
    const char *text;
    RowKind kind;
    bool unless;
    const char
        *only; /* and only while these ports are above 0, those with ! not; "voice": one was heard; NULL: always */
} Row;

static const Row rows[] = {
    {"check", NULL, 0.0, "verdict: {verdict}", HEARD, false, "voice"},
    {"check", NULL, 0.0, "no voice: no verdict", HEARD, false, "!voice"},
    {"check", "voice_level", -199.0, "the voice at {voice_level}, its highest peak at {peak}", HEARD, false, NULL},
    {"check", "clipped_samples", 0.0, "clipped samples: {clipped_samples}", HEARD, false, NULL},
    {"check", "signal_to_noise", 0.0, "a noise floor of {noise_floor}, {signal_to_noise} under the voice", HEARD, false,
     NULL},
    {"check", "hum_mains", 0.0, "a hum of {hum_mains} mains at {hum_level}", HEARD, false, NULL},
    {"check", "decay", 0.0, "a decay time of {decay}: {room}", HEARD, false, NULL},
    {"check", "pops", 0.0, "pops: {pops}", HEARD, false, NULL},
    {"check", "phrase_spread", 0.0, "phrases that spread over {phrase_spread}", HEARD, false, NULL},
    {"check", "loudness", -70.0, "a loudness of {loudness}, a loudness range of {loudness_range}", HEARD, false,
     "voice"},
    {"check", "loudness", -70.0, "a loudness of {loudness}", HEARD, false, "!voice"},
    {"check", "lowest_pitch", 0.0, "notes from {lowest_pitch} to {highest_pitch}", HEARD, false, NULL},
    {"check", "voice_range", 0.0, "nearest voice range: {voice_range}", HEARD, false, NULL},

    {"trim", "voice_level", -199.0, "the voice at {voice_level}, its highest peak at {peak>}", HEARD, false, NULL},
    {"trim", "voice_level", -199.0, "no voice: nothing was learned", HEARD, true, NULL},
    {"trim", "clipped&", 0.0, "clipped samples: {clipped&}; the recording itself was too hot", HEARD, false, NULL},
    {"trim", "voice_level", -199.0, "{+gain} of gain, to bring the voice to {target}", SET, false, NULL},
    {"trim", "voice_level", -199.0, "{+gain} of gain", SET, true, NULL},
    {"trim", "held_back", 0.0, "less than was asked for: the ceiling at {ceiling} holds it back", SET, false, NULL},
    {"trim", "hand_trim", 0.0, "of that {+hand_trim} by hand", SET, false, NULL},
    {"trim", "hand_trim", -1e-9, "of that {+hand_trim} by hand", SET, true, NULL},

    {"tone", NULL, 0.0, "no voice: nothing was learned", HEARD, false, "!voice"},
    {"tone", "lowest_note", 0.0, "a lowest note of {lowest_note}; the low cut that suits it: {found_low_cut}", HEARD,
     false, NULL},
    {"tone", "found1_freq", 0.0, "a resonance at {found1_freq}, {found1_width} wide", HEARD, false, NULL},
    {"tone", "found2_freq", 0.0, "a resonance at {found2_freq}, {found2_width} wide", HEARD, false, NULL},
    {"tone", "found3_freq", 0.0, "a resonance at {found3_freq}, {found3_width} wide", HEARD, false, NULL},
    {"tone", "low_cut_slope", 0.0, "low cut at {low_cut}, {low_cut_slope}", SET, false, NULL},
    {"tone", "low_cut_slope", 0.0, "no low cut", SET, true, NULL},
    {"tone", "dip1_depth", -1e-9, "{dip1_depth} at {dip1_freq}, {dip1_width} wide, {dip1_when}", SET, true,
     "!dips_placed_by"},
    {"tone", "dip2_depth", -1e-9, "{dip2_depth} at {dip2_freq}, {dip2_width} wide, {dip2_when}", SET, true,
     "!dips_placed_by"},
    {"tone", "dip3_depth", -1e-9, "{dip3_depth} at {dip3_freq}, {dip3_width} wide, {dip3_when}", SET, true,
     "!dips_placed_by"},
    {"tone", "found1_freq", 0.0, "{found1_depth} at {found1_freq}, {found1_width} wide, {dip1_when}: found", SET, false,
     "dips_placed_by"},
    {"tone", "found2_freq", 0.0, "{found2_depth} at {found2_freq}, {found2_width} wide, {dip2_when}: found", SET, false,
     "dips_placed_by"},
    {"tone", "found3_freq", 0.0, "{found3_depth} at {found3_freq}, {found3_width} wide, {dip3_when}: found", SET, false,
     "dips_placed_by"},
    {"tone", NULL, 0.0, "no dip was found; dips by hand hold until some 15 s of voice were heard", SET, false,
     "dips_placed_by !found1_freq !found2_freq !found3_freq"},
    {"tone", "air_lift", 0.0, "{+air_lift} of air from {air_freq} up", SET, false, NULL},
    {"tone", "point_out", 0.0, "{point_out} pointed out: meant for listening, not for a mix", SET, false, NULL},

    {"compressor", NULL, 0.0, "no voice: nothing was learned", HEARD, false, "!voice"},
    {"compressor", "threshold_set_by", 0.0,
     "threshold at {threshold_now}, found for {wanted_reduction} of reduction at {ratio}", SET, false, "voice"},
    {"compressor", "threshold_set_by", 0.0, "threshold at {threshold_now}, by hand until a voice is heard, {ratio}",
     SET, false, "!voice"},
    {"compressor", "threshold_set_by", 0.0, "threshold at {threshold_now}, by hand, {ratio}", SET, true, NULL},
    {"compressor", NULL, 0.0, "attack {attack}, release {release}, knee {knee}", SET, false, NULL},
    {"compressor", NULL, 0.0, "{+makeup_now} of makeup; loudness: {even_loudness}", SET, false, NULL},
    {"compressor", NULL, 0.0, "{usual_reduction} of reduction where the voice is loud, {reduction>} at most", DID,
     false, "voice"},
    {"compressor", NULL, 0.0, "{reduction>} of reduction at most", DID, false, "!voice"},

    {"esses", NULL, 0.0, "no voice: nothing was learned", HEARD, false, "!voice"},
    {"esses", NULL, 0.0, "sibilants: {heard#}", HEARD, false, "voice"},
    {"esses", "found_centre", 0.0, "their centre at {found_centre}", HEARD, false, NULL},
    {"esses", NULL, 0.0, "catches what stands {catch_above} over this voice's usual sibilant, cuts {|most_cut} at most",
     SET, false, NULL},
    {"esses", NULL, 0.0, "around {centre}, {width} wide", SET, false, "!centre_set_by"},
    {"esses", "found_centre", 0.0, "around {found_centre}, found, {width} wide", SET, false, "centre_set_by"},
    {"esses", NULL, 0.0, "around {centre}, by hand until five sibilants were heard, {width} wide", SET, false,
     "centre_set_by !found_centre"},
    {"esses", NULL, 0.0, "caught {caught_share} of the sibilants, cut them by {|cut<} at most", DID, false, "voice"},
    {"esses", NULL, 0.0, "cut by {|cut<} at most", DID, false, "!voice"},

    {"plate", NULL, 0.0, "decay {decay}, pre-delay {pre_delay}", SET, false, NULL},
    {"plate", NULL, 0.0, "kept out under {low_cut}, half the decay at {damping}", SET, false, NULL},
    {"plate", "dry", -60.0, "wet at {wet}, dry at {dry}", SET, false, NULL},
    {"plate", "dry", -60.0, "wet at {wet} and nothing else: dry is silent", SET, true, NULL},
};

enum { ROWS = sizeof rows / sizeof *rows };

static const char *const kind_name[] = {[HEARD] = "heard", [SET] = "set", [DID] = "did"};

/* ---- Values as text ---- */

static void hertz(char *text, size_t size, double value)
{
    if (value < 1000.0)
        snprintf(text, size, "%.0f Hz", value);
    else
        snprintf(text, size, "%.3g kHz", value / 1000.0);
}

static void value_text(const Port *port, float number, bool sign, char *text, size_t size)
{
    const double value = (double)number;
    const char *label = port->choice ? port_label(port, number) : NULL;
    if (label)
        snprintf(text, size, "%s", label);
    else if (port->toggle)
        snprintf(text, size, "%s", number > 0.f ? "on" : "off");
    else if (!strcmp(port->unit, "Hz"))
        hertz(text, size, value);
    else if (!strncmp(port->unit, "dB", 2) && value < -199.0)
        snprintf(text, size, "silence");
    else if (!strncmp(port->unit, "dB", 2))
        snprintf(text, size, sign ? "%+.1f %s" : "%.1f %s", value, port->unit);
    else if (!strcmp(port->unit, "%"))
        snprintf(text, size, "%.0f %%", value);
    else if (!strncmp(port->unit, "LU", 2))
        snprintf(text, size, "%.1f %s", value, port->unit);
    else if (!strcmp(port->unit, "s"))
        snprintf(text, size, "%.2g s", value);
    else if (!strcmp(port->unit, "octaves"))
        snprintf(text, size, "%.2g octave%s", value, value == 1.0 ? "" : "s");
    else if (port->kind == PORT_METER && port->integer && number >= port->max) /* a count goes no further */
        snprintf(text, size, "%.0f or more", value);
    else if (value == rint(value) && fabs(value) < 1e9) /* a count: all of its digits */
        snprintf(text, size, "%.0f%s%s", value, *port->unit && *port->unit != ':' ? " " : "", port->unit);
    else
        snprintf(text, size, "%.4g%s%s", value, *port->unit && *port->unit != ':' ? " " : "", port->unit);
}

/* "symbol>" and the like: which of a port's figures is meant. '\0': what it showed last. */
typedef struct {
    char symbol[64];
    char mark;
} Wanted;

static Wanted wanted_from(const char *text)
{
    Wanted w = {.mark = '\0'};
    snprintf(w.symbol, sizeof w.symbol, "%s", text);
    const size_t length = strlen(w.symbol);
    if (length && strchr("<>#&", w.symbol[length - 1])) {
        w.mark = w.symbol[length - 1];
        w.symbol[length - 1] = '\0';
    }
    return w;
}

static float reading_as(const Reading *r, char mark)
{
    return mark == '<' ? r->lowest : mark == '>' ? r->highest : mark == '&' ? r->total : r->last;
}

/* What stands between the braces; false: the plug-in has no such port. */
static bool expand(const Readings *r, const char *inside, char *text, size_t size)
{
    const char sign = *inside == '+' || *inside == '|' ? *inside : '\0';
    const Wanted w = wanted_from(inside + (sign ? 1 : 0));
    const Port *port;
    const Reading *reading = readings_of(r, w.symbol, &port);
    if (!reading)
        return false;
    const float value = reading_as(reading, w.mark);
    if (w.mark == '#')
        snprintf(text, size, "%" PRIu32, reading->rises);
    else
        value_text(port, sign == '|' ? fabsf(value) : value, sign == '+', text, size);
    return true;
}

bool report_fill_in(const Readings *r, const char *pattern, char *text, size_t size)
{
    size_t used = 0;
    while (*pattern && used + 1 < size) {
        if (*pattern != '{') {
            text[used++] = *pattern++;
            continue;
        }
        char inside[64];
        const size_t length = strcspn(pattern + 1, "}");
        snprintf(inside, sizeof inside, "%.*s", (int)length, pattern + 1);
        if (!expand(r, inside, text + used, size - used))
            return false;
        used += strlen(text + used);
        pattern += length + 2;
    }
    text[used] = '\0';
    return true;
}

static bool shows_more(const Readings *r, const char *wanted, double above)
{
    const Port *port;
    const Wanted w = wanted_from(wanted);
    const Reading *reading = readings_of(r, w.symbol, &port);
    return reading && (double)reading_as(reading, w.mark) > above;
}

/* "this !that": this port is above 0, that one is not. */
static bool all_hold(const Readings *r, bool voice, const char *conditions)
{
    while (*conditions) {
        char symbol[64];
        const bool negated = *conditions == '!';
        const char *from = conditions + (negated ? 1 : 0);
        const size_t length = strcspn(from, " ");
        snprintf(symbol, sizeof symbol, "%.*s", (int)length, from);
        const bool holds = !strcmp(symbol, "voice") ? voice : shows_more(r, symbol, 0.0);
        if (holds == negated)
            return false;
        conditions = from + length;
        conditions += strspn(conditions, " ");
    }
    return true;
}

static bool applies(const Row *row, const Readings *r, bool voice)
{
    if (row->only && !all_hold(r, voice, row->only))
        return false;
    return !row->when || shows_more(r, row->when, row->above) != row->unless;
}

/* Check shows a level when it has heard a second of voice. */
bool report_voiceless(const Readings *check)
{
    const Port *port;
    return readings_of(check, "voice_level", &port) && !shows_more(check, "voice_level", -199.0);
}

/* ---- Stages ---- */

/* The rows of one kind, over one take or several. */
typedef struct {
    FILE *to;
    const char *plugin;
    const char *who; /* the take they are about; "": all of them */
    RowKind kind;
    bool voice; /* one was heard there */
    bool begun; /* a row of this kind stands already */
} Section;

/* "  heard  the voice at ...": the kind once, then under it. */
static void say(Section *s, const char *text)
{
    fprintf(s->to, "  %-6s %s%s%s\n", s->begun ? "" : kind_name[s->kind], s->who, *s->who ? ": " : "", text);
    s->begun = true;
}

static bool known(const char *plugin)
{
    for (size_t i = 0; i < ROWS; ++i)
        if (!strcmp(rows[i].plugin, plugin))
            return true;
    return false;
}

static void print_rows(Section *s, const Readings *r)
{
    char text[512];
    for (size_t i = 0; i < ROWS; ++i)
        if (!strcmp(rows[i].plugin, s->plugin) && rows[i].kind == s->kind && applies(&rows[i], r, s->voice) &&
            report_fill_in(r, rows[i].text, text, sizeof text))
            say(s, text);
}

/* For a plug-in without rows of its own: controls that were moved, and every read-out. */
static void print_ports(Section *s, const Readings *r)
{
    for (uint32_t p = 0; p < r->plugin->ports; ++p) {
        const Port *port = &r->plugin->port[p];
        const bool moved =
            port->kind == PORT_CONTROL && r->port[p].last != port->def && strcmp(port->symbol, "learn") != 0;
        const bool shows = port->kind == PORT_METER && !port->reports_latency;
        if (s->kind == SET ? !moved : !shows)
            continue;
        char value[64], text[256];
        value_text(port, r->port[p].last, false, value, sizeof value);
        snprintf(text, sizeof text, "%s %s", port->name, value);
        say(s, text);
    }
}

static void print_kind(Section *s, const Readings *r)
{
    if (known(s->plugin))
        print_rows(s, r);
    else if (s->kind != HEARD)
        print_ports(s, r);
}

static void print_tail(Section *s, double seconds)
{
    char text[64];
    if (seconds <= 0.0)
        return;
    snprintf(text, sizeof text, "rings on for %.1f s after the take, down to -100 dBFS", seconds);
    say(s, text);
}

/* A stage may be switched off by the person who runs it. */
static bool bypassed(const Readings *r)
{
    const Port *port;
    const Reading *enabled = readings_of(r, "enabled", &port);
    return enabled && !(enabled->last > 0.f);
}

static void print_stage(const Report *r, const StageResult *s, FILE *to)
{
    fprintf(to, "\n%s\n", s->name);
    const Readings *mix = &s->effect[0].readings;
    if (bypassed(mix)) {
        fprintf(to, "  %-6s bypassed\n", kind_name[SET]);
        return;
    }
    const bool voice = !report_voiceless(r->check);
    Section heard = {.to = to, .plugin = s->name, .who = "", .kind = HEARD, .voice = voice};
    Section set = {.to = to, .plugin = s->name, .who = "", .kind = SET, .voice = voice};
    Section did = {.to = to, .plugin = s->name, .kind = DID};
    print_kind(&heard, &s->heard);
    print_kind(&set, mix);
    for (uint32_t t = 0; t < r->takes; ++t) {
        did.who = r->takes > 1 ? r->take[t].name : "";
        did.voice = !r->take[t].voiceless;
        print_kind(&did, &s->effect[t].readings);
        print_tail(&did, s->effect[t].tail);
    }
}

/* ---- Levels ---- */

static void level_text(double db, char *text, size_t size)
{
    if (db <= LEVEL_SILENT + 1.0)
        snprintf(text, size, "silence");
    else
        snprintf(text, size, "%.1f", db);
}

static void change_text(double from, double to, double floor, char *text, size_t size)
{
    if (from <= floor || to <= floor)
        snprintf(text, size, "-");
    else
        snprintf(text, size, "%+.1f", to - from);
}

static void print_levels(const Report *r, uint32_t take, FILE *to)
{
    fprintf(to, "\n%-16s %9s %9s %9s %9s %9s %9s\n", r->takes > 1 ? r->take[take].name : "levels in dB", "in", "out",
            "gain", "loudness", "peak in", "peak out");
    for (uint32_t s = 0; s < r->stages; ++s) {
        const Effect *e = &r->stage[s].effect[take];
        char in[16], out[16], gain[16], loudness[16], peak_in[16], peak_out[16];
        level_text(e->in.level, in, sizeof in);
        level_text(e->out.level, out, sizeof out);
        change_text(e->in.level, e->out.level, LEVEL_SILENT + 1.0, gain, sizeof gain);
        change_text(e->in.loudness, e->out.loudness, LOUDNESS_LOW, loudness, sizeof loudness);
        level_text(e->in.peak, peak_in, sizeof peak_in);
        level_text(e->out.peak, peak_out, sizeof peak_out);
        fprintf(to, "%-16s %9s %9s %9s %9s %9s %9s\n", r->stage[s].name, in, out, gain, loudness, peak_in, peak_out);
    }
}

/* ---- Takes ---- */

static void time_text(double seconds, char *text, size_t size)
{
    const double tenths = rint(seconds * 10.0);
    snprintf(text, size, "%.0f:%04.1f", floor(tenths / 600.0), fmod(tenths, 600.0) / 10.0);
}

static void print_take(const Take *t, FILE *to)
{
    char length[32];
    time_text((double)t->frames / t->rate, length, sizeof length);
    fprintf(to, "%s: %s, %s, %.0f Hz, %s\n", t->name, length, t->channels == 1 ? "mono" : "stereo", t->rate, t->format);
    if (t->frames < t->promised)
        fprintf(to, "  The file promises %.1f s; only what is named above could be read.\n",
                (double)t->promised / t->rate);
    if (t->not_finite)
        fprintf(to, "  %" PRIu64 " samples in it are not numbers; they were taken for silence.\n", t->not_finite);
    if (t->voiceless)
        fputs("  No voice was heard in it, not a second of one, and nothing was learned from it.\n", to);
}

static void print_mix(const Report *r, const Take *t, FILE *to)
{
    char length[32], level[16], peak[16];
    time_text((double)t->mix_frames / t->rate, length, sizeof length);
    level_text(t->mix.level, level, sizeof level);
    level_text(t->mix.peak, peak, sizeof peak);
    fprintf(to, "%s%s%s\n", t->out[0], t->out[1] ? " and " : "", t->out[1] ? t->out[1] : "");
    if (t->mix.level <= LEVEL_SILENT + 1.0 || t->mix.loudness <= LOUDNESS_LOW)
        fprintf(to, "  too quiet or too short for a level, peak %s%s\n", peak, strcmp(peak, "silence") ? " dBFS" : "");
    else
        fprintf(to, "  level %s dB, loudness %.1f LUFS, peak %s dBFS%s\n", level, t->mix.loudness, peak,
                t->out[1] ? ", of the two together" : "");
    fprintf(to, "  %s, %s, %.0f Hz, %s", length, t->mix_channels == 1 ? "mono" : "stereo", t->rate,
            r->is_float ? "float" : "24 bit");
    if (t->mix_frames > t->frames)
        fprintf(to, ", %.1f s of it a tail after the take", (double)(t->mix_frames - t->frames) / t->rate);
    fputc('\n', to);
    if (t->over[0] + t->over[1])
        fprintf(to,
                "  CLIPPED: %" PRIu64 " samples were over full scale. Ask for a lower trim.target or less makeup, or "
                "write --float.\n",
                t->over[0] + t->over[1]);
}

static void print_voice(const Report *r, FILE *to)
{
    if (r->voice)
        fprintf(to, "voice: %s%s\n", r->voice, r->voice_heard ? ", the range that Check heard; none was named" : "");
    else
        fprintf(to, "voice: none, plug-ins at their defaults%s\n",
                r->voice_heard ? "; none was named, and Check could not tell" : "");
}

static void print_check(const Readings *check, FILE *to)
{
    Section heard = {.to = to, .plugin = "check", .who = "", .kind = HEARD, .voice = !report_voiceless(check)};
    if (!check->plugin)
        return;
    fputs("\ncheck, of the take as it came\n", to);
    print_kind(&heard, check);
}

void report_print_heard(const Take *take, uint32_t takes, const Readings *check, FILE *to)
{
    for (uint32_t t = 0; t < takes; ++t)
        print_take(&take[t], to);
    print_check(check, to);
}

void report_print(const Report *r, FILE *to)
{
    for (uint32_t t = 0; t < r->takes; ++t)
        print_take(&r->take[t], to);
    print_voice(r, to);
    print_check(r->check, to);
    for (uint32_t s = 0; s < r->stages; ++s)
        print_stage(r, &r->stage[s], to);
    for (uint32_t t = 0; t < r->takes; ++t)
        print_levels(r, t, to);
    fputs("In, out and gain: plain RMS while there is sound. Loudness: the change in LU, mono counted as on both "
          "speakers.\n"
          "Peaks: dBFS.\n\n",
          to);
    for (uint32_t t = 0; t < r->takes; ++t)
        print_mix(r, &r->take[t], to);
}
