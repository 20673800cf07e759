/* Out of memory: every allocation of every plug-in and of every processor of the library fails in turn. What was asked
 * for then says so (NULL, false), can be cleaned up, and has given back every block it had. The same for sample rates
 * and channels that are out of range. And how much memory an instance takes. */
#include "every.h"

#include "figure.h"
#include "glibc_names.h"

#include <lv2/atom/atom.h>
#include <lv2/state/state.h>
#include <lv2/urid/urid.h>

#include <ctype.h>

#include "booth.h"
#include "chain.h"
#include "check.h"
#include "compressor.h"
#include "delay.h"
#include "dsp.h"
#include "envelope.h"
#include "esses.h"
#include "noise_floor.h"
#include "hearing.h"
#include "partials.h"
#include "phrase.h"
#include "take_frames.h"
#include "pitch.h"
#include "hum_removal.h"
#include "plate.h"
#include "pop_taming.h"
#include "resonance.h"
#include "rests_down.h"
#include "ticks.h"
#include "tone.h"
#include "trim.h"
#include "voice.h"
#include "voice_level.h"

/* ---- An allocator that fails when told ---- */

static bool counting, failed;
static int fail_in;  /* allocations before the one that fails */
static long blocks;  /* taken and not given back while counting */
static size_t bytes; /* asked for */

static void arm(int allocations)
{
    blocks = 0;
    bytes = 0;
    failed = false;
    fail_in = allocations;
    counting = true;
}

static void disarm(void)
{
    counting = false;
}

#ifndef SANITIZED
/* Counts down to the one that fails; those after it succeed again, so that whatever is made in spite of the failure
 * has to be given back too. */
static bool granted(size_t size)
{
    if (!counting)
        return true;
    failed = failed || fail_in == 0;
    if (fail_in-- == 0)
        return false;
    ++blocks;
    bytes += size;
    return true;
}

__attribute__((visibility("default"))) void *malloc(size_t size)
{
    return granted(size) ? __libc_malloc(size) : NULL;
}

__attribute__((visibility("default"))) void *calloc(size_t nmemb, size_t size)
{
    return granted(nmemb * size) ? __libc_calloc(nmemb, size) : NULL;
}

__attribute__((visibility("default"))) void *realloc(void *ptr, size_t size)
{
    if (ptr && counting)
        --blocks;
    return granted(size) ? __libc_realloc(ptr, size) : NULL;
}

__attribute__((visibility("default"))) void free(void *ptr)
{
    if (ptr && counting)
        --blocks;
    __libc_free(ptr);
}
#endif

static void need_own_allocator(void)
{
#ifdef SANITIZED
    print_message("the sanitizer has an allocator of its own, which cannot be told to fail\n");
    skip();
#endif
}

static const double bad_rates[] = {NAN, 0.0, -48000.0, 7999.0, 384001.0, INFINITY};
enum { BAD_RATES = sizeof bad_rates / sizeof *bad_rates, MOST_ALLOCATIONS = 200 };

/* ---- Plug-ins ---- */

/* Straight from the binary, so that nothing but the plug-in allocates. */
typedef struct {
    LilvInstance *living; /* keeps the binary loaded */
    const LV2_Descriptor *descriptor;
    const LV2_Feature *const *features;
} Binary;

static Binary load(const Case *c)
{
    const LV2_Feature *const *features = host_features(c->host);
    LilvInstance *living = lilv_plugin_instantiate(c->plugin->lilv, 48000.0, features);
    assert_non_null(living);
    return (Binary){living, lilv_instance_get_descriptor(living), features};
}

static LV2_Handle make(const Binary *b, double rate)
{
    return b->descriptor->instantiate(b->descriptor, rate, "", b->features);
}

static void each_allocation_fails(void **state)
{
    const Case *c = *state;
    need_own_allocator();
    const Binary b = load(c);
    int n = 0;
    for (;; ++n) {
        assert_true(n < MOST_ALLOCATIONS);
        arm(n);
        LV2_Handle handle = make(&b, 48000.0);
        const bool complete = !failed;
        if (handle)
            b.descriptor->cleanup(handle);
        disarm();
        if (complete != (handle != NULL))
            fail_msg("allocation %d fails: instantiate gives %p", n, handle);
        if (blocks)
            fail_msg("allocation %d fails: %ld blocks are left", n, blocks);
        if (complete)
            break;
    }
    assert_true(n > 0);
    print_message("%s: %d allocations, each failed in turn\n", c->plugin->uri, n);
    lilv_instance_free(b.living);
}

static void bad_rates_are_refused(void **state)
{
    const Case *c = *state;
    const Binary b = load(c);
    for (int i = 0; i < BAD_RATES; ++i) {
        arm(MOST_ALLOCATIONS);
        LV2_Handle handle = make(&b, bad_rates[i]);
        disarm();
        assert_null(handle);
        assert_int_equal(blocks, 0);
    }
    lilv_instance_free(b.living);
}

/* ---- How much memory ---- */

#define USUAL_KIB 64.0 /* at 48 kHz */

/* Plug-ins that take more than the usual, mono and stereo, and why. */
static const struct {
    const char *stem;
    double kib[2];
    const char *why;
} larger[] = {
    {"booth", {114.0, 134.0}, "64 wanted: frames of 32 ms a channel, and each bin's powers of the last 0.1 s"},
    {"chain", {1100.0, 1145.0}, "64 wanted: its five; by themselves they take more"},
    {"check", {119.0, 119.0}, "64 wanted: 15 tallies in three copies, clicks by prediction, frames by bands and pitch"},
    {"compressor", {150.0, 152.0}, "64 wanted: levels for nine pairs of times, twice, in three copies"},
    {"plate", {512.0, 512.0}, "requirement: the delay lines are the plate"},
    {"ticks", {112.0, 130.0}, "64 wanted: a band of equations for 7 ms of sound, and 48 ms of sound three times over"},
    {"tone", {512.0, 512.0}, "requirement: 700 pieces of notes, in three copies and as the fit reads them"},
};

static double most_kib(const Plugin *plugin, const char **why)
{
    *why = "requirement";
    for (size_t i = 0; i < sizeof larger / sizeof *larger; ++i)
        if (!strcmp(plugin->stem, larger[i].stem)) {
            *why = larger[i].why;
            return larger[i].kib[plugin->ins > 1];
        }
    return USUAL_KIB;
}

/* As it comes up; a save and a restore take a copy of what was learned more. */
static void memory_is_bounded(void **state)
{
    const Case *c = *state;
    need_own_allocator();
    const Binary b = load(c);
    arm(MOST_ALLOCATIONS);
    LV2_Handle handle = make(&b, 48000.0);
    disarm();
    assert_true(handle && blocks > 0);
    const double kib = (double)bytes / 1024.0;
    b.descriptor->cleanup(handle);
    const char *why;
    const double most = most_kib(c->plugin, &why);
    char name[32], what[96];
    snprintf(name, sizeof name, "%c%s", toupper(c->plugin->stem[0]), c->plugin->stem + 1);
    snprintf(what, sizeof what, "memory of an instance at 48 kHz, %s", c->plugin->ins > 1 ? "stereo" : "mono");
    figure_at_most(name, what, kib, most, "KiB", why);
    lilv_instance_free(b.living);
}

/* ---- Saving and restoring ---- */

static const LV2_URID_Map *map_of(const Binary *b)
{
    const LV2_Feature *const *f = b->features;
    while (strcmp((*f)->URI, LV2_URID__map) != 0)
        ++f;
    return (*f)->data;
}

/* A state in which nothing is known. */
static const void *retrieve_version(LV2_State_Handle map, uint32_t key, size_t *size, uint32_t *type, uint32_t *flags)
{
    static const float version = 1.f;
    const LV2_URID_Map *m = map;
    if (key != m->map(m->handle, "urn:linctus:state#version"))
        return NULL;
    *size = sizeof version;
    *type = m->map(m->handle, LV2_ATOM__Float);
    *flags = LV2_STATE_IS_POD;
    return &version;
}

static LV2_State_Status store_nowhere(LV2_State_Handle handle, uint32_t key, const void *value, size_t size,
                                      uint32_t type, uint32_t flags)
{
    (void)handle, (void)key, (void)value, (void)size, (void)type, (void)flags;
    return LV2_STATE_SUCCESS;
}

/* So long that Check has learned something. */
static void hear_a_second(const Case *c, const Binary *b, LV2_Handle handle)
{
    const Audio take = every_take(48000, 48000.0);
    for (uint32_t p = 0, channel = 0; p < c->plugin->ports; ++p)
        if (c->plugin->port[p].kind == PORT_AUDIO_IN)
            b->descriptor->connect_port(handle, p, take.channel[channel++]);
    b->descriptor->activate(handle);
    b->descriptor->run(handle, take.n);
    audio_free(&take);
}

static LV2_State_Status restore_with(const Binary *b, LV2_Handle handle, int allocations)
{
    const LV2_State_Interface *state = b->descriptor->extension_data(LV2_STATE__interface);
    LV2_URID_Map map = *map_of(b);
    arm(allocations);
    const LV2_State_Status status = state->restore(handle, retrieve_version, &map, 0, NULL);
    disarm();
    return status;
}

static LV2_State_Status save_with(const Binary *b, LV2_Handle handle, int allocations)
{
    const LV2_State_Interface *state = b->descriptor->extension_data(LV2_STATE__interface);
    arm(allocations);
    const LV2_State_Status status = state->save(handle, store_nowhere, NULL, 0, NULL);
    disarm();
    return status;
}

/* Where memory is short a save and a restore say so, and the next finds everything as it was. */
static void states_without_memory_are_errors(void **state)
{
    const Case *c = *state;
    need_own_allocator();
    const Binary b = load(c);
    LV2_Handle handle = make(&b, 48000.0);
    assert_non_null(handle);
    assert_true(restore_with(&b, handle, 0) != LV2_STATE_SUCCESS);
    assert_true(restore_with(&b, handle, MOST_ALLOCATIONS) == LV2_STATE_SUCCESS);
    hear_a_second(c, &b, handle);
    const bool learned = !strcmp(c->plugin->stem, "check");
    assert_true(!learned || save_with(&b, handle, 0) != LV2_STATE_SUCCESS);
    assert_true(save_with(&b, handle, MOST_ALLOCATIONS) == LV2_STATE_SUCCESS);
    b.descriptor->cleanup(handle);
    lilv_instance_free(b.living);
}

/* ---- Processors and what they are made of ---- */

typedef struct {
    const char *name;
    size_t size;
    bool (*init)(void *p, double rate, uint32_t channels);
    void (*done)(void *p);
    bool by_rate, by_channels; /* refuses what is out of range */
} Part;

/* clang-format off */
#define VALUE(prefix)                                                                                                  \
    static bool prefix##_make(void *p, double rate, uint32_t channels) { return processor_init(&(prefix), p, rate, channels); } \
    static void prefix##_end(void *p) { (prefix).done(p); }
#define PROCESSOR(Type, prefix)                                                                                        \
    static bool prefix##_make(void *p, double rate, uint32_t channels) { return prefix##_init(p, rate, channels); }    \
    static void prefix##_end(void *p) { prefix##_done(p); }
#define LISTENER(Type, prefix)                                                                                         \
    static bool prefix##_make(void *p, double rate, uint32_t channels) { (void)channels; return prefix##_init(p, rate); } \
    static void prefix##_end(void *p) { prefix##_done(p); }
#define MEMORY(Type, prefix)                                                                                           \
    static bool prefix##_make(void *p, double rate, uint32_t channels) { (void)rate; return prefix##_init(p, 100 * channels); } \
    static void prefix##_end(void *p) { prefix##_done(p); }
/* clang-format on */

VALUE(chain)
VALUE(trim)
VALUE(compressor)
VALUE(plate)
VALUE(tone)
VALUE(esses)
VALUE(rests)
VALUE(phrase)
VALUE(hum)
VALUE(pops)
VALUE(ticks)
VALUE(check)
VALUE(noise_floor)
VALUE(booth)
PROCESSOR(Hearing, hearing)
PROCESSOR(TakeFrames, take_frames)
LISTENER(Voice, voice)
LISTENER(Pitch, pitch)
LISTENER(Partials, partials)
LISTENER(ResonanceFinder, resonance)
MEMORY(Delay, delay)
MEMORY(PeakHold, peak_hold)

static bool listening_make(void *p, double rate, uint32_t channels)
{
    return listening_init(p, rate, channels, listening_hops(rate), LISTENING_POWER);
}

static void listening_end(void *p)
{
    listening_done(p);
}

#define PART(Type, prefix, rate, channels)                                                                             \
    {                                                                                                                  \
#prefix, sizeof(Type), prefix##_make, prefix##_end, rate, channels                                             \
    }

static const Part parts[] = {
    PART(Chain, chain, true, true),
    PART(Trim, trim, true, true),
    PART(Compressor, compressor, true, true),
    PART(Plate, plate, true, true),
    PART(Tone, tone, true, true),
    PART(Esses, esses, true, true),
    PART(RestsDown, rests, true, true),
    PART(Phrase, phrase, true, true),
    PART(HumRemoval, hum, true, true),
    PART(PopTaming, pops, true, true),
    PART(Ticks, ticks, true, true),
    PART(Check, check, true, true),
    PART(NoiseFloor, noise_floor, true, true),
    PART(Booth, booth, true, true),
    PART(Hearing, hearing, true, true),
    PART(TakeFrames, take_frames, true, true),
    PART(Partials, partials, true, false),
    PART(ResonanceFinder, resonance, false, false),
    PART(Listening, listening, true, true),
    PART(Voice, voice, true, false),
    PART(Pitch, pitch, true, false),
    PART(Delay, delay, false, false),
    PART(PeakHold, peak_hold, false, false),
};
enum { PARTS = sizeof parts / sizeof *parts };

static void fail_each(const Part *part, void *p, uint32_t channels)
{
    for (int n = 0;; ++n) {
        assert_true(n < MOST_ALLOCATIONS);
        memset(p, 0xA5, part->size); /* as memory comes: init may not rely on what is there */
        arm(n);
        const bool made = part->init(p, 48000.0, channels);
        const bool complete = !failed;
        part->done(p);
        part->done(p); /* twice is as good as once */
        disarm();
        if (made != complete)
            fail_msg("%s, allocation %d fails: init says %d", part->name, n, made);
        if (blocks)
            fail_msg("%s, allocation %d fails: %ld blocks are left", part->name, n, blocks);
        if (complete)
            return;
    }
}

static void init_fails_cleanly(void **state)
{
    (void)state;
    need_own_allocator();
    for (int i = 0; i < PARTS; ++i) {
        void *p = malloc(parts[i].size);
        assert_non_null(p);
        for (uint32_t channels = 1; channels <= DSP_CHANNELS; ++channels)
            fail_each(&parts[i], p, channels);
        free(p);
    }
}

static void refuse(const Part *part, void *p, double rate, uint32_t channels)
{
    memset(p, 0xA5, part->size);
    arm(MOST_ALLOCATIONS);
    const bool made = part->init(p, rate, channels);
    part->done(p);
    disarm();
    if (made)
        fail_msg("%s starts at %g Hz with %u channels", part->name, rate, channels);
    assert_int_equal(blocks, 0);
}

static void init_refuses_what_is_out_of_range(void **state)
{
    (void)state;
    for (int i = 0; i < PARTS; ++i) {
        void *p = malloc(parts[i].size);
        assert_non_null(p);
        for (int r = 0; parts[i].by_rate && r < BAD_RATES; ++r)
            refuse(&parts[i], p, bad_rates[r], 1);
        if (parts[i].by_channels) {
            refuse(&parts[i], p, 48000.0, 0);
            refuse(&parts[i], p, 48000.0, DSP_CHANNELS + 1);
        }
        free(p);
    }
}

int main(void)
{
    static const Property properties[] = {
        {"each allocation fails in turn", each_allocation_fails, NULL},
        {"bad rates are refused", bad_rates_are_refused, NULL},
        {"memory is bounded", memory_is_bounded, NULL},
        {"states without memory are errors", states_without_memory_are_errors, every_learns},
    };
    const struct CMUnitTest inside[] = {
        cmocka_unit_test(init_fails_cleanly),
        cmocka_unit_test(init_refuses_what_is_out_of_range),
    };
    const int broken = every_run("test_allocation", properties, sizeof properties / sizeof *properties);
    return broken + cmocka_run_group_tests(inside, NULL, NULL);
}
