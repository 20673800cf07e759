/* No control clicks: tests/click.h's check on every control of every plug-in, moved at any moment from any end of its
 * range to the other, and between all its choices. */
#include "every.h"

#include "click.h"
#include "figure.h"

/* Mono variants only: the stereo ones run the same code on two channels. */
static bool is_mono(const Plugin *plugin)
{
    return plugin->ins == 1;
}

enum { RATE = 48000, CHANGE = RATE / 2, END = CHANGE + RATE / 10 + 2000 };

#define AMPLITUDE 0.25
#define LIMIT     (-60.0) /* dB under the sine */
/* What rings at a setting all the time (a fast compressor bends a wave's form) is no click. The change may top that
 * by the sum of what was before and what comes after. */
#define BOTH_AT_ONCE 6.0

/* A control's way: the others at their defaults (along < 0) or moved; this one from a value to another. */
typedef struct {
    const Port *port;
    double along;
    float from, to;
} Way;

static double peak_of(const float *x, uint32_t from, uint32_t to)
{
    double peak = 0.0;
    for (uint32_t k = from; k < to; ++k)
        peak = fmax(peak, fabs((double)x[k]));
    return peak;
}

/* Left by the filter in the 100 ms from a frame on, in dB under the sine as it was put in or, if it is louder, as it
 * comes out. */
static double left_at(const Audio *out, uint32_t from)
{
    const double loudest = fmax(AMPLITUDE, peak_of(out->channel[0], from - 2000, from + RATE / 10));
    return click_level(out->channel[0], out->n, from, RATE, loudest);
}

static Audio play(const Case *c, const Audio *in, const Way *w, uint32_t change, float after)
{
    Instance *i = every_new(c, RATE, INSTANCE_PLAIN);
    if (w->along >= 0.0)
        every_move_controls(i, w->along);
    instance_set(i, w->port->symbol, w->from);
    instance_activate(i);
    Audio out = audio_new(in->n);
    instance_run(i, audio_in(in), out.channel, change);
    instance_set(i, w->port->symbol, after);
    const float *const rest[] = {in->channel[0] + change, in->channel[1] + change};
    float *const to[] = {out.channel[0] + change, out.channel[1] + change};
    instance_run(i, rest, to, in->n - change);
    instance_free(i);
    return out;
}

/* What is left all the time at a setting. */
static double steady(const Case *c, const Audio *in, const Way *w, float value)
{
    Audio out = play(c, in, &(Way){w->port, w->along, value, value}, CHANGE, value);
    const double db = left_at(&out, CHANGE);
    audio_free(&out);
    return db;
}

/* How far a change stays under its limit, in dB; negative: it clicks. */
static double margin(const Case *c, const Audio *in, const Way *w)
{
    static const uint32_t moments[] = {0, 57};
    double worst = 1000.0;
    for (int m = 0; m < 2; ++m) {
        Audio out = play(c, in, w, CHANGE + moments[m], w->to);
        worst = fmin(worst, LIMIT - left_at(&out, CHANGE + moments[m]));
        audio_free(&out);
    }
    if (worst >= 0.0)
        return worst;
    const double before = steady(c, in, w, w->from), after = steady(c, in, w, w->to);
    return worst + fmax(0.0, fmax(before, after) + BOTH_AT_ONCE - LIMIT);
}

typedef struct {
    double margin;
    char what[160];
} Worst;

static void try_way(const Case *c, const Audio *in, const Way *w, Worst *worst)
{
    const double m = margin(c, in, w);
    if (m >= worst->margin)
        return;
    worst->margin = m;
    snprintf(worst->what, sizeof worst->what, "%s from %g to %g, others %s", w->port->symbol, (double)w->from,
             (double)w->to, w->along < 0.0 ? "at default" : "moved");
}

static void try_port(const Case *c, const Audio *in, const Port *port, double along, Worst *worst)
{
    if (port->choice || port->toggle) {
        for (float from = port->min; from <= port->max; ++from)
            for (float to = port->min; to <= port->max; ++to)
                if (from != to)
                    try_way(c, in, &(Way){port, along, from, to}, worst);
        return;
    }
    try_way(c, in, &(Way){port, along, port->min, port->max}, worst);
    try_way(c, in, &(Way){port, along, port->max, port->min}, worst);
    try_way(c, in, &(Way){port, along, port->def, port->def == port->max ? port->min : port->max}, worst);
}

static void no_control_clicks(void **state)
{
    static const double along[] = {-1.0, 0.3, 0.7};
    const Case *c = *state;
    Audio in = audio_new(END);
    for (uint32_t k = 0; k < in.n; ++k)
        in.channel[0][k] = in.channel[1][k] = click_sine(k, RATE, AMPLITUDE);
    Worst worst = {.margin = 1000.0};
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        for (int a = 0; a < 3 && c->plugin->port[p].kind == PORT_CONTROL; ++a)
            try_port(c, &in, &c->plugin->port[p], along[a], &worst);
    audio_free(&in);
    char what[300];
    snprintf(what, sizeof what, "nearest to a click: %s", worst.what);
    figure_at_least(c->plugin->stem, what, worst.margin, 0.0, "dB", "requirement");
}

static const Property properties[] = {{"no control clicks", no_control_clicks, is_mono}};

int main(void)
{
    return every_run("clicks", properties, sizeof properties / sizeof *properties);
}
