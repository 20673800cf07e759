/* The memory of a take: evenly spread over all of it, in order, never over its size. (Pitches and the lowest note are
 * in test_resonance.c.) */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "resonance_memory.h"

static ResonanceMemory memory;

static void add_pieces(uint32_t n)
{
    resonance_memory_clear(&memory);
    for (uint32_t i = 0; i < n; ++i) {
        const PartialsPiece p = {.count = 2, .frames = 3, .hz = 100 + 0.0625 * i, .level = {-20.0, -26.0}};
        resonance_memory_add(&memory, &p);
    }
}

static void it_is_spread_evenly(void **state)
{
    (void)state;
    static const uint32_t heard[] = {1, 699, 700, 701, 1399, 1400, 1401, 2801, 10000};
    for (size_t i = 0; i < sizeof heard / sizeof *heard; ++i) {
        add_pieces(heard[i]);
        assert_true(memory.pieces <= RESONANCE_PIECES);
        assert_true(heard[i] < RESONANCE_PIECES || memory.pieces >= RESONANCE_PIECES / 2);
        const float step = 0.0625f * (float)(1u << memory.thinned);
        for (uint32_t k = 0; k < memory.pieces; ++k)
            assert_true(memory.piece[k].hz == 100.f + step * (float)k);
        /* The last one kept is one of the last heard. */
        assert_true(100.0 + 0.0625 * heard[i] - (double)memory.piece[memory.pieces - 1].hz <= (double)step);
    }
}

static void how_long_was_heard(void **state)
{
    (void)state;
    add_pieces(500);
    assert_true(fabs(resonance_voice_heard(&memory) - 30.0) < 1e-9);
    add_pieces(50000);
    assert_true(resonance_voice_heard(&memory) == RESONANCE_FRAME * RESONANCE_FRAMES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_spread_evenly),
        cmocka_unit_test(how_long_was_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
