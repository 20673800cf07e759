#include "facts.h"

#include "loudness.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define JOINS       1.0    /* s: what is heard again within it goes on */
#define CAUGHT      (-1.0) /* dB: an s that is cut by this, */
#define CAUGHT_FOR  0.015  /* s: for so long, counts as caught; as in esses.h */
#define TOLD_WITHIN 1.0    /* s: a phrase is told at the latest so long after its end */
#define SHORTEST    0.25   /* s: less than this has no spectrum that is worth a look */
#define BLOCK       0.4    /* s, of the levels */

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

const StageResult *facts_stage(const Report *r, const char *name, uint32_t *index)
{
    for (uint32_t s = 0; s < r->stages; ++s) {
        if (strcmp(r->stage[s].name, name) != 0 || report_bypassed(&r->stage[s].effect[0].readings))
            continue;
        if (index)
            *index = s;
        return &r->stage[s];
    }
    return NULL;
}

const StageResult *facts_either(const Report *r, const char *name, uint32_t *index)
{
    const StageResult *stage = facts_stage(r, name, index);
    return stage ? stage : facts_stage(r, "chain", index);
}

/* ---- Where faults lie ---- */

/* Marks that lie nearest to each other grow together until no more than `most` are left. */
static size_t thin(Stretch *mark, size_t n, size_t most)
{
    for (double gap = JOINS; n > most; gap *= 1.5) {
        size_t kept = 0;
        for (size_t i = 1; i < n; ++i) {
            if (mark[i].from - mark[kept].to <= gap)
                mark[kept].to = fmax(mark[kept].to, mark[i].to);
            else
                mark[++kept] = mark[i];
        }
        n = kept + 1;
    }
    return n;
}

static int by_time(const void *a, const void *b)
{
    const double x = ((const Stretch *)a)->from, y = ((const Stretch *)b)->from;
    return (x > y) - (x < y);
}

static void add_mark(Lane *lane, double at)
{
    ++lane->times;
    Stretch *last = lane->marks ? &lane->mark[lane->marks - 1] : NULL;
    if (last && !lane->count && at - last->to <= JOINS)
        last->to = at;
    else
        lane->mark[lane->marks++] = (Stretch){at, at};
}

/* A time that Check shows counts from where it began to learn. What it had heard before this hearing is known. */
static bool fill_lane(Lane *lane, const Look *look, uint32_t port, double seconds)
{
    const Trace *t = &look->check;
    lane->mark = malloc((t->moves + 1) * sizeof *lane->mark);
    for (size_t i = 0; lane->mark && i < t->moves; ++i) {
        const double at = (double)t->move[i].value - look->began;
        if (t->move[i].port == port && at > 0.0)
            add_mark(lane, fmin(at, seconds));
    }
    if (!lane->mark)
        return false;
    qsort(lane->mark, lane->marks, sizeof *lane->mark, by_time);
    lane->marks = thin(lane->mark, lane->marks, FACTS_MARKS);
    return true;
}

static const char *counted_by(const char *fault)
{
    static const char *const counts[][2] = {{"popping", "pops"}, {"clicking", "clicks"}, {"breathy", "breaths"}};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; ++i)
        if (!strcmp(counts[i][0], fault))
            return counts[i][1];
    return NULL;
}

/* A lane for each fault that the verdict found and that can be told when. */
static bool find_faults(Facts *f, const Look *look, const Readings *check, Error *e)
{
    const Plugin *plugin = look->check.plugin;
    for (uint32_t p = 0; plugin && p < plugin->ports && f->lanes < FACTS_LANES; ++p) {
        char symbol[64];
        const Port *fault;
        const size_t length = strlen(plugin->port[p].symbol);
        if (length < 4 || strcmp(plugin->port[p].symbol + length - 3, "_at") != 0)
            continue;
        snprintf(symbol, sizeof symbol, "%.*s", (int)length - 3, plugin->port[p].symbol);
        const Reading *is = readings_of(check, symbol, &fault);
        if (!is || !(is->last > 0.f))
            continue;
        f->lane[f->lanes] = (Lane){.fault = fault, .count = counted_by(symbol)};
        if (!fill_lane(&f->lane[f->lanes++], look, p, f->seconds))
            return no_memory(e);
    }
    return true;
}

/* ---- Phrases ---- */

static bool find_bars(Facts *f, const Look *look, Error *e)
{
    const Survey *before = &look->side[LOOK_BEFORE], *after = &look->side[LOOK_AFTER];
    Stretch *when = malloc((before->phrases_used + 1) * sizeof *when);
    f->bar = malloc((before->phrases_used + 1) * sizeof *f->bar);
    for (size_t i = 0; when && i < before->phrases_used; ++i)
        when[i] = (Stretch){before->phrase[i].from, before->phrase[i].to};
    f->bars = when && f->bar && before->phrases_used ? thin(when, before->phrases_used, FACTS_BARS) : 0;
    for (size_t i = 0; i < f->bars; ++i)
        f->bar[i] = (Bar){when[i], power_to_db(survey_power(before, when[i].from, when[i].to, false)),
                          power_to_db(survey_power(after, when[i].from, when[i].to, false))};
    const bool ok = when && f->bar;
    free(when);
    return ok || no_memory(e);
}

/* Check tells that a phrase was uneven when it is over, and a rest behind it: the mark becomes the phrase. */
static void mark_phrases(Facts *f)
{
    for (uint32_t k = 0; k < f->lanes; ++k) {
        Lane *lane = &f->lane[k];
        for (size_t i = 0; i < lane->marks && !strcmp(lane->fault->symbol, "uneven"); ++i) {
            size_t b = f->bars;
            while (b && f->bar[b - 1].when.to > lane->mark[i].from)
                --b;
            if (b && lane->mark[i].from - f->bar[b - 1].when.to < TOLD_WITHIN)
                lane->mark[i] = f->bar[b - 1].when;
        }
    }
}

/* ---- Esses ---- */

/* One s under way, followed from change to change. */
typedef struct {
    bool sounds;
    double cut, since; /* dB now; s: cut by CAUGHT or more since then */
    Ess ess;
} Following;

static void follow(Following *w, double at)
{
    if (!w->sounds)
        return;
    w->ess.cut = fmin(w->ess.cut, w->cut);
    w->ess.held = fmax(w->ess.held, w->cut <= CAUGHT ? at - w->since : 0.0);
}

static void begin_or_end(Facts *f, Following *w, bool sounds, double at, const Survey *take)
{
    if (w->sounds && !sounds) {
        w->ess.level = power_to_db(survey_power(take, w->ess.at, at, true));
        f->ess[f->esses++] = w->ess;
    } else if (!w->sounds && sounds) {
        w->ess = (Ess){.at = at};
        w->since = at;
    }
    w->sounds = sounds;
}

/* It sounds while `heard` says so; where nothing says it, as in Chain, it is known while it is cut. */
static void move_ess(Facts *f, Following *w, const Port *port, const TraceMove *move, const Survey *take)
{
    follow(w, move->at);
    if (!strcmp(port->symbol, "cut")) {
        w->since = (double)move->value <= CAUGHT && w->cut > CAUGHT ? move->at : w->since;
        w->cut = (double)move->value;
        if (f->cut_alone)
            begin_or_end(f, w, w->cut < 0.0, move->at, take);
    }
    if (!strcmp(port->symbol, "heard"))
        begin_or_end(f, w, move->value > 0.f, move->at, take);
}

/* The one that is not marked yet and was turned down the longest. NULL: none was. */
static Ess *longest_held(const Facts *f)
{
    Ess *most = NULL;
    for (size_t i = 0; i < f->esses; ++i)
        if (!f->ess[i].caught && f->ess[i].held > (most ? most->held : 0.0))
            most = &f->ess[i];
    return most;
}

/* What counts as caught is decided every cell, and the ports are seen every STAGE_BLOCK frames: an s on the edge may be
 * either. So Esses says how many there are. Chain shows none but those that were cut, so there it is told from each. */
static void mark_caught(Facts *f, const Readings *esses)
{
    const Port *port;
    const Reading *share = readings_of(esses, "caught_share", &port);
    const double told = share && !f->cut_alone ? rint((double)share->last / 100.0 * (double)f->esses) : INFINITY;
    Ess *s = longest_held(f);
    for (double n = 0.0; s && n < told && (!f->cut_alone || s->held >= CAUGHT_FOR); ++n, s = longest_held(f))
        s->caught = true;
}

static bool find_esses(Facts *f, const Look *look, const Report *r, uint32_t index, Error *e)
{
    uint32_t s = 0;
    Following w = {0};
    const StageResult *stage = facts_either(r, "esses", &s);
    if (!stage)
        return true;
    const Trace *t = &look->stage[s];
    f->cut_alone = !plugin_port(stage->effect[0].readings.plugin, "heard");
    f->ess = calloc(t->moves + 1, sizeof *f->ess);
    if (!f->ess)
        return no_memory(e);
    for (size_t i = 0; i < t->moves; ++i)
        move_ess(f, &w, &t->plugin->port[t->move[i].port], &t->move[i], &look->side[LOOK_BEFORE]);
    mark_caught(f, &stage->effect[index].readings);
    return true;
}

/* ---- Reduction ---- */

static void note_reduction(Facts *f, double from, double to, double db)
{
    const double column = f->seconds / FACTS_COLUMNS;
    for (uint32_t c = (uint32_t)fmax(from / column, 0.0); c < FACTS_COLUMNS && c * column <= to; ++c)
        f->reduction[c] = fmax(f->reduction[c], db);
}

/* What the port shows holds until it shows something else. */
static void find_reduction(Facts *f, const Look *look, const Report *r)
{
    uint32_t s = 0;
    double since = 0.0, db = 0.0;
    f->compressed = facts_either(r, "compressor", &s) && look->stage[s].moves;
    const Trace *t = f->compressed ? &look->stage[s] : NULL;
    for (size_t i = 0; t && i < t->moves; ++i) {
        if (strcmp(t->plugin->port[t->move[i].port].symbol, "reduction") != 0)
            continue;
        note_reduction(f, since, t->move[i].at, db);
        since = t->move[i].at;
        db = fabs((double)t->move[i].value);
    }
    note_reduction(f, since, f->seconds, db);
}

/* ---- Levels and colour ---- */

/* gain: dB, what was added to all of it afterwards. */
static void find_levels(Facts *f, const Survey *s, double gain, double *share)
{
    double blocks = 0.0;
    for (double at = 0.0; at + BLOCK <= f->seconds; at += BLOCK / 4.0) {
        const double db = power_to_db(survey_power(s, at, at + BLOCK, false)) + gain, column = db + FACTS_LEVELS;
        if (column < 0.0)
            continue;
        share[column < FACTS_LEVELS ? (uint32_t)column : FACTS_LEVELS - 1] += 1.0;
        blocks += 1.0;
    }
    for (uint32_t c = 0; blocks > 0.0 && c < FACTS_LEVELS; ++c)
        share[c] /= blocks;
}

/* What K weighting does to the power at hz. */
static double weight(double hz, double rate)
{
    double gain = 1.0;
    for (uint32_t stage = 0; stage < 2; ++stage) {
        const Biquad b = kweight_design(stage, rate);
        gain *= biquad_gain(&b, hz, rate);
    }
    return gain * gain;
}

/* From powers to dB at equal loudness. Returns how many bands there are. */
static uint32_t at_equal_loudness(double *band, uint32_t bands, double rate)
{
    double loudness = 0.0;
    for (uint32_t k = 0; k < bands; ++k)
        loudness += weight(bank_hz(k), rate) * band[k];
    for (uint32_t k = 0; k < bands; ++k)
        band[k] = loudness > 1e-16 ? power_to_db(band[k] / loudness) : UNITS_DB_FLOOR;
    return loudness > 1e-16 ? bands : 0;
}

static uint32_t find_colour(const Survey *s, double *db)
{
    for (uint32_t k = 0; k < s->bank.bands; ++k)
        db[k] = bank_power(&s->bank, k);
    return at_equal_loudness(db, s->bank.bands, s->rate);
}

static void find_like(Facts *f, const Like *like)
{
    if (!like)
        return;
    for (uint32_t k = 0; k < like->want.bands; ++k)
        f->like[k] = db_to_power(like->want.colour[k]);
    f->like_bands = at_equal_loudness(f->like, like->want.bands, like->other.rate);
}

/* ---- All of it ---- */

bool facts_make(Facts *f, const Look *look, const Report *r, uint32_t index, Error *e)
{
    const Take *take = &r->take[index];
    *f = (Facts){.seconds = (double)take->frames / take->rate};
    if (!find_faults(f, look, r->check, e) || !find_bars(f, look, e) || !find_esses(f, look, r, index, e))
        return false;
    mark_phrases(f);
    find_reduction(f, look, r);
    find_like(f, r->like);
    for (uint32_t side = 0; side < LOOK_SIDES; ++side) {
        const uint32_t bands = f->seconds < SHORTEST ? 0 : find_colour(&look->side[side], f->colour[side]);
        find_levels(f, &look->side[side], side == LOOK_AFTER ? take->delivered[0].gain : 0.0, f->level[side]);
        f->bands = side && bands > f->bands ? f->bands : bands;
    }
    return true;
}

void facts_free(Facts *f)
{
    for (uint32_t k = 0; k < f->lanes; ++k)
        free(f->lane[k].mark);
    free(f->bar);
    free(f->ess);
    *f = (Facts){0};
}
