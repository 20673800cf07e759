/* What every plug-in that learns owes a session: what was learned is saved, comes back to the digit, and survives
 * whatever a damaged or foreign session holds. test_state.c looks at the same from inside the shell. */
#include "stored.h"

#include <lv2/atom/atom.h>
#include <sys/stat.h>
#include <unistd.h>

static const double RATE = 48000.0;

/* Blocks that are no multiple of the plug-ins' grid: a session never is. */
static const uint32_t blocks[] = {441, 64, 7, 1024};

static void play(Instance *i, const Audio *in, Audio *out)
{
    instance_run_cut(i, audio_in(in), out->channel, in->n, blocks, 4);
}

static char *saved(Instance *i)
{
    Error e;
    char *text = instance_save(i, &e);
    if (!text)
        fail_msg("%s", e.text);
    return text;
}

static void restore(Instance *i, const char *text)
{
    Error e;
    if (!instance_restore(i, text, true, &e))
        fail_msg("%s", e.text);
}

/* An instance that has listened to four seconds, and a moment more so that all of it has arrived. */
static Instance *listened(const Case *c)
{
    Audio in = every_take((uint32_t)(4 * RATE), RATE), out = audio_new(in.n);
    Instance *i = every_new(c, RATE, INSTANCE_PLAIN);
    instance_activate(i);
    play(i, &in, &out);
    audio_free(&in);
    audio_free(&out);
    return i;
}

static Audio on_hold(Instance *i, const Audio *in)
{
    Audio out = audio_new(in->n);
    instance_set(i, "learn", 0.f);
    play(i, in, &out);
    return out;
}

/* ---- There and back ---- */

static void something_is_learned(void **state)
{
    const Case *c = *state;
    Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN), *old = listened(c);
    char *nothing = saved(fresh), *something = saved(old);
    assert_string_not_equal(nothing, something);
    assert_non_null(strstr(something, "urn:linctus:state#"));
    free(nothing);
    free(something);
    instance_free(fresh);
    instance_free(old);
}

static void saves_again_what_was_restored(void **state)
{
    const Case *c = *state;
    Instance *old = listened(c);
    char *first = saved(old);
    Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN);
    restore(fresh, first);
    char *before_running = saved(fresh);
    assert_string_equal(before_running, first);
    Audio in = audio_new(4800), out = audio_new(4800); /* silence: nothing is learned from it */
    instance_set(fresh, "learn", 0.f);
    instance_activate(fresh);
    play(fresh, &in, &out);
    instance_set(fresh, "learn", 1.f); /* as it was saved; not run again */
    char *after_running = saved(fresh);
    assert_string_equal(after_running, first);
    free(first);
    free(before_running);
    free(after_running);
    audio_free(&in);
    audio_free(&out);
    instance_free(old);
    instance_free(fresh);
}

/* Two sessions that open the same file bounce the same bits. */
static void bounces_repeat_to_the_bit(void **state)
{
    const Case *c = *state;
    Instance *old = listened(c);
    char *text = saved(old);
    Audio in = every_take((uint32_t)(2 * RATE), RATE);
    Audio bounce[3];
    for (int k = 0; k < 3; ++k) {
        Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN);
        if (k != 1)
            restore(fresh, text); /* restored before activate, or after: hosts differ */
        instance_activate(fresh);
        if (k == 1)
            restore(fresh, text);
        bounce[k] = on_hold(fresh, &in);
        instance_free(fresh);
    }
    audio_assert_same(&bounce[0], &bounce[1], c->plugin->outs, 0, "restored after activate");
    audio_assert_same(&bounce[0], &bounce[2], c->plugin->outs, 0, "restored again");
    for (int k = 0; k < 3; ++k)
        audio_free(&bounce[k]);
    audio_free(&in);
    free(text);
    instance_free(old);
}

/* Transport stopped and started: activate clears history and keeps what was learned. */
static void activate_keeps_what_was_learned(void **state)
{
    const Case *c = *state;
    Instance *old = listened(c), *fresh = every_new(c, RATE, INSTANCE_PLAIN);
    char *text = saved(old);
    restore(fresh, text);
    instance_deactivate(old);
    instance_activate(old);
    instance_activate(fresh);
    Audio in = every_take((uint32_t)(2 * RATE), RATE), a = on_hold(fresh, &in), b = on_hold(old, &in);
    audio_assert_same(&a, &b, c->plugin->outs, 0, "activated again");
    char *after = saved(old);
    instance_set(old, "learn", 1.f);
    free(after);
    after = saved(old);
    assert_string_equal(after, text);
    free(after);
    free(text);
    audio_free(&in);
    audio_free(&a);
    audio_free(&b);
    instance_free(old);
    instance_free(fresh);
}

static void a_folder_does_what_a_text_does(void **state)
{
    const Case *c = *state;
    char folder[64] = "/tmp/linctus-session-XXXXXX", path[128];
    assert_non_null(mkdtemp(folder));
    Error e;
    Instance *old = listened(c), *fresh = every_new(c, RATE, INSTANCE_PLAIN);
    assert_true(instance_save_to(old, folder, &e));
    assert_true(instance_restore_from(fresh, folder, true, &e));
    char *want = saved(old), *got = saved(fresh);
    assert_string_equal(got, want);
    static const char *const files[] = {"state.ttl", "manifest.ttl"};
    for (int i = 0; i < 2; ++i) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    rmdir(folder);
    free(want);
    free(got);
    instance_free(old);
    instance_free(fresh);
}

/* A take recorded at one rate, a session at another: what was learned is about the voice, not the file. */
static void another_rate_takes_the_state_over(void **state)
{
    const Case *c = *state;
    static const double rates[] = {8000.0, 44100.0, 192000.0};
    Instance *old = listened(c);
    char *text = saved(old);
    for (int r = 0; r < 3; ++r) {
        Instance *fresh = every_new(c, rates[r], INSTANCE_PLAIN);
        restore(fresh, text);
        char *again = saved(fresh);
        assert_string_equal(again, text);
        free(again);
        Audio in = every_take((uint32_t)(0.5 * rates[r]), rates[r]);
        instance_activate(fresh);
        Audio out = on_hold(fresh, &in);
        audio_assert_finite(&out, c->plugin->outs, "restored at another rate");
        audio_free(&in);
        audio_free(&out);
        instance_free(fresh);
    }
    free(text);
    instance_free(old);
}

static void hold_learns_nothing(void **state)
{
    const Case *c = *state;
    Instance *i = listened(c);
    instance_set(i, "learn", 0.f);
    Audio in = every_take(4800, RATE);
    Audio settle = on_hold(i, &in); /* the switch takes hold at the next grid point */
    char *before = saved(i);
    Audio loud = every_take((uint32_t)(4 * RATE), RATE);
    for (uint32_t k = 0; k < loud.n; ++k) {
        loud.channel[0][k] *= 0.1f;
        loud.channel[1][k] *= 0.1f;
    }
    Audio out = on_hold(i, &loud);
    char *after = saved(i);
    assert_string_equal(after, before);
    free(before);
    free(after);
    audio_free(&in);
    audio_free(&settle);
    audio_free(&loud);
    audio_free(&out);
    instance_free(i);
}

/* ---- Damage ---- */

static bool same_state(const Stored *a, const Stored *b)
{
    bool same = a->items == b->items;
    for (int k = 0; k < a->items && same; ++k)
        same = a->item[k].key == b->item[k].key && a->item[k].type == b->item[k].type &&
               a->item[k].size == b->item[k].size && !memcmp(a->item[k].value, b->item[k].value, a->item[k].size);
    return same;
}

static void stores_portable_plain_data(void **state)
{
    const Case *c = *state;
    static Stored s;
    Instance *i = listened(c);
    save_raw(c, i, &s);
    assert_true(s.items >= 2);
    for (int k = 0; k < s.items; ++k) {
        assert_true((s.item[k].flags & LV2_STATE_IS_POD) && (s.item[k].flags & LV2_STATE_IS_PORTABLE));
        assert_true(s.item[k].type == host_urid(c->host, LV2_ATOM__Float) ||
                    s.item[k].type == host_urid(c->host, LV2_ATOM__Vector));
    }
    instance_free(i);
}

typedef enum { GONE, WRONG_TYPE, TOO_SHORT, TOO_LONG, EMPTY, NOT_A_NUMBER, ABSURD, DAMAGES } Damage;

static const char *const damage_name[] = {"gone",  "of another type", "too short", "too long",
                                          "empty", "not a number",    "absurd"};

static void damage_item(const Case *c, Stored *s, int k, Damage damage)
{
    const float nan = NAN, absurd = 1e30f;
    float *last = (float *)(void *)(s->item[k].value + s->item[k].size - sizeof(float));
    switch (damage) {
    case GONE:
        s->item[k].key = 0;
        break;
    case WRONG_TYPE:
        s->item[k].type = host_urid(c->host, LV2_ATOM__String);
        break;
    case TOO_SHORT:
        s->item[k].size -= 1;
        break;
    case TOO_LONG:
        s->item[k].size += 2;
        break;
    case EMPTY:
        s->item[k].size = 0;
        break;
    case NOT_A_NUMBER:
        memcpy(last, &nan, sizeof nan);
        break;
    default:
        memcpy(last, &absurd, sizeof absurd);
        break;
    }
}

static bool is_version(const Case *c, const Stored *s, int k)
{
    return s->item[k].key == host_urid(c->host, "urn:linctus:state#version");
}

/* What a save has to give after this was restored: all fields that are whole, and no others. */
static Stored *what_is_whole(const Case *c, const Stored *good, int damaged)
{
    Stored *want = malloc(sizeof *want);
    assert_non_null(want);
    *want = *good;
    if (is_version(c, good, damaged))
        return want;
    --want->items;
    memmove(&want->item[damaged], &want->item[damaged + 1], sizeof want->item[0] * (size_t)(want->items - damaged));
    return want;
}

/* A later version, as a damaged one reads, is no state: all stays. */
static bool is_refused(const Case *c, const Stored *s, int k, Damage damage)
{
    return is_version(c, s, k) && (damage == NOT_A_NUMBER || damage == ABSURD);
}

static void assert_saves(const Case *c, Instance *i, const Stored *want, const char *when, int k, Damage d)
{
    static Stored after;
    save_raw(c, i, &after);
    if (!same_state(want, &after))
        fail_msg("item %d %s, %s: saves another state", k, damage_name[d], when);
}

/* The damaged field alone is as if it had never been learned, also in one that knew it. */
static void damage_takes_out_its_field_alone(void **state)
{
    const Case *c = *state;
    static Stored good, bad;
    Instance *old = listened(c);
    save_raw(c, old, &good);
    Audio in = every_take(4800, RATE);
    for (int k = 0; k < good.items; ++k)
        for (Damage d = 0; d < DAMAGES; ++d) {
            bad = good;
            damage_item(c, &bad, k, d);
            Stored *want = what_is_whole(c, &good, k);
            Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN);
            restore_raw(c, fresh, &bad);
            if (!is_refused(c, &good, k, d))
                assert_saves(c, fresh, want, "in a new one", k, d);
            instance_activate(fresh);
            restore_raw(c, old, &good);
            restore_raw(c, old, &bad);
            assert_saves(c, old, want, "in one that knew it all", k, d);
            Audio a = on_hold(fresh, &in), b = on_hold(old, &in);
            audio_assert_finite(&a, c->plugin->outs, damage_name[d]);
            audio_assert_finite(&b, c->plugin->outs, damage_name[d]);
            assert_saves(c, old, want, "after a run on hold", k, d);
            audio_free(&a);
            audio_free(&b);
            free(want);
            instance_free(fresh);
        }
    audio_free(&in);
    instance_free(old);
}

/* ---- A restore replaces ---- */

/* Both know the same: they save the same, and play the same once each has heard what follows from a start. */
static void assert_alike(const Case *c, Instance *a, Instance *b, const char *what)
{
    Audio in = every_take((uint32_t)(2 * RATE), RATE);
    Instance *both[2] = {a, b};
    Audio out[2];
    char *text[2];
    for (int k = 0; k < 2; ++k) {
        instance_set(both[k], "learn", 1.f);
        instance_deactivate(both[k]);
        instance_activate(both[k]);
        out[k] = audio_new(in.n);
        play(both[k], &in, &out[k]);
        text[k] = saved(both[k]);
    }
    audio_assert_same(&out[0], &out[1], c->plugin->outs, 0, what);
    assert_string_equal(text[0], text[1]);
    for (int k = 0; k < 2; ++k) {
        audio_free(&out[k]);
        free(text[k]);
    }
    audio_free(&in);
}

/* The state of having learned nothing is a state: restored, it is there, also in one that has heard a lot. */
static void unlearned_can_be_restored(void **state)
{
    const Case *c = *state;
    Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN), *old = listened(c);
    char *nothing = saved(fresh);
    restore(old, nothing);
    char *after = saved(old);
    assert_string_equal(after, nothing);
    free(after);
    instance_set(old, "learn", 0.f);
    Audio in = every_take(4800, RATE), out = audio_new(in.n);
    play(old, &in, &out); /* takes the restore */
    instance_set(old, "learn", 1.f);
    after = saved(old);
    assert_string_equal(after, nothing);
    instance_activate(fresh);
    assert_alike(c, old, fresh, "unlearned");
    free(nothing);
    free(after);
    audio_free(&in);
    audio_free(&out);
    instance_free(fresh);
    instance_free(old);
}

/* A host's undo: A is restored, more is learned, then B comes back, which lacks a field: B it is, exactly, whether
 * run() has taken it yet or not, and in every respect as if nothing else had ever been there. */
static void undo_brings_back_what_was(void **state)
{
    const Case *c = *state;
    static Stored a, b;
    Instance *old = listened(c);
    save_raw(c, old, &a);
    Audio in = every_take((uint32_t)RATE, RATE), out = audio_new(in.n);
    for (int lacks = 0; lacks < a.items; ++lacks) {
        if (is_version(c, &a, lacks))
            continue;
        Stored *want = what_is_whole(c, &a, lacks);
        b = *want;
        Instance *fresh = every_new(c, RATE, INSTANCE_PLAIN);
        instance_activate(fresh);
        restore_raw(c, fresh, &b);
        restore_raw(c, old, &a);
        instance_set(old, "learn", 1.f);
        play(old, &in, &out);
        restore_raw(c, old, &b);
        assert_saves(c, old, want, "undone", lacks, GONE);
        instance_set(old, "learn", 0.f);
        play(old, &in, &out);
        assert_saves(c, old, want, "undone, after a run", lacks, GONE);
        assert_alike(c, old, fresh, "undone");
        free(want);
        instance_free(fresh);
    }
    audio_free(&in);
    audio_free(&out);
    instance_free(old);
}

static void foreign_keys_are_passed_over(void **state)
{
    const Case *c = *state;
    static Stored good, more, after;
    Instance *old = listened(c), *fresh = every_new(c, RATE, INSTANCE_PLAIN);
    save_raw(c, old, &good);
    more = good;
    const float value = 1.f;
    store_item(&more, host_urid(c->host, "urn:linctus:state#from_another_time"), &value, sizeof value,
               host_urid(c->host, LV2_ATOM__Float), LV2_STATE_IS_POD);
    assert_int_equal(
        instance_state(fresh)->restore(instance_handle(fresh), retrieve_item, &more, 0, host_features(c->host)),
        LV2_STATE_SUCCESS);
    save_raw(c, fresh, &after);
    assert_true(same_state(&after, &good));
    instance_free(old);
    instance_free(fresh);
}

static void an_empty_state_changes_nothing(void **state)
{
    const Case *c = *state;
    static Stored good, empty, after;
    Instance *i = listened(c);
    save_raw(c, i, &good);
    memset(&empty, 0, sizeof empty);
    instance_state(i)->restore(instance_handle(i), retrieve_item, &empty, 0, host_features(c->host));
    save_raw(c, i, &after);
    assert_true(same_state(&after, &good));
    instance_free(i);
}

static void without_a_map_it_says_so(void **state)
{
    const Case *c = *state;
    static Stored s;
    const LV2_Feature *const nothing[] = {NULL};
    Instance *i = every_new(c, RATE, INSTANCE_BARE);
    const LV2_State_Interface *iface = instance_state(i);
    memset(&s, 0, sizeof s);
    assert_int_equal(iface->save(instance_handle(i), store_item, &s, 0, nothing), LV2_STATE_ERR_NO_FEATURE);
    assert_int_equal(iface->restore(instance_handle(i), retrieve_item, &s, 0, nothing), LV2_STATE_ERR_NO_FEATURE);
    assert_int_equal(s.items, 0);
    instance_free(i);
}

/* Some hosts restore into a plug-in that runs. */
static void a_live_restore_takes_hold(void **state)
{
    const Case *c = *state;
    Instance *old = listened(c), *live = every_new(c, RATE, INSTANCE_PLAIN);
    char *text = saved(old);
    Audio in = every_take(24000, RATE), out = audio_new(in.n);
    instance_set(live, "learn", 0.f);
    instance_activate(live);
    play(live, &in, &out);
    Error e;
    assert_true(instance_restore(live, text, false, &e));
    play(live, &in, &out);
    audio_assert_finite(&out, c->plugin->outs, "restored while it ran");
    instance_set(live, "learn", 1.f);
    char *again = saved(live);
    assert_string_equal(again, text);
    free(text);
    free(again);
    audio_free(&in);
    audio_free(&out);
    instance_free(old);
    instance_free(live);
}

static const Property properties[] = {
    {"something is learned", something_is_learned, every_learns},
    {"saves again what was restored", saves_again_what_was_restored, every_learns},
    {"bounces repeat to the bit", bounces_repeat_to_the_bit, every_learns},
    {"activate keeps what was learned", activate_keeps_what_was_learned, every_learns},
    {"a folder does what a text does", a_folder_does_what_a_text_does, every_learns},
    {"another rate takes the state over", another_rate_takes_the_state_over, every_learns},
    {"hold learns nothing", hold_learns_nothing, every_learns},
    {"stores portable plain data", stores_portable_plain_data, every_learns},
    {"damage takes out its field alone", damage_takes_out_its_field_alone, every_learns},
    {"unlearned can be restored", unlearned_can_be_restored, every_learns},
    {"undo brings back what was", undo_brings_back_what_was, every_learns},
    {"foreign keys are passed over", foreign_keys_are_passed_over, every_learns},
    {"an empty state changes nothing", an_empty_state_changes_nothing, every_learns},
    {"without a map it says so", without_a_map_it_says_so, every_learns},
    {"a live restore takes hold", a_live_restore_takes_hold, every_learns},
};

int main(void)
{
    return every_run("sessions", properties, sizeof properties / sizeof *properties);
}
