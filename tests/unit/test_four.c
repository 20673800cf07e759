/* Vectors of four: each function does what its page says, to the bit, and so do the loops that take their place where a
 * compiler has no vectors (the whole Plate in plain C is compared in test_plate.c). */
#include "four_math.h"

#include "figure.h"
#include "four_by_name.h"
#include "seeds.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const float a[FOUR] = {1.5f, -0.f, 3e-39f, -16.f}, b[FOUR] = {0.1f, 0.f, 7.f, 1e30f};

static void assert_lanes(Four got, const float *want)
{
    float x[FOUR];
    four_store(x, got);
    assert_memory_equal(x, want, sizeof x);
}

static float four_lane_of(Four x, int lane)
{
    float y[FOUR];
    four_store(y, x);
    return y[lane];
}

static void reckons_lane_by_lane(void **state)
{
    (void)state;
    float sum[FOUR], difference[FOUR], product[FOUR];
    for (int i = 0; i < FOUR; ++i) {
        sum[i] = a[i] + b[i];
        difference[i] = a[i] - b[i];
        product[i] = a[i] * b[i];
    }
    assert_lanes(four_add(four_load(a), four_load(b)), sum);
    assert_lanes(four_sub(four_load(a), four_load(b)), difference);
    assert_lanes(four_mul(four_load(a), four_load(b)), product);
    assert_lanes(four_all(0.3f), (float[]){0.3f, 0.3f, 0.3f, 0.3f});
}

static void turns_a_square(void **state)
{
    (void)state;
    Four x[FOUR];
    for (int i = 0; i < FOUR; ++i)
        x[i] =
            four_load((float[]){10.f * (float)i, 10.f * (float)i + 1.f, 10.f * (float)i + 2.f, 10.f * (float)i + 3.f});
    four_turn(x);
    for (int i = 0; i < FOUR; ++i)
        assert_lanes(x[i], (float[]){(float)i, 10.f + (float)i, 20.f + (float)i, 30.f + (float)i});
}

static void moves_lanes(void **state)
{
    (void)state;
    const Four x = four_load((float[]){0.f, 1.f, 2.f, 3.f}), y = four_load((float[]){4.f, 5.f, 6.f, 7.f});
    assert_lanes(four_backwards(x), (float[]){3.f, 2.f, 1.f, 0.f});
    assert_lanes(four_evens(x, y), (float[]){0.f, 2.f, 4.f, 6.f});
    assert_lanes(four_odds(x, y), (float[]){1.f, 3.f, 5.f, 7.f});
    assert_lanes(four_mix_first(four_evens(x, y), four_odds(x, y)), (float[]){0.f, 1.f, 2.f, 3.f});
    assert_lanes(four_mix_last(four_evens(x, y), four_odds(x, y)), (float[]){4.f, 5.f, 6.f, 7.f});
}

static void gathers_bits(void **state)
{
    (void)state;
    FourBits bits = {0};
    assert_int_equal(four_bits(bits), 0);
    bits = four_gather(bits, four_load((float[]){0.f, 0.f, 1.f, 0.f}));
    bits = four_gather(bits, four_load((float[]){-0.f, 0.f, 0.f, 2.f}));
    assert_int_equal(four_bits(bits), 0xff800000u);
}

/* ---- four_math.h ---- */

static float any_float(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    const float share = (float)(*seed >> 8) / 16777216.f;
    return (float)((*seed & 1 ? 1.0 : -1.0) * exp2(120.0 * (double)share - 60.0));
}

static void plain_and_vector_are_the_same(void **state)
{
    (void)state;
    uint32_t seed = seeded(3);
    for (int round = 0; round < 20000; ++round) {
        float x[FOUR], z[FOUR], got[FOUR], want[FOUR];
        for (int i = 0; i < FOUR; ++i) {
            x[i] = any_float(&seed);
            z[i] = round % 3 ? any_float(&seed) : x[i];
        }
        for (PlainFunction f = 0; f < PLAIN_FUNCTIONS; ++f) {
            four_by_name(f, x, z, got);
            plain_four(f, x, z, want);
            assert_memory_equal(got, want, sizeof got);
        }
    }
}

static void larger_smaller_and_magnitude(void **state)
{
    (void)state;
    for (int i = 0; i < FOUR; ++i) {
        assert_true(four_lane_of(four_max(four_load(a), four_load(b)), i) == fmaxf(a[i], b[i]));
        assert_true(four_lane_of(four_min(four_load(a), four_load(b)), i) == fminf(a[i], b[i]));
        assert_true(four_lane_of(four_abs(four_load(a)), i) == fabsf(a[i]));
    }
}

static void powers_of_2(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double x = -126.0; x <= 127.0; x += 1.0 / 1024.0) {
        const float exact = (float)x;
        const double want = exp2((double)exact), got = (double)four_lane_of(four_exp2(four_all(exact)), 0);
        worst = fmax(worst, fabs(got / want - 1.0));
        if (exact == floorf(exact))
            assert_true(got == want);
    }
    figure_at_most("Vectors", "2^x from -126 to 127: error", 1e9 * worst, 150, "1e-9 of it", "exp2 of the C library");
    assert_true(four_lane_of(four_exp2(four_all(-1e9f)), 0) == 0x1p-126f);
    assert_true(four_lane_of(four_exp2(four_all(1e9f)), 0) == 0x1p127f);
}

static void logarithms_to_base_2(void **state)
{
    (void)state;
    double worst = 0.0;
    for (double x = -125.9; x <= 127.0; x += 1.0 / 1024.0) {
        const float exact = (float)exp2(x);
        const double want = log2((double)exact), got = (double)four_lane_of(four_log2(four_all(exact)), 0);
        worst = fmax(worst, fabs(got - want) / fmax(1.0, fabs(want)));
    }
    for (int e = -126; e <= 127; ++e)
        assert_true(four_lane_of(four_log2(four_all(ldexpf(1.f, e))), 0) == (float)e);
    figure_at_most("Vectors", "logarithm to base 2 from 2^-126 to 2^127: error", 1e9 * worst, 150, "1e-9 of it or of 1",
                   "log2 of the C library");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reckons_lane_by_lane),
        cmocka_unit_test(turns_a_square),
        cmocka_unit_test(moves_lanes),
        cmocka_unit_test(gathers_bits),
        cmocka_unit_test(plain_and_vector_are_the_same),
        cmocka_unit_test(larger_smaller_and_magnitude),
        cmocka_unit_test(powers_of_2),
        cmocka_unit_test(logarithms_to_base_2),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
