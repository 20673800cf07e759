/* render and files that are damaged on purpose: a short, repeatable part of what `make fuzz` does at length, and the
 * files it once found. */
#include "fuzz/broken.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "seeds.h"

enum { HEAD = 96 };

static void must_be_met(Broken *b, BrokenWay way, const uint8_t *bytes, size_t size, const char *what, size_t where)
{
    if (!broken_case(b, way, bytes, size))
        fail_msg("%s, %zu", what, where);
}

static void whole_files_are_rendered(void **state)
{
    static uint8_t bytes[WHOLE_ROOM];
    const uint64_t before = broken_totals(*state)->rendered;
    uint32_t files = 0;
    for (uint32_t kind = 0; kind < WHOLE_KINDS; ++kind)
        for (int way = BROKEN_CHAIN; way < BROKEN_WAYS; ++way) {
            const size_t size = whole_file(kind, bytes);
            if (size)
                must_be_met(*state, (BrokenWay)way, bytes, size, whole_name(kind), (size_t)way);
            files += size && way != BROKEN_READ;
        }
    assert_int_equal(broken_totals(*state)->rendered - before, files);
    assert_true(files >= 3 * 10);
}

static void cut_off_anywhere(void **state)
{
    static uint8_t bytes[WHOLE_ROOM];
    for (uint32_t kind = 0; kind < WHOLE_KINDS; ++kind) {
        const size_t size = whole_file(kind, bytes);
        for (size_t cut = 0; cut < size; cut += cut < HEAD ? 1 : 61)
            must_be_met(*state, BROKEN_READ, bytes, cut, whole_name(kind), cut);
        for (size_t cut = 1; cut < size; cut += 1 + size / 2)
            must_be_met(*state, BROKEN_CHAIN, bytes, cut, whole_name(kind), cut);
    }
}

static void any_bit_of_the_head_turned(void **state)
{
    static uint8_t bytes[WHOLE_ROOM];
    for (uint32_t kind = 0; kind < WHOLE_KINDS; ++kind) {
        const size_t size = whole_file(kind, bytes);
        for (size_t at = 0; at < 8 * (size_t)HEAD && at / 8 < size; ++at) {
            bytes[at / 8] ^= (uint8_t)(1U << at % 8);
            must_be_met(*state, at % 97 ? BROKEN_READ : BROKEN_ADVISE, bytes, size, whole_name(kind), at);
            bytes[at / 8] ^= (uint8_t)(1U << at % 8);
        }
    }
}

static void put(uint8_t *at, uint32_t value, uint32_t size)
{
    for (uint32_t i = 0; i < size; ++i)
        at[i] = (uint8_t)(value >> 8 * i);
}

/* The fields of a WAV's head, by its canonical layout. */
static void absurd_heads(void **state)
{
    static const struct {
        const char *what;
        uint32_t at, size;
    } field[] = {{"size of the file", 4, 4},
                 {"size of the format", 16, 4},
                 {"format", 20, 2},
                 {"channels", 22, 2},
                 {"rate", 24, 4},
                 {"bytes a second", 28, 4},
                 {"bytes a frame", 32, 2},
                 {"bits", 34, 2},
                 {"size of the data", 40, 4}};
    static const uint32_t value[] = {0,       1,        2,          3,           7,          16,    255,
                                     256,     1024,     7999,       32767,       32768,      65535, 384001,
                                     1000000, 16777216, 2147483647, 2147483648U, 4294967295U};
    static uint8_t bytes[WHOLE_ROOM];
    for (uint32_t kind = 0; kind < 4; ++kind)
        for (size_t f = 0; f < sizeof field / sizeof *field; ++f)
            for (size_t v = 0; v < sizeof value / sizeof *value; ++v) {
                const size_t size = whole_file(kind, bytes);
                const BrokenWay way = (f + v) % 8 == 0 ? BROKEN_CHAIN : (f + v) % 8 == 4 ? BROKEN_ADVISE : BROKEN_READ;
                put(bytes + field[f].at, value[v], field[f].size);
                must_be_met(*state, way, bytes, size, field[f].what, value[v]);
            }
}

static void no_sound_at_all(void **state)
{
    static const char text[] = "These are words, and no sound.\n";
    static const uint8_t zeros[4096];
    static uint8_t random[4096];
    uint32_t seed = seeded(1);
    for (size_t i = 0; i < sizeof random; ++i) {
        seed = seed * 1664525U + 1013904223U;
        random[i] = (uint8_t)(seed >> 24);
    }
    for (int way = BROKEN_CHAIN; way < BROKEN_WAYS; ++way) {
        must_be_met(*state, (BrokenWay)way, zeros, 0, "an empty file", (size_t)way);
        must_be_met(*state, (BrokenWay)way, zeros, sizeof zeros, "zeros", (size_t)way);
        must_be_met(*state, (BrokenWay)way, (const uint8_t *)text, sizeof text, "words", (size_t)way);
        must_be_met(*state, (BrokenWay)way, random, sizeof random, "noise", (size_t)way);
    }
    const BrokenTotals *t = broken_totals(*state);
    figure_note("Suite", "broken files given to render", (double)t->files, "files");
    figure_note("Suite", "refused with a reason", (double)t->refused, "files");
}

static int open_broken(void **state)
{
    const char *build = getenv("LINCTUS_BUILD");
    char bundle[4000];
    snprintf(bundle, sizeof bundle, "%s/linctus.lv2", build ? build : "build");
    *state = broken_open(bundle);
    return *state ? 0 : -1;
}

static int close_broken(void **state)
{
    broken_close(*state);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_files_are_rendered),
        cmocka_unit_test(cut_off_anywhere),
        cmocka_unit_test(any_bit_of_the_head_turned),
        cmocka_unit_test(absurd_heads),
        cmocka_unit_test(no_sound_at_all),
    };
    return cmocka_run_group_tests(tests, open_broken, close_broken);
}
