#include "like_fit.h"

#include "design.h"

#include <math.h>

/* Tone's ranges. */
#define CUT_LOW    20.0 /* Hz */
#define CUT_HIGH   300.0
#define DIP_LOW    100.0
#define DIP_HIGH   4000.0
#define DIP_DEEP   (-12.0) /* dB */
#define DIP_WIDE   3.0     /* octaves */
#define AIR_LOW    6000.0  /* Hz */
#define AIR_HIGH   16000.0
#define AIR_MOST   9.0 /* dB */
#define AIR_CENTRE 12000.0

#define GAINS 0.02 /* of what is left, that a move has to take away to be worth it; */
#define LEAST 0.05 /* and of the rms, in dB */

/* ---- Curves ---- */

/* A curve as it is quickest to work out: a bell's power is (u^2 + above) / (u^2 + below). */
typedef struct {
    ToneCurve curve;
    double above[TONE_EVEN_DIPS], below[TONE_EVEN_DIPS];
    double lift; /* amplitude in the middle of the air lift */
} Prepared;

static Prepared prepare(const ToneCurve *c)
{
    Prepared p = {.curve = *c, .lift = pow(10.0, c->air_db / 40.0)};
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i) {
        if (!(c->dip_db[i] < 0.0))
            continue;
        const double power = pow(10.0, c->dip_db[i] / 20.0), q = design_q(c->dip_octaves[i]);
        p.above[i] = power / (q * q);
        p.below[i] = 1.0 / (power * q * q);
    }
    return p;
}

static double bell(const Prepared *p, uint32_t i, double hz)
{
    const double u = hz / p->curve.dip_hz[i] - p->curve.dip_hz[i] / hz;
    return (u * u + p->above[i]) / (u * u + p->below[i]);
}

/* |A (1 - A u^2 + j sqrt(2A) u)|^2 / |A - u^2 + j sqrt(2A) u|^2, u in units of the middle. */
static double shelf(const Prepared *p, double hz)
{
    const double a = p->lift, u = hz * hz / (p->curve.air_hz * p->curve.air_hz);
    const double above = (1.0 - a * u) * (1.0 - a * u) + 2.0 * a * u, below = (a - u) * (a - u) + 2.0 * a * u;
    return a * a * above / below;
}

/* Butterworth: 1 / (1 + (corner / hz)^(2 order)). */
static double low_cut(const Prepared *p, double hz)
{
    const double u = p->curve.low_cut / hz;
    double power = 1.0;
    for (int n = 0; n < (int)p->curve.order; ++n)
        power *= u * u;
    return 1.0 / (1.0 + power);
}

static double curve_at(const Prepared *p, double hz)
{
    double power = p->curve.order > 0.0 ? low_cut(p, hz) : 1.0;
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        if (p->curve.dip_db[i] < 0.0)
            power *= bell(p, i, hz);
    return 10.0 * log10(p->curve.air_db > 0.0 ? power * shelf(p, hz) : power);
}

double like_fit_curve(const ToneCurve *curve, double hz)
{
    const Prepared p = prepare(curve);
    return curve_at(&p, hz);
}

/* Mean square of what is left about its own mean. */
static double left_of(const LikeFit *f, const ToneCurve *c)
{
    const Prepared p = prepare(c);
    double sum = 0.0, squares = 0.0;
    for (uint32_t k = 0; k < f->points; ++k) {
        const double left = f->db[k] - curve_at(&p, f->hz[k]);
        sum += left;
        squares += left * left;
    }
    return f->points ? fmax(squares / f->points - sum * sum / ((double)f->points * f->points), 0.0) : 0.0;
}

double like_fit_left(const LikeFit *wanted, const ToneCurve *curve)
{
    return sqrt(left_of(wanted, curve));
}

/* ---- Moving all figures together ---- */

enum { FIGURES = 1 + 3 * TONE_EVEN_DIPS + 2, HALVINGS = 7, ROUNDS = 60 };

/* A figure of a curve, what it may be, and a first step; a frequency or a width moves by a factor. */
typedef struct {
    double *value;
    double low, high, step;
    bool factor;
} Figure;

static uint32_t figures_of(ToneCurve *c, Figure *figure)
{
    uint32_t n = 0;
    if (c->order > 0.0)
        figure[n++] = (Figure){&c->low_cut, CUT_LOW, CUT_HIGH, 1.1, true};
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i) {
        if (!(c->dip_db[i] < 0.0))
            continue;
        figure[n++] = (Figure){&c->dip_hz[i], DIP_LOW, DIP_HIGH, 1.1, true};
        figure[n++] = (Figure){&c->dip_octaves[i], LIKE_FIT_LEAST_WIDTH, DIP_WIDE, 1.2, true};
        figure[n++] = (Figure){&c->dip_db[i], DIP_DEEP, -0.1, 1.0, false};
    }
    if (c->air_db > 0.0) {
        figure[n++] = (Figure){&c->air_hz, AIR_LOW, AIR_HIGH, 1.1, true};
        figure[n++] = (Figure){&c->air_db, 0.1, AIR_MOST, 1.0, false};
    }
    return n;
}

static double moved(const Figure *f, double step)
{
    const double to = f->factor ? *f->value * pow(f->step, step) : *f->value + f->step * step;
    return dsp_clamp(to, f->low, f->high);
}

/* One figure by a step to either side, where that helps. */
static bool try_figure(const LikeFit *f, const ToneCurve *c, const Figure *figure, double step, double *left)
{
    const double was = *figure->value;
    for (int side = -1; side <= 1; side += 2) {
        *figure->value = moved(figure, side * step);
        const double now = left_of(f, c);
        if (now < *left) {
            *left = now;
            return true;
        }
        *figure->value = was;
    }
    return false;
}

static double polish(const LikeFit *f, ToneCurve *c)
{
    Figure figure[FIGURES];
    const uint32_t figures = figures_of(c, figure);
    double left = left_of(f, c), step = 1.0;
    for (int halving = 0; halving < HALVINGS; ++halving, step /= 2.0) {
        bool helped = true;
        for (int round = 0; round < ROUNDS && helped; ++round) {
            helped = false;
            for (uint32_t i = 0; i < figures; ++i)
                helped |= try_figure(f, c, &figure[i], step, &left);
        }
    }
    return left;
}

/* ---- One move more ---- */

/* The best so far: a curve and what it leaves. */
typedef struct {
    const LikeFit *wanted;
    LikeFit rest; /* what the curve that is added to leaves */
    ToneCurve base, best;
    double left;
} Search;

static Search search_from(const LikeFit *f, const ToneCurve *base)
{
    Search s = {.wanted = f, .rest = *f, .base = *base, .best = *base, .left = left_of(f, base)};
    for (uint32_t k = 0; k < f->points; ++k)
        s.rest.db[k] -= like_fit_curve(base, f->hz[k]);
    return s;
}

/* `alone`: the move by itself; `whole`: with those that are there. */
static void offer(Search *s, const ToneCurve *alone, const ToneCurve *whole)
{
    const double left = left_of(&s->rest, alone);
    if (left >= s->left)
        return;
    s->left = left;
    s->best = *whole;
}

static void offer_low_cuts(Search *s)
{
    for (int order = 2; order <= 4; ++order)
        for (double hz = CUT_LOW; hz <= CUT_HIGH; hz *= exp2(1.0 / 12.0)) {
            ToneCurve alone = {.order = order, .low_cut = hz}, whole = s->base;
            whole.order = order;
            whole.low_cut = hz;
            offer(s, &alone, &whole);
        }
}

static void offer_airs(Search *s)
{
    for (double hz = AIR_LOW; hz <= AIR_HIGH; hz *= exp2(1.0 / 6.0))
        for (double db = 0.5; db <= AIR_MOST; db += 0.5) {
            ToneCurve alone = {.air_hz = hz, .air_db = db}, whole = s->base;
            whole.air_hz = hz;
            whole.air_db = db;
            offer(s, &alone, &whole);
        }
}

static void offer_dips(Search *s, uint32_t i)
{
    for (double hz = DIP_LOW; hz <= DIP_HIGH; hz *= exp2(1.0 / 8.0))
        for (double octaves = LIKE_FIT_LEAST_WIDTH; octaves <= DIP_WIDE; octaves *= sqrt(2.0))
            for (double db = -1.0; db >= DIP_DEEP; db -= db > -6.0 ? 1.0 : 2.0) {
                ToneCurve alone = {.dip_hz = {hz}, .dip_octaves = {octaves}, .dip_db = {db}}, whole = s->base;
                whole.dip_hz[i] = hz;
                whole.dip_octaves[i] = octaves;
                whole.dip_db[i] = db;
                offer(s, &alone, &whole);
            }
}

/* Worth it? Then the curve becomes the better one. */
static bool accept(const Search *s, ToneCurve *curve, double *left)
{
    ToneCurve polished = s->best;
    const double now = polish(s->wanted, &polished);
    if (now > (1.0 - GAINS) * *left || sqrt(now) > sqrt(*left) - LEAST)
        return false;
    *curve = polished;
    *left = now;
    return true;
}

static bool add_move(const LikeFit *f, ToneCurve *curve, double *left)
{
    Search s = search_from(f, curve);
    if (!(curve->order > 0.0))
        offer_low_cuts(&s);
    if (!(curve->air_db > 0.0))
        offer_airs(&s);
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        if (!(curve->dip_db[i] < 0.0)) {
            offer_dips(&s, i);
            break;
        }
    return accept(&s, curve, left);
}

/* A dip that was placed while others were missing is looked for once more, and so is the low cut's slope. */
static void look_again(const LikeFit *f, ToneCurve *curve, double *left)
{
    for (uint32_t i = 0; i <= TONE_EVEN_DIPS; ++i) {
        ToneCurve without = *curve;
        if (i < TONE_EVEN_DIPS)
            without.dip_db[i] = 0.0;
        else
            without.order = 0.0;
        Search s = search_from(f, &without);
        if (i < TONE_EVEN_DIPS)
            offer_dips(&s, i);
        else
            offer_low_cuts(&s);
        accept(&s, curve, left);
    }
}

static void tidy(ToneCurve *c)
{
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        c->dip_hz[i] = c->dip_db[i] < 0.0 ? c->dip_hz[i] : DIP_LOW;
    c->low_cut = c->order > 0.0 ? c->low_cut : CUT_LOW;
    c->air_hz = c->air_db > 0.0 ? c->air_hz : AIR_CENTRE;
}

ToneCurve like_fit(const LikeFit *wanted)
{
    ToneCurve curve = {.low_cut = CUT_LOW, .air_hz = AIR_CENTRE};
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        curve.dip_octaves[i] = 1.0;
    double left = left_of(wanted, &curve);
    while (add_move(wanted, &curve, &left))
        continue;
    for (int again = 0; again < 2; ++again)
        look_again(wanted, &curve, &left);
    tidy(&curve);
    return curve;
}
