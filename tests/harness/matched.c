#include "run.h"

#include "deliver.h"
#include "jobs.h"
#include "resample.h"

/* ---- The take in the mix's form: as many channels, as long ---- */

typedef struct {
    Sink sink;
    Sink *to;
    uint32_t from;        /* channels of the take */
    uint64_t frames, all; /* written; to write: silence makes up for what does not come */
} Alike;

static bool alike_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Alike *a = (Alike *)s;
    const float *const both[DSP_CHANNELS] = {in[0], in[a->from - 1]};
    a->frames += n;
    return a->to->write(a->to, both, n, e);
}

static bool alike_end(Sink *s, Error *e)
{
    static const float silence[STAGE_BLOCK];
    static const float *const quiet[DSP_CHANNELS] = {silence, silence};
    Alike *a = (Alike *)s;
    while (a->frames < a->all) {
        const uint64_t left = a->all - a->frames;
        const uint32_t n = left < STAGE_BLOCK ? (uint32_t)left : STAGE_BLOCK;
        a->frames += n;
        if (!a->to->write(a->to, quiet, n, e))
            return false;
    }
    return a->to->end(a->to, e);
}

/* ---- One take ---- */

typedef struct {
    Alike alike;
    Resample resample;
    Deliver deliver;
    Writer writer;
} Match;

static const Effect *mix_of(const Run *r, uint32_t take)
{
    const uint32_t takes = plan_group(&r->plan);
    return &run_results(r, take / takes)[r->options.stages - 1].effect[take % takes];
}

static bool write_match(Run *r, Match *m, uint32_t take, NewFile *file, Error *e)
{
    Take *t = &r->take[take];
    const Effect *mix = mix_of(r, take);
    const double rate = options_rate(&r->options, t->rate);
    const Delivery like_the_mix = {
        .by_loudness = true, .loudness = t->delivered[0].loudness, .peak = r->options.delivery.peak};
    Sinks to = {0};
    m->alike =
        (Alike){.sink = {alike_write, alike_end}, .to = &m->resample.sink, .from = t->channels, .all = mix->frames};
    sinks_add(&to, &m->alike.sink);
    if (!writer_start(&m->writer, file, rate, t->written, resample_frames(mix->frames, t->rate, rate), r->options.bits,
                      e) ||
        !deliver_start(&m->deliver, like_the_mix, &m->writer, r->folder, rate, t->written, e) ||
        !resample_start(&m->resample, &m->deliver.sink, t->rate, rate, t->written, e) ||
        !take_pass(t, &to, &r->progress, "matching", "the take", e))
        return false;
    t->before = file->name;
    t->as_before = m->deliver.got;
    return true;
}

static bool match_take(void *run, uint32_t take, Error *e)
{
    Run *r = run;
    Match m = {0};
    NewFile *file = outputs_matched(&r->outputs, take);
    const bool ok = !file || write_match(r, &m, take, file, e);
    resample_free(&m.resample);
    deliver_free(&m.deliver);
    writer_free(&m.writer);
    return ok;
}

bool run_matched(Run *r, Error *e)
{
    return jobs_run(r->options.ins, r->options.jobs, match_take, r, &r->progress, e);
}
