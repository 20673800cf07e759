/* The fit of vowels and fixed curve: as the plain reference in double has it, from any pieces, and of a curve that is
 * known. */
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
#include "fixed_curve.h"
#include "plain_finder.h"

enum { PIECES = 48 };

static uint32_t dice_state;

static double between(double lo, double hi)
{
    dice_state = dice_state * 1664525u + 1013904223u;
    return lo + (hi - lo) * (double)(dice_state >> 8) / 16777216.0;
}

/* Notes of any pitch; levels that fall by 6 dB an octave and scatter; one piece of one harmonic, one of none that
 * counts. */
static void any_pieces(ResonancePiece piece[PIECES])
{
    dice_state = 7;
    for (int i = 0; i < PIECES; ++i) {
        const double hz = 85.0 * exp2(between(0, 3));
        piece[i] = (ResonancePiece){.hz = (float)hz, .count = i ? (uint32_t)fmin(2000.0 / hz, PARTIALS_MOST) : 1};
        for (uint32_t k = 0; k < piece[i].count; ++k)
            piece[i].level[k] = (float)(between(-36, -24) - 6 * log2(hz * (k + 1) / 500));
    }
    piece[1].hz = 70.f;
    piece[1].count = 1;
}

static FixedCurve fit(const ResonancePiece *piece, uint32_t first, uint32_t end, VowelKind kind, uint32_t passes,
                      FixedModel *model)
{
    static FixedFit f;
    fixed_init(&f);
    for (uint32_t i = 0; i < end; ++i)
        fixed_read(&f, i, &piece[i]);
    fixed_start(&f, kind, model, first, end, passes);
    while (!fixed_step(&f)) {
    }
    *model = fixed_model(&f);
    return fixed_curve(&f);
}

static double worst_of(const double *a, const double *b, size_t n)
{
    double worst = 0;
    for (size_t i = 0; i < n; ++i)
        worst = fmax(worst, fabs(a[i] - b[i]));
    return worst;
}

static void it_is_what_the_plain_one_is(void **state)
{
    (void)state;
    static ResonancePiece piece[PIECES];
    double level = 0, weight = 0, share = 0, misfit = 0;
    any_pieces(piece);
    for (VowelKind kind = 0; kind < VOWELS_KINDS; ++kind) {
        FixedModel ours = fixed_unknown(), plain = fixed_unknown();
        for (uint32_t from = 0; from <= PIECES / 2; from += PIECES / 2) { /* all, then the later half from there */
            const FixedCurve a = fit(piece, from, PIECES, kind, 2, &ours);
            const FixedCurve b = plain_fit(piece, from, PIECES, kind, 2, &plain);
            level = fmax(level, worst_of(a.level, b.level, CURVE_BINS));
            weight = fmax(weight, worst_of(a.weight, b.weight, CURVE_BINS));
            share = fmax(share, worst_of(ours.share, plain.share, VOWELS));
            misfit = fmax(misfit, fabs(a.misfit - b.misfit));
        }
    }
    figure_at_most("Resonance", "fit, beside the plain one in double: level of a bin", level, 1e-4, "dB", "our own");
    figure_at_most("Resonance", "fit, beside the plain one: harmonics that weigh in a bin", weight, 1e-4, "",
                   "our own");
    figure_at_most("Resonance", "fit, beside the plain one: share of a vowel", share, 3e-5, "", "our own");
    figure_at_most("Resonance", "fit, beside the plain one: misfit", misfit, 5e-6, "dB", "our own");
}

/* A fit of some of the pieces that were read is that of those alone. */
/* What the steps say that they take, and what of it the parts of a fit have: callers count on it (work.h). */
static void the_work_is_told(void **state)
{
    enum { PASSES = 3 };
    static ResonancePiece piece[PIECES];
    static FixedFit f;
    double cost = 0.0, dearest = 0.0, rows = 0.0, told = 0.0;
    (void)state;
    any_pieces(piece);
    for (uint32_t i = 0; i < PIECES; ++i)
        told += piece[i].count >= 2;
    for (uint32_t row = 0; row < FIXED_UNKNOWN; ++row)
        rows += 0.2 + 0.0035 * row * row;
    fixed_init(&f);
    for (uint32_t i = 0; i < PIECES; ++i)
        fixed_read(&f, i, &piece[i]);
    const FixedModel model = fixed_unknown();
    fixed_start(&f, VOWELS_RECORDED, &model, 0, PIECES, PASSES);
    for (bool done = false; !done; dearest = fmax(dearest, f.cost)) {
        done = fixed_step(&f);
        cost += f.cost;
    }
    const double vowels = VOWELS_FIRST * (4.0 + 3.5) + 4.0 * PIECES + (6.0 + 6.5) * told;
    const double all = PASSES * (vowels + 2 * (1.5 * PIECES + rows + 18.0)) + 1.5 * PIECES;
    assert_true(fabs(cost - all) < 1e-6 && dearest == 18.0);
}

/* As half a take is that was sung on one note: between two pieces, and behind the last place. */
static void no_pieces_give_no_curve(void **state)
{
    static const uint32_t at[] = {5, RESONANCE_PIECES};
    static FixedFit f;
    (void)state;
    fixed_init(&f);
    for (uint32_t i = 0; i < RESONANCE_PIECES; ++i)
        fixed_read(&f, i, &(ResonancePiece){.hz = 220.f, .count = 5});
    for (size_t k = 0; k < sizeof at / sizeof *at; ++k) {
        const FixedModel model = fixed_unknown();
        fixed_start(&f, VOWELS_RECORDED, &model, at[k], at[k], 2);
        while (!fixed_step(&f)) {
        }
        const FixedCurve curve = fixed_curve(&f);
        for (uint32_t b = 0; b < CURVE_BINS; ++b)
            assert_true(curve.weight[b] == 0.0 && curve.level[b] == 0.0);
        assert_true(curve.misfit == 0.0);
    }
}

static void pieces_outside_do_not_count(void **state)
{
    (void)state;
    enum { FROM = 7, TO = 29 };
    static ResonancePiece piece[PIECES];
    static FixedFit f;
    any_pieces(piece);
    FixedCurve curve[2];
    for (int other = 0; other < 2; ++other) {
        fixed_init(&f);
        for (uint32_t i = 0; i < PIECES; ++i)
            fixed_read(&f, i, &piece[other && (i < FROM || i >= TO) ? FROM + i % 5 : i]);
        const FixedModel model = fixed_unknown();
        fixed_start(&f, VOWELS_BY_THE_BOOK, &model, FROM, TO, 2);
        while (!fixed_step(&f)) {
        }
        curve[other] = fixed_curve(&f);
    }
    assert_memory_equal(&curve[0], &curve[1], sizeof curve[0]);
}

/* Pieces of published vowels with a bump of 6 dB, an octave wide, around 1 kHz: it stands in the curve. */
static void a_bump_stands_in_the_curve(void **state)
{
    (void)state;
    static const double formant[][2] = {{730, 1090}, {270, 2290}, {530, 1840}, {570, 840}, {300, 870}, {640, 1190}};
    static ResonancePiece piece[RESONANCE_PIECES];
    dice_state = 3;
    for (int i = 0; i < 300; ++i) {
        const double *const v = formant[i % 6], hz = 90.0 * exp2(between(0, 1));
        piece[i] = (ResonancePiece){.hz = (float)hz, .count = (uint32_t)fmin(2000.0 / hz, PARTIALS_MOST)};
        for (uint32_t k = 0; k < piece[i].count; ++k) {
            const double at = hz * (k + 1), octave = log2(at / 1000);
            piece[i].level[k] = (float)(vowels_formant_db(at, v[0], 80) + vowels_formant_db(at, v[1], 100) +
                                        vowels_formant_db(at, 2650, 160) + vowels_formant_db(at, 3600, 250) -
                                        6 * log2(at / 500) + 6 * exp(-4 * octave * octave));
        }
    }
    FixedModel model = fixed_unknown();
    const FixedCurve c = fit(piece, 0, 300, VOWELS_BY_THE_BOOK, 10, &model);
    const int top = 39, low = 25, high = 51; /* 980, 440, 1950 Hz */
    figure_within("Resonance", "fit: a bump of 6 dB over what lies an octave beside it",
                  c.level[top] - 0.5 * (c.level[low] + c.level[high]), 6, 2, "dB", "our own");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_what_the_plain_one_is), cmocka_unit_test(the_work_is_told),
        cmocka_unit_test(no_pieces_give_no_curve),     cmocka_unit_test(pieces_outside_do_not_count),
        cmocka_unit_test(a_bump_stands_in_the_curve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
