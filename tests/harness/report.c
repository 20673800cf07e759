#include "report.h"

#include "advice.h"
#include "backing.h"
#include "fill.h"
#include "names.h"
#include "prose.h"
#include "repair.h"
#include "saved.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

static const char *const kind_name[] = {[HEARD] = "heard", [SET] = "set", [DID] = "did"};

/* Check shows a level when it has heard a second of voice. */
bool report_voiceless(const Readings *check)
{
    const Port *port;
    return readings_of(check, "voice_level", &port) && !fill_holds(&(Said){.readings = check}, "voice_level>-199");
}

static bool shows(const Readings *check, const char *symbol)
{
    return fill_holds(&(Said){.readings = check}, symbol);
}

#define SILENT        "peak<-199"       /* dBTP: digital silence */
#define TOO_QUIET     "peak<-45"        /* dBTP: no more than ends of words lie over what Check counts as a voice */
#define FAR_TOO_QUIET "voice_level<-48" /* dB: Trim's 30 dB do not bring it to -18 */

const char *report_verdict(const Readings *check, const Take *take)
{
    const Port *port;
    const Reading *verdict = readings_of(check, "verdict", &port);
    const char *word = verdict ? port_label(port, verdict->last) : NULL;
    if (!verdict)
        return "Check was not there to judge it.";
    if (report_voiceless(check) || take->voiceless)
        return shows(check, SILENT)      ? "No voice was heard: the take is silent."
               : shows(check, TOO_QUIET) ? "No voice was heard: the take is too quiet to judge."
                                         : "No voice was heard.";
    if (shows(check, "clipped"))
        return "Record it again if you can.";
    if (!shows(check, "verdict") && shows(check, TOO_QUIET))
        return "Too quiet to judge: record it again with more gain.";
    if (!shows(check, "verdict"))
        return "Too little voice for a verdict.";
    if (shows(check, FAR_TOO_QUIET))
        return "Far too quiet: record it again with more gain.";
    if (!word || strcmp(word, "ready") != 0 || take_is_lopsided(take))
        return "Usable.";
    return shows(check, "signal_to_noise") ? "Ready." : "Nothing found so far; noise not told: too few rests.";
}

/* ---- Stages ---- */

/* The rows of one kind, over one take or several. */
typedef struct {
    FILE *to;
    const char *plugin;
    const char *who; /* the take they are about; "": all of them */
    ProseKind kind;
    bool voice, listened; /* see Said */
    bool begun;           /* a row of this kind stands already */
} Section;

/* "  heard  the voice at ...": the kind once, then under it. A fault is marked: "       ! pops: 2". */
static void say(Section *s, const char *text)
{
    const bool fault = *text == '!';
    fprintf(s->to, "  %-5s%c %s%s%s\n", s->begun ? "" : kind_name[s->kind], fault ? '!' : ' ', s->who,
            *s->who ? ": " : "", text + fault);
    s->begun = true;
}

static bool known(const char *plugin)
{
    for (size_t i = 0; i < prose_rows; ++i)
        if (!strcmp(prose[i].plugin, plugin))
            return true;
    return false;
}

static void print_rows(Section *s, const Readings *r)
{
    const Said said = {.readings = r, .voice = s->voice, .listened = s->listened};
    char text[512];
    for (size_t i = 0; i < prose_rows; ++i)
        if (!strcmp(prose[i].plugin, s->plugin) && prose[i].kind == s->kind && fill_holds(&said, prose[i].when) &&
            fill_in(r, prose[i].text, text, sizeof text))
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
        fill_value(port, r->port[p].last, false, value, sizeof value);
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
bool report_bypassed(const Readings *mix)
{
    const Port *port;
    const Reading *enabled = readings_of(mix, "enabled", &port);
    return enabled && !(enabled->last > 0.f);
}

/* What was done to a take by who knew all of it. */
static void print_ride(Section *did, const Ride *ride)
{
    char text[256];
    const RideDid d = ride_did(ride);
    if (d.phrases < 2) {
        say(did, "fewer than two phrases: none was moved");
        return;
    }
    snprintf(text, sizeof text, "%" PRIu32 " phrases brought from %.1f to %.1f dB apart, by gains of %+.1f to %+.1f dB",
             d.phrases, d.before, d.after, fill_tenths(d.down), fill_tenths(d.up));
    say(did, text);
    snprintf(text, sizeof text, "and all of them by %+.1f dB, which keeps the loudness", fill_tenths(d.makeup));
    if (fill_tenths(d.makeup) != 0.0)
        say(did, text);
    say(did, "moved in rests alone, none of which was lifted");
}

/* Whether the take told where the hum stood; how much went, mix.h counts. */
static void print_hum(Section *did, const HumWhole *hum)
{
    if (hum && hum->track.settled)
        say(did, "followed from all of the take, as render knows it; in your host Hum follows it as it comes");
}

/* Takes from `first` on, up to one before `past`. */
static void print_stage(const Report *r, const StageResult *s, uint32_t first, uint32_t past, FILE *to)
{
    fprintf(to, "\n%s\n", s->name);
    const Readings *mix = &s->effect[0].readings;
    if (report_bypassed(mix)) {
        fprintf(to, "  %-6s bypassed\n", kind_name[SET]);
        return;
    }
    const bool voice = !report_voiceless(r->check);
    const bool listened = s->lesson.state != NULL;
    Section heard = {.to = to, .plugin = s->name, .who = "", .kind = HEARD, .voice = voice, .listened = listened};
    Section set = {.to = to, .plugin = s->name, .who = "", .kind = SET, .voice = voice, .listened = listened};
    Section did = {.to = to, .plugin = s->name, .kind = DID, .listened = listened};
    if (s->ride)
        set.plugin = did.plugin = "phrase of a whole take";
    print_kind(&heard, &s->lesson.heard);
    print_kind(&set, mix);
    for (uint32_t t = first; t < past; ++t) {
        did.who = past - first > 1 ? r->take[t].name : "";
        did.voice = !r->take[t].voiceless;
        if (s->ride)
            print_ride(&did, &s->ride[t]);
        else
            print_kind(&did, &s->effect[t].readings);
        print_hum(&did, s->hum ? &s->hum[t] : NULL);
        print_tail(&did, s->effect[t].tail);
    }
}

void report_print_stage(const Report *r, const StageResult *s, FILE *to)
{
    print_stage(r, s, 0, r->takes, to);
}

void report_print_stage_of(const Report *r, const StageResult *s, uint32_t take, FILE *to)
{
    print_stage(r, s, take, take + 1, to);
}

/* ---- Levels ---- */

static void level_text(double db, char *text, size_t size)
{
    if (db <= LEVEL_SILENT + 1.0)
        snprintf(text, size, "silence");
    else
        snprintf(text, size, "%.1f", fill_tenths(db));
}

/* A level is that of blocks (level.h): what sounds and is shorter than one of them has none. */
static void rms_text(const Figures *f, double seconds, char *text, size_t size)
{
    if (f->level <= LEVEL_SILENT + 1.0 && f->peak > LEVEL_SILENT + 1.0 && seconds < LEVEL_BLOCK)
        snprintf(text, size, "too short");
    else
        level_text(f->level, text, size);
}

static void change_text(double from, double to, double floor, char *text, size_t size)
{
    if (from <= floor || to <= floor)
        snprintf(text, size, "-");
    else
        snprintf(text, size, "%+.1f", fill_tenths(to - from));
}

static void print_levels(const Report *r, uint32_t take, FILE *to)
{
    const Take *t = &r->take[take];
    double before = (double)t->frames / t->rate;
    fprintf(to, "\n%-16s %9s %9s %9s %9s %9s %9s\n", r->takes > 1 ? t->name : "levels in dB", "in", "out", "gain",
            "loudness", "peak in", "peak out");
    for (uint32_t s = 0; s < r->stages; ++s) {
        const Effect *e = &r->stage[s].effect[take];
        char in[16], out[16], gain[16], loudness[16], peak_in[16], peak_out[16];
        rms_text(&e->in, before, in, sizeof in);
        rms_text(&e->out, (double)e->frames / t->rate, out, sizeof out);
        before = (double)e->frames / t->rate;
        change_text(e->in.level, e->out.level, LEVEL_SILENT + 1.0, gain, sizeof gain);
        change_text(e->in.loudness, e->out.loudness, LOUDNESS_LOW, loudness, sizeof loudness);
        level_text(e->in.peak, peak_in, sizeof peak_in);
        level_text(e->out.peak, peak_out, sizeof peak_out);
        fprintf(to, "%-16s %9s %9s %9s %9s %9s %9s\n", r->stage[s].name, in, out, gain, loudness, peak_in, peak_out);
    }
}

/* ---- Takes ---- */

void report_time(double seconds, char *text, size_t size)
{
    const double tenths = rint(seconds * 10.0);
    snprintf(text, size, "%.0f:%04.1f", floor(tenths / 600.0), fmod(tenths, 600.0) / 10.0);
}

static void print_two_levels(const Take *t, FILE *to)
{
    char at[32];
    const TwoLevelsFound *two = &t->two_levels;
    fill_time(two->at, at, sizeof at);
    if (two->at > 0.0)
        fprintf(to,
                "  It is of two levels: %s %s it lies %.1f dB over the rest, which moves its level as a whole by %.1f "
                "dB.\n",
                two->before ? "up to" : "from", at, two->louder, two->moved);
}

static void print_take(const Take *t, FILE *to)
{
    char length[32];
    report_time((double)t->frames / t->rate, length, sizeof length);
    fprintf(to, "%s: %s, %s, %.0f Hz, %s\n", t->name, length, t->channels == 1 ? "mono" : "stereo", t->rate, t->format);
    if (t->promised == SOUND_NO_END)
        fputs("  The file breaks off: its end is missing, and with it how long it was.\n", to);
    else if (t->frames < t->promised)
        fprintf(to, "  The file breaks off: %.1f of %.1f s are there.\n", (double)t->frames / t->rate,
                (double)t->promised / t->rate);
    if (t->not_finite)
        fprintf(to, "  %" PRIu64 " samples in it are not numbers; they were taken for silence.\n", t->not_finite);
    if (t->damaged)
        fprintf(to, "  %" PRIu64 " damaged samples in it, at +24 dBFS or over; they were taken for silence.\n",
                t->damaged);
    if (strstr(t->format, "8 bit"))
        fputs("  Its 8 bits make noise of their own, near -50 dB: record and export with 24.\n", to);
    if (t->opposite)
        fputs("  Its channels cancel each other: turn the polarity of one of them over. Each is heard for itself here, "
              "and left as it came.\n",
              to);
    if (t->lone)
        fprintf(
            to,
            "  Only its %s channel sounds, and so the mix stays on the %s. For one in the middle, export that channel "
            "as a mono file.\n",
            take_side(t), take_side(t));
    if (t->late != 0.0)
        fprintf(to,
                "  Its %s channel is late by %.1f ms: in mono the two of them make a comb filter. Move it earlier by "
                "so much, or use the other one alone.\n",
                take_late_side(t), fabs(t->late));
    print_two_levels(t, to);
    if (t->clicks_a_minute > 0.0)
        fprintf(
            to,
            "  Its clicks are regular, %.0f a minute: most likely a click track that leaks from the headphones. Turn "
            "them down, or wear closed ones.\n",
            t->clicks_a_minute);
    if (t->voiceless)
        fputs("  No voice was heard in it, not a second of one, and nothing was learned from it.\n", to);
}

static double seconds_of(const Report *r, uint32_t take)
{
    return (double)r->stage[r->stages - 1].effect[take].frames / r->take[take].rate;
}

/* What is in the file of a take; of two, voice and ambience, what the mix of both was. */
static Delivered delivered(const Report *r, uint32_t take)
{
    const Effect *mix = &r->stage[r->stages - 1].effect[take];
    if (!r->take[take].out[1])
        return r->take[take].delivered[0];
    return (Delivered){.level = mix->out.level, .loudness = mix->out.loudness, .peak = mix->out.peak, .true_peak = NAN};
}

double report_level(const Report *r, uint32_t take)
{
    return delivered(r, take).level;
}

static void figures_text(const Delivered *d, double seconds, char *text, size_t size)
{
    char level[16], peak[16];
    level_text(d->level, level, sizeof level);
    level_text(d->peak, peak, sizeof peak);
    if (d->level <= LEVEL_SILENT + 1.0 || d->loudness <= LOUDNESS_LOW)
        snprintf(text, size, "too %s for a level, peak %s%s", seconds < LEVEL_BLOCK ? "short" : "quiet", peak,
                 strcmp(peak, "silence") ? " dBFS" : "");
    else if (isnan(d->true_peak)) /* it was not looked for: in no file */
        snprintf(text, size, "level %s dB, loudness %.1f LUFS, peak %s dBFS", level, fill_tenths(d->loudness), peak);
    else
        snprintf(text, size, "level %s dB, loudness %.1f LUFS, true peak %.1f dBTP", level, fill_tenths(d->loudness),
                 fill_tenths(d->true_peak));
}

void report_levels(const Report *r, uint32_t take, char *text, size_t size)
{
    const Delivered d = delivered(r, take);
    figures_text(&d, seconds_of(r, take), text, size);
    if (r->take[take].out[1])
        snprintf(text + strlen(text), size - strlen(text), ", of the two together before they are files");
}

/* Of voice and ambience, what is in each file. */
static void print_parts(const Report *r, uint32_t take, FILE *to)
{
    const Take *t = &r->take[take];
    for (uint32_t part = 0; part < 2 && t->out[1]; ++part) {
        char text[256];
        figures_text(&t->delivered[part], seconds_of(r, take), text, sizeof text);
        fprintf(to, "  %s: %s\n", t->out[part], text);
    }
}

/* What Check heard in the mix, where it was asked. */
static void print_mixed(const Report *r, uint32_t take, FILE *to)
{
    char text[256];
    const Readings *mixed = r->mixed ? r->mixed[take] : NULL;
    if (mixed && fill_holds(&(Said){.readings = mixed}, "phrase_spread") &&
        fill_in(mixed, "phrases that spread over {phrase_spread}", text, sizeof text))
        fprintf(to, "  %s, as Check hears the mix\n", text);
}

/* What --loudness and --peak made of it: of one file, as those are of one. */
static void print_delivered(const Report *r, uint32_t take, FILE *to)
{
    char text[256];
    const Delivery *wish = &r->plan->options->delivery;
    Delivered d = r->take[take].delivered[0];
    if (r->take[take].out[1] || d.true_peak <= LEVEL_SILENT + 1.0)
        return;
    if (d.held)
        fputs("  its true peak holds it back from the loudness that was asked for\n", to);
    if (!wish->by_loudness && !wish->by_peak && !r->backing)
        return;
    d.level -= d.gain;
    d.loudness -= d.gain;
    d.peak -= d.gain;
    d.true_peak -= d.gain;
    figures_text(&d, seconds_of(r, take), text, sizeof text);
    fprintf(to, "  in the file %+.1f dB; the mix before that: %s\n", fill_tenths(d.gain), text);
}

/* LU that the take is under its mix; a peak that holds it back leaves it there. */
static double under_the_mix(const Take *t)
{
    return t->delivered[0].loudness - t->as_before.loudness;
}

static void print_held_back(const Report *r, const Take *t, FILE *to)
{
    fprintf(to, ". Its peak holds it back, %.1f LU under the mix: to compare, turn the mix down by so much",
            under_the_mix(t));
    if (!r->plan->options->together)
        fprintf(to, ", or ask for --loudness %.1f", floor(10.0 * t->as_before.loudness) / 10.0);
}

static const char *written_name(const char *path, bool bare)
{
    return bare ? name_base(path) : path;
}

/* The take at the mix's loudness. */
static void print_before(const Report *r, const Take *t, bool bare, FILE *to)
{
    const Delivered *got = &t->as_before;
    if (!t->before)
        return;
    fprintf(to, "%s\n", written_name(t->before, bare));
    if (got->loudness <= LOUDNESS_LOW || t->delivered[0].loudness <= LOUDNESS_LOW) {
        fputs("  the take as it came: too quiet or too short for a loudness to match\n", to);
        return;
    }
    fprintf(to, "  the take %s, %+.1f dB: loudness %.1f LUFS, true peak %.1f dBTP",
            got->held ? "nearer to the mix's loudness" : "at the mix's loudness", fill_tenths(got->gain), got->loudness,
            fill_tenths(got->true_peak));
    if (got->held)
        print_held_back(r, t, to);
    fputc('\n', to);
}

/* bare: names without their folders. */
static void print_mix(const Report *r, uint32_t take, bool bare, FILE *to)
{
    const Take *t = &r->take[take];
    const Effect *mix = &r->stage[r->stages - 1].effect[take];
    char length[32], level[256];
    report_time((double)mix->frames / t->rate, length, sizeof length);
    report_levels(r, take, level, sizeof level);
    fprintf(to, "%s%s%s\n  %s\n", written_name(t->out[0], bare), t->out[1] ? " and " : "",
            t->out[1] ? written_name(t->out[1], bare) : "", level);
    print_parts(r, take, to);
    print_delivered(r, take, to);
    fprintf(to, "  %s, %s, %.0f Hz, %s", length, t->written == 1 ? "mono" : "stereo",
            options_rate(r->plan->options, t->rate), sound_bits_name(r->bits));
    if (mix->frames > t->frames)
        fprintf(to, ", %.1f s of it a tail after the take", (double)(mix->frames - t->frames) / t->rate);
    fputc('\n', to);
    print_mixed(r, take, to);
    if (t->over[0] + t->over[1])
        fprintf(to,
                "  CLIPPED: %" PRIu64 " samples were over full scale. Ask for a lower trim.target or less makeup, or "
                "write --float.\n",
                t->over[0] + t->over[1]);
    print_before(r, t, bare, to);
    if (r->backing)
        backing_print(r->backing, t, to);
}

static void print_voice_heard(const Report *r, FILE *to)
{
    if (r->voice_of > 1)
        fprintf(to, "voice: %s, the range that Check heard in all %" PRIu32 " takes together; none was named\n",
                r->voice, r->voice_of);
    else
        fprintf(to, "voice: %s, the range that Check heard; none was named\n", r->voice);
}

/* Where the stages were named, repairs are put in by name alone. */
static void print_saved_repairs(const Plan *plan, FILE *to)
{
    char list[128] = "";
    size_t used = 0;
    for (uint32_t i = 0; i < REPAIRS; ++i)
        if (!plan->options->repair_none && saved_holds(plan->saved, repairs[i].plugin) &&
            !options_has_stage(plan->options, repairs[i].plugin))
            used += (size_t)snprintf(list + used, sizeof list - used, "%s%s", used ? "," : "", repairs[i].plugin);
    if (used)
        fprintf(to, "  it also holds %s: to have that too, add --repair %s\n", list, list);
}

static void print_saved_row(const Options *o, FILE *to)
{
    fputs("  its plug-ins, in their usual order:", to);
    for (uint32_t s = 0; s < o->stages; ++s)
        fprintf(to, "%s %s", s ? "," : "", o->stage[s]);
    fputs(o->put ? "; --repair none leaves repairs out\n" : "\n", to);
}

static void print_voice(const Report *r, FILE *to)
{
    if (*r->plan->saved)
        fprintf(to, "settings: those of %s, and what is learned is learned anew\n", r->plan->saved);
    if (*r->plan->saved && r->plan->options->stages_saved)
        print_saved_row(r->plan->options, to);
    else if (*r->plan->saved)
        print_saved_repairs(r->plan, to);
    if (r->voice && r->voice_heard)
        print_voice_heard(r, to);
    else if (r->voice)
        fprintf(to, "voice: %s\n", r->voice);
    else if (!*r->plan->saved)
        fprintf(to, "voice: none, plug-ins at their defaults%s\n",
                r->voice_heard ? "; none was named, and Check could not tell" : "");
    if (r->voices_apart)
        fputs("  The ranges of these takes differ by more than neighbours do, which one singer's would not: each take "
              "has "
              "its own.\n",
              to);
}

static void print_check(const Readings *check, FILE *to)
{
    Section heard = {.to = to, .plugin = "check", .who = "", .kind = HEARD, .voice = !report_voiceless(check)};
    if (!check->plugin)
        return;
    fprintf(to, "\ncheck, of the take as it came%s\n", advice_at(check, 0) ? "; ! marks a fault" : "");
    print_kind(&heard, check);
}

/* The answer to the first question, before all else. */
static void print_verdicts(const Take *take, uint32_t takes, const Readings *check, FILE *to)
{
    for (uint32_t t = 0; t < takes && check->plugin; ++t)
        fprintf(to, "Is %s usable? %s\n", take[t].name, report_verdict(check, &take[t]));
    fputs(check->plugin ? "\n" : "", to);
}

/* Where one channel is late, or it begins with talk. who: hears one side, or the rest. */
static void print_sides(const Take *take, uint32_t takes, const char *who, FILE *to)
{
    char at[32];
    for (uint32_t t = 0; t < takes; ++t) {
        fill_time(take[t].talk, at, sizeof at);
        if (take[t].talk > 0.0)
            fprintf(to, "%s hears %s from %s on: what comes before is talk.\n", who, take[t].name, at);
        if (take[t].louder)
            fprintf(to, "%s hears only the %s channel of %s: both together are a comb filter.\n", who,
                    take[t].louder == 2 ? "right" : "left", take[t].name);
    }
}

void report_print_heard(const Take *take, uint32_t takes, const Readings *check, bool tone, FILE *to)
{
    print_verdicts(take, takes, check, to);
    for (uint32_t t = 0; t < takes; ++t)
        print_take(&take[t], to);
    if (tone)
        print_sides(take, takes, "Tone", to);
    print_check(check, to);
}

/* A repair that Check asks for and that is not among the stages. */
static bool is_left_out(const Report *r, const Repair *repair)
{
    return !options_has_stage(r->plan->options, repair->plugin) && repair_asked(repair, r->plan, r->check);
}

static void print_left_out(const Report *r, FILE *to)
{
    char text[256];
    bool begun = false;
    for (uint32_t i = 0; i < REPAIRS; ++i) {
        if (!is_left_out(r, &repairs[i]) || !fill_in(r->check, repairs[i].helps, text, sizeof text))
            continue;
        if (!begun)
            fputs("\nwhat would help before the chain: --repair auto puts it there\n", to);
        fprintf(to, "  %-6s %s\n", repairs[i].plugin, text);
        begun = true;
    }
}

static void print_put_in(const Report *r, FILE *to)
{
    const char *between = "";
    fputs("\nrepairs that Check asks for: ", to);
    for (uint32_t s = 0; s < r->stages; ++s) {
        if (!repair_named(r->stage[s].name))
            continue;
        fprintf(to, "%s%s", between, r->stage[s].name);
        between = ", ";
    }
    fputs(*between ? "\n" : "none\n", to);
}

static void print_repairs(const Report *r, FILE *to)
{
    if (r->plan->options->repair_heard)
        print_put_in(r, to);
    else if (!r->plan->options->repair_none)
        print_left_out(r, to);
}

static const char about_levels[] =
    "In, out and gain: plain RMS while there is sound. Loudness: the change in LU, mono counted as on both speakers.\n"
    "Peaks: dBFS. What is in the file, at its own rate and loudness, stands under its name.\n";

void report_print_result(const Report *r, uint32_t take, FILE *to)
{
    print_mix(r, take, true, to);
    fputs("\nmade from this take\n", to);
    print_take(&r->take[take], to);
    print_voice(r, to);
    print_levels(r, take, to);
    fputs(about_levels, to);
}

void report_print(const Report *r, FILE *to)
{
    print_verdicts(r->take, r->takes, r->check, to);
    for (uint32_t t = 0; t < r->takes; ++t)
        print_take(&r->take[t], to);
    if (options_has_stage(r->plan->options, "tone"))
        print_sides(r->take, r->takes, "Tone", to);
    if (options_has_stage(r->plan->options, "chain"))
        print_sides(r->take, r->takes, "Chain", to);
    print_voice(r, to);
    if (r->check_asked)
        print_check(r->check, to);
    else
        fputs("\ncheck was not asked, as no stage learns\n", to);
    print_repairs(r, to);
    for (uint32_t s = 0; s < r->stages; ++s)
        report_print_stage(r, &r->stage[s], to);
    for (uint32_t t = 0; t < r->takes; ++t)
        print_levels(r, t, to);
    fputs(about_levels, to);
    fputc('\n', to);
    for (uint32_t t = 0; t < r->takes; ++t)
        print_mix(r, t, false, to);
}
