#include "draw.h"

#include "design.h"
#include "fill.h"
#include "html.h"
#include "plot.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define WIDTH 360.0 /* of a panel's picture: as wide as a phone, so that its words stay as large as they are meant */
#define LEFT  34.0
#define RIGHT 350.0

/* What a port showed last; NaN: it was not there. */
static double shown(const Readings *r, const char *symbol)
{
    const Port *port;
    const Reading *reading = r ? readings_of(r, symbol, &port) : NULL;
    return reading ? (double)reading->last : NAN;
}

/* The same as text, as the table has it. */
static const char *as_text(const Readings *r, const char *pattern, char text[64])
{
    if (!r || !fill_in(r, pattern, text, 64))
        text[0] = '\0';
    return text;
}

static const Readings *stage_of(const Drawing *d, const char *name)
{
    const StageResult *s = facts_stage(d->report, name, NULL);
    return s ? &s->effect[d->index].readings : NULL;
}

/* Where a word stands so that it stays inside the box. */
static const char *anchor_at(const Plot *p, double x)
{
    return x < p->left + 45.0 ? "start" : x > p->right - 45.0 ? "end" : "middle";
}

/* A whole number of seconds between two marks of a time axis, so that there are at most `most`. */
static double time_step(double seconds, double most)
{
    static const double steps[] = {1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200};
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof *steps && seconds / steps[i] > most)
        ++i;
    return fmax(steps[i], ceil(seconds / most / 7200.0) * (i + 1 < sizeof steps / sizeof *steps ? 0.0 : 7200.0));
}

static void time_ticks(const Plot *p)
{
    const double step = time_step(p->until, 5.0);
    for (double at = 0.0; at < p->until * 0.97; at += step) {
        char text[32];
        fill_time(at, text, sizeof text);
        plot_tick_x(p, at, "");
        plot_text(p->to, plot_x(p, at), p->bottom + 12.0, at > 0.0 ? "middle" : "start", "scale", "%s", text);
    }
}

/* ---- Level ---- */

#define WINDOW_LOW  (-24.0) /* dB; the window that Check judges by */
#define WINDOW_HIGH (-12.0)

static void draw_shares(const Plot *p, const double *share, double most, const char *css)
{
    const double base = plot_y(p, 0.0);
    plot_path(p->to, css);
    plot_to(p->to, 'M', p->left, base);
    for (uint32_t c = 0; c < FACTS_LEVELS; ++c) {
        const double y = plot_y(p, share[c] / most);
        plot_to(p->to, 'L', plot_x(p, (double)c - FACTS_LEVELS), y);
        plot_to(p->to, 'L', plot_x(p, (double)c + 1.0 - FACTS_LEVELS), y);
    }
    plot_to(p->to, 'L', p->right, base);
    plot_path_end(p->to);
}

static void mark_level(const Plot *p, double db, double from, double to, double text_at, const char *css,
                       const char *text)
{
    if (!(db > -60.0))
        return;
    const double x = plot_x(p, db);
    plot_line(p->to, x, from, x, to, css);
    plot_text(p->to, x, text_at, anchor_at(p, x), "value", "%s", text);
}

static void draw_level(const Drawing *d)
{
    char before[64], after[64];
    const double level = report_level(d->report, d->index);
    const Plot up = {d->to, 10.0, RIGHT, 34.0, 82.0, -FACTS_LEVELS, 0.0, 0.0, 1.0, false};
    const Plot down = {d->to, 10.0, RIGHT, 86.0, 134.0, -FACTS_LEVELS, 0.0, 1.0, 0.0, false};
    double most = 1e-9;
    for (uint32_t k = 0; k < LOOK_SIDES * FACTS_LEVELS; ++k)
        most = fmax(most, d->facts->level[k / FACTS_LEVELS][k % FACTS_LEVELS]);
    const double left = plot_x(&up, WINDOW_LOW), right = plot_x(&up, WINDOW_HIGH);
    plot_rect(d->to, left, 16.0, right - left, 136.0, "window");
    plot_text(d->to, (left + right) / 2.0, 11.0, "middle", "scale", "the window, -24 to -12 dB");
    draw_shares(&up, d->facts->level[LOOK_BEFORE], most, "before area");
    draw_shares(&down, d->facts->level[LOOK_AFTER], most, "after area");
    plot_text(d->to, 10.0, 79.0, "start", "name", "before");
    plot_text(d->to, 10.0, 98.0, "start", "name", "after");
    mark_level(&up, shown(d->report->check, "voice_level"), 32.0, 84.0, 28.0, "before line",
               as_text(d->report->check, "{voice_level}", before));
    snprintf(after, sizeof after, "%.1f dB", level);
    mark_level(&down, level, 84.0, 137.0, 148.0, "after line", after);
    for (double db = -60.0; db <= 0.0; db += 12.0) {
        const double x = plot_x(&down, db);
        plot_text(d->to, x, 165.0,
                  db <= -60.0 ? "start"
                  : db >= 0.0 ? "end"
                              : "middle",
                  "scale", "%.0f%s", db, db >= 0.0 ? " dB" : "");
    }
    plot_line(d->to, up.left, 84.0, up.right, 84.0, "axis");
}

/* ---- Colour ---- */

enum { CURVE = 150 /* places along a curve */ };

#define LOWEST  40.0
#define HIGHEST 16000.0
#define DEPTH   45.0 /* dB of a spectrum that are drawn */
#define SWING   12.0 /* dB of Tone's curve, either way */

/* Tone's low cut, dips and air as its ports tell them, in dB. */
typedef struct {
    uint32_t sections, dips;
    Biquad section[8];
    double cut, dip[3], dip_db[3], air; /* Hz; 0: none */
} Curve;

static void add_dip(Curve *c, const Readings *tone, uint32_t k, double rate)
{
    static const char *const port[2][3][3] = {{{"dip1_freq", "dip1_depth", "dip1_width"},
                                               {"dip2_freq", "dip2_depth", "dip2_width"},
                                               {"dip3_freq", "dip3_depth", "dip3_width"}},
                                              {{"found1_freq", "found1_depth", "found1_width"},
                                               {"found2_freq", "found2_depth", "found2_width"},
                                               {"found3_freq", "found3_depth", "found3_width"}}};
    const char *const *name = port[shown(tone, "dips_placed_by") > 0.0][k];
    const double hz = shown(tone, name[0]), db = shown(tone, name[1]), octaves = shown(tone, name[2]);
    if (!(hz > 0.0) || !(db < 0.0) || !(octaves > 0.0))
        return;
    c->dip[k] = hz;
    c->dip_db[k] = db;
    c->section[c->sections++] = design_bell(hz, db, design_q(octaves), rate);
}

static Curve tone_curve(const Readings *tone, double rate)
{
    Curve c = {0};
    const double slope = shown(tone, "low_cut_slope"), found = shown(tone, "found_low_cut"),
                 lift = shown(tone, "air_lift");
    const double unsure = 60.0; /* Hz; low_cut.h: under every voice */
    if (slope > 0.0) {          /* off, 12, 18, 24 dB per octave */
        c.cut = !(shown(tone, "low_cut_set_by") > 0.0) ? shown(tone, "low_cut") : found > 0.0 ? found : unsure;
        c.sections += design_butterworth_high_pass((uint32_t)slope + 1, c.cut, rate, c.section);
    }
    for (uint32_t k = 0; k < 3; ++k)
        add_dip(&c, tone, k, rate);
    if (lift > 0.0) {
        c.air = shown(tone, "air_freq");
        c.section[c.sections++] = design_high_shelf(c.air, lift, rate);
    }
    return c;
}

static double curve_db(const Curve *c, double hz, double rate)
{
    double gain = 1.0;
    for (uint32_t k = 0; k < c->sections; ++k)
        gain *= biquad_gain(&c->section[k], hz, rate);
    return gain_to_db(gain);
}

/* Letters and numbers, told apart where dips lie close to each other. */
static void name_bands(const Plot *p, const Curve *c)
{
    double last = -100.0, under = 0.0;
    if (c->cut > 0.0)
        plot_text(p->to, plot_x(p, c->cut), plot_y(p, 0.0) - 5.0, "middle", "name", "L");
    if (c->air > 0.0)
        plot_text(p->to, plot_x(p, c->air), plot_y(p, 0.0) + 13.0, "middle", "name", "A");
    for (uint32_t k = 0; k < 3; ++k) {
        if (!(c->dip[k] > 0.0))
            continue;
        const double x = plot_x(p, c->dip[k]);
        under = fabs(x - last) < 12.0 && under < 1.0 ? 11.0 : 0.0;
        plot_text(p->to, x, plot_y(p, 0.0) - 5.0 - under, "middle", "name", "%u", (unsigned)k + 1);
        last = x;
    }
}

/* Chain tells where its dips lie and how deep they are, not how wide. */
static void draw_depths(const Drawing *d, const Plot *p, const Readings *chain)
{
    static const char *const port[3][2] = {
        {"found1_freq", "found1_depth"}, {"found2_freq", "found2_depth"}, {"found3_freq", "found3_depth"}};
    Curve c = {.cut = shown(chain, shown(chain, "low_cut_set_by") > 0.0 ? "found_low_cut" : "low_cut")};
    plot_text(d->to, p->right, p->top + 3.0, "end", "scale", "where Chain cuts, and how deep");
    plot_path(d->to, "after line");
    plot_to(d->to, 'M', p->left, plot_y(p, 0.0));
    plot_to(d->to, 'L', p->right, plot_y(p, 0.0));
    for (uint32_t k = 0; k < 3; ++k) {
        const double hz = shown(chain, port[k][0]), db = shown(chain, port[k][1]);
        if (!(hz > 0.0) || !(shown(chain, "dips_placed_by") > 0.0))
            continue;
        c.dip[k] = hz;
        plot_to(d->to, 'M', plot_x(p, hz), plot_y(p, 0.0));
        plot_to(d->to, 'L', plot_x(p, hz), plot_y(p, db));
    }
    plot_path_end(d->to);
    name_bands(p, &c);
}

static void draw_curve(const Drawing *d, const Plot *p)
{
    const double rate = d->report->take[d->index].rate;
    const Readings *tone = stage_of(d, "tone"), *chain = stage_of(d, "chain");
    const Curve c = tone ? tone_curve(tone, rate) : (Curve){0};
    plot_tick_y(p, 0.0, "0 dB");
    if (!tone && chain) {
        draw_depths(d, p, chain);
        return;
    }
    plot_text(d->to, p->right, p->top + 3.0, "end", "scale", tone ? "what Tone does" : "no Tone");
    if (!tone)
        return;
    plot_path(d->to, "after line");
    for (int k = 0; k <= CURVE; ++k) {
        const double hz = LOWEST * pow(HIGHEST / LOWEST, (double)k / CURVE);
        plot_to(d->to, k ? 'L' : 'M', plot_x(p, hz), plot_y(p, hz < 0.45 * rate ? curve_db(&c, hz, rate) : 0.0));
    }
    plot_path_end(d->to);
    name_bands(p, &c);
}

static void draw_spectrum(const Plot *p, const double *db, uint32_t bands, const char *css)
{
    plot_path(p->to, css);
    for (uint32_t k = 0; k < bands; ++k)
        plot_to(p->to, k ? 'L' : 'M', plot_x(p, bank_hz(k)), plot_y(p, db[k]));
    plot_path_end(p->to);
}

/* The vocal that the take was fitted to, named where the others are not. */
static void draw_like(const Drawing *d, const Plot *p)
{
    const Facts *f = d->facts;
    if (!f->like_bands)
        return;
    draw_spectrum(p, f->like, f->like_bands, "like line");
    const uint32_t at = f->like_bands / 2;
    plot_text(d->to, plot_x(p, bank_hz(at)), fmax(plot_y(p, f->like[at]) - 12.0, p->top + 8.0), "middle", "name",
              "the other vocal");
}

static void draw_colour(const Drawing *d)
{
    const Facts *f = d->facts;
    double top = -200.0;
    for (uint32_t k = 0; k < f->bands; ++k)
        top = fmax(top, fmax(f->colour[0][k], f->colour[1][k]));
    for (uint32_t k = 0; k < f->like_bands; ++k)
        top = fmax(top, f->like[k]);
    const Plot curve = {d->to, LEFT, RIGHT, 6.0, 66.0, LOWEST, HIGHEST, -SWING, SWING, true};
    const Plot p = {d->to, LEFT, RIGHT, 72.0, 196.0, LOWEST, HIGHEST, top - DEPTH, top + 3.0, true};
    plot_tick_x(&p, 100.0, "100 Hz");
    plot_tick_x(&p, 1000.0, "1 kHz");
    plot_tick_x(&p, 10000.0, "10 kHz");
    plot_frame(&p);
    draw_curve(d, &curve);
    if (!f->bands) {
        plot_text(d->to, (LEFT + RIGHT) / 2.0, 135.0, "middle", "value", "too short or too quiet for a spectrum");
        return;
    }
    draw_like(d, &p);
    draw_spectrum(&p, f->colour[LOOK_BEFORE], f->bands, "before line");
    draw_spectrum(&p, f->colour[LOOK_AFTER], f->bands, "after line");
    const uint32_t at = f->bands > 6 ? 6 : 0;
    const double high = fmin(plot_y(&p, f->colour[0][at]), plot_y(&p, f->colour[1][at])),
                 low = fmax(plot_y(&p, f->colour[0][at]), plot_y(&p, f->colour[1][at]));
    const bool before_above = f->colour[0][at] >= f->colour[1][at];
    plot_text(d->to, plot_x(&p, bank_hz(at)) - 8.0, fmax(high - 7.0, p.top + 8.0), "middle", "name",
              before_above ? "before" : "after");
    plot_text(d->to, plot_x(&p, bank_hz(at)) + 22.0, fmin(low + 16.0, p.bottom - 4.0), "middle", "name",
              before_above ? "after" : "before");
}

/* ---- Loud and quiet ---- */

static void draw_reduction(const Drawing *d, const Plot *p)
{
    plot_path(d->to, "after area");
    plot_to(d->to, 'M', p->left, p->top);
    for (uint32_t c = 0; c < FACTS_COLUMNS; ++c)
        plot_to(d->to, 'L', plot_x(p, (c + 0.5) * d->facts->seconds / FACTS_COLUMNS),
                plot_y(p, d->facts->reduction[c]));
    plot_to(d->to, 'L', p->right, p->top);
    plot_path_end(d->to);
}

/* The level in the middle of all phrases. */
static double middle_of(const Facts *f, bool after)
{
    double best = 0.0, least = INFINITY;
    for (size_t i = 0; i < f->bars; ++i) {
        const double db = after ? f->bar[i].after : f->bar[i].before;
        double off = 0.0;
        for (size_t k = 0; k < f->bars; ++k)
            off += fabs((after ? f->bar[k].after : f->bar[k].before) - db);
        best = off < least ? db : best;
        least = fmin(off, least);
    }
    return best;
}

static void draw_phrases(const Drawing *d, const Plot *p, bool after, double y)
{
    const double middle = middle_of(d->facts, after);
    plot_line(d->to, p->left, y, p->right, y, "grid");
    plot_text(d->to, p->left - 4.0, y + 3.5, "end", "name", after ? "after" : "before");
    plot_path(d->to, after ? "after line" : "before line solid");
    for (size_t i = 0; i < d->facts->bars; ++i) {
        const double x = plot_x(p, (after ? d->facts->bar[i].after : d->facts->bar[i].before) - middle);
        plot_to(d->to, 'M', x, y - 7.0);
        plot_to(d->to, 'L', x, y + 7.0);
    }
    plot_path_end(d->to);
}

static void draw_evenness(const Drawing *d)
{
    double most = 6.0;
    for (uint32_t c = 0; c < FACTS_COLUMNS; ++c)
        most = fmax(most, ceil(d->facts->reduction[c] / 6.0) * 6.0);
    const Plot p = {d->to, LEFT, RIGHT, 18.0, 78.0, 0.0, fmax(d->facts->seconds, 1e-3), most, 0.0, false};
    const Plot spread = {d->to, 46.0, RIGHT, 118.0, 170.0, -15.0, 15.0, 0.0, 1.0, false};
    char text[32];
    plot_text(d->to, LEFT, 11.0, "start", "scale",
              d->facts->compressed ? "reduction along the take, dB" : "no Compressor");
    snprintf(text, sizeof text, "%.0f", most);
    plot_tick_y(&p, most, text);
    plot_tick_y(&p, 0.0, "0");
    time_ticks(&p);
    if (d->facts->compressed)
        draw_reduction(d, &p);
    plot_text(d->to, LEFT, 112.0, "start", "scale", "each phrase, dB off the middle one");
    draw_phrases(d, &spread, false, 128.0);
    draw_phrases(d, &spread, true, 150.0);
    for (double db = -15.0; db <= 15.0; db += 5.0)
        plot_text(d->to, plot_x(&spread, db), 170.0, db >= 15.0 ? "end" : "middle", "scale", "%+.0f", db);
}

/* ---- Esses ---- */

enum { ESSES_DRAWN = 1500 };

static void draw_dot(FILE *to, double x, double y)
{
    fprintf(to, "M%.1f %.1fa3 3 0 1 0 6 0a3 3 0 1 0 -6 0", x - 3.0, y);
}

static void draw_dots(const Drawing *d, const Plot *p, bool caught)
{
    const size_t every = d->facts->esses / ESSES_DRAWN + 1;
    plot_path(d->to, caught ? "dot caught" : "dot");
    for (size_t i = 0; i < d->facts->esses; ++i)
        if (d->facts->ess[i].caught == caught && i % every == 0)
            draw_dot(d->to, plot_x(p, d->facts->ess[i].at), plot_y(p, d->facts->ess[i].level));
    plot_path_end(d->to);
}

/* From where it was to where the cut brought it. */
static void draw_cuts(const Drawing *d, const Plot *p)
{
    const size_t every = d->facts->esses / ESSES_DRAWN + 1;
    plot_path(d->to, "after line");
    for (size_t i = 0; i < d->facts->esses; i += every) {
        const Ess *s = &d->facts->ess[i];
        const double x = plot_x(p, s->at);
        if (!s->caught)
            continue;
        plot_to(d->to, 'M', x, plot_y(p, s->level));
        plot_to(d->to, 'L', x, plot_y(p, s->level + s->cut));
    }
    plot_path_end(d->to);
}

static void draw_esses(const Drawing *d)
{
    double top = d->facts->esses ? -90.0 : -50.0, base = 0.0;
    for (size_t i = 0; i < d->facts->esses; ++i) {
        top = fmax(top, d->facts->ess[i].level);
        base = fmin(base, d->facts->ess[i].level);
    }
    top = ceil(top / 10.0) * 10.0;
    base = fmin(fmax(floor(base / 10.0) * 10.0, top - 60.0), top - 20.0);
    const Plot p = {d->to, LEFT, RIGHT, 22.0, 148.0, 0.0, fmax(d->facts->seconds, 1e-3), base, top, false};
    plot_text(d->to, LEFT, 11.0, "start", "scale", "each s%s, its highs in dB; filled: caught, line: the cut",
              d->facts->cut_alone ? " that was cut" : "");
    for (double db = base; db <= top && d->facts->esses; db += 10.0) {
        char text[16];
        snprintf(text, sizeof text, "%.0f", db);
        plot_tick_y(&p, db, text);
    }
    plot_frame(&p);
    time_ticks(&p);
    if (!d->facts->esses)
        plot_text(d->to, (LEFT + RIGHT) / 2.0, 90.0, "middle", "value",
                  !facts_either(d->report, "esses", NULL) ? "no Esses"
                  : d->facts->cut_alone                   ? "none was cut"
                                                          : "none was heard");
    draw_cuts(d, &p);
    draw_dots(d, &p, false);
    draw_dots(d, &p, true);
}

/* ---- Ambience ---- */

#define ROOM_LOW  350.0 /* Hz: where Check measures the room (check.ttl) */
#define ROOM_HIGH 1400.0

#define CHAIN_HIGH 5600.0 /* Hz: its decay is a box above that; where it gets shorter, Chain does not show */

/* How long each frequency rings: nothing under the low cut, half as long at the damping as in the middle. */
static void draw_plate(const Plot *p, double decay, double cut, double damping)
{
    plot_path(p->to, "after area");
    plot_to(p->to, 'M', p->left, plot_y(p, log(cut)));
    for (int k = 0; k <= CURVE; ++k) {
        const double hz = cut * pow(20000.0 / cut, (double)k / CURVE);
        plot_to(p->to, 'L', plot_x(p, decay / (1.0 + hz / damping * (hz / damping))), plot_y(p, log(hz)));
    }
    plot_to(p->to, 'L', p->left, p->top);
    plot_path_end(p->to);
}

static void draw_ambience(const Drawing *d)
{
    char text[64];
    const Readings *plate = stage_of(d, "plate"), *chain = plate ? NULL : stage_of(d, "chain");
    const double room = shown(d->report->check, "decay"), cut = shown(plate, "low_cut"),
                 decay = shown(plate ? plate : chain, "decay");
    const double longest = fmax(fmax(decay > 0.0 ? decay : 0.0, room > 0.0 ? room : 0.0), 0.5) * 1.15;
    const Plot p = {d->to, LEFT + 12.0, RIGHT, 16.0, 150.0, 0.0, longest, log(30.0), log(20000.0), false};
    plot_tick_y(&p, log(100.0), "100 Hz");
    plot_tick_y(&p, log(1000.0), "1 kHz");
    plot_tick_y(&p, log(10000.0), "10 kHz");
    plot_text(d->to, p.right, 10.0, "end", "scale", "seconds until it is 60 dB down");
    for (double at = 0.0; at <= longest; at += longest > 4.0 ? 2.0 : longest > 2.0 ? 1.0 : 0.5) {
        snprintf(text, sizeof text, "%.1f s", at);
        plot_tick_x(&p, at, text);
    }
    if (plate) {
        draw_plate(&p, decay, cut, shown(plate, "damping"));
        plot_rect(d->to, p.left, plot_y(&p, log(cut)), p.right - p.left, p.bottom - plot_y(&p, log(cut)), "shaded");
        plot_text(d->to, p.right - 4.0, p.bottom - 6.0, "end", "name", "after: no low end under %s",
                  as_text(plate, "{low_cut}", text));
        plot_text(d->to, plot_x(&p, fmin(decay, longest * 0.5)), plot_y(&p, log(2600.0)), "middle", "name", "after: %s",
                  as_text(plate, "{decay}", text));
    } else if (chain) {
        const double y = plot_y(&p, log(CHAIN_HIGH));
        plot_rect(d->to, p.left, y, plot_x(&p, decay) - p.left, plot_y(&p, log(ROOM_HIGH)) - y, "after room");
        plot_text(d->to, p.left + 6.0, y - 5.0, "start", "name", "after: %s", as_text(chain, "{decay}", text));
    } else {
        plot_text(d->to, p.right - 4.0, p.top + 14.0, "end", "name", "no Plate");
    }
    if (!(room > 0.0))
        return;
    const double y = plot_y(&p, log(ROOM_HIGH)), height = plot_y(&p, log(ROOM_LOW)) - y, x = plot_x(&p, room);
    plot_rect(d->to, p.left, y, x - p.left, height, "before room");
    plot_text(d->to, x + 5.0, y + height / 2.0 + 4.0, "start", "name", "before: %s",
              as_text(d->report->check, "{decay}", text));
}

/* ---- Tuning ---- */

static void draw_tuning(const Drawing *d)
{
    const Readings *check = d->report->check;
    const double off = shown(check, "out_of_tune"), tuning = shown(check, "tuning");
    const Plot p = {d->to, 14.0, RIGHT - 4.0, 30.0, 70.0, -50.0, 50.0, 0.0, 1.0, false};
    char text[64];
    plot_text(d->to, 180.0, 11.0, "middle", "scale", "cents between a note in tune and its neighbours");
    plot_rect(d->to, plot_x(&p, -30.0), p.top, plot_x(&p, 30.0) - plot_x(&p, -30.0), 40.0, "window");
    for (double cents = -50.0; cents <= 50.0; cents += 10.0) {
        snprintf(text, sizeof text, "%+.0f", cents);
        plot_tick_x(&p, cents, cents == 0.0 ? "0" : text);
    }
    plot_frame(&p);
    if (!(off > -1.0)) {
        plot_text(d->to, 180.0, 54.0, "middle", "value", "too little was sung");
        return;
    }
    const double left = plot_x(&p, tuning - off), right = plot_x(&p, tuning + off), x = plot_x(&p, tuning);
    plot_rect(d->to, left, 42.0, fmax(right - left, 2.0), 16.0, "before room");
    plot_line(d->to, x, 34.0, x, 66.0, "before line solid");
    plot_text(d->to, x, 27.0, anchor_at(&p, x), "value", "the take: %s", as_text(check, "{+tuning}", text));
    plot_text(d->to, fmin(fmax(x, 100.0), 260.0), 99.0, "middle", "name", "its notes: %s off on average",
              as_text(check, "{out_of_tune}", text));
}

/* ---- All panels ---- */

void draw_panel(const Drawing *d, Panel panel, const char *desc)
{
    static void (*const draw[PANELS])(const Drawing *) = {
        [PANEL_LEVEL] = draw_level, [PANEL_COLOUR] = draw_colour,     [PANEL_EVENNESS] = draw_evenness,
        [PANEL_ESSES] = draw_esses, [PANEL_AMBIENCE] = draw_ambience, [PANEL_TUNING] = draw_tuning};
    static const double height[PANELS] = {[PANEL_LEVEL] = 170.0, [PANEL_COLOUR] = 212.0,   [PANEL_EVENNESS] = 176.0,
                                          [PANEL_ESSES] = 166.0, [PANEL_AMBIENCE] = 166.0, [PANEL_TUNING] = 104.0};
    char id[32];
    snprintf(id, sizeof id, "p%u-%u", (unsigned)d->number, (unsigned)panel);
    plot_begin(d->to, id, WIDTH, height[panel], false, story_question(panel), desc);
    draw[panel](d);
    plot_end(d->to);
}

/* ---- The ribbon ---- */

#define RIBBON 1000.0 /* it is stretched to the page's width */
#define MIDDLE 80.0
#define FAINT  (-60.0) /* dB: what is fainter has no height */

#define LANE 14.0

enum { OUTLINE = 500, MOMENTS = 24 };

static double reach(double db)
{
    return fmin(fmax(db / -FAINT + 1.0, 0.0), 1.0) * (MIDDLE - 4.0);
}

/* The peaks along the time, up or down from the middle. */
static void draw_outline(const Drawing *d, const Plot *p, uint32_t side)
{
    const Survey *s = &d->look->side[side];
    plot_path(d->to, side ? "after outline" : "before outline");
    plot_to(d->to, 'M', 0.0, MIDDLE);
    for (int k = 0; k < OUTLINE; ++k) {
        const double from = k * p->until / OUTLINE, to = (k + 1) * p->until / OUTLINE;
        float peak = 0.f;
        for (size_t h = (size_t)(from / SURVEY_HOP); h < s->used && (double)h * SURVEY_HOP < to; ++h)
            peak = fmaxf(peak, s->hops[h].peak);
        plot_to(d->to, 'L', plot_x(p, (from + to) / 2.0),
                MIDDLE + (side ? 1.0 : -1.0) * reach(gain_to_db((double)peak)));
    }
    plot_to(d->to, 'L', p->right, MIDDLE);
    plot_path_end(d->to);
}

static void draw_bars(const Drawing *d, const Plot *p)
{
    for (size_t i = 0; i < d->facts->bars; ++i) {
        const Bar *b = &d->facts->bar[i];
        const double x = plot_x(p, b->when.from), width = fmax(plot_x(p, b->when.to) - x, 1.0);
        plot_rect(d->to, x, MIDDLE - reach(b->before), width, reach(b->before), "before bar");
        plot_rect(d->to, x, MIDDLE, width, reach(b->after), "after bar");
    }
}

/* What is counted happens at a moment, and is marked across the ribbon too, where that does not hide it. */
static bool has_moments(const Lane *lane)
{
    return lane->count && lane->marks <= MOMENTS;
}

static void draw_marks(const Drawing *d, const Plot *p, const Lane *lane, double height, const char *css)
{
    plot_path(d->to, css);
    for (size_t i = 0; i < lane->marks; ++i) {
        const double x = plot_x(p, lane->mark[i].from), to = plot_x(p, lane->mark[i].to);
        plot_to(d->to, 'M', x, 0.0);
        plot_to(d->to, 'L', x, height);
        if (to <= x)
            continue;
        plot_to(d->to, 'M', x, height / 2.0);
        plot_to(d->to, 'L', to, height / 2.0);
    }
    plot_path_end(d->to);
}

/* "Popping, 14 times: from 0:15 to 2:42"; how often is said where that is what Check counted. */
static void name_lane(const Drawing *d, const Lane *lane, char *words, size_t size)
{
    char when[128], often[32] = "";
    story_when(when, sizeof when, lane);
    if (lane->count && lane->times > 1 && shown(d->report->check, lane->count) == (double)lane->times)
        snprintf(often, sizeof often, ", %zu times", lane->times);
    snprintf(words, size, "%s%s%s%s", lane->fault->name, often, *when ? ": " : "", when);
}

static void draw_lane(const Drawing *d, const Plot *p, const Lane *lane, uint32_t k)
{
    char words[320], id[32];
    name_lane(d, lane, words, sizeof words);
    snprintf(id, sizeof id, "f%u-%u", (unsigned)d->number, (unsigned)k);
    fputs("<div class=\"lane\"><b>", d->to);
    html_text(d->to, words);
    fputs("</b><span>", d->to);
    plot_begin(d->to, id, RIBBON, LANE, true, lane->fault->name, words);
    draw_marks(d, p, lane, LANE, "fault");
    plot_end(d->to);
    fputs("</span></div>\n", d->to);
}

static void draw_times(const Drawing *d, double seconds)
{
    const double step = time_step(seconds, 6.0);
    fputs("<div class=\"times\">", d->to);
    for (double at = 0.0; at < seconds * 0.95 || at == 0.0; at += step) {
        char text[32];
        fill_time(at, text, sizeof text);
        fprintf(d->to, "<span style=\"left:%.2f%%\">%s</span>", 100.0 * at / fmax(seconds, 1e-3), text);
    }
    fputs("</div>\n", d->to);
}

void draw_ribbon(const Drawing *d, const char *desc)
{
    char id[32];
    const double seconds = fmax(d->facts->seconds, 1e-3);
    const Plot p = {d->to, 0.0, RIBBON, 0.0, 2.0 * MIDDLE, 0.0, seconds, 0.0, 1.0, false};
    snprintf(id, sizeof id, "r%u", (unsigned)d->number);
    fputs("<div class=\"ribbon\"><i>before</i><i>after</i>", d->to);
    plot_begin(d->to, id, RIBBON, 2.0 * MIDDLE, true, "The take along the time", desc);
    draw_outline(d, &p, LOOK_BEFORE);
    draw_outline(d, &p, LOOK_AFTER);
    draw_bars(d, &p);
    for (uint32_t k = 0; k < d->facts->lanes; ++k)
        if (has_moments(&d->facts->lane[k]))
            draw_marks(d, &p, &d->facts->lane[k], 2.0 * MIDDLE, "moment");
    plot_line(d->to, 0.0, MIDDLE, RIBBON, MIDDLE, "axis");
    plot_end(d->to);
    fputs("</div>\n", d->to);
    draw_times(d, seconds);
    for (uint32_t k = 0; k < d->facts->lanes; ++k)
        draw_lane(d, &p, &d->facts->lane[k], k);
}
