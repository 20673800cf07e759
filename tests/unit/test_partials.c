/* Partials: what it measures does not depend on how long it has been listening. That it measures right is seen where it
 * is used: test_resonance.c, test_tone_listens.c. */
#include "partials.h"
#include "singer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"

enum { MOST_PIECES = 400 };

/* Pieces of the take; returns how many. */
static uint32_t listen(Partials *p, const SingerTake *take, PartialsPiece *piece)
{
    uint32_t pieces = 0;
    for (uint32_t at = 0; at + DSP_CELL <= take->frames && pieces < MOST_PIECES; at += DSP_CELL) {
        memset(&piece[pieces], 0, sizeof piece[pieces]);
        pieces += partials_tick(p, &piece[pieces]);
        partials_process(p, take->audio + at, DSP_CELL);
    }
    return pieces;
}

/* The only counters of samples with 32 bits: they come round after three days or more. */
static void counters_that_come_round_change_nothing(void **state)
{
    (void)state;
    static PartialsPiece young[MOST_PIECES], old[MOST_PIECES];
    static const double rates[] = {8000.0, 48000.0};
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        SingerTake take;
        assert_true(
            singer_sing(&(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .rate = rates[r], .seconds = 8.0}, &take));
        Partials p;
        assert_true(partials_init(&p, rates[r]));
        const uint32_t pieces = listen(&p, &take, young), hop = pitch_hop(&p.voice.pitch) / p.decimate;
        partials_reset(&p);
        p.frames = (UINT32_MAX - (uint32_t)(4.0 * p.rate)) / hop / 2 * 2; /* 4 seconds to go */
        p.taken = p.frames * hop;
        const uint32_t before = p.taken;
        assert_int_equal(listen(&p, &take, old), pieces);
        assert_true(p.taken < before);
        assert_memory_equal(young, old, pieces * sizeof *young);
        figure_at_least("Tone", "pieces of voice, counters come round between them", pieces, 20.0, "", "requirement");
        partials_done(&p);
        singer_free(&take);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(counters_that_come_round_change_nothing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
