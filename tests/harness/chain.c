#include "run.h"

#include "deliver.h"
#include "jobs.h"
#include "resample.h"

#include <stdlib.h>

enum { PARTS = 2 /* voice and ambience */ };

/* One pass over a take: it goes through stages from `first` on, up to one before `past`, where either the next one
 * listens to what comes out or the chain ends in files. */
typedef struct {
    uint32_t first, past;
    Mix *mix;        /* one a stage */
    Mix part[PARTS]; /* the last stage again, with one of its levels silent */
    Copy copy;       /* for the next stage, which will want the same audio again; at the end, for a report */
    Listener next;
    RideHearing hearing; /* beside it, where the next stage works on the whole take: Phrase, */
    HumWholeHearing hum; /* Hum */
    Writer writer[PARTS];
    Resample resample[PARTS]; /* to the rate of the file, before its peaks are measured */
    Deliver deliver[PARTS];
    uint64_t most; /* frames that can come out */
} Pass;

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* ---- What stands behind each other ---- */

/* What comes out of a reverberator is measured until its tail is silent, what goes into the next stage only up to the
 * last frame that is kept. */
static const Effect *measured_before(const Run *r, const StageResult *result, uint32_t stage, uint32_t take)
{
    if (!stage)
        return NULL;
    const char *name = result[stage - 1].name;
    const Plugin *mono = host_plugin(r->plan.host, name, 1), *before = mono ? mono : host_plugin(r->plan.host, name, 2);
    return before->reverb ? NULL : &result[stage - 1].effect[take];
}

/* A plug-in that makes two channels of one makes two equal ones while it is off. */
static bool makes_stereo(const Run *r, uint32_t stage, const Mix *m)
{
    const Plugin *mono = host_plugin(r->plan.host, r->plan.stage[stage].name, 1);
    return mono && mono->outs > 1 && !stage_is_off(m->i);
}

/* Of a backing, the level follows from the lead's. */
static Delivery wish_for(const Run *r, uint32_t take, uint32_t channels)
{
    const Delivery *asked = &r->options.delivery;
    return r->options.backing && take ? backing_delivery(&r->backing, channels, asked->peak) : *asked;
}

static bool start_file(Run *r, Pass *p, uint32_t take, uint32_t part, const Mix *from, Sinks *to, Error *e)
{
    NewFile *file = &r->outputs.file[(size_t)PARTS * take + part];
    Writer *w = &p->writer[part];
    r->take[take].out[part] = file->name;
    const double own = r->take[take].rate, rate = options_rate(&r->options, own);
    const uint32_t channels = r->take[take].channels > 1 || r->take[take].made_stereo ? mix_channels(from) : 1;
    r->take[take].written = channels;
    if (!writer_start(w, file, rate, channels, resample_frames(p->most, own, rate), r->options.bits, e) ||
        !deliver_start(&p->deliver[part], wish_for(r, take, channels), w, r->folder, rate, channels, e) ||
        !resample_start(&p->resample[part], &p->deliver[part].sink, own, rate, channels, e))
        return false;
    sinks_add(to, &p->resample[part].sink);
    return true;
}

/* Voice and ambience: the last stage once with its wet level silent, once with its dry level silent, as long as the
 * mix of both. */
static bool start_parts(Run *r, Pass *p, uint32_t take, const StageResult *last, const Effect *mixed, uint32_t channels,
                        Sinks *to, Error *e)
{
    static const char *const silent[PARTS] = {"wet", "dry"};
    for (uint32_t part = 0; part < PARTS; ++part) {
        Mix *m = &p->part[part];
        const Plugin *plugin = host_plugin(r->plan.host, last->name, channels);
        const Pin pin = {silent[part], plugin_port(plugin, silent[part])->min};
        if (!mix_start(m, &last->plan, channels, r->take[take].rate, last->lesson.state, pin, e))
            return false;
        m->like = mixed;
        sinks_add(to, &m->sink);
        if (!start_file(r, p, take, part, m, &m->to, e))
            return false;
    }
    return true;
}

static bool start_copy(Run *r, Pass *p, double rate, Mix *last, Error *e)
{
    if (!copy_start(&p->copy, r->folder, rate, mix_channels(last), e))
        return false;
    sinks_add(&last->to, &p->copy.sink);
    return true;
}

static bool start_portrait(const Run *r, double rate, Mix *last, Error *e)
{
    if (!r->portrait)
        return true;
    if (!portrait_start(r->portrait, rate, mix_channels(last), e))
        return false;
    sinks_add(&last->to, &r->portrait->sink);
    return true;
}

static bool start_listening(Pass *p, const Take *t, uint32_t index, StageResult *result, uint32_t channels, Sinks *to,
                            Error *e)
{
    const double rate = t->rate;
    if (!listener_start(&p->next, &result->plan, channels, rate, &result->lesson, e))
        return false;
    const bool finds = !strcmp(result->name, "tone") || !strcmp(result->name, "chain");
    p->next.side = channels > 1 && finds ? t->louder : 0;
    p->next.side_gain = (float)t->louder_gain;
    p->next.from = finds ? t->talk : 0.0;
    sinks_add(to, &p->next.sink);
    if (result->hum) {
        hum_whole_hear(&p->hum, &result->hum[index], channels, rate);
        sinks_add(to, &p->hum.sink);
    }
    if (!result->ride)
        return true;
    sinks_add(to, &p->hearing.sink);
    return ride_hear(&p->hearing, &result->ride[index], channels, rate, e);
}

/* What comes out of the last mix of the pass. */
static bool start_end(Run *r, Pass *p, uint32_t take, uint32_t index, StageResult *result, Mix *last, Error *e)
{
    const double rate = r->take[take].rate;
    const uint32_t channels = mix_channels(last);
    if (p->past == r->options.stages && !start_portrait(r, rate, last, e))
        return false;
    if (p->past == r->options.stages && r->tries)
        return true;
    if (p->past == r->options.stages)
        return (r->options.apart || start_file(r, p, take, 0, last, &last->to, e)) &&
               (!r->look || start_copy(r, p, rate, last, e));
    return start_copy(r, p, rate, last, e) &&
           start_listening(p, &r->take[take], index, &result[p->past], channels, &last->to, e);
}

/* `take` counts over all takes, `index` within the group. */
static bool start_pass(Run *r, Pass *p, uint32_t take, uint32_t index, StageResult *result, Sinks *to, Error *e)
{
    Take *t = &r->take[take];
    uint32_t channels = t->audio ? spool_channels(t->audio) : t->channels;
    p->most = t->audio ? spool_frames(t->audio) : t->promised == SOUND_NO_END ? 0 : t->promised;
    for (uint32_t s = p->first; s < p->past; ++s) {
        Mix *m = &p->mix[s - p->first];
        if (!mix_start(m, &result[s].plan, channels, t->rate, result[s].lesson.state, (Pin){0}, e))
            return false;
        m->effect = &result[s].effect[index];
        m->ride = result[s].ride ? &result[s].ride[index] : NULL;
        m->hum = result[s].hum ? &result[s].hum[index] : NULL;
        m->trace = r->look ? &r->look[take].stage[s] : NULL;
        m->before = measured_before(r, result, s, index);
        p->most = mix_most(m, p->most);
        t->made_stereo |= makes_stereo(r, s, m);
        sinks_add(to, &m->sink);
        if (s + 1 == r->options.stages && r->options.apart &&
            !start_parts(r, p, take, &result[s], m->effect, channels, to, e))
            return false;
        channels = mix_channels(m);
        to = &m->to;
    }
    return start_end(r, p, take, index, result, &p->mix[p->past - p->first - 1], e);
}

static void free_pass(Pass *p)
{
    for (uint32_t s = p->first; p->mix && s < p->past; ++s)
        mix_free(&p->mix[s - p->first]);
    for (uint32_t part = 0; part < PARTS; ++part) {
        mix_free(&p->part[part]);
        resample_free(&p->resample[part]);
        deliver_free(&p->deliver[part]);
        writer_free(&p->writer[part]);
    }
    listener_free(&p->next);
    ride_hearing_free(&p->hearing);
    copy_free(&p->copy);
    free(p->mix);
}

/* ---- Passes ---- */

static bool through_stages(Run *r, Pass *p, uint32_t take, uint32_t index, StageResult *result, Error *e)
{
    Sinks to = {0};
    Take *t = &r->take[take];
    p->mix = calloc(p->past - p->first, sizeof *p->mix);
    if (!p->mix)
        return no_memory(e);
    if (!start_pass(r, p, take, index, result, &to, e) ||
        !take_pass(t, &to, &r->progress, "mixing", result[p->first].name, e))
        return false;
    for (uint32_t part = 0; part < PARTS; ++part) {
        t->over[part] = writer_over(&p->writer[part]);
        t->delivered[part] = p->deliver[part].got;
    }
    spool_free(t->audio);
    t->audio = p->past < r->options.stages ? p->copy.spool : NULL;
    if (r->look && p->past == r->options.stages)
        r->look[take].mix = p->copy.spool;
    p->copy.spool = NULL;
    return true;
}

static bool mix_take(Run *r, uint32_t first, uint32_t past, uint32_t take, uint32_t index, StageResult *result,
                     Error *e)
{
    Pass *p = calloc(1, sizeof *p);
    if (!p)
        return no_memory(e);
    *p = (Pass){.first = first, .past = past};
    const bool ok = through_stages(r, p, take, index, result, e);
    free_pass(p);
    free(p);
    return ok;
}

/* The first stage learns from the takes as they came. */
static bool listen_first(Run *r, Take *t, uint32_t index, StageResult *result, Error *e)
{
    Pass *p = calloc(1, sizeof *p);
    Sinks to = {0};
    if (!p)
        return no_memory(e);
    const bool ok = start_listening(p, t, index, result, t->channels, &to, e) &&
                    take_pass(t, &to, &r->progress, "listening", result->name, e);
    free_pass(p);
    free(p);
    return ok;
}

/* ---- Groups ---- */

/* One past the last stage that can run in the pass that begins with this one. */
static uint32_t pass_end(const Run *r, uint32_t first)
{
    uint32_t past = first + 1;
    while (past < r->options.stages && !r->plan.stage[past].learns)
        ++past;
    return past;
}

static bool start_results(const Run *r, uint32_t group, Error *e)
{
    StageResult *result = run_results(r, group);
    for (uint32_t s = 0; s < r->options.stages; ++s) {
        result[s].plan = r->plan.stage[s];
        result[s].plan.voice = run_voice(r, group);
        result[s].name = result[s].plan.name;
        if (r->options.backing && group) {
            result[s].plan.under = r->backing.set;
            result[s].plan.unders = r->backing.sets;
        }
        result[s].effect = calloc(plan_group(&r->plan), sizeof *result[s].effect);
        if (r->plan.stage[s].levels)
            result[s].ride = calloc(plan_group(&r->plan), sizeof *result[s].ride);
        if (r->plan.stage[s].whole_hum)
            result[s].hum = calloc(plan_group(&r->plan), sizeof *result[s].hum);
        if (!result[s].effect || (r->plan.stage[s].levels && !result[s].ride) ||
            (r->plan.stage[s].whole_hum && !result[s].hum))
            return no_memory(e);
    }
    return true;
}

/* A pass over the takes of a group. */
typedef struct {
    Run *run;
    uint32_t group, first, past;
} Round;

static bool mix_one(void *context, uint32_t index, Error *e)
{
    const Round *p = context;
    const uint32_t begin = p->group * plan_group(&p->run->plan);
    return mix_take(p->run, p->first, p->past, begin + index, index, run_results(p->run, p->group), e);
}

/* Side by side, where nobody is left to learn from them in order. */
static bool mix_takes(Round *p, Error *e)
{
    Run *r = p->run;
    const uint32_t takes = plan_group(&r->plan);
    if (takes > 1 && p->past == r->options.stages)
        return jobs_run(takes, r->options.jobs, mix_one, p, &r->progress, e);
    for (uint32_t t = 0; t < takes; ++t)
        if (!mix_one(p, t, e))
            return false;
    return true;
}

/* Of stages that learn nothing, what their ports showed stands for what they heard. */
static bool note_shown(const Run *r, StageResult *result, uint32_t first, uint32_t past, Error *e)
{
    for (uint32_t t = 0; t < plan_group(&r->plan); ++t)
        for (uint32_t s = first; s < past; ++s)
            if (!result[s].lesson.state && !readings_add(&result[s].lesson.heard, &result[s].effect[t].readings, e))
                return false;
    return true;
}

static bool run_group(void *run, uint32_t group, Error *e)
{
    Run *r = run;
    const uint32_t takes = plan_group(&r->plan), begin = group * takes;
    StageResult *result = run_results(r, group);
    if (!start_results(r, group, e))
        return false;
    for (uint32_t t = 0; t < takes && r->plan.stage[0].learns; ++t)
        if (!listen_first(r, &r->take[begin + t], t, result, e))
            return false;
    for (Round p = {.run = r, .group = group}; p.first < r->options.stages; p.first = p.past) {
        StageResult *s = &result[p.first];
        p.past = pass_end(r, p.first);
        if ((s->ride && !ride_settle(s->ride, takes, &s->lesson.heard, e)) ||
            (s->hum && !hum_whole_settle(s->hum, takes, &s->lesson.heard, e)) || !mix_takes(&p, e) ||
            !note_shown(r, result, p.first, p.past, e))
            return false;
    }
    return true;
}

uint32_t run_chain_passes(const Run *r)
{
    uint32_t passes = r->plan.stage[0].learns ? 1 : 0;
    for (uint32_t first = 0; first < r->options.stages; first = pass_end(r, first))
        ++passes;
    return passes;
}

static bool run_under(void *run, uint32_t index, Error *e)
{
    return run_group(run, index + 1, e);
}

/* The lead, then what stands under it. */
static bool run_backing(Run *r, Error *e)
{
    if (!jobs_run(1, 1, run_group, r, &r->progress, e))
        return false;
    backing_settle(&r->backing, r->take, run_results(r, 0), r->options.stages);
    return jobs_run(run_groups(r) - 1, r->options.jobs, run_under, r, &r->progress, e);
}

bool run_chain(Run *r, Error *e)
{
    r->result = calloc((size_t)run_groups(r) * r->options.stages + 1, sizeof *r->result);
    if (!r->result)
        return no_memory(e);
    return r->options.backing ? run_backing(r, e)
                              : jobs_run(run_groups(r), r->options.jobs, run_group, r, &r->progress, e);
}
