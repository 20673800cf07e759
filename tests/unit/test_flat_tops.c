/* Flat tops, of tones whose answer is known, of invented singers and of recorded voices: as they came, at Trim's
 * ceiling, and clipped, turned down and resampled. Judges only, unless LINCTUS_VOICES says otherwise (asked.h). */
#include "flat_tops.h"

#include "asked.h"
#include "check_figures.h"
#include "figure.h"
#include "play.h"
#include "spoken.h"
#include "trim.h"
#include "units.h"
#include "voices.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SECONDS 28.0

/* ---- Tones ---- */

typedef struct {
    uint32_t tops, flat;
} Count;

/* A second of a tone of level 1 at 48 kHz that is cut off at `clip`, then has this gain. */
static Count tone(double hz, double clip, double gain)
{
    static FlatTops f;
    Count c = {0};
    f = (FlatTops){0};
    for (uint32_t i = 0; i < 48000; i += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t k = 0; k < DSP_CELL; ++k)
            x[k] = (float)(gain * dsp_clamp(sin(2.0 * DSP_PI * hz * (i + k) / 48000.0), -clip, clip));
        flat_tops_hear(&f, x, DSP_CELL);
        for (uint32_t t = 0; t < f.tops; ++t)
            c.flat += f.top[t].flat;
        c.tops += f.tops;
        f.tops = 0;
    }
    return c;
}

static void tones(void **state)
{
    static const double hz[] = {87.0, 151.0, 333.0, 470.0};
    (void)state;
    for (size_t i = 0; i < sizeof hz / sizeof *hz; ++i) {
        const Count round = tone(hz[i], 2.0, 0.4), flat = tone(hz[i], 0.8, 0.4), faint = tone(hz[i], 0.8, 0.03);
        assert_true(fabs(round.tops - 2.0 * hz[i]) <= 2.0 && round.flat == 0);
        assert_true(fabs(flat.tops - 2.0 * hz[i]) <= 2.0 && flat.flat == flat.tops);
        assert_int_equal(faint.tops, 0);
    }
}

/* The same for four seconds, clipped; but from half a second on so many periods go as much over that. */
static double share_behind(uint32_t strays, double over)
{
    static FlatTops f;
    double flat = 0.0;
    f = (FlatTops){0};
    for (uint32_t i = 0; i < 4 * 48000; i += DSP_CELL) {
        float x[DSP_CELL];
        for (uint32_t k = 0; k < DSP_CELL; ++k) {
            const uint32_t period = (i + k) / 240;
            const double clip = period >= 100 && period < 100 + strays ? over : 1.0;
            x[k] = (float)(0.2 * dsp_clamp(2.0 * over * sin(2.0 * DSP_PI * (i + k) / 240.0), -clip, clip));
        }
        flat_tops_hear(&f, x, DSP_CELL);
        for (uint32_t t = 0; t < f.tops; ++t)
            flat += f.top[t].flat && fabsf(f.top[t].level - 0.2f) < 0.001f;
        f.tops = 0;
    }
    return flat / 1600.0;
}

/* A swing of a level, down or up, in a cell of silence. */
static void swing(FlatTops *f, float level)
{
    float x[DSP_CELL] = {0};
    for (uint32_t k = 0; k < 9; ++k)
        x[10 + k] = level * sinf(0.1f * (float)(k + 1) * 3.14159265f);
    flat_tops_hear(f, x, DSP_CELL);
}

/* By a decibel a swing at most, but for the first of all; by one in a hundred in 4096 samples. */
static void the_highest_follows(void **state)
{
    static FlatTops f;
    const float silence[DSP_CELL] = {0};
    (void)state;
    f = (FlatTops){0};
    swing(&f, -0.2f);
    assert_true(f.highest[1] == 0.2f && f.highest[0] == 0.f);
    swing(&f, 0.8f);
    swing(&f, -0.8f);
    assert_true(f.highest[0] == 0.8f && fabsf(f.highest[1] - 0.224f) < 1e-6f);
    swing(&f, -0.23f);
    swing(&f, -0.22f);
    assert_true(f.highest[1] == 0.23f && f.tops == 5);
    for (uint32_t n = 5 * DSP_CELL; n < 4096; n += DSP_CELL)
        flat_tops_hear(&f, silence, DSP_CELL);
    assert_true(f.highest[0] == 0.8f && f.highest[1] == 0.23f);
    for (uint32_t n = 0; n < 4096; n += DSP_CELL)
        flat_tops_hear(&f, silence, DSP_CELL);
    assert_true(f.highest[0] == 0.8f * 0.99f && f.highest[1] == 0.23f * 0.99f);
    flat_tops_hear(&f, silence, DSP_CELL);
    assert_true(f.highest[0] == 0.8f * 0.99f * 0.99f);
    f.highest[0] = 0.001f; /* after a long rest */
    swing(&f, 0.8f);
    assert_true(fabsf(f.highest[0] - 0.0448f) < 1e-6f);
}

static void stray_peaks_hide_no_others(void **state)
{
    (void)state;
    assert_true(share_behind(0, 2.0) > 0.998);
    assert_true(share_behind(1, 4.0) > 0.997);
    assert_true(share_behind(2, 4.0) > 0.996);  /* 2 dB up: all of them are still near */
    const double burst = share_behind(20, 2.0); /* 6 dB: in 3.6 s they are near again */
    assert_true(burst > 0.05 && burst < 0.25);
}

/* Longer than any top, and what comes after it is heard. */
static void a_step_is_no_top(void **state)
{
    static FlatTops f;
    float x[DSP_CELL];
    (void)state;
    f = (FlatTops){0};
    for (uint32_t i = 0; i < 40 * DSP_CELL; i += DSP_CELL) {
        for (uint32_t k = 0; k < DSP_CELL; ++k)
            x[k] = i < 30 * DSP_CELL ? 0.5f : k < 8 ? 0.5f : 0.f;
        flat_tops_hear(&f, x, DSP_CELL);
    }
    assert_int_equal(f.tops, 9);
    assert_true(f.top[0].flat && f.top[0].level == 0.5f);
}

/* More than are kept are lost, not written. */
static void tops_that_nobody_takes(void **state)
{
    static struct {
        FlatTops f;
        uint32_t guard;
    } room;
    float x[DSP_CELL];
    (void)state;
    room.guard = 77;
    for (uint32_t k = 0; k < DSP_CELL; ++k)
        x[k] = k % 2 ? 0.5f : -0.5f;
    for (uint32_t i = 0; i < 4; ++i)
        flat_tops_hear(&room.f, x, DSP_CELL);
    assert_int_equal(room.f.tops, FLAT_TOPS_KEPT);
    assert_int_equal(room.guard, 77);
}

/* ---- Takes ---- */

/* What Check says of its tops. */
static CheckReport tops_of(const Spoken *s)
{
    static FlatTops f;
    static CheckMemory m;
    CheckReport r = {0};
    f = (FlatTops){0};
    check_memory_clear(&m);
    for (uint32_t i = 0; i + DSP_CELL <= s->n; i += DSP_CELL) {
        flat_tops_hear(&f, s->x + i, DSP_CELL);
        for (uint32_t t = 0; t < f.tops; ++t)
            check_memory_top(&m, gain_to_db((double)f.top[t].level), f.top[t].flat);
        f.tops = 0;
    }
    check_figures(&m, &r);
    return r;
}

static float peak_of(const Spoken *s)
{
    float most = 0.f;
    for (uint32_t i = 0; i < s->n; ++i)
        most = fmaxf(most, fabsf(s->x[i]));
    return most;
}

static Spoken copy_of(const Spoken *from)
{
    Spoken to = {.rate = from->rate, .n = from->n, .x = malloc((from->n + 1) * sizeof *to.x)};
    assert_non_null(to.x);
    memcpy(to.x, from->x, from->n * sizeof *to.x);
    return to;
}

/* Its peaks 9 dB over the ceiling, which Trim holds on hold too. */
static Spoken at_the_ceiling(const Spoken *take)
{
    Player p;
    Spoken s = copy_of(take);
    assert_true(play_init(&p, &trim, s.rate, 1));
    play_set(&p, &(TrimParams){.target = -18.0, .ceiling = -1.0});
    voices_gain(&s, 8.0 - gain_to_db((double)peak_of(take)));
    play(&p, (const float *[]){s.x}, (float *[]){s.x}, s.n);
    play_done(&p);
    return s;
}

/* The same at 44.1 kHz, driven `db` into full scale, then 6 dB down, then at 48 kHz. */
static Spoken clipped(const Spoken *take, double db)
{
    Spoken s = copy_of(take);
    s.rate = 44100.0;
    voices_gain(&s, db - gain_to_db((double)peak_of(take)));
    for (uint32_t i = 0; i < s.n; ++i)
        s.x[i] = 0.5f * fmaxf(-1.f, fminf(1.f, s.x[i]));
    spoken_resample(&s, 48000.0);
    return s;
}

static struct {
    uint32_t takes, false_calls, told_three, told_six;
    double off; /* dB: of the level that is told, the most */
} score;

/* Most words of this one were clipped at full scale when they were recorded. */
static bool is_clipped_itself(const char *name)
{
    return !strcmp(name, "french");
}

static bool told(const char *name, const Spoken *take, double db, uint32_t *count)
{
    Spoken s = clipped(take, db);
    const CheckReport r = tops_of(&s);
    spoken_free(&s);
    *count += r.flat_tops > 0.0;
    if (r.flat_tops > 0.0 && !is_clipped_itself(name))
        score.off = fmax(score.off, fabs(r.flat_tops_level - gain_to_db(0.5)));
    return r.flat_tops > 0.0;
}

static void judge(const char *name, const Spoken *take, uint32_t number)
{
    Spoken up = at_the_ceiling(take);
    const CheckReport came = tops_of(take), held = tops_of(&up);
    const bool any = !is_clipped_itself(name) && came.flat_tops + held.flat_tops > 0.0;
    spoken_free(&up);
    ++score.takes;
    score.false_calls += any;
    const bool three = told(name, take, 3.0, &score.told_three), six = told(name, take, 6.0, &score.told_six);
    printf("%-10s %2u%s%s%s\n", name, (unsigned)number, any ? " FALSE" : "", three ? "" : " 3 dB MISSED",
           six ? "" : " 6 dB MISSED");
}

static void judge_all(void)
{
    asked_singers(60, SECONDS, judge);
    for (uint32_t v = 0; v < VOICES_ALL; ++v) {
        Spoken take = {0};
        VoicesSong song = {0};
        if (!asked_voice(v))
            continue;
        if (!voices_speak(&take, v, 0, SECONDS) || !voices_sing(&song, v, 0, SECONDS, 1, 0))
            skip();
        judge(voices[v].name, &take, 2 * v);
        judge(voices[v].name, &song.take, 2 * v + 1);
        spoken_free(&take);
        voices_song_free(&song);
    }
}

static void voices_are_not_called_clipped(void **state)
{
    (void)state;
    judge_all();
    figure_at_most("Check", asked_whom("takes as they came or at Trim's ceiling that are called clipped"),
                   score.false_calls, 0, "takes", "requirement");
    figure_at_least("Check", asked_whom("clipped by 3 dB, 6 dB down and resampled: told"),
                    100.0 * score.told_three / score.takes, 80, "%", "our own");
    figure_at_least("Check", asked_whom("clipped by 6 dB, 6 dB down and resampled: told"),
                    100.0 * score.told_six / score.takes, 100, "%", "our own");
    figure_at_most("Check", asked_whom("clipped, 6 dB down and resampled: level told off by"), score.off, 0.5, "dB",
                   "our own");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones),
        cmocka_unit_test(the_highest_follows),
        cmocka_unit_test(stray_peaks_hide_no_others),
        cmocka_unit_test(a_step_is_no_top),
        cmocka_unit_test(tops_that_nobody_takes),
        cmocka_unit_test(voices_are_not_called_clipped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
