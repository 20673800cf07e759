/* For tests that hold for every plug-in of the bundle: a list of properties becomes one cmocka test for each property
 * and each plug-in it applies to, named after both. Every program tests one list. */
#ifndef LINCTUS_EVERY_H
#define LINCTUS_EVERY_H

#include "host.h"
#include "seeds.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* What a test gets as *state. */
typedef struct {
    Host *host;
    const Plugin *plugin;
} Case;

typedef struct {
    const char *name;
    void (*test)(void **state);
    bool (*applies)(const Plugin *plugin); /* NULL: to every plug-in */
} Property;

/* ---- Small helpers ---- */

static inline Instance *every_new(const Case *c, double rate, InstanceKind kind)
{
    Error e;
    Instance *i = instance_new(c->host, c->plugin, rate, kind, &e);
    if (!i)
        fail_msg("%s", e.text);
    return i;
}

static inline bool every_learns(const Plugin *plugin)
{
    return plugin_port(plugin, "learn") != NULL;
}

/* A plug-in that only listens has none: nothing for a preset to set, and nothing for a bypass to switch off. */
static inline bool every_has_settings(const Plugin *plugin)
{
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        if (port->kind == PORT_CONTROL && strcmp(port->symbol, "enabled") != 0 && strcmp(port->symbol, "learn") != 0)
            return true;
    }
    return false;
}

static inline float *every_floats(uint32_t n)
{
    float *x = calloc(n + 1, sizeof *x);
    assert_non_null(x);
    return x;
}

/* Audio of up to two channels. */
typedef struct {
    uint32_t n;
    float *channel[2];
} Audio;

static inline Audio audio_new(uint32_t n)
{
    return (Audio){.n = n, .channel = {every_floats(n), every_floats(n)}};
}

static inline void audio_free(const Audio *a)
{
    free(a->channel[0]);
    free(a->channel[1]);
}

static inline Audio audio_copy(const Audio *a)
{
    Audio b = audio_new(a->n);
    for (uint32_t c = 0; c < 2; ++c)
        memcpy(b.channel[c], a->channel[c], a->n * sizeof(float));
    return b;
}

static inline const float *const *audio_in(const Audio *a)
{
    return (const float *const *)a->channel;
}

/* A new buffer with what the instance makes of the input, in one run. */
static inline Audio audio_through(Instance *i, const Audio *in)
{
    Audio out = audio_new(in->n);
    instance_run(i, audio_in(in), out.channel, in->n);
    return out;
}

static inline bool same_bits(float a, float b)
{
    uint32_t x, y;
    memcpy(&x, &a, sizeof x);
    memcpy(&y, &b, sizeof y);
    return x == y;
}

/* The same to the bit in the first `channels` channels, from a frame on. */
static inline void audio_assert_same(const Audio *a, const Audio *b, uint32_t channels, uint32_t from, const char *what)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = from; k < a->n; ++k)
            if (!same_bits(a->channel[c][k], b->channel[c][k]))
                fail_msg("%s: channel %u differs at frame %u: %.9g, not %.9g", what, c, k, (double)b->channel[c][k],
                         (double)a->channel[c][k]);
}

static inline void audio_assert_finite(const Audio *a, uint32_t channels, const char *what)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = 0; k < a->n; ++k)
            if (!isfinite(a->channel[c][k]))
                fail_msg("%s: channel %u is not finite at frame %u", what, c, k);
}

/* White noise in -1..1, from a seed. */
static inline double every_noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)*seed / 2147483648.0 - 1.0;
}

static inline Audio every_take_made(uint32_t n, double rate)
{
    static const double hz[] = {147.0, 196.0, 165.0, 220.0}, gain[] = {0.25, 0.5, 0.35, 0.8};
    Audio a = audio_new(n);
    uint32_t seed = seeded(1);
    double phase = 0.0, last = 0.0;
    for (uint32_t k = 0; k < n; ++k) {
        const double t = (double)k / rate, in_note = fmod(t, 0.45);
        const uint32_t note = (uint32_t)(t / 0.45) % 4;
        phase += 2.0 * 3.14159265358979 * hz[note] * (1.0 + 0.01 * sin(34.0 * t)) / rate;
        const double envelope = in_note < 0.08 ? 0.0 : sin(3.14159265358979 * fmin((in_note - 0.08) / 0.35, 1.0));
        double voice = 0.0;
        for (int h = 1; h <= 12 && h * hz[note] < 0.45 * rate; ++h)
            voice += sin(h * phase) / (h + 0.3 * h * h);
        const double noise = every_noise(&seed), bright = noise - last, own = every_noise(&seed);
        last = noise;
        const double s = in_note < 0.08 ? bright * (note == 2 ? 0.25 : 0.06) : 0.0;
        const double x = 0.6 * gain[note] * envelope * voice + s + 1e-4 * noise;
        a.channel[0][k] = (float)x;
        a.channel[1][k] = (float)(0.8 * x + 1e-3 * own);
    }
    return a;
}

enum { EVERY_RATES = 16 };

/* Something for a vocal plug-in to work on: notes of 0.35 s with vibrato and falling harmonics, louder and softer, a
 * burst of s-like noise before each, short rests. Channel 1 is channel 0 a little softer, with noise of its own. A
 * shorter take is the beginning of a longer one: of each rate the longest so far is kept, as making it costs more than
 * what most plug-ins do with it. */
static inline Audio every_take(uint32_t n, double rate)
{
    static struct {
        double rate;
        Audio take;
    } made[EVERY_RATES];
    uint32_t r = 0;
    while (r < EVERY_RATES - 1 && made[r].rate > 0.0 && made[r].rate != rate)
        ++r;
    if (made[r].rate != rate || made[r].take.n < n) {
        audio_free(&made[r].take);
        made[r].rate = rate;
        made[r].take = every_take_made(n, rate);
    }
    const Audio beginning = {.n = n, .channel = {made[r].take.channel[0], made[r].take.channel[1]}};
    return audio_copy(&beginning);
}

/* Every control somewhere else than at its default: a way along its range, choices at their last, toggles on. The
 * ports that switch things off or change what is heard keep still. */
static inline void every_move_controls(Instance *i, double along)
{
    const Plugin *plugin = instance_plugin(i);
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        const bool still = !strcmp(port->symbol, "enabled") || !strcmp(port->symbol, "learn");
        if (port->kind != PORT_CONTROL || still)
            continue;
        const double x = (double)port->min + along * (double)(port->max - port->min);
        instance_set(i, port->symbol, port->choice || port->toggle ? (along > 0.5 ? port->max : port->min) : (float)x);
    }
}

/* ---- Running ---- */

static inline const char *every_build(void)
{
    const char *build = getenv("LINCTUS_BUILD");
    return build && *build ? build : "build";
}

static inline int every_run(const char *group, const Property *property, size_t properties)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/linctus.lv2", every_build());
    Error e;
    Host *host = host_open(path, &e);
    if (!host) {
        fprintf(stderr, "%s\n", e.text);
        return 1;
    }
    const size_t most = properties * host_plugins(host);
    struct CMUnitTest *tests = calloc(most, sizeof *tests);
    char(*names)[160] = calloc(most, sizeof *names);
    Case *cases = calloc(host_plugins(host), sizeof *cases);
    size_t used = 0;
    for (size_t k = 0; tests && names && cases && k < properties; ++k) {
        for (uint32_t i = 0; i < host_plugins(host); ++i) {
            cases[i] = (Case){host, host_plugin_at(host, i)};
            if (property[k].applies && !property[k].applies(cases[i].plugin))
                continue;
            snprintf(names[used], sizeof *names, "%s: %s", cases[i].plugin->uri, property[k].name);
            tests[used] =
                (struct CMUnitTest){.name = names[used], .test_func = property[k].test, .initial_state = &cases[i]};
            ++used;
        }
    }
    const int failed = _cmocka_run_group_tests(group, tests, used, NULL, NULL);
    free(tests);
    free(names);
    free(cases);
    host_close(host);
    return failed;
}

#endif
