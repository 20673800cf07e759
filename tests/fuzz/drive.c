#include "drive.h"

#include <lv2/atom/atom.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LONGEST_BLOCK = 8192, MOST_AUDIO = 4, MOST_ITEMS = 16, ITEM_ROOM = 20000, MOST_PLUGINS = 64 };

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
    float audio[MOST_AUDIO][LONGEST_BLOCK];
    Stored stored;
    /* the case under way */
    const uint8_t *bytes;
    size_t left;
    uint32_t random;
    Instance *instance;
    const Plugin *plugin;
    bool active;
    bool ok;
};

Drive *drive_open(const char *bundle)
{
    Error e;
    Drive *d = calloc(1, sizeof *d);
    if (d)
        d->host = host_open(bundle, &e);
    if (!d || !d->host) {
        fprintf(stderr, "%s\n", d ? e.text : "no memory");
        free(d);
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

static uint32_t pick_length(Drive *d)
{
    static const uint32_t length[] = {0, 1, 5, 31, 32, 33, 64, 300, 400, 512, 1024, 1920, 4096, 8192};
    const uint8_t which = byte(d);
    return which < 128 ? length[which % (sizeof length / sizeof *length)] : word(d) % (LONGEST_BLOCK + 1);
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

static void fill(Drive *d, float *x, uint32_t n, uint8_t kind)
{
    const float level = powf(10.f, ((float)byte(d) - 200.f) / 40.f), step = 0.0005f + 0.01f * (float)byte(d);
    for (uint32_t i = 0; i < n; ++i) {
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
        case 3: /* pulses: near to a voice */
            x[i] = level * (i % (20U + byte(d)) == 0 ? 1.f : 0.02f * noise(d));
            break;
        case 4:
            x[i] = noise(d) > 0.98f ? pick_oddity(d) : level * noise(d);
            break;
        case 5:
            x[i] = pick_oddity(d);
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

static bool all_finite(const float *x, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        if (!isfinite(x[i]))
            return false;
    return true;
}

/* Inputs first, outputs next to them or on top of them. */
static void run(Drive *d)
{
    const uint32_t n = pick_length(d), ins = d->plugin->ins, outs = d->plugin->outs;
    const uint8_t layout = byte(d), kind = byte(d);
    for (uint32_t c = 0; c < ins; ++c)
        fill(d, d->audio[c], n, kind);
    const float *in[MOST_AUDIO] = {0};
    float *out[MOST_AUDIO] = {0};
    for (uint32_t c = 0; c < ins; ++c)
        in[c] = layout % 8 == 1 ? NULL : d->audio[c];
    for (uint32_t c = 0; c < outs; ++c) {
        const uint32_t at = layout % 8 == 2   ? c            /* in place */
                            : layout % 8 == 3 ? outs - 1 - c /* in place, crossed */
                            : layout % 8 == 4 ? 0            /* all in one buffer */
                                              : ins + c;
        out[c] = layout % 8 == 5 ? NULL : d->audio[at];
    }
    instance_run(d->instance, in, out, n);
    ++d->runs;
    d->frames += n;
    for (uint32_t c = 0; c < outs; ++c)
        if (out[c] && !all_finite(out[c], n)) {
            fprintf(stderr, "%s: output %u is not finite\n", d->plugin->uri, c);
            d->ok = false;
        }
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
        memcpy(d->stored.item[i].body + (at % 4000) / 4 * 4, &odd, sizeof odd);
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

static void step(Drive *d)
{
    switch (byte(d) % 16) {
    case 0:
    case 1:
    case 2:
        set_control(d);
        break;
    case 3:
        leave_out(d);
        break;
    case 4:
        toggle_active(d);
        break;
    case 5:
        save(d);
        break;
    case 6:
        damage(d);
        break;
    case 7:
        restore(d);
        break;
    case 8:
        instance_latency(d->instance);
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
    d->plugin = host_plugin_at(d->host, byte(d) % host_plugins(d->host));
    const double rate = pick_rate(d);
    Error e;
    d->instance = instance_new(d->host, d->plugin, rate, byte(d) % 8 ? INSTANCE_PLAIN : INSTANCE_BARE, &e);
    if (!d->instance) {
        fprintf(stderr, "%s at %g Hz: %s\n", d->plugin->uri, rate, e.text);
        return false;
    }
    /* Most hosts activate first. */
    d->active = byte(d) % 8 != 0;
    if (d->active)
        instance_activate(d->instance);
    while (d->left && d->ok)
        step(d);
    instance_free(d->instance);
    d->instance = NULL;
    return d->ok;
}
