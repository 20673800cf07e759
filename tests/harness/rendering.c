#include "rendering.h"

#include "advice.h"
#include "comparing.h"
#include "fill.h"
#include "page.h"
#include "repair.h"
#include "run.h"
#include "saved.h"
#include "sheet.h"
#include "source.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* ---- Telling ---- */

/* mixed: room for one a take of the group. */
static Report report_of(const Run *r, uint32_t group, const Readings **mixed)
{
    const uint32_t takes = plan_group(&r->plan);
    for (uint32_t t = 0; r->look && t < takes; ++t)
        mixed[t] = &r->look[(size_t)group * takes + t].mixed.heard;
    return (Report){.voice = run_voice(r, group),
                    .voice_heard = !r->options.voice && !r->options.from,
                    .voice_of = r->one_voice ? run_groups(r) : 1,
                    .voices_apart = r->voices_apart,
                    .check_asked = plan_asks_check(&r->plan) || !plan_has(&r->plan, "check"),
                    .check = &r->check[group].heard,
                    .apart = r->options.apart,
                    .backing = r->options.backing && group ? &r->backing : NULL,
                    .plan = &r->plan,
                    .bits = r->options.bits,
                    .stage = run_results(r, group),
                    .stages = r->options.stages,
                    .take = run_takes(r, group),
                    .takes = takes,
                    .mixed = r->look ? mixed : NULL,
                    .like = r->like.fitted ? &r->like : NULL};
}

/* Of every group of takes, what a report of it is made of. */
typedef struct {
    Report *report;
    Next *next;
    const Readings **mixed;
    PageTake *part; /* one a take */
} Telling;

static void telling_free(Telling *t)
{
    free(t->report);
    free(t->next);
    free(t->mixed);
    free(t->part);
}

static void tell_take(const Run *r, const Telling *t, uint32_t take)
{
    const uint32_t takes = plan_group(&r->plan), group = take / takes;
    PageTake *part = &t->part[take];
    *part = (PageTake){.report = &t->report[group], .index = take % takes, .next = &t->next[group]};
    part->look = r->look ? &r->look[take] : NULL;
    for (uint32_t side = 0; r->look && side < LOOK_SIDES; ++side) {
        const NewFile *file = outputs_audition(&r->outputs, take, side);
        part->audio[side] = file ? file->name : NULL;
    }
}

/* false: out of memory. Followed by telling_free() in any case. */
static bool telling_make(Telling *t, const Run *r, Error *e)
{
    const uint32_t groups = run_groups(r), takes = plan_group(&r->plan);
    *t = (Telling){.report = calloc(groups, sizeof *t->report),
                   .next = calloc(groups, sizeof *t->next),
                   /* NOLINTNEXTLINE(bugprone-sizeof-expression): they are pointers */
                   .mixed = calloc(r->options.ins, sizeof *t->mixed),
                   .part = calloc(r->options.ins, sizeof *t->part)};
    if (!t->report || !t->next || !t->mixed || !t->part)
        return error_set(e, ERROR_INSIDE, "out of memory");
    for (uint32_t g = 0; g < groups; ++g) {
        t->report[g] = report_of(r, g, t->mixed + (size_t)g * takes);
        next_make(&t->next[g], &t->report[g], &r->options);
    }
    for (uint32_t k = 0; k < r->options.ins; ++k)
        tell_take(r, t, k);
    return true;
}

static void print_page_name(const Run *r, FILE *out)
{
    const NewFile *page = outputs_page(&r->outputs);
    if (page)
        fprintf(out, "\nThe report is %s; open it in a browser.\n", page->name);
    for (uint32_t t = 0; page && t < r->options.ins; ++t) {
        const NewFile *before = outputs_audition(&r->outputs, t, LOOK_BEFORE),
                      *after = outputs_audition(&r->outputs, t, LOOK_AFTER);
        if (before && after)
            fprintf(out, "  it plays %s and %s, which have to stay beside it\n", before->name, after->name);
    }
}

/* Some stage listened, and heard a voice or, as Esses may without one, sibilants. */
static bool learned_any(const Run *r)
{
    const StageResult *result = run_results(r, 0);
    bool voice = false;
    for (uint32_t t = 0; t < r->options.ins; ++t)
        voice |= !r->take[t].voiceless;
    for (uint32_t s = 0; s < r->options.stages; ++s)
        if (result[s].lesson.state &&
            (voice || fill_holds(&(Said){.readings = &result[s].lesson.heard}, "found_centre")))
            return true;
    return false;
}

/* "of trim, tone and plate", and that Chain, which has few of their controls, has none. */
static void print_saved(const Run *r, FILE *out)
{
    const Options *o = &r->options;
    fprintf(out, "%s: a preset \"%s\" of ", r->preset.folder, r->preset.label);
    for (uint32_t s = 0; s < o->stages; ++s)
        fprintf(out, "%s%s", s ? s + 1 < o->stages ? ", " : " and " : "", o->stage[s]);
    fputs(learned_any(r) ? ", learned figures included\n" : "; nothing was learned, so it holds only what was set\n",
          out);
    if (!options_has_stage(o, "chain") && plan_has(&r->plan, "chain"))
        fputs("  Chain has none of it: insert these plug-ins, or for one of Chain add --stages chain.\n", out);
    fputs(o->install ? "  Your host lists it once it looks for plug-ins again.\n"
                     : "  To have it in your host: copy that folder into ~/.lv2 (--install-preset does).\n",
          out);
}

static void print_reports(const Run *r, const Telling *t, FILE *out)
{
    for (uint32_t g = 0; g < run_groups(r); ++g) {
        if (g)
            fputs("\n----\n\n", out);
        report_print(&t->report[g], out);
        if (r->options.like)
            like_print(&r->like, &r->take[0].delivered[0], r->options.preset, out);
        next_print(&t->next[g], out);
    }
    if (r->options.preset)
        print_saved(r, out);
    print_page_name(r, out);
    for (uint32_t k = 0; k < r->options.ins && outputs_sheet(&r->outputs, k); ++k)
        fprintf(out, "%s%s: what was done, to hand over with it\n", k || r->options.report ? "" : "\n",
                outputs_sheet(&r->outputs, k)->name);
}

static void print_advice(const Run *r, FILE *out)
{
    const uint32_t takes = plan_group(&r->plan);
    for (uint32_t g = 0; g < run_groups(r); ++g) {
        const Take *take = run_takes(r, g);
        const Readings *check = &r->check[g].heard;
        double seconds = 0.0;
        bool lopsided = false;
        for (uint32_t t = 0; t < takes; ++t) {
            seconds += (double)take[t].frames / take[t].rate;
            lopsided |= take_is_lopsided(&take[t]);
        }
        fputs(g ? "\n----\n\n" : "", out);
        report_print_heard(take, takes, check, r->tone[g].heard.plugin != NULL, out);
        if (report_voiceless(check))
            fprintf(out, "\n%s\n", advice_voiceless(check));
        else
            advice_print(check, &r->tone[g].heard, &r->esses[g].heard, seconds, lopsided, out);
    }
}

static void warn_of_clipping(const Run *r, FILE *err)
{
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (r->take[t].over[0] + r->take[t].over[1])
            fprintf(err, "render: %s: the mix is over full scale and was clipped; see the table\n", r->take[t].name);
}

/* The exit status: a take without a voice has its own. */
static ErrorStatus warn_of_silence(const Run *r, FILE *err)
{
    ErrorStatus status = ERROR_NONE;
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        if (!r->take[t].voiceless)
            continue;
        fprintf(err, "render: %s: no voice was heard in it, and nothing was learned from it\n", r->take[t].name);
        status = ERROR_NO_VOICE;
    }
    return status;
}

/* A table that was lost is told, and where the result is. */
static bool table_is_out(const Run *r, FILE *out, Error *e)
{
    errno = 0;
    if (!fflush(out) && !ferror(out))
        return true;
    const char *written = r->take && r->take[0].out[0] ? r->options.out : NULL;
    return error_set(e, ERROR_WRITE, "the table cannot be written: %s%s%s", strerror(errno ? errno : EIO),
                     written ? "; the result is written: " : "", written ? written : "");
}

/* ---- Advice ---- */

static bool check_is_there(const Plan *p, Error *e)
{
    return plan_has(p, "check") || error_set(e, ERROR_PLUGIN, "--advise: no plug-in \"check\" in this bundle");
}

/* What is found and what to do about it; nothing is written. */
static bool advise(Run *r, FILE *out, Error *e)
{
    double frames = 0.0;
    r->options.stages = 0;
    r->folder = spool_scratch();
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (!source_check(r->options.in[t], e))
            return false;
    if (!plan_open(&r->plan, &r->options, e) || !check_is_there(&r->plan, e) ||
        !takes_look(r->take, &r->plan, r->folder, &frames, e))
        return false;
    progress_start(&r->progress, frames * run_hear_passes(r));
    const bool ok = run_hear_for_advice(r, e);
    progress_end(&r->progress);
    if (ok)
        print_advice(r, out);
    return ok;
}

/* ---- Rendering ---- */

/* All that can be refused before a take is read. */
static bool plan_all(Run *r, Error *e)
{
    char installed[4200];
    const char *preset = r->options.preset;
    if (r->options.install) {
        if (!saved_home(preset, installed, sizeof installed, e) || !saved_make_home(e))
            return false;
        preset = installed;
    }
    return outputs_plan(&r->outputs, &r->options, e) &&
           (!preset || (preset_bundle_plan(&r->preset, preset, e) &&
                        outputs_plan_preset(&r->outputs, &r->preset, &r->options, e))) &&
           plan_open(&r->plan, &r->options, e) && plan_stages(&r->plan, e);
}

static bool save_preset(Run *r, Error *e)
{
    const StageResult *result = run_results(r, 0);
    if (!r->options.preset)
        return true;
    if (!preset_bundle_make(&r->preset, e))
        return false;
    for (uint32_t s = 0; s < r->options.stages; ++s)
        if (!preset_bundle_add(&r->preset, &result[s].plan, result[s].lesson.state, &result[s].effect->readings,
                               r->take->rate, e))
            return false;
    return true;
}

static bool save_page(Run *r, const Telling *t, const char *table, Error *e)
{
    NewFile *page = outputs_page(&r->outputs);
    const int handle = page ? newfile_open(page, e) : -1;
    return !page || (handle >= 0 && page_write(handle, page->name, t->part, r->options.ins, table, e));
}

static bool save_sheets(Run *r, const Telling *t, Error *e)
{
    bool ok = true;
    for (uint32_t k = 0; ok && k < r->options.ins; ++k) {
        NewFile *sheet = outputs_sheet(&r->outputs, k);
        const int handle = sheet ? newfile_open(sheet, e) : -1;
        ok = !sheet || (handle >= 0 && sheet_write(handle, sheet->name, t->part[k].report, t->part[k].index, e));
    }
    return ok;
}

/* The table, and the page that holds it too. */
static bool tell(Run *r, Telling *t, char **table, Error *e)
{
    size_t size = 0;
    FILE *text = open_memstream(table, &size);
    if (!text || !telling_make(t, r, e)) {
        if (text)
            fclose(text);
        return error_set(e, ERROR_INSIDE, "out of memory");
    }
    print_reports(r, t, text);
    const bool whole = !ferror(text);
    return (!fclose(text) && whole) ? save_page(r, t, *table, e) && save_sheets(r, t, e)
                                    : error_set(e, ERROR_INSIDE, "out of memory");
}

/* Every file is complete before the first gets its name. */
static bool keep_all(Run *r, Error *e)
{
    return save_preset(r, e) && preset_bundle_keep(&r->preset, e) && outputs_keep(&r->outputs, e);
}

/* Frames that all passes over the takes amount to. */
static double work_in(const Run *r, double frames)
{
    const double chain = run_chain_passes(r), tries = r->like.tries ? r->like.tries : LIKE_TRIES;
    const double like = r->options.like ? tries * chain + 1.0 : 0.0;
    const double hear = plan_asks_check(&r->plan) ? run_hear_passes(r) : 0.0;
    return (double)r->like.other.promised +
           frames * (chain + like + hear + (r->options.report ? 2.0 : 0.0) + (r->options.matched ? 1.0 : 0.0));
}

static bool any_asks(const Run *r, const Repair *repair)
{
    for (uint32_t g = 0; g < run_groups(r); ++g)
        if (repair_asked(repair, &r->plan, &r->check[g].heard))
            return true;
    return false;
}

/* What Check asks for in one of the takes goes before the chain of all: they come from one room and one microphone. */
static bool put_repairs(Run *r, Error *e)
{
    uint32_t put = 0;
    for (uint32_t i = 0; i < REPAIRS && r->options.repair_heard; ++i)
        if (!options_has_stage(&r->options, repairs[i].plugin) && any_asks(r, &repairs[i]))
            options_put_stage(&r->options, put++, repairs[i].plugin);
    return !put || (plan_stages(&r->plan, e) && takes_try(r->take, &r->plan, e));
}

static bool run_all(Run *r, double frames, Telling *telling, char **table, Error *e)
{
    progress_start(&r->progress, work_in(r, frames));
    bool ok = run_hear_like(r, e) && run_hear(r, e) && put_repairs(r, e);
    progress_expect(&r->progress, work_in(r, frames));
    ok = ok && run_like(r, e);
    progress_expect(&r->progress, work_in(r, frames));
    ok = ok && run_start_looks(r, e) && run_chain_like(r, e) && run_matched(r, e) && run_look(r, e) &&
         tell(r, telling, table, e) && keep_all(r, e);
    progress_end(&r->progress);
    return ok;
}

static bool render(Run *r, FILE *out, Error *e)
{
    double frames = 0.0;
    if (!plan_all(r, e) || !outputs_make_folder(&r->outputs, e))
        return false;
    r->folder = r->outputs.folder;
    leftovers_look(&r->left, r->folder);
    if (!takes_look(r->take, &r->plan, r->folder, &frames, e) ||
        (r->options.like && !take_look(&r->like.other, r->options.like, r->folder, e)))
        return false;
    Telling telling = {0};
    char *table = NULL;
    const bool ok = run_all(r, frames, &telling, &table, e);
    if (ok)
        fputs(table, out);
    telling_free(&telling);
    free(table);
    return ok;
}

/* ---- The whole ---- */

static bool list(Run *r, FILE *out, Error *e)
{
    const bool ok = plan_open(&r->plan, &r->options, e);
    if (ok)
        plan_list(&r->plan, out);
    return ok;
}

static bool work(Run *r, FILE *out, Error *e)
{
    if (r->options.help) {
        options_help(out);
        return true;
    }
    if (r->options.version) {
        options_version(out);
        return true;
    }
    if (r->options.list)
        return list(r, out, e);
    r->take = calloc(r->options.ins, sizeof *r->take);
    if (!r->take)
        return error_set(e, ERROR_INSIDE, "out of memory");
    progress_catch_signals();
    if (r->options.compare)
        return comparing_run(r, out, e);
    return r->options.advise ? advise(r, out, e) : render(r, out, e);
}

int render_run(int argc, char **argv, FILE *out, FILE *err)
{
    Error e = {0};
    Run r = {0};
    const bool ok = options_read(&r.options, argc, argv, &e) && work(&r, out, &e) && table_is_out(&r, out, &e);
    if (ok && r.take) {
        leftovers_tell(&r.left, r.folder, err);
        warn_of_clipping(&r, err);
        e.status = warn_of_silence(&r, err);
    }
    if (!ok)
        fprintf(err, "render: %s\n", e.text);
    run_free(&r);
    return (int)e.status;
}
