/* What came before is known again, at any gain and wherever it begins; what is new is not. The stretches are reckoned
 * plainly beside it, as heard_before.h has them: all crossings first, then all cuts. */
#include "heard_before.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"

enum { RATE = 8000, CELL = DSP_CELL, KNOWN = RATE * 36 / 100, MOST = 1 << 17 };

static uint32_t next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 16;
}

/* Noise through a low-pass, which crosses zero as often as a voice: some 500 times a second. */
static float *noise(uint32_t n, uint32_t seed)
{
    float *x = calloc(n, sizeof *x);
    double a = 0.0, b = 0.0;
    assert_non_null(x);
    for (uint32_t i = 0; i < n; ++i) {
        a += 0.4 * (((int)next(&seed) - 32768) / 32768.0 - a);
        b += 0.4 * (a - b);
        x[i] = (float)b;
    }
    return x;
}

typedef struct {
    HeardBefore h;
    HeardStretches known;
} Ear;

static Ear ear(void)
{
    Ear e = {.known = {.count = 0}};
    heard_before_init(&e.h, RATE);
    return e;
}

/* Share of the cells that had come before, as known 0.36 s later; the first `out` cells are left out. */
static double share(Ear *e, const float *x, uint32_t n, double gain, uint32_t out)
{
    uint32_t again = 0, cells = 0;
    for (uint32_t at = 0; at + CELL <= n; at += CELL, ++cells) {
        float y[CELL];
        for (uint32_t i = 0; i < CELL; ++i)
            y[i] = (float)(gain * (1.0 + 0.5 * sin(1e-4 * (at + i)))) * x[at + i];
        heard_before_process(&e->h, &e->known, y, CELL);
        again += cells >= out && heard_before_at(&e->h, KNOWN);
    }
    return (double)again / (cells - out);
}

static void what_is_new_is_new(void **state)
{
    (void)state;
    Ear e = ear();
    float *x = noise(60 * RATE, 1);
    assert_true(share(&e, x, 60 * RATE, 1.0, 0) == 0.0);
    assert_int_equal(e.known.thinned, 0);
    assert_int_equal(e.h.remembered, e.known.count);
    free(x);
}

/* Passes of 10.1 s, each at a gain of its own that moves besides. Nothing new is remembered from the third on. */
static void a_loop_is_known_again(void **state)
{
    (void)state;
    Ear e = ear();
    const uint32_t n = 10 * RATE + 801;
    float *x = noise(n, 2);
    assert_true(share(&e, x, n, 0.3, 0) == 0.0);
    figure_at_least("Heard before", "a loop: of its second pass known again",
                    100.0 * share(&e, x, n, 0.001, KNOWN / CELL), 95.0, "%", "our own");
    share(&e, x, n, 1.0, 0);
    const uint32_t remembered = e.h.remembered;
    assert_true(share(&e, x, n, 2.0, 0) == 1.0 && share(&e, x, n, 0.5, 0) == 1.0);
    assert_int_equal(e.h.remembered, remembered);
    float *other = noise(n, 3);
    assert_true(share(&e, other, n, 1.0, KNOWN / CELL + RATE * 45 / 100 / CELL) == 0.0);
    free(other);
    free(x);
}

/* Rests of digital silence between, of other lengths each time. */
static void rests_may_be_longer(void **state)
{
    (void)state;
    Ear e = ear();
    float *x = noise(4 * RATE, 4), *rest = calloc(RATE, sizeof *rest);
    for (uint32_t pass = 0; pass < 4; ++pass) {
        const double again = share(&e, x, 4 * RATE, 1.0, KNOWN / CELL + 4);
        assert_true(pass ? again == 1.0 : again == 0.0);
        share(&e, rest, RATE / 2 + 137 * pass, 1.0, 0);
    }
    free(rest);
    free(x);
}

/* Six minutes fill the memory three times over. */
static void a_whole_song_is_known_again(void **state)
{
    (void)state;
    Ear e = ear();
    const uint32_t n = 360 * RATE;
    float *x = noise(n, 5);
    assert_true(share(&e, x, n, 1.0, 0) == 0.0);
    assert_int_equal(e.known.thinned, 2);
    assert_true(e.known.count <= HEARD_BEFORE_KEPT);
    for (uint32_t i = 0; i < e.known.count; ++i)
        assert_int_equal(e.known.hash[i] % 4, 0);
    figure_at_least("Heard before", "a song of six minutes: of its second time known again",
                    100.0 * share(&e, x, n, 1.0, 0), 99.0, "%", "our own");
    free(x);
}

/* ---- Beside it, plainly ---- */

typedef struct {
    uint32_t at[MOST], count; /* samples at which it rises through zero */
} Crossings;

static uint32_t mixed(uint32_t x)
{
    x ^= x >> 16;
    x *= 0x85ebca6bu;
    x ^= x >> 13;
    x *= 0xc2b2ae35u;
    return x ^ x >> 16;
}

static void find_crossings(Crossings *c, const float *x, uint32_t n)
{
    c->count = 0;
    for (uint32_t i = 0; i < n; ++i)
        if (x[i] > 0.f && (!i || x[i - 1] <= 0.f))
            c->at[c->count++] = i;
}

/* Is there a cut at crossing k, by the eight distances up to it? */
static bool cuts_here(const Crossings *c, uint32_t k)
{
    uint32_t hash = 0;
    for (uint32_t j = k >= 8 ? k - 7 : 1; j <= k; ++j)
        hash = 16 * hash ^ mixed(c->at[j] - c->at[j - 1]);
    return mixed(hash) / 4294967296.0 < 6.0 * (c->at[k] - c->at[k - 1]) / RATE;
}

/* Hashes of all stretches of eight crossings or more; returns how many. */
static uint32_t reckon(const Crossings *c, uint32_t *hash)
{
    uint32_t found = 0, sum = 0, crossings = 0, began = c->at[0];
    for (uint32_t k = 1; k < c->count; ++k) {
        const uint32_t since = c->at[k] - c->at[k - 1];
        const bool pause = since > RATE / 20;
        if (!pause) {
            sum = mixed(sum + since);
            ++crossings;
        }
        const bool cut = pause || cuts_here(c, k) || c->at[k] - began >= RATE * 3 / 10;
        if (cut && crossings >= 8)
            hash[found++] = sum & 0xffffffu;
        if (!cut || (crossings < 8 && !pause))
            continue;
        sum = crossings = 0;
        began = c->at[k];
    }
    return found;
}

/* Noise with pauses about as long as those that end a stretch, and low notes between. */
static float *with_pauses(uint32_t n)
{
    float *x = noise(n, 6);
    uint32_t seed = 7;
    for (uint32_t at = 0; at + RATE / 8 < n; at += RATE / 8 + next(&seed) % RATE) {
        const uint32_t rest = RATE / 20 - 20 + next(&seed) % 40;
        for (uint32_t i = 0; i < rest; ++i)
            x[at + i] = next(&seed) % 2 ? 0.f : -0.1f;
    }
    for (uint32_t i = n / 2; i < n; ++i)
        x[i] += 0.8f * (float)sin(2.0 * DSP_PI * (30.0 + 2.0 * sin(3e-5 * i)) * i / RATE);
    return x;
}

static void stretches_are_as_reckoned(void **state)
{
    (void)state;
    static Crossings c;
    static uint32_t hash[HEARD_BEFORE_KEPT * 2];
    Ear e = ear();
    const uint32_t n = 60 * RATE;
    float *x = with_pauses(n);
    find_crossings(&c, x, n);
    const uint32_t found = reckon(&c, hash);
    for (uint32_t at = 0; at < n; at += CELL)
        heard_before_process(&e.h, &e.known, x + at, CELL);
    assert_in_range(found, 300, HEARD_BEFORE_KEPT);
    assert_in_range(e.known.count, found, found + 1); /* the pause at the end */
    assert_memory_equal(e.known.hash, hash, found * sizeof *hash);
    free(x);
}

/* Which cells came before follows from the stretches: known for a quarter of a second, however it is cut. */
static void it_matters_not_how_it_is_cut(void **state)
{
    (void)state;
    Ear whole = ear(), cut = ear();
    const uint32_t n = 3 * RATE;
    float *x = with_pauses(n);
    uint32_t seed = 8;
    for (uint32_t at = 0; at < 3 * n; at += CELL) {
        const float *in = x + at % n;
        heard_before_process(&whole.h, &whole.known, in, CELL);
        for (uint32_t done = 0, part; done < CELL; done += part) {
            part = 1 + next(&seed) % (CELL - done);
            heard_before_process(&cut.h, &cut.known, in + done, part);
        }
        for (uint32_t ago = KNOWN; ago <= KNOWN + RATE / 4; ago += 80)
            assert_true(heard_before_at(&whole.h, ago) == heard_before_at(&cut.h, ago));
    }
    assert_true(heard_before_at(&whole.h, KNOWN + RATE / 4));
    assert_memory_equal(&whole, &cut, sizeof whole);
    free(x);
}

/* The edge between old and new lies where it is, to a slot and a stretch of the sound. */
static void an_answer_lies_on_its_sound(void **state)
{
    (void)state;
    Ear e = ear();
    float *x = noise(2 * RATE, 9), *rest = calloc(RATE, sizeof *rest), *other = noise(2 * RATE, 10);
    share(&e, x, 2 * RATE, 1.0, 0);
    share(&e, rest, RATE, 1.0, 0);
    share(&e, x, 2 * RATE, 1.0, 0);
    share(&e, rest, RATE / 5, 1.0, 0); /* its first 50 ms belong to the sound before */
    assert_true(heard_before_at(&e.h, RATE / 5 + RATE / 50) && heard_before_at(&e.h, RATE / 5 - RATE / 50));
    assert_false(heard_before_at(&e.h, RATE / 5 - RATE / 15));
    assert_false(heard_before_at(&e.h, RATE));
    heard_before_reset(&e.h);
    assert_false(heard_before_at(&e.h, RATE / 5 + RATE / 50));
    assert_true(share(&e, x, 2 * RATE, 1.0, KNOWN / CELL + 4) == 1.0); /* a reset forgets no stretch */
    free(x);
    free(rest);
    free(other);
}

/* 0.45 s that came before, after 0.4 s that did not, a little over a pause apart. */
static void what_is_new_before_it_stays_new(void **state)
{
    (void)state;
    Ear e = ear();
    const uint32_t rest = RATE * 6 / 100;
    float *x = noise(2 * RATE, 12), *silence = calloc(rest, sizeof *silence), *other = noise(RATE, 13);
    share(&e, x, 2 * RATE, 1.0, 0);
    share(&e, silence, rest, 1.0, 0);
    share(&e, other, RATE * 2 / 5, 1.0, 0);
    share(&e, silence, rest, 1.0, 0);
    share(&e, x, RATE * 45 / 100, 1.0, 0);
    share(&e, silence, rest, 1.0, 0);
    assert_true(heard_before_at(&e.h, RATE * 48 / 100));
    assert_false(heard_before_at(&e.h, RATE * 60 / 100));
    free(x);
    free(silence);
    free(other);
}

/* As one that has heard nothing but knows as much, though the last stretch came before and goes on. */
static void a_reset_breaks_off(void **state)
{
    (void)state;
    Ear a = ear(), b = ear();
    float *x = noise(4 * RATE, 14), *other = noise(2 * RATE, 15), high[RATE / 100];
    for (uint32_t i = 0; i < RATE / 100; ++i)
        high[i] = 1.f;
    a.known.thinned = 3;
    for (int pass = 0; pass < 2; ++pass)
        share(&a, x, 4 * RATE, 1.0, 0);
    heard_before_process(&a.h, &a.known, high, RATE / 100);
    assert_true(a.h.again && a.h.above && !a.h.pausing);
    heard_before_reset(&a.h);
    b.known = a.known;
    other[0] = 1.f;
    for (uint32_t at = 0; at < 2 * RATE; at += CELL) {
        heard_before_process(&a.h, &a.known, other + at, CELL);
        heard_before_process(&b.h, &b.known, other + at, CELL);
        assert_true(heard_before_at(&a.h, CELL) == heard_before_at(&b.h, CELL) && a.h.again == b.h.again);
        assert_int_equal(a.h.stretch, b.h.stretch);
    }
    free(x);
    free(other);
}

/* Each stretch that is judged has one chance in two to be written; hence many takes. */
static void nothing_is_written_past_the_end(void **state)
{
    (void)state;
    for (uint32_t seed = 11; seed < 19; ++seed) {
        Ear e = ear();
        e.known.count = HEARD_BEFORE_KEPT; /* of hashes that are all 0, which no thinning takes */
        float *x = noise(20 * RATE, seed);
        share(&e, x, 20 * RATE, 1.0, 0);
        assert_int_equal(e.known.count, HEARD_BEFORE_KEPT);
        assert_true(e.known.thinned > 3 && e.known.thinned < HEARD_BEFORE_MOST_THINNED);
        free(x);
    }
}

/* What is left in the memory's room beyond its count, as after thinning, is not known. */
static void what_was_dropped_is_new(void **state)
{
    (void)state;
    Ear a = ear(), b = ear();
    float *x = noise(4 * RATE, 20);
    share(&a, x, 4 * RATE, 1.0, 0);
    b.known = a.known;
    b.known.count = 0;
    assert_true(share(&b, x, 4 * RATE, 1.0, 0) == 0.0);
    assert_int_equal(b.known.count, a.known.count);
    free(x);
}

/* Crossings just as far apart as a pause begins are none yet. */
static void a_pause_is_longer_than_its_limit(void **state)
{
    (void)state;
    for (uint32_t apart = RATE / 20; apart <= RATE / 20 + 1; ++apart) {
        Ear e = ear();
        for (uint32_t i = 0; i < 8 * apart; ++i) {
            const float x = i % apart ? 0.f : 1.f;
            heard_before_process(&e.h, &e.known, &x, 1);
        }
        assert_int_equal(e.h.crossings, apart > RATE / 20 ? 0 : 7);
    }
}

/* ---- Slots, plainly ---- */

enum { SLOT = RATE / 100, SLOTS_KEPT = 64, SECONDS = 480, SLOTS_MOST = 100 * SECONDS + 1 };

typedef struct {
    bool known[SLOTS_MOST];
    uint32_t last; /* the last that came before */
} Slots;

/* Takes in a sample; a stretch that it ended, and that came before, is marked: every slot that begins in it. Returns
 * whether one was. */
static bool hear_sample(Ear *e, Slots *s, float x)
{
    const HeardBefore was = e->h;
    heard_before_process(&e->h, &e->known, &x, 1);
    if (was.pausing || e->h.began == was.began || !e->h.again)
        return false;
    for (uint64_t t = was.began; t < e->h.began; ++t)
        if (t % SLOT == 0)
            s->known[s->last = (uint32_t)(t / SLOT)] = true;
    return true;
}

/* The first and the last sample of every slot up to now, farther back than is remembered. */
static void check_slots(const Ear *e, const Slots *s)
{
    const uint32_t now = (uint32_t)e->h.heard, here = now / SLOT;
    for (uint32_t slot = here < 90 ? 0 : here - 90; slot < here; ++slot) {
        const bool known = s->known[slot] && s->last - slot < SLOTS_KEPT;
        assert_true(heard_before_at(&e->h, now - slot * SLOT) == known);
        assert_true(heard_before_at(&e->h, now - slot * SLOT - SLOT + 1) == known);
    }
}

/* What came before and what is new by turns, each of any length up to a second. */
static void check_turns(const float *old, const float *other, uint32_t seed)
{
    static Slots s;
    Ear e = ear();
    s = (Slots){.last = 0};
    share(&e, old, 8 * RATE, 1.0, 0);
    heard_before_init(&e.h, RATE); /* what is known stays */
    for (uint32_t t = 0, piece = 0, n; t < SECONDS * RATE; t += n, ++piece) {
        n = piece ? 1 + next(&seed) % RATE : RATE;
        for (uint32_t i = t; i < t + n && i < SECONDS * RATE; ++i)
            if (hear_sample(&e, &s, piece % 2 ? other[i] : old[i % (8 * RATE)]))
                check_slots(&e, &s);
    }
    assert_true(s.known[0]);
}

/* Two takes of eight minutes: seldom does an edge lie just where a slot begins, or 64 slots after the last. */
static void slots_are_as_reckoned(void **state)
{
    (void)state;
    float *old = noise(8 * RATE, 22), *other = noise(SECONDS * RATE, 23);
    old[0] = 1.f;
    check_turns(old, other, 21);
    check_turns(old, other, 24);
    free(old);
    free(other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_new_is_new),          cmocka_unit_test(a_loop_is_known_again),
        cmocka_unit_test(rests_may_be_longer),         cmocka_unit_test(a_whole_song_is_known_again),
        cmocka_unit_test(stretches_are_as_reckoned),   cmocka_unit_test(it_matters_not_how_it_is_cut),
        cmocka_unit_test(an_answer_lies_on_its_sound), cmocka_unit_test(what_is_new_before_it_stays_new),
        cmocka_unit_test(a_reset_breaks_off),          cmocka_unit_test(nothing_is_written_past_the_end),
        cmocka_unit_test(what_was_dropped_is_new),     cmocka_unit_test(a_pause_is_longer_than_its_limit),
        cmocka_unit_test(slots_are_as_reckoned),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
