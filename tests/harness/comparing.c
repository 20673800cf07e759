#include "comparing.h"

#include "check_faults.h"
#include "compare_page.h"
#include "jobs.h"
#include "source.h"

#include <stdlib.h>
#include <string.h>

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* ---- Hearing the takes ---- */

typedef struct {
    Run *run;
    Phrasing *phrasing; /* one a take of the run */
} Phrasings;

static float heard(const Run *r, uint32_t take, const char *symbol, float otherwise)
{
    const Port *port;
    const Reading *reading = readings_of(&r->check[take].heard, symbol, &port);
    return reading ? reading->last : otherwise;
}

static bool phrase_take(void *context, uint32_t take, Error *e)
{
    const Phrasings *l = context;
    Run *r = l->run;
    Take *t = &r->take[take];
    Sinks to = {0};
    if (t->voiceless)
        return true;
    if (!phrasing_start(&l->phrasing[take], t->rate, t->channels, (double)heard(r, take, "voice_level", -200.f), e))
        return false;
    if (heard(r, take, "flat_tops", 0.f) > 0.f &&
        heard(r, take, "clipped_samples", 0.f) <= check_faults_limit(FAULT_CLIPPED))
        l->phrasing[take].flat_level = (double)heard(r, take, "flat_tops_level", 0.f);
    sinks_add(&to, &l->phrasing[take].sink);
    return take_pass(t, &to, &r->progress, "comparing", "phrases", e);
}

/* ---- Telling ---- */

static uint32_t list_takes(const Run *r, const Phrasing *phrasing, CompareTake *take)
{
    uint32_t used = 0;
    for (uint32_t t = 0; t < r->options.ins; ++t)
        if (!r->take[t].voiceless)
            take[used++] = (CompareTake){r->take[t].name, &phrasing[t], heard(r, t, "out_of_tune", -1.f) > -1.f};
    return used;
}

static void print_takes(const Run *r, FILE *to)
{
    for (uint32_t t = 0; t < r->options.ins; ++t)
        report_print_heard(&r->take[t], 1, &(Readings){0}, false, to);
}

static bool write_page(const Run *r, const Compare *c, const char *table, Error *e)
{
    NewFile *page = outputs_page(&r->outputs);
    const int handle = page ? newfile_open(page, e) : -1;
    return !page || (handle >= 0 && compare_page_write(handle, page->name, c, table, e));
}

/* The table as text, which the page has too. To be freed; NULL: out of memory. */
static char *print_table(const Run *r, const Compare *c)
{
    char *table = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&table, &size);
    if (!to)
        return NULL;
    print_takes(r, to);
    if (c->takes)
        compare_print(c, to);
    else
        fputs("\nNothing to compare: that needs two takes in which a voice is heard.\n", to);
    return fclose(to) ? NULL : table;
}

static bool tell(Run *r, const Compare *c, FILE *out, Error *e)
{
    char *table = print_table(r, c);
    if (!table)
        return no_memory(e);
    const bool ok = write_page(r, c, table, e) && outputs_keep(&r->outputs, e);
    if (ok)
        fputs(table, out);
    if (ok && r->options.report)
        fprintf(out, "\nThe report is %s; open it in a browser.\n", r->options.report);
    free(table);
    return ok;
}

/* ---- The whole ---- */

/* take: room for all of them. */
static bool compare_heard(Run *r, Phrasings *l, CompareTake *take, FILE *out, Error *e)
{
    Compare c = {0};
    bool ok = jobs_run(r->options.ins, r->options.jobs, phrase_take, l, &r->progress, e);
    progress_end(&r->progress);
    const uint32_t takes = ok ? list_takes(r, l->phrasing, take) : 0;
    ok = ok && (takes < 2 || compare_make(&c, take, takes, e)) && tell(r, &c, out, e);
    compare_free(&c);
    return ok;
}

static bool compare_all(Run *r, FILE *out, Error *e)
{
    Phrasings l = {r, calloc(r->options.ins, sizeof *l.phrasing)};
    CompareTake *take = calloc(r->options.ins, sizeof *take);
    const bool ok = l.phrasing && take ? compare_heard(r, &l, take, out, e) : no_memory(e);
    for (uint32_t t = 0; l.phrasing && t < r->options.ins; ++t)
        phrasing_free(&l.phrasing[t]);
    free(l.phrasing);
    free(take);
    return ok;
}

bool comparing_run(Run *r, FILE *out, Error *e)
{
    double frames = 0.0;
    r->options.stages = 0;
    if (!outputs_plan_page(&r->outputs, &r->options, e) || !plan_open(&r->plan, &r->options, e))
        return false;
    if (!plan_has(&r->plan, "check"))
        return error_set(e, ERROR_PLUGIN, "--compare: no plug-in \"check\" in this bundle");
    r->folder = spool_scratch();
    if (!takes_look(r->take, &r->plan, r->folder, &frames, e))
        return false;
    progress_start(&r->progress, 2.0 * frames);
    const bool ok = run_hear_to_compare(r, e);
    if (!ok)
        progress_end(&r->progress);
    return ok && compare_all(r, out, e);
}
