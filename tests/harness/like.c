#include "like.h"

#include "like_fit.h"
#include "run.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define FAINT      60.0 /* dB under the strongest: what is fainter is nothing, or the room */
#define LEFT_OVER  2.0  /* dB: what is worth telling */
#define BESIDE     1.0  /* dB: what still belongs to it */
#define PER_DB     0.15 /* dB of spread, that a dB of reduction takes away, until it is known; */
#define PER_DB_LOW 0.04 /* and what it is at least and at most taken for */
#define PER_DB_TOP 0.5
#define STEP       4.0    /* dB of reduction: the most that a try changes */
#define NEAR       0.15   /* dB from the other vocal: no try makes it nearer in a way that anyone hears */
#define LIFTS      4000.0 /* Hz: from here on an air lift of 6 kHz does something */

/* ---- Measuring ---- */

static LikeSide side_of(const Portrait *p)
{
    LikeSide s = {.spread = portrait_spread(p), .loudness = portrait_loudness(p), .voice = p->voice};
    s.bands = portrait_colour(p, s.colour);
    return s;
}

/* One pass over a recording as it came. */
static bool hear(Run *r, Take *t, LikeSide *side, Error *e)
{
    Portrait p = {0};
    Sinks to = {0};
    bool ok = portrait_start(&p, t->rate, t->channels, e);
    sinks_add(&to, &p.sink);
    ok = ok && take_pass(t, &to, &r->progress, "listening", "like", e);
    if (ok)
        *side = side_of(&p);
    portrait_free(&p);
    return ok;
}

bool run_hear_like(Run *r, Error *e)
{
    Like *l = &r->like;
    if (!r->options.like)
        return true;
    if (!hear(r, &l->other, &l->want, e))
        return false;
    if (l->want.loudness <= LOUDNESS_LOW)
        return error_set(e, ERROR_AUDIO, "--like %s: silent or too short, so there is nothing to be like",
                         r->options.like);
    return l->want.voice >= PORTRAIT_ENOUGH ||
           error_set(e, ERROR_AUDIO, "--like %s: %.1f s of voice were heard in it; it takes %.0f s to be like",
                     r->options.like, l->want.voice, PORTRAIT_ENOUGH);
}

/* ---- Comparing ---- */

static double third_of(const LikeSide *s, uint32_t third)
{
    return portrait_third(s->colour, s->bands, third);
}

static double strongest(const LikeSide *s)
{
    double most = UNITS_DB_FLOOR;
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i)
        most = fmax(most, third_of(s, i));
    return most;
}

static void find_what_counts(Like *l)
{
    const double want = strongest(&l->want) - FAINT, before = strongest(&l->before) - FAINT;
    l->counted = 0;
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i) {
        l->counts[i] = third_of(&l->want, i) > want && third_of(&l->before, i) > before;
        l->counted += l->counts[i];
    }
}

/* What the other has more than this side, dB, by third octaves, level apart. */
static void differences(const Like *l, const LikeSide *side, double db[PORTRAIT_THIRDS])
{
    double mean = 0.0;
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i) {
        db[i] = l->counts[i] ? third_of(&l->want, i) - third_of(side, i) : 0.0;
        mean += db[i] / l->counted;
    }
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i)
        db[i] -= l->counts[i] ? mean : 0.0;
}

double like_distance(const Like *l, const LikeSide *side)
{
    double db[PORTRAIT_THIRDS], squares = 0.0;
    differences(l, side, db);
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i)
        squares += db[i] * db[i];
    return sqrt(squares / l->counted);
}

/* ---- Fitting ---- */

static uint32_t third_of_band(uint32_t band)
{
    return band < 2 ? 0 : (band - 1) / 2 < PORTRAIT_THIRDS ? (band - 1) / 2 : PORTRAIT_THIRDS - 1;
}

/* What is to be reached is what the other has more than this side, and what the moves did to this side besides. */
static LikeFit what_is_wanted(const Like *l, const LikeSide *side, const ToneCurve *moves)
{
    LikeFit f = {0};
    for (uint32_t k = 1; k < side->bands && k < l->want.bands; ++k) {
        if (!l->counts[third_of_band(k)])
            continue;
        f.hz[f.points] = bank_hz(k);
        f.db[f.points++] = l->want.colour[k] - side->colour[k] + like_fit_curve(moves, bank_hz(k));
    }
    return f;
}

static void apply(Run *r, const LikeMoves *moves)
{
    Options *o = &r->options;
    o->sets -= o->fitted;
    o->fitted = like_settings(moves, &r->like.values, o->set + o->sets);
    o->sets += o->fitted;
    for (uint32_t s = 0; s < o->stages; ++s)
        r->plan.stage[s].sets = o->sets;
}

/* A try: the whole chain, and nothing is written. */
static bool try_chain(Run *r, LikeSide *side, Error *e)
{
    Portrait p = {0};
    r->portrait = &p;
    r->tries = true;
    const bool ok = run_chain(r, e);
    r->tries = false;
    r->portrait = NULL;
    run_forget_results(r);
    if (ok)
        *side = side_of(&p);
    portrait_free(&p);
    return ok;
}

/* dB of spread that a dB of reduction takes away, from the first two tries on by what they showed. */
typedef struct {
    uint32_t tries;
    double reduction, spread; /* of the last one */
    double per_db;
} Evening;

static double next_reduction(Evening *v, double reduction, double spread, double want)
{
    const double by = reduction - v->reduction;
    if (v->tries++ && fabs(by) > 0.3)
        v->per_db = dsp_clamp((v->spread - spread) / by, PER_DB_LOW, PER_DB_TOP);
    v->reduction = reduction;
    v->spread = spread;
    const double step = dsp_clamp((spread - want) / v->per_db, -STEP, STEP);
    return dsp_clamp(reduction + step, 0.0, LIKE_REDUCTION_MOST);
}

/* dB: how far a try lies from the other vocal. */
static double far(const Like *l, const LikeSide *side)
{
    return like_distance(l, side) + (l->moves.compressor ? fabs(side->spread - l->want.spread) : 0.0);
}

static bool try_and_refine(Run *r, Error *e)
{
    Like *l = &r->like;
    LikeMoves next = l->moves;
    LikeSide side = l->before;
    Evening evening = {.per_db = PER_DB};
    double nearest = INFINITY;
    next.reduction = next_reduction(&evening, 0.0, l->before.spread, l->want.spread);
    for (l->tries = 0; l->tries < LIKE_TRIES && nearest > NEAR; ++l->tries) {
        const LikeFit wanted = what_is_wanted(l, &side, &next.tone);
        next.tone = like_fit(&wanted);
        apply(r, &next);
        if (!try_chain(r, &side, e))
            return false;
        if (far(l, &side) < nearest) {
            nearest = far(l, &side);
            l->moves = next;
        }
        next.reduction = next_reduction(&evening, next.reduction, side.spread, l->want.spread);
    }
    apply(r, &l->moves);
    return true;
}

bool run_like(Run *r, Error *e)
{
    Like *l = &r->like;
    if (!r->options.like)
        return true;
    if (!hear(r, r->take, &l->before, e))
        return false;
    find_what_counts(l);
    l->fitted = l->before.voice >= PORTRAIT_ENOUGH && l->counted;
    if (!l->fitted)
        return true;
    l->moves.compressor = options_has_stage(&r->options, "compressor");
    r->options.delivery = (Delivery){
        .by_loudness = true, .as_heard = true, .loudness = l->want.loudness, .peak = r->options.delivery.peak};
    return try_and_refine(r, e);
}

bool run_chain_like(Run *r, Error *e)
{
    Portrait p = {0};
    r->portrait = r->like.fitted ? &p : NULL;
    const bool ok = run_chain(r, e);
    if (ok && r->like.fitted) {
        r->like.after = side_of(&p);
        r->like.channels = r->take->written;
    }
    r->portrait = NULL;
    portrait_free(&p);
    return ok;
}

/* ---- Telling ---- */

/* The most first. */
static void add_place(LikePlace place[LIKE_PLACES], uint32_t *n, LikePlace p)
{
    uint32_t at = *n;
    while (at && fabs(place[at - 1].db) < fabs(p.db))
        --at;
    if (at == LIKE_PLACES)
        return;
    *n += *n < LIKE_PLACES;
    memmove(place + at + 1, place + at, (*n - at - 1) * sizeof *place);
    place[at] = p;
}

/* Third octaves on end, to one side: the one in which most is left. */
static LikePlace place_at(const Like *l, const double db[PORTRAIT_THIRDS], uint32_t first, uint32_t *past)
{
    const double side = db[first] > 0.0 ? 1.0 : -1.0;
    LikePlace p = {0};
    uint32_t i = first;
    for (; i < PORTRAIT_THIRDS && l->counts[i] && side * db[i] >= BESIDE; ++i)
        if (fabs(db[i]) > fabs(p.db))
            p = (LikePlace){.hz = portrait_third_hz(i), .db = db[i]};
    *past = i;
    return p;
}

uint32_t like_places(const Like *l, LikePlace place[LIKE_PLACES])
{
    double db[PORTRAIT_THIRDS];
    uint32_t n = 0, past;
    differences(l, &l->after, db);
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; i = past) {
        past = i + 1;
        if (!l->counts[i] || fabs(db[i]) < BESIDE)
            continue;
        const LikePlace p = place_at(l, db, i, &past);
        if (fabs(p.db) >= LEFT_OVER)
            add_place(place, &n, p);
    }
    return n;
}

static void hertz(char text[32], double hz)
{
    if (hz < 1000.0)
        snprintf(text, 32, "%.0f Hz", hz);
    else
        snprintf(text, 32, "%.2g kHz", hz / 1000.0);
}

/* Up to where the air lift begins nothing boosts. */
static const char *why_left(const LikePlace *p)
{
    return p->db > 0.0 && p->hz < LIFTS ? "these moves cut there and do not boost" : "no move was left that reaches it";
}

static void print_places(const Like *l, FILE *to)
{
    LikePlace place[LIKE_PLACES];
    const uint32_t n = like_places(l, place);
    for (uint32_t k = 0; k < n; ++k) {
        char hz[32];
        hertz(hz, place[k].hz);
        fprintf(to, "  %-6s at %s it has %.1f dB %s: %s\n", k ? "" : "left", hz, fabs(place[k].db),
                place[k].db > 0.0 ? "more" : "less", why_left(&place[k]));
    }
}

void like_line(const Like *l, char *text, size_t size)
{
    uint32_t low = 0, high = PORTRAIT_THIRDS - 1;
    char from[32], to[32];
    while (low < high && !l->counts[low])
        ++low;
    while (high > low && !l->counts[high])
        --high;
    hertz(from, portrait_third_hz(low));
    hertz(to, portrait_third_hz(high));
    snprintf(text, size, "third octaves lay %.1f dB from its own, now %.1f (rms, level apart, %s to %s)",
             like_distance(l, &l->before), like_distance(l, &l->after), from, to);
}

void like_print(const Like *l, const Delivered *got, bool saved, FILE *to)
{
    char line[160];
    fprintf(to, "\nlike %s\n", l->other.name);
    if (!l->fitted) {
        fputs("  set    nothing: the take has too little voice to be compared\n", to);
        return;
    }
    like_line(l, line, sizeof line);
    fprintf(to, "  came   %s\n", line);
    fprintf(to, "         its level goes up and down by %.1f dB, the take's by %.1f, the mix's by %.1f%s\n",
            l->want.spread, l->before.spread, l->after.spread, l->moves.compressor ? "" : "; no Compressor is here");
    fprintf(to, "         its loudness is %.1f LUFS, the file's %.1f (mono counted on both speakers)%s\n",
            l->want.loudness, got->loudness + (l->channels == 1 ? LEVEL_BOTH : 0.0),
            got->held ? ": its true peak holds it back" : "");
    print_places(l, to);
    fputs("         not touched: ambience, esses, room and noise, pitch and timing\n", to);
    if (saved)
        fputs("         the loudness is the file's alone: a preset has no part in it\n", to);
}
