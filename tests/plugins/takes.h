/* Takes of half a minute, and what a plug-in says after them, for tests that compare what was learned: two of the
 * invented singer with room noise, hum and esses that stand out, a recorded voice and a synthesised one. Channel 1 is
 * channel 0 a little softer. LINCTUS_SEEDS=N adds N to every seed (the singer does that itself). */
#ifndef LINCTUS_TAKES_H
#define LINCTUS_TAKES_H

#include "every.h"

#include "seeds.h"
#include "singer.h"
#include "spoken.h"

enum { TAKES = 4, TAKE_SECONDS = 32 };

typedef struct {
    const char *name;
    double rate; /* Hz */
    bool spoken;
    Audio audio; /* n = 0: its material is not installed, which has been printed */
} Take;

static inline Audio take_audio(const float *x, uint32_t n)
{
    Audio a = audio_new(n);
    for (uint32_t k = 0; k < n; ++k) {
        a.channel[0][k] = x[k];
        a.channel[1][k] = 0.8f * x[k];
    }
    return a;
}

static inline Take take_sung(const char *name, SingerVoice voice, uint32_t seed)
{
    SingerTake t;
    const SingerSpec spec = {.voice = voice,
                             .seed = seed,
                             .rate = 44100.0,
                             .seconds = TAKE_SECONDS,
                             .gain_db = -8.0,
                             .hiss_db = -48.0,
                             .hum_hz = 50.0,
                             .hum_db = -44.0,
                             .esses_db = 8.0,
                             .boxy = {{400.0, 8.0, 0.0}},
                             .rest_seconds = 0.6};
    assert_true(singer_sing(&spec, &t));
    const Take take = {.name = name, .rate = spec.rate, .audio = take_audio(t.audio, t.frames)};
    singer_free(&t);
    return take;
}

/* Pieces one after the other until the take is long enough. say(i) makes the i-th; false: not installed. */
static inline Take take_spoken(const char *name, bool (*say)(Spoken *, uint32_t))
{
    Take take = {.name = name, .spoken = true};
    float *x = NULL;
    uint32_t n = 0;
    for (uint32_t i = 0; !n || n < TAKE_SECONDS * take.rate; ++i) {
        Spoken s;
        if (!say(&s, i)) {
            free(x);
            return take;
        }
        take.rate = s.rate;
        float *longer = realloc(x, ((size_t)n + s.n) * sizeof *x);
        assert_non_null(longer);
        x = longer;
        memcpy(x + n, s.x, s.n * sizeof *x);
        n += s.n;
        spoken_free(&s);
    }
    take.audio = take_audio(x, n);
    free(x);
    return take;
}

static inline bool take_reading(Spoken *s, uint32_t i)
{
    static const char *const part[] = {"reading1", "reading2", "reading3", "reading4", "reading5"};
    return spoken_load(s, part[i % 5]);
}

static inline bool take_saying(Spoken *s, uint32_t i)
{
    return spoken_say(s, "slt", spoken_sentences[i % SPOKEN_SENTENCES]);
}

static inline void takes_make(Take *take)
{
    take[0] = take_sung("a mezzo", SINGER_MEZZO, 11);
    take[1] = take_sung("a baritone", SINGER_BARITONE, 12);
    take[2] = take_spoken("a woman reading", take_reading);
    take[3] = take_spoken("a synthesised voice", take_saying);
}

static inline void takes_free(Take *take)
{
    for (uint32_t t = 0; t < TAKES; ++t)
        if (take[t].audio.n)
            audio_free(&take[t].audio);
}

/* ---- What a plug-in says ---- */

/* How far the read-outs of two instances lie apart, the worst of each kind; whole counts, choices and toggles have to
 * be the same, and what is known to the one has to be known to the other. */
typedef struct {
    double db, hz_share, other_share; /* dB; shares of the value */
    double depth;                     /* dB, of a dip that was found: part of a height that is fitted, no level */
    double points;                    /* of a share in per cent, which counts events */
    char worst[128];                  /* the symbol of the worst dB */
    char differs[1024];               /* "": no count, choice or toggle does */
} Apart;

/* What the ports of an instance show. */
typedef struct {
    const Plugin *plugin;
    float *value; /* of each port */
} Figures;

static inline Figures figures_new(const Plugin *plugin)
{
    return (Figures){.plugin = plugin, .value = every_floats(plugin->ports)};
}

static inline Figures figures_of(const Instance *i)
{
    const Figures f = figures_new(instance_plugin(i));
    for (uint32_t p = 0; p < f.plugin->ports; ++p)
        f.value[p] = instance_value_at(i, p);
    return f;
}

static inline void figures_free(const Figures *f)
{
    free(f->value);
}

static inline double figures_value(const Figures *f, const char *symbol)
{
    const Port *port = plugin_port(f->plugin, symbol);
    return port ? (double)f->value[port->index] : (double)NAN;
}

static inline bool take_unit(const Port *port, const char *unit)
{
    return !strcmp(port->unit, unit);
}

/* Tone's makeup is that of the dips that were found. */
static inline bool take_dips(const Plugin *plugin, const Port *port)
{
    const bool tone = !strcmp(plugin->stem, "tone") || !strcmp(plugin->stem, "tone-stereo");
    return strstr(port->symbol, "_depth") || (tone && !strcmp(port->symbol, "makeup_now"));
}

/* Read-outs are rounded: what has moved by little may show as the next step. */
static inline void apart_port(Apart *a, const Plugin *plugin, const Port *port, double x, double y)
{
    const double off = rint(1000.0 * fabs(x - y)) / 1000.0, share = off / fmax(fmax(fabs(x), fabs(y)), 1e-9);
    const bool db =
        take_unit(port, "dB") || take_unit(port, "dBTP") || take_unit(port, "LUFS") || take_unit(port, "LU");
    const bool seconds = take_unit(port, "s") && port->integer, sure = strstr(port->symbol, "_sure") != NULL;
    const bool whole = port->choice || port->toggle || (port->integer && !seconds);
    const bool known = (x == (double)port->def) == (y == (double)port->def);
    if (off > 0.0 && (whole || !known || (db && off > 12.0) || (seconds && off > 1.0)))
        snprintf(a->differs + strlen(a->differs), sizeof a->differs - strlen(a->differs), " %s %g, not %g;",
                 port->symbol, y, x);
    else if (take_unit(port, "%") && !sure)
        a->points = fmax(a->points, off);
    else if (take_dips(plugin, port))
        a->depth = fmax(a->depth, off);
    else if (db && off > a->db) {
        a->db = off;
        snprintf(a->worst, 64, "%s", port->symbol);
    } else if (take_unit(port, "Hz"))
        a->hz_share = fmax(a->hz_share, share);
    else if (!db)
        a->other_share = fmax(a->other_share, share);
}

/* Of b's findings the one that lies nearest to a's of this number: its number. A finding gets whatever place is free
 * when it comes, so the same ones may stand in another order. */
static inline char take_counterpart(const Figures *a, const Figures *b, char number)
{
    char symbol[] = "found?_freq", nearest = number;
    symbol[5] = number;
    const double hz = figures_value(a, symbol);
    double least = HUGE_VAL;
    for (symbol[5] = '1'; symbol[5] <= '3'; ++symbol[5]) {
        const double off = fabs(figures_value(b, symbol) - hz);
        if (off < least) {
            least = off;
            nearest = symbol[5];
        }
    }
    return nearest;
}

/* b's value of a's read-out. */
static inline double take_value(const Figures *a, const Figures *b, const Port *port)
{
    char symbol[64];
    snprintf(symbol, sizeof symbol, "%s", port->symbol);
    if (!strncmp(symbol, "found", 5) && strchr("123", symbol[5]) && symbol[5] && symbol[6] == '_')
        symbol[5] = take_counterpart(a, b, symbol[5]);
    return figures_value(b, symbol);
}

/* Read-outs of b against a; `but`: symbols, each between blanks, that are left out. */
static inline Apart figures_apart(const Figures *a, const Figures *b, const char *but)
{
    Apart apart = {0};
    const Plugin *plugin = a->plugin;
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        char name[80];
        snprintf(name, sizeof name, " %s ", port->symbol);
        if (port->kind == PORT_METER && !strstr(but, name))
            apart_port(&apart, plugin, port, (double)a->value[p], take_value(a, b, port));
    }
    return apart;
}

#endif
