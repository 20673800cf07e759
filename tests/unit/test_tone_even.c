/* Tone keeps the loudness of what went in: measured with a meter by the standard, over time, on hold and afresh. How
 * well it does so on recorded voices: test_chain_voices.c. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "learned_room.h"
#include "loudness.h"
#include "play.h"
#include "singer/singer.h"
#include "tone.h"
#include "units.h"

#define RATE 48000.0

static const ToneParams flat = {
    .low_cut = 100,
    .dip = {{250, 0, 1, false}, {400, 0, 1, false}, {800, 0, 1, false}},
    .air_freq = 12000,
    .take_out = 5,
    .learn = true,
    .even_loudness = true,
};

/* What a heavy hand would set. */
static ToneParams heavy(void)
{
    ToneParams p = flat;
    p.slope = TONE_CUT_24;
    p.low_cut = 150;
    p.dip[0] = (ToneDip){300, -9, 1.5, false};
    p.dip[2] = (ToneDip){900, -6, 1, false};
    p.air_lift = 6;
    return p;
}

static ToneParams held(ToneParams p)
{
    p.learn = false;
    return p;
}

/* A take of a tenor, and a Tone. */
typedef struct {
    SingerTake take;
    Player tone;
    float *out;
} Session;

static void begin(Session *s, const ToneParams *p)
{
    const SingerSpec spec = {.voice = SINGER_TENOR, .seed = 12, .rate = RATE, .seconds = 15};
    assert_true(singer_sing(&spec, &s->take));
    s->out = calloc(s->take.frames, sizeof *s->out);
    assert_non_null(s->out);
    assert_true(play_init(&s->tone, &tone, RATE, 1));
    play_set(&s->tone, p);
}

static void end(Session *s)
{
    play_done(&s->tone);
    singer_free(&s->take);
    free(s->out);
}

static void play_all(Session *s)
{
    play(&s->tone, (const float *[]){s->take.audio}, (float *[]){s->out}, s->take.frames);
}

static double loudness_of(const float *x, uint32_t n)
{
    static Loudness meter;
    loudness_init(&meter, RATE, 1);
    loudness_process(&meter, &x, n);
    return loudness_integrated(&meter);
}

static double change(const Session *s)
{
    return loudness_of(s->out, s->take.frames) - loudness_of(s->take.audio, s->take.frames);
}

static double makeup_of(const Session *s)
{
    ToneReport r;
    play_report(&s->tone, &r);
    return r.makeup;
}

static Tone *inside(Session *s)
{
    return s->tone.dsp;
}

/* ---- Tests ---- */

static void the_loudness_is_kept(void **state)
{
    (void)state;
    ToneParams p = heavy();
    Session s;
    begin(&s, &p);
    p.even_loudness = false;
    play_set(&s.tone, &p);
    play_all(&s);
    figure_note("Tone", "a heavy hand, loudness as it comes: change", change(&s), "LU");
    assert_true(fabs(change(&s)) > 2.0);
    p = held(heavy());
    play_set(&s.tone, &p);
    play_all(&s);
    play_all(&s);
    figure_within("Tone", "a heavy hand, loudness kept: change", change(&s), 0, 0.3, "LU", "ours; required: 0.5");
    end(&s);
}

/* Learned once; on hold the gain follows the controls. */
static void on_hold_it_follows_the_controls(void **state)
{
    (void)state;
    ToneParams p = flat;
    Session s;
    begin(&s, &p);
    play_all(&s);
    assert_true(makeup_of(&s) == 0.0);
    double worst = 0.0;
    for (double lift = 3; lift <= 9; lift += 3) {
        p = held(heavy());
        p.air_lift = lift;
        p.dip[0].depth = -lift;
        play_set(&s.tone, &p);
        play_all(&s);
        play_all(&s);
        worst = fmax(worst, fabs(change(&s)));
    }
    figure_at_most("Tone", "on hold, other bands by hand: change of loudness", worst, 0.3, "LU", "ours; required: 0.5");
    end(&s);
}

/* It sets in while a take plays, and nobody hears it: neither faster than 6 dB/s nor in steps. */
static void it_moves_slowly(void **state)
{
    (void)state;
    const ToneParams p = heavy();
    Session s;
    begin(&s, &p);
    double last = 0.0, fastest = 0.0;
    for (uint32_t at = 0; at + 480 <= s.take.frames; at += 480) { /* 10 ms */
        play(&s.tone, (const float *[]){s.take.audio + at}, (float *[]){s.out + at}, 480);
        const double now = gain_to_db(inside(&s)->even_gain.value);
        fastest = fmax(fastest, fabs(now - last));
        last = now;
    }
    assert_true(fabs(last) > 1.0);
    figure_at_most("Tone", "loudness kept: how fast its gain moves", fastest / 0.01, 6.3, "dB/s", "our own");
    end(&s);
}

static double level_of(const float *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        sum += (double)x[i] * (double)x[i];
    return power_to_db(sum / n);
}

/* A sample from which on a second is loud. */
static uint32_t loudest_at(const Session *s)
{
    const uint32_t second = (uint32_t)RATE;
    uint32_t best = 0;
    for (uint32_t at = 0; at + second <= s->take.frames; at += second / 4)
        if (level_of(s->take.audio + at, second) > level_of(s->take.audio + best, second))
            best = at;
    return best;
}

/* Everything is put back at once: what was made up for goes as quickly. */
static void a_hand_makes_no_burst(void **state)
{
    (void)state;
    ToneParams p = heavy();
    p.air_lift = 0;
    Session s;
    begin(&s, &p);
    play_all(&s);
    p = held(p);
    play_set(&s.tone, &p);
    play_all(&s);
    assert_true(makeup_of(&s) > 2.0);
    p = held(flat);
    play_set(&s.tone, &p);
    double burst = -100.0;
    const uint32_t n = (uint32_t)(0.02 * RATE), from = loudest_at(&s);
    const float *x = s.take.audio + from;
    for (uint32_t at = 0; at < RATE; at += n) {
        play(&s.tone, (const float *[]){x + at}, (float *[]){s.out + at}, n);
        burst = fmax(burst, level_of(s.out + at, n) - fmax(level_of(x + at, n), -40.0));
    }
    figure_at_most("Tone", "dips put back by hand: 20 ms, over what went in", burst, 2.5, "dB",
                   "our own; LINCTUS_SEEDS 0 to 20: 0 to 2.0");
    assert_memory_equal(x + 24000, s.out + 24000, 24000 * sizeof *x);
    end(&s);
}

/* The next second of voice takes the place of what was heard before; until then the gain stays. */
static void a_fresh_start_keeps_the_gain(void **state)
{
    (void)state;
    const ToneParams p = heavy(), hold = held(p);
    Session s;
    begin(&s, &p);
    play_all(&s);
    const double before = makeup_of(&s);
    play_set(&s.tone, &hold);
    play_all(&s);
    const uint32_t heard = inside(&s)->memory.spectrum.count;
    play_set(&s.tone, &p);
    play(&s.tone, (const float *[]){s.take.audio}, (float *[]){s.out}, 9600);
    assert_true(inside(&s)->memory.afresh);
    assert_true(makeup_of(&s) == before);

    Learned l = LEARNED_WITH_ROOM;
    Player again;
    play_get(&s.tone, &l);
    assert_true(play_init(&again, &tone, RATE, 1));
    play_put(&again, &l);
    play_set(&again, &hold);
    play(&again, (const float *[]){s.take.audio}, (float *[]){s.out}, 4800);
    ToneReport r;
    play_report(&again, &r);
    assert_true(r.makeup == before);
    play_done(&again);

    play_all(&s);
    assert_false(inside(&s)->memory.afresh);
    assert_true(inside(&s)->memory.spectrum.count < heard + 20);
    assert_true(fabs(makeup_of(&s) - before) < 0.2);
    end(&s);
}

/* A stereo take, and one of which a channel is dead. */
static void two_channels_are_as_one(void **state)
{
    (void)state;
    const ToneParams p = heavy();
    Session s;
    begin(&s, &p);
    play_all(&s);
    Player two;
    float *right = calloc(s.take.frames, sizeof *right);
    assert_non_null(right);
    assert_true(play_init(&two, &tone, RATE, 2));
    play_set(&two, &p);
    play(&two, (const float *[]){s.take.audio, s.take.audio}, (float *[]){s.out, right}, s.take.frames);
    ToneReport r;
    play_report(&two, &r);
    assert_true(fabs(r.makeup - makeup_of(&s)) < 0.1);
    play_done(&two);
    free(right);
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_loudness_is_kept),
        cmocka_unit_test(on_hold_it_follows_the_controls),
        cmocka_unit_test(it_moves_slowly),
        cmocka_unit_test(a_hand_makes_no_burst),
        cmocka_unit_test(a_fresh_start_keeps_the_gain),
        cmocka_unit_test(two_channels_are_as_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
