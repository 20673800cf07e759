#include "run.h"

#include "check_memory.h"
#include "jobs.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void look_free(Look *l)
{
    spool_free(l->mix);
    for (uint32_t s = 0; l->stage && s < l->stages; ++s)
        trace_free(&l->stage[s]);
    free(l->stage);
    trace_free(&l->check);
    lesson_free(&l->mixed);
    for (uint32_t k = 0; k < LOOK_SIDES; ++k) {
        survey_free(&l->side[k]);
        if (l->audio[k] > 0)
            close(l->audio[k]);
    }
    *l = (Look){0};
}

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

bool run_start_looks(Run *r, Error *e)
{
    if (!r->options.report)
        return true;
    r->look = calloc(r->options.ins, sizeof *r->look);
    for (uint32_t t = 0; r->look && t < r->options.ins; ++t) {
        Look *l = &r->look[t];
        l->stages = r->options.stages;
        l->stage = calloc(l->stages, sizeof *l->stage);
        for (uint32_t s = 0; l->stage && s < l->stages; ++s)
            trace_start(&l->stage[s], r->take[t].rate);
        if (!l->stage)
            return no_memory(e);
    }
    return r->look || no_memory(e);
}

/* ---- One pass, over a take or over its mix ---- */

typedef struct {
    Listener check;
    Lesson again; /* of the take: thrown away afterwards */
    Audition audition;
} Pair;

static StagePlan check_plan(const Run *r)
{
    return (StagePlan){.host = r->plan.host, .name = "check", .silence = RUN_CHECK_SILENCE};
}

/* Over the take Check goes on from what it has learned already; over the mix it begins anew. */
static bool start_check(Run *r, Look *l, Pair *p, const Lesson *learned, uint32_t side, uint32_t channels, double rate,
                        Sinks *to, Error *e)
{
    Lesson *lesson = side == LOOK_BEFORE ? &p->again : &l->mixed;
    const StagePlan plan = check_plan(r);
    if (!learned->state)
        return true;
    if (side == LOOK_BEFORE && !(p->again.state = strdup(learned->state)))
        return no_memory(e);
    if (!listener_start(&p->check, &plan, channels, rate, lesson, e))
        return false;
    if (side == LOOK_BEFORE) {
        trace_start(&l->check, rate);
        p->check.trace = &l->check;
        l->began = ceil(learned->seconds / CHECK_NOW_STEP) * CHECK_NOW_STEP;
    }
    sinks_add(to, &p->check.sink);
    return true;
}

/* Into its file, or, where it goes into the page, into one without a name. */
static bool start_audition(Run *r, Look *l, Pair *p, uint32_t take, uint32_t side, uint32_t channels, Sinks *to,
                           Error *e)
{
    NewFile *file = outputs_audition(&r->outputs, take, side);
    const double gain = side == LOOK_BEFORE ? l->gains.before : l->gains.after;
    int handle = -1;
    if (file) {
        handle = newfile_open(file, e);
    } else if ((l->audio[side] = spool_nameless(r->folder, e)) >= 0) {
        handle = dup(l->audio[side]);
    }
    if (handle < 0 || !audition_start(&p->audition, handle, file ? file->name : r->folder, r->take[take].rate, channels,
                                      gain, spool_frames(l->mix), e))
        return false;
    sinks_add(to, &p->audition.sink);
    return true;
}

static double voice_level(const Lesson *check)
{
    const Port *port;
    const Reading *level = readings_of(&check->heard, "voice_level", &port);
    return level && level->last > -199.f ? (double)level->last : UNITS_DB_FLOOR;
}

static bool look_at(Run *r, uint32_t take, uint32_t side, const Lesson *learned, Pair *p, Error *e)
{
    Take *t = &r->take[take];
    Look *l = &r->look[take];
    Sinks to = {0};
    const uint32_t channels = side == LOOK_BEFORE ? t->channels : spool_channels(l->mix);
    survey_start(&l->side[side], t->rate, channels);
    sinks_add(&to, &l->side[side].sink);
    if ((side == LOOK_BEFORE && !survey_find_phrases(&l->side[side], voice_level(learned), e)) ||
        !start_check(r, l, p, learned, side, channels, t->rate, &to, e) ||
        !start_audition(r, l, p, take, side, channels, &to, e))
        return false;
    t->audio = side == LOOK_AFTER ? l->mix : NULL;
    const bool ok = take_pass(t, &to, &r->progress, "drawing", "report", e);
    t->audio = NULL;
    return ok;
}

static bool look_at_both(void *run, uint32_t take, Error *e)
{
    Run *r = run;
    const uint32_t takes = plan_group(&r->plan);
    const StageResult *result = run_results(r, take / takes);
    const Effect *first = &result[0].effect[take % takes], *last = &result[r->options.stages - 1].effect[take % takes];
    r->look[take].gains = audition_gains(&first->in, &last->out);
    for (uint32_t side = 0; side < LOOK_SIDES; ++side) {
        Pair p = {0};
        const bool ok = look_at(r, take, side, &r->check[take / takes], &p, e);
        listener_free(&p.check);
        lesson_free(&p.again);
        audition_free(&p.audition);
        if (!ok)
            return false;
    }
    return true;
}

bool run_look(Run *r, Error *e)
{
    return !r->look || jobs_run(r->options.ins, r->options.jobs, look_at_both, r, &r->progress, e);
}
