/* Nothing clicks: tests/click.h's check on whatever can change while a plug-in runs, for every variant of the bundle:
 * every control, from any end of its range to the other and between all its choices; learning, held and started afresh;
 * bypass; every preset after every other; a restored session with what another take taught.
 *
 * A walk is one run of a sine with a change every fifth of a second. Its period is no multiple of the sine's, nor of
 * the plug-ins' grid, so that the changes meet both at other places each time. */
#include "stored.h"

#include "click.h"
#include "figure.h"
#include "singer.h"

enum {
    RATE = 32000,
    FADE_IN = RATE / 5,
    SETTLE = RATE / 2,    /* before the first change */
    STEP = RATE / 5 + 29, /* from change to change */
    LOOK = RATE / 10,     /* looked at from the change on, and run before it to look at */
    LONG = 5,             /* times STEP, until what a bypass leads to is over */
    TEACH_RATE = 24000,   /* what is learned is in Hz and dB, whatever the rate */
    TEACH_SECONDS = 24,
};

#define AMPLITUDE 0.25
#define LIMIT     (-60.0) /* dB under the sine */

typedef struct {
    double margin; /* dB a change stayed under its limit */
    char what[200];
} Worst;

/* Where a walk starts, and its changes: `make` brings about the k-th, `name` says what it was. */
typedef struct Walk Walk;
struct Walk {
    const Case *c;
    Stored *learned;  /* restored before the start; NULL: nothing */
    double along;     /* controls moved so far along their ranges; negative: at their defaults */
    uint32_t changes; /* the 0th is where it starts */
    uint32_t steps;   /* times STEP from change to change; each is looked at */
    void (*make)(Instance *i, const Walk *w, uint32_t k);
    void (*name)(const Walk *w, uint32_t k, char *text, size_t room);
    const void *of;
};

/* ---- Walking ---- */

/* It fades in: a reverb would still give back the snap of a sine that sets in at once. The longest so far is kept: the
 * caller frees nothing. */
static Audio sine(uint32_t n)
{
    static Audio a;
    if (a.n >= n)
        return a;
    audio_free(&a);
    a = audio_new(n);
    for (uint32_t k = 0; k < n; ++k) {
        const float fade = k < FADE_IN ? (float)(0.5 - 0.5 * cos(3.14159265358979 * k / FADE_IN)) : 1.f;
        a.channel[0][k] = fade * click_sine(k, RATE, AMPLITUDE);
        a.channel[1][k] = fade * 0.8f * click_sine(k + 50, RATE, AMPLITUDE);
    }
    return a;
}

static Instance *start(const Walk *w, uint32_t at)
{
    Instance *i = every_new(w->c, RATE, INSTANCE_PLAIN);
    if (w->learned)
        restore_raw(w->c, i, w->learned);
    if (w->along >= 0.0)
        every_move_controls(i, w->along);
    w->make(i, w, at);
    instance_activate(i);
    return i;
}

static void run_on(Instance *i, const Audio *in, const Audio *out, uint32_t from, uint32_t to)
{
    const float *const read[] = {in->channel[0] + from, in->channel[1] + from};
    float *const write[] = {out->channel[0] + from, out->channel[1] + from};
    instance_run(i, read, write, to - from);
}

static double peak_of(const float *x, uint32_t n)
{
    double peak = 0.0;
    for (uint32_t k = 0; k < n; ++k)
        peak = fmax(peak, fabs((double)x[k]));
    return peak;
}

/* Left by the filter in the 100 ms from a frame on, in dB under the sine as it was put in or, if it is louder, as it
 * comes out. The filter has the 100 ms before to settle in. */
static double left_at(const Walk *w, const Audio *out, uint32_t from)
{
    double worst = -1000.0;
    for (uint32_t c = 0; c < w->c->plugin->outs; ++c) {
        const float *x = out->channel[c] + from - LOOK;
        const double loudest = fmax(AMPLITUDE, peak_of(x, 2 * LOOK));
        worst = fmax(worst, click_level(x, 2 * LOOK, LOOK, RATE, loudest));
    }
    return worst;
}

static void judge(const Walk *w, const Audio *out, uint32_t k, uint32_t from, Worst *worst)
{
    const double margin = LIMIT - left_at(w, out, from);
    if (margin >= worst->margin)
        return;
    worst->margin = margin;
    char name[120];
    w->name(w, k, name, sizeof name);
    snprintf(worst->what, sizeof worst->what, "%s%s%s", name, w->along < 0.0 ? "" : ", others moved",
             w->learned ? ", voice known" : "");
}

static void walk(const Walk *w, Worst *worst)
{
    const uint32_t step = w->steps * STEP, n = SETTLE + (w->changes - 1) * step;
    const Audio in = sine(n), out = audio_new(n);
    Instance *i = start(w, 0);
    uint32_t at = 0;
    for (uint32_t k = 1; k < w->changes; ++k) {
        const uint32_t change = SETTLE + (k - 1) * step;
        run_on(i, &in, &out, at, change);
        w->make(i, w, k);
        at = change;
    }
    run_on(i, &in, &out, at, n);
    for (uint32_t k = 1; k < w->changes; ++k)
        for (uint32_t from = 0; from + LOOK <= step; from += w->steps > 1 ? LOOK : step)
            judge(w, &out, k, SETTLE + (k - 1) * step + from, worst);
    instance_free(i);
    audio_free(&out);
}

static void conclude(const Case *c, const char *changes, const Worst *worst)
{
    char what[300];
    snprintf(what, sizeof what, "%s: %s nearest to a click: %s", c->plugin->uri, changes, worst->what);
    /* A ceiling that falls by 6 dB in the midst of a loud tone is the steepest there is. */
    figure_at_least("Suite", what, worst->margin, strstr(worst->what, "ceiling") ? 12.0 : 20.0, "dB",
                    "ours; required: 0");
}

/* ---- Takes to have learned from ---- */

/* What an instance knows after a take, which is sung for the first plug-in and kept; to be freed. */
static Stored *taught_by(const Case *c, const SingerSpec *spec, SingerTake *take)
{
    if (!take->frames)
        assert_true(singer_sing(spec, take));
    Audio in = {.n = take->frames, .channel = {take->audio, take->audio}};
    Instance *i = every_new(c, TEACH_RATE, INSTANCE_PLAIN);
    instance_activate(i);
    Audio out = audio_through(i, &in);
    Stored *s = malloc(sizeof *s);
    assert_non_null(s);
    save_raw(c, i, s);
    instance_free(i);
    audio_free(&out);
    return s;
}

/* Two takes that have nothing in common. */
static Stored *taught_by_a_quiet_one(const Case *c)
{
    static SingerTake take;
    return taught_by(c,
                     &(SingerSpec){.voice = SINGER_MEZZO,
                                   .seed = 5,
                                   .rate = TEACH_RATE,
                                   .seconds = TEACH_SECONDS,
                                   .gain_db = -24.0,
                                   .boxy = {{350.0, 12.0, 3.0}, {900.0, 12.0, 4.0}},
                                   .esses_db = 12.0},
                     &take);
}

static Stored *taught_by_a_loud_one(const Case *c)
{
    static SingerTake take;
    return taught_by(c,
                     &(SingerSpec){.voice = SINGER_BASS,
                                   .seed = 9,
                                   .rate = TEACH_RATE,
                                   .seconds = TEACH_SECONDS,
                                   .gain_db = 12.0,
                                   .boxy = {{210.0, 14.0, 4.0}, {530.0, 10.0, 4.0}},
                                   .sibilant_hz = 4800.0},
                     &take);
}

/* ---- Controls ---- */

enum { VALUES = 160 };

/* A port and the values it goes through. */
typedef struct {
    const Port *port;
    float value[VALUES];
    uint32_t values;
} Way;

static void then(Way *way, float value)
{
    assert_true(way->values < VALUES);
    way->value[way->values++] = value;
}

/* Every choice after every other; a range from end to end, and from the default to an end, twice. */
static Way way_of(const Port *port)
{
    Way way = {.port = port};
    if (!port->choice && !port->toggle) {
        const float turns[] = {port->min, port->max, port->min, port->def, port->max, port->def, port->min, port->max};
        for (uint32_t k = 0; k < sizeof turns / sizeof *turns; ++k)
            if (!way.values || turns[k] != way.value[way.values - 1])
                then(&way, turns[k]);
        return way;
    }
    for (float from = port->min; from <= port->max; ++from)
        for (float to = from + 1.f; to <= port->max; ++to)
            for (int twice = 0; twice < 2; ++twice) {
                then(&way, from);
                then(&way, to);
            }
    return way;
}

static void set_port(Instance *i, const Walk *w, uint32_t k)
{
    const Way *way = w->of;
    instance_set(i, way->port->symbol, way->value[k]);
}

static void name_port(const Walk *w, uint32_t k, char *text, size_t room)
{
    const Way *way = w->of;
    snprintf(text, room, "%s from %g to %g", way->port->symbol, (double)way->value[k - 1], (double)way->value[k]);
}

static void walk_ports(const Case *c, double along, Stored *learned, Worst *worst)
{
    for (uint32_t p = 0; p < c->plugin->ports; ++p) {
        if (c->plugin->port[p].kind != PORT_CONTROL)
            continue;
        const Way way = way_of(&c->plugin->port[p]);
        walk(&(Walk){c, learned, along, way.values, 1, set_port, name_port, &way}, worst);
    }
}

static void controls(const Case *c, Stored *learned)
{
    static const double along[] = {0.7, -1.0, 0.3};
    /* The stereo variant runs the same code: fewer walks tell whether it runs it right. */
    const int walks = learned ? 2 : c->plugin->ins == 1 ? 3 : 1;
    Worst worst = {.margin = 1000.0};
    for (int a = 0; a < walks; ++a)
        walk_ports(c, along[a], learned, &worst);
    conclude(c, "control", &worst);
}

/* ---- Presets ---- */

/* Every preset right after every other: from the first to each of the others and back, from the second to those after
 * it and back, and so on. The k-th on this way. */
static uint32_t preset_at(const Plugin *plugin, uint32_t k)
{
    uint32_t first = 0, pair = k / 2;
    for (; pair >= plugin->presets - 1 - first; ++first)
        pair -= plugin->presets - 1 - first;
    return k % 2 == 0 ? first : first + 1 + pair;
}

/* A preset's values are read once. */
static void load_preset(Instance *i, const Walk *w, uint32_t k)
{
    const PresetContent *preset = (const PresetContent *)w->of + preset_at(w->c->plugin, k);
    for (uint32_t v = 0; v < preset->values; ++v)
        instance_set(i, preset->value[v].symbol, preset->value[v].value);
}

static PresetContent *all_presets(const Case *c)
{
    PresetContent *all = calloc(c->plugin->presets, sizeof *all);
    assert_non_null(all);
    Error e;
    for (uint32_t p = 0; p < c->plugin->presets; ++p)
        if (!host_preset_read(c->host, &c->plugin->preset[p], &all[p], &e))
            fail_msg("%s", e.text);
    return all;
}

static void name_preset(const Walk *w, uint32_t k, char *text, size_t room)
{
    const Plugin *plugin = w->c->plugin;
    snprintf(text, room, "preset %s after %s", plugin->preset[preset_at(plugin, k)].label,
             plugin->preset[preset_at(plugin, k - 1)].label);
}

static void presets(const Case *c, Stored *learned)
{
    if (c->plugin->presets < 2)
        return;
    const uint32_t pairs = c->plugin->presets * (c->plugin->presets - 1) / 2;
    PresetContent *all = all_presets(c);
    Worst worst = {.margin = 1000.0};
    walk(&(Walk){c, learned, -1.0, 2 * pairs, 1, load_preset, name_preset, all}, &worst);
    walk(&(Walk){c, learned, 0.7, 2 * pairs, 1, load_preset, name_preset, all}, &worst);
    free(all);
    conclude(c, "change of preset", &worst);
}

/* ---- Sessions ---- */

enum { RESTORES = 7 };

static void restore_another(Instance *i, const Walk *w, uint32_t k)
{
    Stored *const *states = w->of;
    restore_raw(w->c, i, states[k % 2]);
}

static void name_restore(const Walk *w, uint32_t k, char *text, size_t room)
{
    (void)w;
    snprintf(text, room, "restore %u", k);
}

static void sessions(const Case *c, Stored *quiet, Stored *loud)
{
    static const double along[] = {-1.0, 0.3, 0.7};
    Stored *const quiet_first[] = {quiet, loud}, *const loud_first[] = {loud, quiet};
    Worst worst = {.margin = 1000.0};
    for (int a = 0; a < 3; ++a) {
        walk(&(Walk){c, NULL, along[a], RESTORES, 1, restore_another, name_restore, quiet_first}, &worst);
        walk(&(Walk){c, NULL, along[a], RESTORES, 1, restore_another, name_restore, loud_first}, &worst);
    }
    conclude(c, "restored session", &worst);
}

/* ---- Bypass ---- */

enum { TURNS = 5 };

static void switch_over(Instance *i, const Walk *w, uint32_t k)
{
    (void)w;
    instance_set(i, "enabled", k % 2 ? 0.f : 1.f);
}

static void name_switch(const Walk *w, uint32_t k, char *text, size_t room)
{
    (void)w;
    snprintf(text, room, "%s again", k % 2 ? "off" : "on");
}

/* Off for a second, so that the processor sleeps, and on for as long; all of that second is looked at. */
static void sleep_and_wake(const Case *c, Stored *learned)
{
    static const double along[] = {-1.0, 0.3, 0.7};
    Worst worst = {.margin = 1000.0};
    for (int a = 0; a < 3; ++a)
        walk(&(Walk){c, learned, along[a], TURNS, LONG, switch_over, name_switch, NULL}, &worst);
    conclude(c, "bypass", &worst);
}

/* ---- Tests ---- */

static void nothing_clicks(void **state)
{
    controls(*state, NULL);
    presets(*state, NULL);
    sleep_and_wake(*state, NULL);
}

static bool learns(const Plugin *plugin)
{
    return every_learns(plugin);
}

/* What was found is in force wherever the controls ask for it. */
static void nothing_clicks_with_a_voice_known(void **state)
{
    const Case *c = *state;
    Stored *quiet = taught_by_a_quiet_one(c), *loud = taught_by_a_loud_one(c);
    controls(c, quiet);
    presets(c, quiet);
    sleep_and_wake(c, quiet);
    sessions(c, quiet, loud);
    free(quiet);
    free(loud);
}

static const Property properties[] = {
    {"nothing clicks", nothing_clicks, NULL},
    {"nothing clicks with a voice known", nothing_clicks_with_a_voice_known, learns},
};

int main(void)
{
    return every_run("clicks", properties, sizeof properties / sizeof *properties);
}
