/* Chain's memory in one schema: it has room, it comes back exactly, each of the five finds its own in it, and damage
 * leaves out what it hits alone. */
#include "chain.h"
#include "learned_room.h"
#include "play.h"
#include "singer.h"
#include "starter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 16000.0

static ChainParams learning; /* as it comes up, but for look-ahead and air */

static SingerTake take;

static void run(Player *p, uint32_t from, uint32_t n)
{
    static float out[2][1600];
    for (uint32_t at = from; at + 1600 <= from + n; at += 1600)
        play(p, (const float *const[]){take.audio + at}, (float *const[]){out[0], out[1]}, 1600);
}

static void teach_as(Player *p, const Processor *is, const void *params, uint32_t n)
{
    assert_true(play_init(p, is, RATE, 1));
    play_set(p, params);
    run(p, 0, n);
}

static void teach(Player *p, uint32_t n)
{
    teach_as(p, &chain, &learning, n);
}

static void it_has_room(void **state)
{
    (void)state;
    Learned l;
    assert_true(learned_init(&l, &chain_schema));
    learned_done(&l);
    assert_true(learned_room(&chain_schema) <= LEARNED_MOST);
}

/* As a host writes numbers: with eight decimals. */
static void through_text(Learned *l)
{
    for (uint32_t f = 0; f < learned_fields(&chain_schema); ++f)
        for (uint32_t i = 0; i < l->count[f]; ++i) {
            char text[64];
            float *value = learned_field(&chain_schema, l, f) + i;
            snprintf(text, sizeof text, "%.8f", (double)*value);
            assert_true(strtof(text, NULL) == *value);
        }
}

static void it_comes_back_exactly(void **state)
{
    (void)state;
    Player one, other;
    Learned l = LEARNED_WITH_ROOM, again = LEARNED_WITH_ROOM;
    teach(&one, take.frames);
    play_get(&one, &l);
    learned_check(&chain_schema, &l);
    through_text(&l);
    assert_true(play_init(&other, &chain, RATE, 1));
    play_put(&other, &l);
    play_get(&other, &again);
    assert_true(learned_same(&chain_schema, &l, &again));
    const Chain *a = one.dsp, *b = other.dsp;
    assert_true(a->tone.memory.notes.pieces > 50);
    assert_int_equal(a->tone.memory.notes.pieces, b->tone.memory.notes.pieces);
    assert_memory_equal(a->tone.memory.notes.piece, b->tone.memory.notes.piece,
                        a->tone.memory.notes.pieces * sizeof a->tone.memory.notes.piece[0]);
    assert_memory_equal(&a->compressor.memory.filling, &b->compressor.memory.filling,
                        sizeof a->compressor.memory.filling);
    assert_true(a->compressor.memory.raised != 0.0 && a->compressor.memory.raised == b->compressor.memory.raised);
    play_done(&one);
    play_done(&other);
}

/* Right after a fresh start the levels in force are those from before, and these are what is stored. */
static void a_fresh_start_is_stored_by_what_is_in_force(void **state)
{
    (void)state;
    Player one, other;
    Learned l = LEARNED_WITH_ROOM, again = LEARNED_WITH_ROOM;
    const ChainParams hold = starter_held(learning);
    teach(&one, take.frames);
    const Levels before = ((const Chain *)one.dsp)->compressor.memory.filling;
    play_set(&one, &hold);
    run(&one, 0, 1600);
    play_set(&one, &learning);
    run(&one, 0, 1600);
    play_get(&one, &l);
    assert_true(play_init(&other, &chain, RATE, 1));
    play_put(&other, &l);
    const CompressorMemory *m = &((const Chain *)other.dsp)->compressor.memory;
    assert_memory_equal(&m->kept, &before, sizeof before);
    assert_int_equal(m->filling.frames, 0);
    play_get(&other, &again);
    assert_true(learned_same(&chain_schema, &l, &again));
    play_done(&one);
    play_done(&other);
}

static void nothing_put_is_nothing_known(void **state)
{
    (void)state;
    Player one, fresh;
    Learned nothing = LEARNED_WITH_ROOM, a = LEARNED_WITH_ROOM, b = LEARNED_WITH_ROOM;
    teach(&one, take.frames);
    play_put(&one, &nothing);
    assert_true(play_init(&fresh, &chain, RATE, 1));
    play_put(&fresh, &nothing);
    play_get(&one, &a);
    play_get(&fresh, &b);
    assert_true(learned_same(&chain_schema, &a, &b));
    play_done(&one);
    play_done(&fresh);
}

static void assert_renewed(const Player *p, Learned *copy, Learned *whole)
{
    processor_renew(p->kind, p->dsp, copy);
    play_get(p, whole);
    assert_true(learned_same(p->kind->learned.schema, copy, whole));
}

/* Two copies by turns, as between run() and a save: each lacks what came since its own turn. notes: offset of the
 * pieces in the processor's struct. */
static void renew(const Processor *is, const void *learn, const void *hold, size_t notes)
{
    enum { TURN = 1600, AFRESH = 60, PUT = 55 };
    Player one;
    Learned first = LEARNED_WITH_ROOM, copy[2] = {LEARNED_WITH_ROOM, LEARNED_WITH_ROOM}, whole = LEARNED_WITH_ROOM;
    uint32_t pieces = 0;
    teach_as(&one, is, learn, TURN);
    play_get(&one, &first);
    for (uint32_t turn = 1; (turn + 1) * TURN <= take.frames; ++turn) {
        if (turn == AFRESH || turn == AFRESH + 1)
            play_set(&one, turn == AFRESH ? hold : learn);
        if (turn == PUT) {
            assert_renewed(&one, &copy[turn % 2], &whole);
            play_put(&one, &first);
            assert_renewed(&one, &copy[turn % 2], &whole);
        }
        run(&one, turn * TURN, TURN);
        assert_renewed(&one, &copy[turn % 2], &whole);
        const uint32_t now = ((const ResonanceMemory *)(const void *)((const char *)one.dsp + notes))->pieces;
        pieces = now > pieces ? now : pieces;
    }
    assert_true(pieces > 20);
    play_done(&one);
}

static void what_is_renewed_is_as_if_got_anew(void **state)
{
    (void)state;
    const ChainParams hold = starter_held(learning);
    renew(&chain, &learning, &hold, offsetof(Chain, tone.memory.notes));
    renew(&tone, &learning.tone, &hold.tone, offsetof(Tone, memory.notes));
}

/* What has not moved is not written again, but where something else was written meanwhile. */
static void what_stands_is_left_alone(void **state)
{
    (void)state;
    Player one;
    Learned l = LEARNED_WITH_ROOM, whole = LEARNED_WITH_ROOM;
    teach(&one, take.frames / 2);
    play_get(&one, &whole);
    processor_renew(&chain, one.dsp, &l);
    const uint32_t fields = learned_fields(&chain_schema);
    for (uint32_t f = 0; f < fields; ++f)
        l.count[f] = 0;
    processor_renew(&chain, one.dsp, &l);
    for (uint32_t f = chain_schema.fields; f < fields; ++f)
        assert_int_equal(l.count[f], 0);
    assert_int_equal(l.count[0], 0); /* the pieces, */
    assert_int_equal(l.count[1], 0); /* and whether the levels are from before */
    l.dated = false;
    processor_renew(&chain, one.dsp, &l);
    assert_true(learned_same(&chain_schema, &l, &whole));
    play_done(&one);
}

static void pieces_are_kept_in_sixteenths(void **state)
{
    (void)state;
    ResonanceMemory m = {.pieces = 1};
    m.piece[0] = (ResonancePiece){.hz = 220.f, .count = 3, .level = {-30.03f, -300.f, 40.f}};
    chain_round_piece(&m);
    assert_true(m.piece[0].level[0] == -30.f);
    assert_true(m.piece[0].level[1] == -239.9375f && m.piece[0].level[2] == 15.9375f); /* the ends */
    m.pieces = 0;
    chain_round_piece(&m);
}

static int sing(void **state)
{
    (void)state;
    learning = starter_chain;
    learning.compressor.look_ahead = learning.tone.air_lift = 0.0;
    learning.tone.air_freq = 6000.0;
    const SingerSpec spec = {.voice = SINGER_ALTO, .seed = 3, .rate = RATE, .seconds = 12, .gain_db = -9.0};
    return !singer_sing(&spec, &take);
}

static int hush(void **state)
{
    (void)state;
    singer_free(&take);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_has_room),
        cmocka_unit_test(it_comes_back_exactly),
        cmocka_unit_test(a_fresh_start_is_stored_by_what_is_in_force),
        cmocka_unit_test(nothing_put_is_nothing_known),
        cmocka_unit_test(what_is_renewed_is_as_if_got_anew),
        cmocka_unit_test(what_stands_is_left_alone),
        cmocka_unit_test(pieces_are_kept_in_sixteenths),
    };
    return cmocka_run_group_tests(tests, sing, hush);
}
