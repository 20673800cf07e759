/* What Trim learns, from tables of frames of 10 ms: no sound, and milliseconds. */
#include "trim_memory.h"

#include "learned_room.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { HOP = 4800 };

typedef struct {
    TrimMemory memory;
    VoiceLevel blocks;
} Learner;

/* A stretch of a take: so many frames of a level and a peak, in dB. */
typedef struct {
    uint32_t frames;
    double db, peak;
    bool voiced;
} Stretch;

/* How many of the frames taught it something. */
static uint32_t hear(Learner *l, const Stretch *s)
{
    const ListeningFrame frame = {.power = db_to_power(s->db) * HOP / VOICE_LEVEL_FRAMES,
                                  .peak = (float)db_to_gain(s->peak),
                                  .sounding = s->voiced ? HOP / VOICE_LEVEL_FRAMES / DSP_CELL : 0};
    uint32_t learned = 0;
    for (uint32_t f = 0; f < s->frames; ++f)
        learned += trim_memory_hear(&l->memory, &l->blocks, &frame, HOP);
    return learned;
}

static Learner fresh(void)
{
    Learner l = {.blocks = {.frames = 0}};
    learned_clear(&trim_schema, &l.memory);
    return l;
}

static void without_a_voice_nothing_is_learned(void **state)
{
    Learner l = fresh();
    (void)state;
    assert_int_equal(hear(&l, &(Stretch){1000, -20.0, -5.0, false}), 0);
    const TrimFigures f = trim_memory_figures(&l.memory);
    assert_true(f.level == UNITS_DB_FLOOR && f.peak == UNITS_DB_FLOOR);
}

/* Once a hop at most; figures from the twelfth block on, to the width of a bin. */
static void a_second_of_voice_makes_a_figure(void **state)
{
    Learner l = fresh();
    (void)state;
    uint32_t blocks = 0, frames = 0;
    for (; blocks < TRIM_ENOUGH; ++frames) {
        assert_true(trim_memory_figures(&l.memory).level == UNITS_DB_FLOOR);
        const uint32_t before = tally_total(&l.memory.level, &level_memory_scale);
        hear(&l, &(Stretch){1, -20.0, -8.0, true});
        blocks += tally_total(&l.memory.level, &level_memory_scale) - before;
    }
    assert_in_range(frames, 100, 200);
    const TrimFigures f = trim_memory_figures(&l.memory);
    assert_true(fabs(f.level + 20.0) <= 0.25 && fabs(f.peak + 8.0) <= 0.25);
}

/* A louder half outweighs a softer one by its power; both are within 10 dB. */
static void the_level_is_the_mean_of_all(void **state)
{
    Learner l = fresh();
    (void)state;
    hear(&l, &(Stretch){3000, -26.0, -14.0, true});
    hear(&l, &(Stretch){3000, -20.0, -8.0, true});
    const double mean = power_to_db((db_to_power(-26.0) + db_to_power(-20.0)) / 2.0);
    assert_true(fabs(trim_memory_figures(&l.memory).level - mean) < 0.2);
    hear(&l, &(Stretch){3000, -50.0, -40.0, true}); /* under the gate */
    assert_true(fabs(trim_memory_figures(&l.memory).level - mean) < 0.2);
}

/* What fewer than 15 % of the frames reach are no peaks of the voice's own. */
static void odd_peaks_are_not_its_own(void **state)
{
    Learner l = fresh();
    (void)state;
    hear(&l, &(Stretch){900, -20.0, -9.0, true});
    hear(&l, &(Stretch){100, -20.0, -1.0, true});
    assert_true(fabs(trim_memory_figures(&l.memory).peak + 9.0) <= 0.25);
    hear(&l, &(Stretch){200, -20.0, -1.0, true});
    assert_true(fabs(trim_memory_figures(&l.memory).peak + 1.0) <= 0.25);
}

static void a_fresh_start_keeps_the_figures_until_enough_is_heard(void **state)
{
    Learner l = fresh();
    (void)state;
    hear(&l, &(Stretch){1000, -20.0, -8.0, true});
    const TrimFigures before = trim_memory_figures(&l.memory);
    for (int i = 0; i < 2; ++i) { /* the second one too, with nothing heard in between */
        trim_memory_start_afresh(&l.memory);
        const TrimFigures kept = trim_memory_figures(&l.memory);
        assert_true(kept.level == before.level && kept.peak == before.peak);
    }
    l.blocks = (VoiceLevel){0};
    hear(&l, &(Stretch){1000, -30.0, -18.0, true});
    assert_true(fabs(trim_memory_figures(&l.memory).level + 30.0) <= 0.25);
}

/* Restored, it has the same figures and goes on to the same ones. */
static void a_stored_memory_goes_on_as_it_would_have(void **state)
{
    Learner one = fresh(), other;
    Learned l = LEARNED_WITH_ROOM;
    (void)state;
    hear(&one, &(Stretch){1000, -20.0, -8.0, true});
    trim_memory_start_afresh(&one.memory);
    hear(&one, &(Stretch){123, -33.0, -18.0, true});
    learned_get(&trim_schema, &one.memory, &l);
    learned_check(&trim_schema, &l);
    other = one;
    memset(&other.memory, 0, sizeof other.memory);
    learned_put(&trim_schema, &other.memory, &l);
    assert_memory_equal(&one.memory, &other.memory, sizeof one.memory);
    hear(&one, &(Stretch){300, -30.0, -18.0, true});
    hear(&other, &(Stretch){300, -30.0, -18.0, true});
    assert_true(trim_memory_figures(&one.memory).level == trim_memory_figures(&other.memory).level);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_voice_nothing_is_learned),
        cmocka_unit_test(a_second_of_voice_makes_a_figure),
        cmocka_unit_test(the_level_is_the_mean_of_all),
        cmocka_unit_test(odd_peaks_are_not_its_own),
        cmocka_unit_test(a_fresh_start_keeps_the_figures_until_enough_is_heard),
        cmocka_unit_test(a_stored_memory_goes_on_as_it_would_have),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
