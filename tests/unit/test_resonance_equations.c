/* resonance.h: what becomes of the fit and of the bells, which have tests of their own: how sure each finding is, its
 * height and its width, beside the equations of resonance.md ("How sure"). */
#include "bells.h"
#include "fixed_curve.h"
#include "resonance.h"
#include "singer/random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { TAKES = 24, PIECES = 160 };

static struct {
    FixedFit fit;
    BellSearch search;
} stage;

/* Pieces on so many notes, with two formants that move about and a bell that stays; odd semitones have it more weakly
 * from take to take, and aside. Few and high notes bring few harmonics into the bell. */
static void sing(ResonanceMemory *m, uint32_t take, uint32_t lowest, uint32_t notes)
{
    Random random = random_stream(take + 1, 1);
    const double bell = take < 8 ? 330.0 * exp2(take / 8.0) : 800.0 * exp2(take % 5 / 8.0),
                 spread = 1.6 + 0.15 * (take % 8);
    resonance_memory_clear(m);
    m->pieces = PIECES;
    for (uint32_t i = 0; i < PIECES; ++i) {
        ResonancePiece *const p = &m->piece[i];
        const uint32_t semitone = lowest + i * 5 % notes * (notes < 8 ? 3 : 1);
        p->hz = (float)(60.0 * exp2((semitone + random_between(&random, -0.3, 0.3)) / 12.0));
        p->count = (uint32_t)fmin(2000.0 / (double)p->hz, 12.0);
        const double first = random_between(&random, 300.0, 800.0), second = random_between(&random, 900.0, 1800.0);
        const double strong = semitone % 2 ? 9.0 - 0.7 * take : 10.0;
        const double aside = take < 8 && semitone % 2 ? 0.25 + 0.008 * take : 0.0;
        for (uint32_t k = 0; k < p->count; ++k) {
            const double hz = (double)p->hz * (k + 1);
            p->level[k] =
                (float)(-20.0 - 6.0 * log2(k + 1.0) + random_between(&random, -spread, spread) +
                        12.0 * exp(-pow(3.0 * log2(hz / first), 2.0)) + 10.0 * exp(-pow(3.0 * log2(hz / second), 2.0)) +
                        strong * exp(-pow(4.0 * (log2(hz / bell) - aside), 2.0)));
        }
    }
}

/* ---- The equations ---- */

typedef struct {
    ResonancePiece piece[PIECES]; /* those on even semitones, then the others from the last on */
    uint32_t even;
} Sorted;

static int semitone_of(const ResonancePiece *p)
{
    return (int)floor(12.0 * log2((double)p->hz / 60.0) + 0.5);
}

static void sort(const ResonanceMemory *m, Sorted *s)
{
    s->even = 0;
    uint32_t odd = 0;
    for (uint32_t i = 0; i < PIECES; ++i)
        s->piece[semitone_of(&m->piece[i]) % 2 ? PIECES - ++odd : s->even++] = m->piece[i];
}

static FixedCurve fit(const Sorted *s, uint32_t from, uint32_t to, VowelKind kind, uint32_t passes, FixedModel *model)
{
    fixed_init(&stage.fit);
    for (uint32_t i = 0; i < PIECES; ++i)
        fixed_read(&stage.fit, i, &s->piece[i]);
    fixed_start(&stage.fit, kind, model, from, to, passes);
    while (!fixed_step(&stage.fit)) {
    }
    *model = fixed_model(&stage.fit);
    return fixed_curve(&stage.fit);
}

static Bells bells_in(FixedCurve curve, uint32_t wanted)
{
    bells_init(&stage.search);
    bells_start(&stage.search, &curve, wanted);
    while (!bells_step(&stage.search)) {
    }
    return stage.search.found;
}

/* The odds of the likeliest bell within a sixth of an octave. */
static double odds_at(const Bells *b, double hz)
{
    double odds = -9.0;
    for (uint32_t i = 0; i < b->count; ++i)
        odds = fabs(log2(b->at[i].hz / hz)) <= 1.0 / 6.0 ? fmax(odds, b->at[i].odds) : odds;
    return odds;
}

/* Harmonics of different notes between the bell's half-power points: |f / f0 - f0 / f| = 1 / Q. */
static uint32_t harmonics_in(const ResonanceMemory *m, const Bell *b)
{
    uint32_t most[RESONANCE_PITCHES] = {0}, count = 0;
    for (uint32_t i = 0; i < PIECES; ++i) {
        uint32_t *const of_note = &most[semitone_of(&m->piece[i])];
        *of_note = m->piece[i].count > *of_note ? m->piece[i].count : *of_note;
    }
    for (uint32_t note = 0; note < RESONANCE_PITCHES; ++note)
        for (uint32_t k = 1; k <= most[note]; ++k) {
            const double x = k * 60.0 * exp2(note / 12.0) / b->hz;
            count += fabs(x - 1.0 / x) <= 1.0 / b->q;
        }
    return count;
}

/* Ever so many passes over all pieces, by the book where the voice has little misfit; half as many over the halves,
 * from there on. */
static Resonances plainly(const ResonanceMemory *m, const Sorted *s, VowelKind *kind)
{
    FixedModel model = fixed_unknown();
    FixedCurve curve = fit(s, 0, PIECES, VOWELS_RECORDED, 6, &model);
    *kind = curve.misfit < 2.7 ? VOWELS_BY_THE_BOOK : VOWELS_RECORDED;
    if (*kind == VOWELS_BY_THE_BOOK) {
        model = fixed_unknown();
        curve = fit(s, 0, PIECES, *kind, 10, &model);
    }
    FixedModel half[2] = {model, model};
    const uint32_t passes = *kind == VOWELS_BY_THE_BOOK ? 5 : 3;
    const Bells whole = bells_in(curve, 3), even = bells_in(fit(s, 0, s->even, *kind, passes, &half[0]), 4),
                odd = bells_in(fit(s, s->even, PIECES, *kind, passes, &half[1]), 4);
    Resonances found = {0};
    for (uint32_t i = 0; i < whole.count; ++i) {
        const Bell *const b = &whole.at[i];
        const double sure = fmin(b->odds, fmin(odds_at(&even, b->hz), odds_at(&odd, b->hz)) + 1.5);
        if (sure >= 0.4 && b->height > 0.0 && harmonics_in(m, b) >= 4)
            found.at[found.count++] = (Resonance){b->hz, 1.1 * b->height, 2.0 / log(2.0) * asinh(0.5 / b->q), sure};
    }
    return found;
}

static void findings_follow_from_the_bells(void **state)
{
    (void)state;
    static ResonanceMemory m;
    static Sorted sorted;
    uint32_t all = 0, kinds[VOWELS_KINDS] = {0};
    for (uint32_t take = 0; take < TAKES; ++take) {
        sing(&m, take, take < 8 ? 12 : 36, take < 8 ? 14 : 2 + take % 8);
        sort(&m, &sorted);
        VowelKind kind;
        const Resonances wanted = plainly(&m, &sorted, &kind);
        ResonanceFinder f;
        Resonances found = {.count = 1, .at = {{.hz = 1.0}}};
        assert_true(resonance_init(&f, 48000.0));
        resonance_start(&f, &m);
        while (!resonance_step(&f, &found)) {
        }
        resonance_done(&f);
        assert_int_equal(found.count, wanted.count);
        for (uint32_t i = 0; i < found.count; ++i) {
            const Resonance *const is = &found.at[i], *at = wanted.at;
            while (at->hz != is->hz)
                assert_true(++at < wanted.at + wanted.count);
            assert_true(fabs(is->height - at->height) < 1e-9 && fabs(is->width - at->width) < 1e-9);
            assert_true(fabs(is->sure - at->sure) < 1e-9 && (i == 0 || is->hz > is[-1].hz));
        }
        ++kinds[kind];
        all += found.count;
    }
    assert_true(all > TAKES / 2 && kinds[VOWELS_RECORDED] && kinds[VOWELS_BY_THE_BOOK]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(findings_follow_from_the_bells),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
