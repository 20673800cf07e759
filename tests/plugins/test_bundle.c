/* What every plug-in of the bundle owes every host: the same bits however it is called, a bypass that is one, a latency
 * that is true, and no input, control value or missing port that harms it. */
#include "every.h"

#include "design.h"
#include "figure.h"
#include "seeds.h"
#include "singer/room.h"

static const double rates[] = {8000.0, 44100.0, 48000.0, 96000.0, 192000.0, 384000.0};

enum { RATES = sizeof rates / sizeof *rates };

/* ---- Division into blocks ---- */

typedef struct {
    const char *name;
    uint32_t lengths[8], how_many;
} Division;

static const Division divisions[] = {
    {"blocks of 0, 1, 5, 400, 4096, 8192", {0, 1, 5, 400, 4096, 8192}, 6},
    {"blocks of 1", {1}, 1},
    {"blocks of 10, 300, 1, 0, 31, 33", {10, 300, 1, 0, 31, 33}, 6},
    {"blocks of 256", {256}, 1},
    {"blocks of 8192", {8192}, 1},
};

enum { DIVISIONS = sizeof divisions / sizeof *divisions };

/* Three stretches with controls moved in between, at frames that are no grid points. The moves come at the same frames
 * whatever the blocks. */
static void play_stretches(Instance *i, const Audio *in, float *const *out, const Division *d)
{
    const uint32_t n = in->n, cuts[] = {0, n / 3 + 7, 2 * (n / 3) + 5, n};
    static const double along[] = {-1.0, 0.3, 0.8};
    for (int s = 0; s < 3; ++s) {
        const float *const from[] = {in->channel[0] + cuts[s], in->channel[1] + cuts[s]};
        float *const to[] = {out[0] + cuts[s], out[1] + cuts[s]};
        if (along[s] > 0.0)
            every_move_controls(i, along[s]);
        instance_run_cut(i, from, to, cuts[s + 1] - cuts[s], d->lengths, d->how_many);
    }
}

static void assert_same_meters(const Instance *a, const Instance *b, const char *what)
{
    const Plugin *plugin = instance_plugin(a);
    for (uint32_t p = 0; p < plugin->ports; ++p)
        if (plugin->port[p].kind == PORT_METER && instance_value_at(a, p) != instance_value_at(b, p))
            fail_msg("%s: %s shows %g, not %g", what, plugin->port[p].symbol, (double)instance_value_at(b, p),
                     (double)instance_value_at(a, p));
}

static Instance *played(const Case *c, double rate, const Audio *in, Audio *out, const Division *d)
{
    Instance *i = every_new(c, rate, INSTANCE_PLAIN);
    instance_activate(i);
    play_stretches(i, in, out->channel, d);
    return i;
}

static void block_lengths_do_not_matter(void **state)
{
    const Case *c = *state;
    for (int r = 0; r < RATES; ++r) {
        const uint32_t n = (uint32_t)(rates[r] > 50000.0 ? 14000 : 0.6 * rates[r]);
        const Division whole = {"", {n}, 1};
        Audio in = every_take(n, rates[r]), want = audio_new(n);
        Instance *reference = played(c, rates[r], &in, &want, &whole);
        for (int d = 0; d < DIVISIONS; ++d) {
            Audio got = audio_new(n);
            char what[80];
            snprintf(what, sizeof what, "%s at %g Hz", divisions[d].name, rates[r]);
            Instance *i = played(c, rates[r], &in, &got, &divisions[d]);
            audio_assert_same(&want, &got, c->plugin->outs, 0, what);
            assert_same_meters(reference, i, what);
            instance_free(i);
            audio_free(&got);
        }
        instance_free(reference);
        audio_free(&want);
        audio_free(&in);
    }
}

/* ---- In place ---- */

/* Runs on memory that is input and output at once; `order` says which output lies on which input. */
static void check_in_place(const Case *c, const Audio *in, const Audio *want, const uint32_t order[2], const char *what)
{
    static const Division cut = {"", {5, 400, 1, 0, 31, 4096}, 6};
    Audio both = audio_copy(in), got = audio_new(in->n);
    float *const to[] = {both.channel[order[0]], both.channel[order[1]]};
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    play_stretches(i, &both, to, &cut);
    for (uint32_t k = 0; k < c->plugin->outs && k < 2; ++k)
        memcpy(got.channel[k], to[k], in->n * sizeof(float));
    audio_assert_same(want, &got, c->plugin->outs, 0, what);
    instance_free(i);
    audio_free(&both);
    audio_free(&got);
}

static void works_in_place(void **state)
{
    const Case *c = *state;
    const uint32_t n = 48000;
    const Division whole = {"", {n}, 1};
    Audio in = every_take(n, 48000.0), want = audio_new(n);
    instance_free(played(c, 48000.0, &in, &want, &whole));
    check_in_place(c, &in, &want, (const uint32_t[]){0, 1}, "outputs on their inputs");
    check_in_place(c, &in, &want, (const uint32_t[]){1, 0}, "outputs on each other's inputs");
    audio_free(&in);
    audio_free(&want);
}

/* Some hosts connect every audio port to one buffer and run, to learn the latency. */
static void lives_with_one_buffer_for_all(void **state)
{
    const Case *c = *state;
    Audio a = every_take(5000, 48000.0);
    float *const one[] = {a.channel[0], a.channel[0]};
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    instance_run(i, (const float *const *)one, one, a.n);
    audio_assert_finite(&a, 1, "one buffer");
    instance_free(i);
    audio_free(&a);
}

/* ---- Bypass and latency ---- */

/* Channel of the input that a bypassed output shows. */
static uint32_t source_channel(const Plugin *plugin, uint32_t out)
{
    return out < plugin->ins ? out : plugin->ins - 1;
}

static void assert_delayed(const Case *c, const Audio *in, const Audio *out, uint32_t latency, uint32_t from,
                           const char *what)
{
    for (uint32_t k = 0; k < c->plugin->outs; ++k) {
        const float *source = in->channel[source_channel(c->plugin, k)];
        for (uint32_t f = from; f < in->n; ++f) {
            const float want = f >= latency ? source[f - latency] : 0.f;
            if (!same_bits(want, out->channel[k][f]))
                fail_msg("%s: output %u at frame %u is %.9g, not %.9g", what, k, f, (double)out->channel[k][f],
                         (double)want);
        }
    }
}

static void bypass_returns_the_input(void **state)
{
    const Case *c = *state;
    for (int r = 0; r < RATES; ++r) {
        char what[80];
        Audio in = every_take((uint32_t)(0.3 * rates[r]), rates[r]);
        in.channel[0][in.n / 2] = 1e30f; /* finite: passes to the bit */
        Instance *i = every_new(c, rates[r], INSTANCE_PLAIN);
        instance_set(i, "enabled", 0.f);
        instance_activate(i);
        const uint32_t latency = instance_latency(i);
        Audio out = audio_through(i, &in);
        snprintf(what, sizeof what, "off from the start at %g Hz", rates[r]);
        assert_delayed(c, &in, &out, latency, 0, what);
        instance_free(i);
        audio_free(&in);
        audio_free(&out);
    }
}

/* Bit-exact 100 ms after the switch, whatever the plug-in was doing. */
static void bypass_is_exact_after_its_fade(void **state)
{
    const Case *c = *state;
    const double rate = 48000.0;
    Audio on = every_take(48000, rate), off = every_take(24000, rate);
    Instance *i = every_new(c, rate, INSTANCE_PLAIN);
    instance_activate(i);
    Audio first = audio_through(i, &on);
    every_move_controls(i, 0.8);
    instance_set(i, "enabled", 0.f);
    Audio whole = audio_new(on.n + off.n);
    for (uint32_t k = 0; k < 2; ++k) {
        memcpy(whole.channel[k], on.channel[k], on.n * sizeof(float));
        memcpy(whole.channel[k] + on.n, off.channel[k], off.n * sizeof(float));
    }
    Audio after = audio_through(i, &off), out = audio_new(whole.n);
    for (uint32_t k = 0; k < 2; ++k)
        memcpy(out.channel[k] + on.n, after.channel[k], off.n * sizeof(float));
    assert_delayed(c, &whole, &out, instance_latency(i), on.n + 4800, "100 ms after it was switched off");
    instance_free(i);
    audio_free(&on);
    audio_free(&off);
    audio_free(&first);
    audio_free(&after);
    audio_free(&whole);
    audio_free(&out);
}

static bool has_dry_level(const Plugin *plugin)
{
    return plugin_port(plugin, "dry") != NULL;
}

/* On a send, switched off must not put the dry sound onto the return. */
static void bypass_with_dry_silent_is_silent(void **state)
{
    const Case *c = *state;
    Audio in = every_take(48000, 48000.0);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_set(i, "dry", plugin_port(c->plugin, "dry")->min);
    instance_set(i, "enabled", 0.f);
    instance_activate(i);
    Audio out = audio_through(i, &in);
    for (uint32_t k = 0; k < c->plugin->outs; ++k)
        for (uint32_t f = 0; f < in.n; ++f)
            assert_true(out.channel[k][f] == 0.f);
    instance_free(i);
    audio_free(&in);
    audio_free(&out);
}

/* What it would save after a take that it played on or off. */
static char *state_after(const Case *c, const Audio *in, float enabled)
{
    Instance *i = every_new(c, 16000.0, INSTANCE_PLAIN);
    instance_set(i, "enabled", enabled);
    instance_activate(i);
    const Audio out = audio_through(i, in);
    instance_set(i, "enabled", 0.f);
    Error e;
    char *text = instance_save(i, &e);
    if (!text)
        fail_msg("%s", e.text);
    audio_free(&out);
    instance_free(i);
    return text;
}

static bool learns_and_sleeps(const Plugin *plugin)
{
    return every_learns(plugin) && every_has_settings(plugin);
}

static bool learns_awake(const Plugin *plugin)
{
    return every_learns(plugin) && !every_has_settings(plugin);
}

/* Off it learns nothing, on it does; what has nothing to switch off listens all the time. */
static void learning_sleeps(void **state)
{
    const Case *c = *state;
    const bool sleeps = every_has_settings(c->plugin);
    const Audio nothing = audio_new(160), take = every_take(8 * 16000, 16000.0);
    char *const fresh = state_after(c, &nothing, 0.f), *const off = state_after(c, &take, 0.f);
    char *const on = state_after(c, &take, 1.f);
    assert_true(strcmp(fresh, on) != 0);
    assert_string_equal(off, sleeps ? fresh : on);
    free(fresh);
    free(off);
    free(on);
    audio_free(&nothing);
    audio_free(&take);
}

static bool sleeps(const Plugin *plugin)
{
    return every_has_settings(plugin);
}

/* What sounded when it was switched off is gone: on again, in silence, it is silent. */
static void nothing_is_left_when_it_wakes(void **state)
{
    const Case *c = *state;
    const double rate = 48000.0;
    const Audio take = every_take(48000, rate), rest = audio_new(48000);
    Instance *i = every_new(c, rate, INSTANCE_PLAIN);
    instance_activate(i);
    const Audio played = audio_through(i, &take);
    instance_set(i, "enabled", 0.f);
    const Audio off = audio_through(i, &rest);
    instance_set(i, "enabled", 1.f);
    const Audio on = audio_through(i, &rest);
    for (uint32_t o = 0; o < c->plugin->outs; ++o)
        for (uint32_t k = 0; k < on.n; ++k)
            assert_true(fabsf(on.channel[o][k]) < 1e-8f);
    audio_free(&take);
    audio_free(&rest);
    audio_free(&played);
    audio_free(&off);
    audio_free(&on);
    instance_free(i);
}

/* Four sums: one alone would wait for itself. */
static double product(const float *x, const float *y, uint32_t n)
{
    double sum[4] = {0};
    uint32_t k = 0;
    for (; k + 4 <= n; k += 4)
        for (uint32_t lane = 0; lane < 4; ++lane)
            sum[lane] += (double)x[k + lane] * (double)y[k + lane];
    for (; k < n; ++k)
        sum[0] += (double)x[k] * (double)y[k];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

/* The lag at which output and input are most alike, within `most` frames to each side. */
static int best_lag(const float *in, const float *out, uint32_t n, int most)
{
    double best = 0.0;
    int lag = -most - 1;
    for (int d = -most; d <= most; ++d) {
        const double alike = product(in + most, out + most + d, n - 2 * (uint32_t)most);
        if (alike > best) {
            best = alike;
            lag = d;
        }
    }
    return lag;
}

static void latency_is_true_and_constant(void **state)
{
    const Case *c = *state;
    for (int r = 0; r < 4; ++r) { /* up to 96 kHz: the correlation is slow */
        Audio in = audio_new(10000);
        uint32_t seed = seeded(7);
        for (uint32_t k = 0; k < in.n; ++k)
            in.channel[0][k] = in.channel[1][k] = (float)(0.1 * every_noise(&seed));
        Instance *i = every_new(c, rates[r], INSTANCE_PLAIN);
        instance_activate(i);
        const uint32_t latency = instance_latency(i);
        assert_in_range(latency, 0, (uint64_t)plugin_port(c->plugin, "latency")->max);
        Audio out = audio_through(i, &in);
        assert_int_equal(best_lag(in.channel[0], out.channel[0], in.n, (int)latency + 100), latency);
        for (double along = 0.0; along <= 1.0; along += 0.25) {
            every_move_controls(i, along);
            instance_run(i, audio_in(&in), out.channel, in.n);
            assert_int_equal(instance_latency(i), latency);
        }
        instance_free(i);
        audio_free(&in);
        audio_free(&out);
    }
}

/* ---- Broken input ---- */

enum { APART = 37 };

static void plant(Audio *a, uint32_t at, const float *values, uint32_t how_many)
{
    for (uint32_t k = 0; k < how_many; ++k) {
        a->channel[0][at + APART * k] = values[k];
        a->channel[1][at + APART * k + 10] = values[k];
    }
}

static Audio through_fresh(const Case *c, const Audio *in)
{
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    Audio out = audio_through(i, in);
    instance_free(i);
    return out;
}

static void damaged_samples_count_as_silence(void **state)
{
    const Case *c = *state;
    const float broken[] = {NAN, INFINITY, -INFINITY, -NAN, 1e30f, -3e38f, 16.f, -16.f, -20.f}, zeros[9] = {0};
    Audio in = every_take(48000, 48000.0), silent = audio_copy(&in);
    plant(&in, 1000, broken, 9);
    plant(&silent, 1000, zeros, 9);
    Audio out = through_fresh(c, &in), want = through_fresh(c, &silent);
    audio_assert_finite(&out, c->plugin->outs, "broken samples");
    audio_assert_same(&want, &out, c->plugin->outs, 0, "broken samples for silent ones");
    audio_free(&in);
    audio_free(&silent);
    audio_free(&out);
    audio_free(&want);
}

static double rms_from(const float *x, uint32_t from, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t k = from; k < n; ++k)
        sum += (double)x[k] * (double)x[k];
    return sqrt(sum / (n - from));
}

static bool has_no_tail(const Plugin *plugin)
{
    return !plugin->reverb;
}

static void huge_samples_stay_finite(void **state)
{
    const Case *c = *state;
    const float huge[] = {1e30f, -3e38f, 3e38f, 1e-42f, -1e20f};
    Audio in = every_take(96000, 48000.0);
    plant(&in, 1000, huge, 5);
    Audio out = through_fresh(c, &in);
    audio_assert_finite(&out, c->plugin->outs, "huge samples");
    for (uint32_t k = 0; k < in.n; ++k)
        in.channel[0][k] = in.channel[1][k] = k % 2 ? 3e38f : -3e38f;
    Audio all = through_fresh(c, &in);
    audio_assert_finite(&all, c->plugin->outs, "nothing but huge samples");
    audio_free(&in);
    audio_free(&out);
    audio_free(&all);
}

/* dB under the sound, over n frames. */
static double difference_between(const float *out, const float *want, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t k = 0; k < n; ++k)
        sum += ((double)out[k] - (double)want[k]) * ((double)out[k] - (double)want[k]);
    return 10.0 * log10(sum / n + 1e-30) - 20.0 * log10(rms_from(want, 0, n) + 1e-15);
}

/* From 100 ms on as if silence had stood there: nothing was learned from the damage, and nothing is left of it. Looked
 * at over the 50 ms that follow and over all the rest. 18.3 dB under the sound would move a level by 1 dB at most; 40
 * is asked for. */
static void is_back_to_normal_within_100_ms(void **state)
{
    const Case *c = *state;
    const float huge[] = {1e30f, -3e38f, 3e38f, INFINITY, NAN}, zeros[5] = {0};
    static const uint32_t places[] = {1000, 20000};
    double worst = -300.0;
    for (int p = 0; p < 2; ++p) {
        Audio in = every_take(48000, 48000.0), clean = audio_copy(&in);
        plant(&in, places[p], huge, 5);
        plant(&clean, places[p], zeros, 5);
        Audio out = through_fresh(c, &in), want = through_fresh(c, &clean);
        const uint32_t from = places[p] + 4 * APART + 10 + 4800; /* latency makes it harder, not easier */
        for (uint32_t k = 0; k < c->plugin->outs; ++k) {
            const float *got = out.channel[k] + from, *right = want.channel[k] + from;
            worst = fmax(worst, difference_between(got, right, 2400));
            worst = fmax(worst, difference_between(got, right, out.n - from));
        }
        audio_free(&in);
        audio_free(&clean);
        audio_free(&out);
        audio_free(&want);
    }
    char what[120];
    snprintf(what, sizeof what, "%s: left 100 ms after NaN, infinity and 1e30, under the sound", c->plugin->uri);
    figure_at_most("Suite", what, worst, -120.0, "dB", "ours; required: -40");
}

/* ---- Broken controls ---- */

static bool is_control(const Port *port)
{
    return port->kind == PORT_CONTROL;
}

/* A moment with one control at a value, the others moved. */
static Audio with_control(const Case *c, const Audio *in, const char *symbol, float value)
{
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    every_move_controls(i, 0.7);
    instance_set(i, symbol, value);
    instance_activate(i);
    Audio out = audio_through(i, in);
    instance_free(i);
    return out;
}

static void compare_values(const Case *c, const Audio *in, const Port *port, float odd, float usual)
{
    char what[120];
    snprintf(what, sizeof what, "%s at %g instead of %g", port->symbol, (double)odd, (double)usual);
    Audio got = with_control(c, in, port->symbol, odd), want = with_control(c, in, port->symbol, usual);
    audio_assert_finite(&got, c->plugin->outs, what);
    audio_assert_same(&want, &got, c->plugin->outs, 0, what);
    audio_free(&got);
    audio_free(&want);
}

/* Hosts pass anything. What C takes for a port's default and range is what the Turtle says: shown by what a value
 * outside does. */
static void controls_outside_their_range_are_held_in_it(void **state)
{
    const Case *c = *state;
    Audio in = every_take(9600, 48000.0);
    for (uint32_t p = 0; p < c->plugin->ports; ++p) {
        const Port *port = &c->plugin->port[p];
        if (!is_control(port))
            continue;
        compare_values(c, &in, port, NAN, port->def);
        compare_values(c, &in, port, INFINITY, port->max);
        compare_values(c, &in, port, -INFINITY, port->min);
        compare_values(c, &in, port, port->max + 0.7f * (port->max - port->min), port->max);
        compare_values(c, &in, port, port->min - 0.7f * (port->max - port->min), port->min);
    }
    audio_free(&in);
}

static void controls_jumping_about_stay_finite(void **state)
{
    const Case *c = *state;
    static const float odd[] = {NAN, INFINITY, -INFINITY, 1e-42f, -0.f, 3e38f, -3e38f};
    Audio in = every_take(48000, 48000.0), out = audio_new(in.n);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    uint32_t seed = seeded(3);
    for (uint32_t at = 0; at + 50 < in.n; at += 50) {
        const float *const from[] = {in.channel[0] + at, in.channel[1] + at};
        float *const to[] = {out.channel[0] + at, out.channel[1] + at};
        for (uint32_t p = 0; p < c->plugin->ports; ++p) {
            const Port *port = &c->plugin->port[p];
            const double dice = every_noise(&seed), x = 0.5 * (every_noise(&seed) + 1.0);
            if (is_control(port) && dice > 0.9)
                instance_set(i, port->symbol, odd[(uint32_t)(x * 6.999)]);
            else if (is_control(port) && dice > 0.0)
                instance_set(i, port->symbol, port->min + (float)x * (port->max - port->min));
        }
        instance_run(i, from, to, 50);
    }
    audio_assert_finite(&out, c->plugin->outs, "controls jumping about");
    instance_free(i);
    audio_free(&in);
    audio_free(&out);
}

/* What can be found by listening is set by hand. */
static void set_by_hand(Instance *i)
{
    const Plugin *plugin = instance_plugin(i);
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const char *by = strstr(plugin->port[p].symbol, "_by");
        if (by && !by[3])
            instance_set(i, plugin->port[p].symbol, 0.f);
    }
}

/* Does the output, or any read-out, differ between a control's ends? */
static bool makes_a_difference(const Case *c, const Audio *in, const Port *port, double others, bool by_hand)
{
    Audio out[2] = {{0}};
    Instance *i[2] = {NULL};
    for (int end = 0; end < 2; ++end) {
        i[end] = every_new(c, 48000.0, INSTANCE_PLAIN);
        if (others >= 0.0)
            every_move_controls(i[end], others);
        if (by_hand)
            set_by_hand(i[end]);
        instance_set(i[end], port->symbol, end ? port->max : port->min);
        instance_activate(i[end]);
        out[end] = audio_through(i[end], in);
    }
    bool differs = false;
    for (uint32_t k = 0; k < c->plugin->outs; ++k)
        differs |= memcmp(out[0].channel[k], out[1].channel[k], in->n * sizeof(float)) != 0;
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        if (c->plugin->port[p].kind == PORT_METER)
            differs |= instance_value_at(i[0], p) != instance_value_at(i[1], p);
    for (int end = 0; end < 2; ++end) {
        instance_free(i[end]);
        audio_free(&out[end]);
    }
    return differs;
}

static bool does_something(const Case *c, const Audio *in, const Port *port)
{
    static const double others[] = {-1.0, 0.3, 0.7}; /* at their defaults; along their ranges, choices first or last */
    for (int k = 0; k < 3; ++k)
        for (int by_hand = 0; by_hand < 2; ++by_hand)
            if (makes_a_difference(c, in, port, others[k], by_hand))
                return true;
    return false;
}

/* Both variants run the same code; long takes go through one of them. */
static bool is_mono(const Plugin *plugin)
{
    return plugin->ins == 1;
}

/* A tick every 0.7 s, each of six 10 dB fainter than the one before it. */
static double faulty_tick(uint32_t k)
{
    const uint32_t every = 7 * 4800;
    const double since = (double)(k % every) / 48000.0;
    return 0.3 * pow(10.0, -0.5 * (k / every % 6)) * exp(-since / 0.0006) *
           cos(2.0 * 3.14159265358979 * 3000.0 * since);
}

/* Cut into phrases, which sound on. */
static void put_in_room(const Audio *a, uint32_t phrase, uint32_t sounds)
{
    float *const dry = calloc(a->n, sizeof *dry);
    assert_non_null(dry);
    for (int c = 0; c < 2; ++c) {
        for (uint32_t k = 0; k < a->n; ++k)
            a->channel[c][k] = dry[k] = k % phrase < sounds ? a->channel[c][k] : 0.f;
        assert_true(room_add(48000.0, 0.7, 0.0, dry, a->channel[c], a->n));
    }
    free(dry);
}

/* Phrases in a live room with rests between them, a pop where each begins, a hum, and ticks. */
static Audio faulty_take_made(void)
{
    const uint32_t n = 22 * 48000, phrase = 3 * 48000, sounds = 2 * 48000;
    Audio a = every_take(n, 48000.0);
    put_in_room(&a, phrase, sounds);
    for (uint32_t k = 0; k < n; ++k) {
        double hum = 0.0;
        for (int h = 1; h <= 10; ++h)
            hum += 0.004 / h * sin(2.0 * 3.14159265358979 * 50.0 * h * k / 48000.0 + h);
        const double t = (double)(k % phrase) / 48000.0, shape = t / 0.015 * exp(1.0 - t / 0.015);
        const double pop = 1.2 * shape * shape * cos(2.0 * 3.14159265358979 * 65.0 * t);
        for (int c = 0; c < 2; ++c)
            a.channel[c][k] = (float)(hum + pop + faulty_tick(k) + (double)a.channel[c][k]);
    }
    return a;
}

/* Every fourth note gives way to a rest, in which the room sounds and then a breath. */
static void put_rests(const Audio *a, double rate)
{
    const Biquad section[] = {design_high_pass(800.0, 0.7, rate), design_low_pass(2500.0, 0.7, rate)};
    const Svf band[] = {svf_from_biquad(&section[0]), svf_from_biquad(&section[1])};
    SvfState state[2] = {{0}};
    uint32_t seed = seeded(5);
    for (uint32_t k = 0; k < a->n; ++k) {
        const double t = (double)k / rate, into = fmod(t, 1.8) - 1.2,
                     shape = into > 0.25 ? sin(9.0 * (into - 0.25)) : 0.0;
        const double noise = every_noise(&seed),
                     air = svf_step(&band[1], &state[1], svf_step(&band[0], &state[0], noise));
        for (uint32_t c = 0; c < 2 && into > 0.0; ++c)
            a->channel[c][k] = (float)(1e-4 * noise + 0.1 * shape * shape * air);
    }
}

/* The takes that controls are tried on, made for the first plug-in: rests in the one, all faults in the other. */
static const Audio *take_with_rests(void)
{
    static Audio a;
    if (!a.n) {
        a = every_take(22 * 48000, 48000.0);
        put_rests(&a, 48000.0);
    }
    return &a;
}

static const Audio *faulty_take(void)
{
    static Audio a;
    if (!a.n)
        a = faulty_take_made();
    return &a;
}

static void every_control_does_something(void **state)
{
    const Case *c = *state;
    /* Brief; long enough for what follows a phrase; long enough for what has to be learned first. */
    const Audio *in = take_with_rests(), brief = {.n = 14400, .channel = {in->channel[0], in->channel[1]}},
                phrase = {.n = 4 * 48000, .channel = {in->channel[0], in->channel[1]}};
    for (uint32_t p = 0; p < c->plugin->ports; ++p) {
        const Port *port = &c->plugin->port[p];
        if (!every_has_settings(c->plugin) && !strcmp(port->symbol, "enabled"))
            continue;
        if (is_control(port) && !does_something(c, &brief, port) && !does_something(c, &phrase, port) &&
            !does_something(c, in, port) && !does_something(c, faulty_take(), port))
            fail_msg("%s changes neither sound nor read-outs", port->symbol);
    }
}

/* ---- Ports that are not there ---- */

static void check_without(const Case *c, const Audio *in, const Port *port, const Audio *want)
{
    char what[80];
    snprintf(what, sizeof what, "%s not connected", port->symbol);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_connect(i, port->index, NULL);
    instance_activate(i);
    Audio out = audio_through(i, in);
    audio_assert_finite(&out, c->plugin->outs, what);
    if (port->kind == PORT_CONTROL || port->kind == PORT_METER)
        audio_assert_same(want, &out, c->plugin->outs, 0, what); /* as if it were at its default */
    instance_free(i);
    audio_free(&out);
}

static void any_port_may_be_missing(void **state)
{
    const Case *c = *state;
    Audio in = every_take(9600, 48000.0), want = through_fresh(c, &in);
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        check_without(c, &in, &c->plugin->port[p], &want);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        instance_connect(i, p, NULL);
    instance_activate(i);
    instance_run(i, audio_in(&in), want.channel, in.n);
    instance_free(i);
    audio_free(&in);
    audio_free(&want);
}

/* ---- Hosts that leave things out ---- */

static void needs_no_feature(void **state)
{
    const Case *c = *state;
    Audio in = every_take(24000, 48000.0), want = through_fresh(c, &in);
    Instance *i = every_new(c, 48000.0, INSTANCE_BARE);
    instance_activate(i);
    Audio out = audio_through(i, &in);
    audio_assert_same(&want, &out, c->plugin->outs, 0, "without features");
    instance_free(i);
    audio_free(&in);
    audio_free(&want);
    audio_free(&out);
}

static void works_without_activate(void **state)
{
    const Case *c = *state;
    Audio in = every_take(24000, 48000.0), want = through_fresh(c, &in);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    Audio out = audio_through(i, &in);
    audio_assert_same(&want, &out, c->plugin->outs, 0, "without activate");
    instance_free(i);
    audio_free(&in);
    audio_free(&want);
    audio_free(&out);
}

static void runs_of_nothing_change_nothing(void **state)
{
    const Case *c = *state;
    Audio in = every_take(24000, 48000.0), want = through_fresh(c, &in);
    const float *const nothing[] = {NULL, NULL};
    float *const nowhere[] = {NULL, NULL};
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    every_move_controls(i, 0.9);
    instance_activate(i);
    instance_run(i, nothing, nowhere, 0); /* smoothers start at the first run that has frames */
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        if (is_control(&c->plugin->port[p]))
            instance_set(i, c->plugin->port[p].symbol, c->plugin->port[p].def);
    Audio out = audio_through(i, &in);
    audio_assert_same(&want, &out, c->plugin->outs, 0, "after a run of 0 frames");
    instance_free(i);
    audio_free(&in);
    audio_free(&want);
    audio_free(&out);
}

static bool learns_nothing(const Plugin *plugin)
{
    return !every_learns(plugin);
}

/* What a plug-in learned survives; test_session.c looks at that. */
static void activate_makes_it_new(void **state)
{
    const Case *c = *state;
    Audio in = every_take(24000, 48000.0), want = through_fresh(c, &in);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    Audio first = audio_through(i, &in);
    instance_deactivate(i);
    instance_activate(i);
    Audio out = audio_through(i, &in);
    audio_assert_same(&want, &out, c->plugin->outs, 0, "activated again");
    instance_free(i);
    audio_free(&in);
    audio_free(&want);
    audio_free(&first);
    audio_free(&out);
}

static const Property properties[] = {
    {"block lengths do not matter", block_lengths_do_not_matter, NULL},
    {"works in place", works_in_place, NULL},
    {"lives with one buffer for all ports", lives_with_one_buffer_for_all, NULL},
    {"bypass returns the input", bypass_returns_the_input, NULL},
    {"bypass is exact after its fade", bypass_is_exact_after_its_fade, NULL},
    {"off it learns nothing", learning_sleeps, learns_and_sleeps},
    {"off it goes on listening", learning_sleeps, learns_awake},
    {"nothing is left when it wakes", nothing_is_left_when_it_wakes, sleeps},
    {"bypass with dry silent is silent", bypass_with_dry_silent_is_silent, has_dry_level},
    {"latency is true and constant", latency_is_true_and_constant, NULL},
    {"damaged samples count as silence", damaged_samples_count_as_silence, NULL},
    {"huge samples stay finite", huge_samples_stay_finite, NULL},
    {"is back to normal within 100 ms", is_back_to_normal_within_100_ms, has_no_tail},
    {"controls outside their range are held in it", controls_outside_their_range_are_held_in_it, NULL},
    {"controls jumping about stay finite", controls_jumping_about_stay_finite, NULL},
    {"every control does something", every_control_does_something, is_mono},
    {"any port may be missing", any_port_may_be_missing, NULL},
    {"needs no feature", needs_no_feature, NULL},
    {"works without activate", works_without_activate, NULL},
    {"runs of nothing change nothing", runs_of_nothing_change_nothing, NULL},
    {"activate makes it new", activate_makes_it_new, learns_nothing},
};

int main(void)
{
    return every_run("every plug-in, any host", properties, sizeof properties / sizeof *properties);
}
