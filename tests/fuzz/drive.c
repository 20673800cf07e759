#include "drive.h"

#include "dsp.h"

#include <lv2/atom/atom.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    LONGEST_BLOCK = 8192,
    SHEET = 16384, /* frames of audio made at once; blocks are cut from it one after another, around and around */
    MOST_TOGETHER = 4096, /* frames that one step's repeated blocks come to */
    MOST_AUDIO = 4,
    MOST_ITEMS = 16,
    ITEM_ROOM = 20000,
    MOST_PLUGINS = 64,
};

/* What a plug-in stored. */
typedef struct {
    uint32_t items;
    struct {
        uint32_t key, type;
        size_t size;
        char body[ITEM_ROOM];
    } item[MOST_ITEMS];
} Stored;

struct Drive {
    Host *host;
    Instance *idle[MOST_PLUGINS]; /* one of each, so that no binary is unloaded: the fuzzer's counters live in them */
    uint64_t runs, frames;
    float *audio[MOST_AUDIO]; /* LONGEST_BLOCK frames, each in memory of its own: its end is guarded */
    float sheet[DSP_CHANNELS][SHEET];
    Stored stored;
    /* the case under way */
    const uint8_t *bytes;
    size_t left;
    uint32_t random;
    uint32_t sheet_at;
    float loudest; /* of the finite input so far */
    double rate;
    Instance *instance;
    const Plugin *plugin;
    float latency;
    bool latency_known, ran, active, ok;
};

static bool make_audio(Drive *d)
{
    for (uint32_t c = 0; c < MOST_AUDIO; ++c)
        if (!(d->audio[c] = calloc(LONGEST_BLOCK, sizeof(float))))
            return false;
    return true;
}

Drive *drive_open(const char *bundle)
{
    Error e = {0};
    Drive *d = calloc(1, sizeof *d);
    if (d && make_audio(d))
        d->host = host_open(bundle, &e);
    if (!d || !d->host) {
        fprintf(stderr, "%s\n", *e.text ? e.text : "no memory");
        drive_close(d);
        return NULL;
    }
    for (uint32_t p = 0; p < host_plugins(d->host) && p < MOST_PLUGINS; ++p)
        d->idle[p] = instance_new(d->host, host_plugin_at(d->host, p), 48000.0, INSTANCE_PLAIN, &e);
    return d;
}

void drive_close(Drive *d)
{
    if (!d)
        return;
    for (uint32_t p = 0; p < MOST_PLUGINS; ++p)
        instance_free(d->idle[p]);
    host_close(d->host);
    for (uint32_t c = 0; c < MOST_AUDIO; ++c)
        free(d->audio[c]);
    free(d);
}

uint64_t drive_runs(const Drive *d)
{
    return d->runs;
}

uint64_t drive_frames(const Drive *d)
{
    return d->frames;
}

/* ---- Bytes into values ---- */

static uint8_t byte(Drive *d)
{
    if (!d->left)
        return 0;
    --d->left;
    return *d->bytes++;
}

static uint32_t word(Drive *d)
{
    return byte(d) | (uint32_t)byte(d) << 8;
}

/* Noise that the case repeats: xorshift32. */
static float noise(Drive *d)
{
    d->random ^= d->random << 13;
    d->random ^= d->random >> 17;
    d->random ^= d->random << 5;
    return (float)((double)d->random / 2147483648.0 - 1.0);
}

static double pick_rate(Drive *d)
{
    static const double rate[] = {8000, 11025, 16000, 22050, 32000, 44100, 48000, 88200, 96000, 176400, 192000, 384000};
    const uint8_t which = byte(d);
    return which < 128 ? rate[which % (sizeof rate / sizeof *rate)] : 8000.0 + (which - 128) * 2960.0;
}

/* Short blocks more often than long ones: what goes wrong at a block's edge shows per block, not per frame. */
static uint32_t pick_length(Drive *d)
{
    static const uint32_t length[] = {0, 1, 5, 31, 32, 33, 64, 64, 128, 256, 300, 400, 512, 1024, 1920, 8192};
    const uint8_t which = byte(d);
    return which < 240 ? length[which % (sizeof length / sizeof *length)] : word(d) % (LONGEST_BLOCK + 1);
}

static uint32_t pick_repeats(Drive *d, uint32_t length)
{
    static const uint32_t repeats[] = {1, 1, 2, 4, 16, 64, 128, 255};
    const uint32_t wish = repeats[byte(d) % (sizeof repeats / sizeof *repeats)];
    const uint32_t most = length ? 1 + MOST_TOGETHER / length : 4;
    return wish < most ? wish : most;
}

static float pick_oddity(Drive *d)
{
    static const float odd[] = {NAN,    INFINITY, -INFINITY, 1e-40f, -1e-40f, 1e30f,
                                -1e30f, 3.4e38f,  0.f,       -0.f,   1e-30f,  16.f};
    return odd[byte(d) % (sizeof odd / sizeof *odd)];
}

static float pick_value(Drive *d, const Port *port)
{
    switch (byte(d) % 6) {
    case 0:
        return port->min;
    case 1:
        return port->max;
    case 2:
        return port->def;
    case 3:
        return pick_oddity(d);
    default:
        return port->min + (port->max - port->min) * (float)byte(d) / 255.f;
    }
}

/* ---- Audio ---- */

/* A pulse train through one resonance: near enough to a vowel for what listens for one. */
static void sing(Drive *d, float *x, float level)
{
    const double pi2 = 2.0 * DSP_PI, pole = exp(-pi2 * 60.0 / d->rate);
    const double b1 = 2.0 * pole * cos(pi2 * (300.0 + 6.0 * byte(d)) / d->rate), b2 = -pole * pole;
    const uint32_t period = (uint32_t)(d->rate / (60.0 + 3.0 * byte(d)));
    double y1 = 0.0, y2 = 0.0;
    for (uint32_t i = 0; i < SHEET; ++i) {
        const double y = (i % period == 0 ? 0.5 : 0.0) + b1 * y1 + b2 * y2;
        y2 = y1;
        y1 = y;
        x[i] = level * (float)y + 1e-4f * level * noise(d);
    }
}

static void fill(Drive *d, float *x, uint8_t kind)
{
    const float level = powf(10.f, ((float)byte(d) - 200.f) / 40.f), step = 0.0005f + 0.01f * (float)byte(d);
    if (kind % 8 == 3) {
        sing(d, x, level);
        return;
    }
    const float odd = pick_oddity(d);
    for (uint32_t i = 0; i < SHEET; ++i) {
        switch (kind % 8) {
        case 0:
            x[i] = 0.f;
            break;
        case 1:
            x[i] = level * noise(d);
            break;
        case 2:
            x[i] = level * sinf(step * (float)i);
            break;
        case 4:
            x[i] = noise(d) > 0.98f ? odd : level * noise(d);
            break;
        case 5:
            x[i] = odd;
            break;
        case 6: /* bursts: near to an s */
            x[i] = i / 700 % 2 ? level * (noise(d) - noise(d)) : 0.f;
            break;
        default:
            x[i] = 1e-41f * noise(d);
            break;
        }
    }
}

static uint32_t magnitude_bits(float x)
{
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits & 0x7fffffffU;
}

/* Floats without their sign rise as their bits do, NaN and infinity on top: the largest magnitude, without a branch. */
static float largest(const float *x, uint32_t n)
{
    uint32_t bits = 0;
    for (uint32_t i = 0; i < n; ++i) {
        const uint32_t m = magnitude_bits(x[i]);
        bits = m > bits ? m : bits;
    }
    float peak;
    memcpy(&peak, &bits, sizeof peak);
    return peak;
}

static void new_sheet(Drive *d, uint8_t kind)
{
    for (uint32_t c = 0; c < d->plugin->ins; ++c) {
        fill(d, d->sheet[c], kind);
        for (uint32_t i = 0; i < SHEET; ++i)
            if (fabsf(d->sheet[c][i]) > d->loudest && isfinite(d->sheet[c][i]))
                d->loudest = fabsf(d->sheet[c][i]);
    }
    d->sheet_at = 0;
}

static void complain(Drive *d, const char *what, double value)
{
    fprintf(stderr, "%s at %g Hz: %s: %g\n", d->plugin->uri, d->rate, what, value);
    d->ok = false;
}

/* ---- What is demanded of a run ---- */

static void check_read_outs(Drive *d)
{
    for (uint32_t p = 0; p < d->plugin->ports; ++p) {
        const Port *port = &d->plugin->port[p];
        const float value = instance_value_at(d->instance, p);
        if (port->kind != PORT_METER)
            continue;
        if (port->reports_latency && d->latency_known && value != d->latency)
            complain(d, "the latency changed", (double)value);
        if (port->reports_latency) {
            d->latency = value;
            d->latency_known = true;
        }
        if (!(value >= port->min && value <= port->max))
            complain(d, port->symbol, (double)value);
    }
}

/* What is not damaged comes out as it went in. A fade may turn -0 into 0. */
static bool passed(const float *in, const float *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        if (fabsf(in[i]) < DSP_BROKEN && in[i] != out[i])
            return false;
    return true;
}

static void check_output(Drive *d, uint32_t c, const float *out, uint32_t n, bool apart)
{
    const float peak = largest(out, n), limit = fmaxf(DRIVE_LOUDEST, d->loudest);
    if (!(peak <= limit))
        complain(d, "an output sample is not finite or far too loud", (double)peak);
    if (apart && !strcmp(d->plugin->stem, "check") && !passed(d->sheet[c] + d->sheet_at, out, n))
        complain(d, "what should pass to the bit did not, channel", c);
}

/* ---- A run ---- */

enum { APART = 0, NO_INPUT = 1, IN_PLACE = 2, CROSSED = 3, ONE_BUFFER = 4, NO_OUTPUT = 5 };

static uint32_t output_buffer(uint32_t c, uint32_t ins, uint32_t outs, uint32_t layout)
{
    switch (layout) {
    case IN_PLACE:
        return c;
    case CROSSED:
        return outs - 1 - c;
    case ONE_BUFFER:
        return 0;
    default:
        return ins + c;
    }
}

static void run_block(Drive *d, uint32_t n, uint32_t layout)
{
    const uint32_t ins = d->plugin->ins, outs = d->plugin->outs;
    const float *in[MOST_AUDIO] = {0};
    float *out[MOST_AUDIO] = {0};
    if (d->sheet_at + n > SHEET)
        d->sheet_at = 0;
    for (uint32_t c = 0; c < ins; ++c) {
        float *block = d->audio[c] + (LONGEST_BLOCK - n);
        memcpy(block, d->sheet[c] + d->sheet_at, n * sizeof *block);
        in[c] = layout == NO_INPUT ? NULL : block;
    }
    for (uint32_t c = 0; c < outs; ++c)
        out[c] = layout == NO_OUTPUT ? NULL : d->audio[output_buffer(c, ins, outs, layout)] + (LONGEST_BLOCK - n);
    instance_run(d->instance, in, out, n);
    ++d->runs;
    d->frames += n;
    d->ran = d->ran || n;
    for (uint32_t c = 0; c < outs; ++c)
        if (out[c])
            check_output(d, c, out[c], n, layout != NO_INPUT && layout != ONE_BUFFER);
    d->sheet_at += n;
}

static void run(Drive *d)
{
    const uint32_t n = pick_length(d), repeats = pick_repeats(d, n);
    const uint8_t layout = byte(d), kind = byte(d);
    if (kind < 160) /* else the same goes on */
        new_sheet(d, kind);
    for (uint32_t r = 0; r < repeats && d->ok; ++r)
        run_block(d, n, layout % 8);
    if (d->ran)
        check_read_outs(d);
}

/* ---- State ---- */

static LV2_State_Status store(LV2_State_Handle handle, uint32_t key, const void *value, size_t size, uint32_t type,
                              uint32_t flags)
{
    Stored *s = handle;
    (void)flags;
    if (s->items == MOST_ITEMS || size > ITEM_ROOM)
        return LV2_STATE_ERR_NO_SPACE;
    s->item[s->items].key = key;
    s->item[s->items].type = type;
    s->item[s->items].size = size;
    memcpy(s->item[s->items++].body, value, size);
    return LV2_STATE_SUCCESS;
}

static const void *retrieve(LV2_State_Handle handle, uint32_t key, size_t *size, uint32_t *type, uint32_t *flags)
{
    Stored *s = handle;
    for (uint32_t i = 0; i < s->items; ++i)
        if (s->item[i].key == key) {
            *size = s->item[i].size;
            *type = s->item[i].type;
            *flags = LV2_STATE_IS_POD | LV2_STATE_IS_PORTABLE;
            return s->item[i].body;
        }
    return NULL;
}

static void save(Drive *d)
{
    const LV2_State_Interface *state = instance_state(d->instance);
    if (!state)
        return;
    d->stored.items = 0;
    state->save(instance_handle(d->instance), store, &d->stored, 0, host_features(d->host));
}

static void damage(Drive *d)
{
    if (!d->stored.items)
        return;
    const uint32_t i = byte(d) % d->stored.items;
    const uint32_t at = word(d) % ITEM_ROOM;
    switch (byte(d) % 4) {
    case 0:
        d->stored.item[i].size = at;
        break;
    case 1:
        d->stored.item[i].type = host_urid(d->host, byte(d) % 2 ? LV2_ATOM__Vector : LV2_ATOM__Float);
        break;
    case 2: {
        const float odd = pick_oddity(d);
        memcpy(d->stored.item[i].body + (size_t)(at % 4000 / 4) * 4, &odd, sizeof odd);
        break;
    }
    default:
        d->stored.item[i].body[at] = (char)byte(d);
        break;
    }
}

static void restore(Drive *d)
{
    const LV2_State_Interface *state = instance_state(d->instance);
    if (state)
        state->restore(instance_handle(d->instance), retrieve, &d->stored, 0, host_features(d->host));
}

/* ---- The case ---- */

static const Port *pick_port(Drive *d)
{
    return &d->plugin->port[byte(d) % d->plugin->ports];
}

static void set_control(Drive *d)
{
    const Port *port = pick_port(d);
    if (port->kind == PORT_CONTROL)
        instance_set(d->instance, port->symbol, pick_value(d, port));
}

static void leave_out(Drive *d)
{
    const Port *port = pick_port(d);
    if (byte(d) % 2 == 0 && (port->kind == PORT_CONTROL || port->kind == PORT_METER))
        instance_connect(d->instance, port->index, NULL);
    else
        instance_reconnect(d->instance, port->index);
}

static void toggle_active(Drive *d)
{
    if (d->active)
        instance_deactivate(d->instance);
    if (!d->active || byte(d) % 4)
        instance_activate(d->instance);
    d->active = true;
}

/* Instantiates at the rate and with the features that the bytes say; what was stored stays. */
static bool make_instance(Drive *d)
{
    Error e;
    instance_free(d->instance);
    d->rate = pick_rate(d);
    d->latency_known = d->ran = false;
    d->instance = instance_new(d->host, d->plugin, d->rate, byte(d) % 8 ? INSTANCE_PLAIN : INSTANCE_BARE, &e);
    if (!d->instance) {
        complain(d, e.text, d->rate);
        return false;
    }
    /* Most hosts activate first. */
    d->active = byte(d) % 8 != 0;
    if (d->active)
        instance_activate(d->instance);
    return true;
}

static void step(Drive *d)
{
    switch (byte(d) % 32) {
    case 0:
        make_instance(d);
        break;
    case 1:
        leave_out(d);
        break;
    case 2:
    case 3:
        toggle_active(d);
        break;
    case 4:
    case 5:
        save(d);
        break;
    case 6:
    case 7:
        damage(d);
        break;
    case 8:
    case 9:
        restore(d);
        break;
    case 10:
        instance_latency(d->instance);
        break;
    case 11:
    case 12:
    case 13:
    case 14:
    case 15:
        set_control(d);
        break;
    default:
        run(d);
        break;
    }
}

bool drive_case(Drive *d, const uint8_t *bytes, size_t size)
{
    d->bytes = bytes;
    d->left = size;
    d->random = 2463534242U;
    d->ok = true;
    d->stored.items = 0;
    d->loudest = 0.f;
    d->sheet_at = 0;
    memset(d->sheet, 0, sizeof d->sheet);
    d->plugin = host_plugin_at(d->host, byte(d) % host_plugins(d->host));
    if (make_instance(d))
        while (d->left && d->ok)
            step(d);
    instance_free(d->instance);
    d->instance = NULL;
    return d->ok;
}

void drive_arbitrary(uint32_t n, uint8_t *bytes, size_t size)
{
    uint32_t random = n * 2654435761U + 12345U;
    for (size_t i = 0; i < size; ++i) {
        random = random * 1664525U + 1013904223U;
        bytes[i] = (uint8_t)(random >> 24);
    }
    if (size)
        bytes[0] = (uint8_t)n;
}
