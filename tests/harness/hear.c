#include "run.h"

#include "advice.h"
#include "jobs.h"
#include "ranges.h"

#include <stdlib.h>
#include <string.h>

/* Who listens to a take as it came. */
enum { CHECK, TONE, ESSES, EARS };

typedef struct {
    StagePlan plan;
    Lesson *lesson; /* NULL: it does not listen */
    double until;   /* s; 0: it hears all of the take */
    Listener listener;
} Ear;

static void free_ears(Ear *ear)
{
    for (uint32_t i = 0; i < EARS; ++i)
        listener_free(&ear[i].listener);
}

static bool start_ears(Ear *ear, const Take *t, Sinks *to, Error *e)
{
    for (uint32_t i = 0; i < EARS; ++i) {
        if (!ear[i].lesson)
            continue;
        if (!listener_start(&ear[i].listener, &ear[i].plan, t->channels, t->rate, ear[i].lesson, e))
            return false;
        ear[i].listener.side = i == TONE ? t->louder : 0;
        ear[i].listener.side_gain = (float)t->louder_gain;
        ear[i].listener.from = i == TONE ? t->talk : 0.0;
        ear[i].listener.until = ear[i].until;
        sinks_add(to, &ear[i].listener.sink);
    }
    return true;
}

/* One pass: those that have a lesson listen; a working copy is made where there is a folder for it. */
static bool hear_take(Run *r, Take *t, Ear *ear, const char *folder, Error *e)
{
    Sinks to = {0};
    Copy copy = {0};
    bool ok = !folder || copy_start(&copy, folder, t->rate, t->channels, e);
    if (ok && folder)
        sinks_add(&to, &copy.sink);
    ok = ok && start_ears(ear, t, &to, e) && take_pass(t, &to, &r->progress, "listening", "check", e);
    free_ears(ear);
    if (ok && folder)
        t->audio = copy.spool;
    else
        copy_free(&copy);
    return ok;
}

static Ear check_ear(const Run *r, Lesson *lesson)
{
    return (Ear){.plan = {.host = r->plan.host, .name = "check", .silence = RUN_CHECK_SILENCE}, .lesson = lesson};
}

static Ear tone_ear(const Run *r, Lesson *lesson)
{
    return (Ear){.plan = {.host = r->plan.host, .name = "tone", .set = &advice_tone, .sets = 1}, .lesson = lesson};
}

/* The lessons of a group, where they are wanted and the bundle has the plug-in. */
static void give_lessons(const Run *r, Ear *ear, uint32_t group)
{
    ear[CHECK] = check_ear(r, &r->check[group]);
    if (r->tone && plan_has(&r->plan, "tone"))
        ear[TONE] = tone_ear(r, &r->tone[group]);
    if (r->esses && plan_has(&r->plan, "esses"))
        ear[ESSES] = (Ear){.plan = {.host = r->plan.host, .name = "esses"}, .lesson = &r->esses[group]};
}

/* A saved preset holds a voice's settings already. */
static bool names_voice(const Options *o)
{
    return o->voice || o->from;
}

/* Several takes that learn apart are one singer's, and get one voice, unless one was named. */
static bool wants_one_voice(const Run *r)
{
    return run_groups(r) > 1 && !names_voice(&r->options) && !r->options.advise && !r->options.compare;
}

/* Takes side by side, and beside them the lessons over all of them, which hear one take after the other. */
typedef struct {
    Run *run;
    const char *folder; /* for working copies; NULL: none are made */
    bool shared;        /* there are such lessons: */
    Take *take;         /* the takes for them, as another thread notes in the run's own what it reads */
} Hear;

static bool shares_lessons(const Run *r)
{
    return plan_group(&r->plan) > 1 || wants_one_voice(r);
}

static bool hear_shared(const Hear *h, Error *e)
{
    Run *r = h->run;
    for (uint32_t t = 0; t < r->options.ins; ++t) {
        Ear ear[EARS] = {0};
        if (plan_group(&r->plan) > 1)
            give_lessons(r, ear, 0);
        else
            ear[CHECK] = check_ear(r, &r->all);
        if (!hear_take(r, &h->take[t], ear, NULL, e))
            return false;
    }
    return true;
}

static bool is_spoken(const Readings *check)
{
    const Port *port;
    const Reading *range = readings_of(check, "voice_range", &port);
    const char *label = range ? port_label(port, range->last) : NULL;
    return label && !strncmp(label, "Spoken", 6);
}

/* A beginning of another level is talk where Check takes it for such, and not all of the take. A soft verse is none,
 * and Tone is to hear its lowest notes. */
static bool hear_talk(Run *r, Take *t, const Readings *all, Error *e)
{
    Lesson beginning = {0};
    Ear ear[EARS] = {[CHECK] = check_ear(r, &beginning)};
    ear[CHECK].until = take_may_talk(t);
    if (ear[CHECK].until == 0.0 || t->voiceless || is_spoken(all))
        return true;
    const bool ok = hear_take(r, t, ear, NULL, e);
    t->talk = ok && is_spoken(&beginning.heard) ? ear[CHECK].until : 0.0;
    lesson_free(&beginning);
    return ok;
}

/* A take of a group may have no voice where others have: Check listens to it alone too. */
static bool hear_alone(Run *r, uint32_t t, const char *folder, Error *e)
{
    Ear ear[EARS] = {0};
    Lesson alone = {0};
    const bool grouped = plan_group(&r->plan) > 1;
    if (grouped)
        ear[CHECK] = check_ear(r, &alone);
    else
        give_lessons(r, ear, t);
    const bool ok = hear_take(r, &r->take[t], ear, folder, e);
    const Readings *all = grouped ? &alone.heard : &r->check[t].heard;
    r->take[t].voiceless = report_voiceless(all);
    const bool talks = ok && hear_talk(r, &r->take[t], all, e);
    lesson_free(&alone);
    return talks;
}

/* What is shared takes longest and is begun first. */
static bool hear_one(void *context, uint32_t index, Error *e)
{
    const Hear *h = context;
    if (h->shared && !index)
        return hear_shared(h, e);
    return hear_alone(h->run, index - h->shared, h->folder, e);
}

static bool hear_all(Run *r, const char *folder, Error *e)
{
    Hear h = {.run = r, .folder = folder, .shared = shares_lessons(r)};
    h.take = malloc(r->options.ins * sizeof *h.take);
    if (!h.take)
        return error_set(e, ERROR_INSIDE, "out of memory");
    memcpy(h.take, r->take, r->options.ins * sizeof *h.take);
    const bool ok = jobs_run(r->options.ins + h.shared, r->options.jobs, hear_one, &h, &r->progress, e);
    free(h.take);
    return ok;
}

uint32_t run_hear_passes(const Run *r)
{
    return shares_lessons(r) ? 2 : 1;
}

/* Several takes may have a second of voice together that none of them has alone: then all of them count as voiced. */
static void note_voiceless(Run *r)
{
    bool any = false;
    for (uint32_t t = 0; t < r->options.ins; ++t)
        any |= !r->take[t].voiceless;
    for (uint32_t t = 0; t < r->options.ins && plan_group(&r->plan) > 1; ++t)
        r->take[t].voiceless &= any || report_voiceless(&r->check->heard);
}

static bool make_lessons(const Run *r, Lesson **lesson, Error *e)
{
    *lesson = calloc(r->options.ins, sizeof **lesson);
    return *lesson || error_set(e, ERROR_INSIDE, "out of memory");
}

/* The presets whose label is the range that Check heard; NULL: it could not tell, or there are none for it. */
static const char *voice_heard(const Run *r, const Readings *check)
{
    const Port *port;
    const Reading *range = readings_of(check, "voice_range", &port);
    const char *label = range && range->last > 0.f ? port_label(port, range->last) : NULL;
    Error unknown;
    return label ? host_voice(r->plan.host, label, &unknown) : NULL;
}

/* All together may tell a range where no take alone does; where they do not, each keeps what it told. */
static void settle_voice(Run *r)
{
    Ranges ranges = {0};
    for (uint32_t g = 0; g < run_groups(r); ++g)
        ranges_add(&ranges, &r->check[g].heard);
    r->voices_apart = wants_one_voice(r) && !ranges_are_one(&ranges);
    r->one_voice = wants_one_voice(r) && ranges_are_one(&ranges) && voice_heard(r, &r->all.heard);
}

bool run_hear(Run *r, Error *e)
{
    if (!make_lessons(r, &r->check, e))
        return false;
    if (!plan_asks_check(&r->plan))
        return true;
    if (!hear_all(r, r->folder, e))
        return false;
    note_voiceless(r);
    settle_voice(r);
    return true;
}

/* Which take has a late side, or begins with talk, is known once it has been heard. Tone then listens once more, to its
 * louder side alone, or to the rest. */
static bool hear_again(Run *r, uint32_t group, Error *e)
{
    Take *t = run_takes(r, group);
    bool again = false;
    for (uint32_t k = 0; k < plan_group(&r->plan); ++k)
        again |= t[k].louder > 0 || t[k].talk > 0.0;
    if (!again || !plan_has(&r->plan, "tone"))
        return true;
    lesson_free(&r->tone[group]);
    for (uint32_t k = 0; k < plan_group(&r->plan); ++k) {
        Ear ear[EARS] = {[TONE] = tone_ear(r, &r->tone[group])};
        if (!hear_take(r, &t[k], ear, NULL, e))
            return false;
    }
    return true;
}

bool run_hear_for_advice(Run *r, Error *e)
{
    if (!make_lessons(r, &r->check, e) || !make_lessons(r, &r->tone, e) || !make_lessons(r, &r->esses, e) ||
        !hear_all(r, NULL, e))
        return false;
    for (uint32_t g = 0; g < run_groups(r); ++g)
        if (!hear_again(r, g, e))
            return false;
    note_voiceless(r);
    return true;
}

bool run_hear_to_compare(Run *r, Error *e)
{
    return make_lessons(r, &r->check, e) && hear_all(r, NULL, e);
}

const char *run_voice(const Run *r, uint32_t group)
{
    const Lesson *told = r->one_voice ? &r->all : &r->check[group];
    return names_voice(&r->options) ? r->plan.voice : voice_heard(r, &told->heard);
}
