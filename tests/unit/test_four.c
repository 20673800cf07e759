/* Vectors of four: each function does what its page says, to the bit, and so do the loops that take their place where a
 * compiler has no vectors (the whole Plate in plain C is compared in test_plate.c). */
#include "four.h"

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

static void gathers_bits(void **state)
{
    (void)state;
    FourBits bits = {0};
    assert_int_equal(four_bits(bits), 0);
    bits = four_gather(bits, four_load((float[]){0.f, 0.f, 1.f, 0.f}));
    bits = four_gather(bits, four_load((float[]){-0.f, 0.f, 0.f, 2.f}));
    assert_int_equal(four_bits(bits), 0xff800000u);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reckons_lane_by_lane),
        cmocka_unit_test(turns_a_square),
        cmocka_unit_test(gathers_bits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
