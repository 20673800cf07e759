/* rest_finder.h: what a cell belongs to, beside the same rules plainly. */
#include "rest_finder.h"
#include "singer/random.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define RATE  48000.0
#define CELL  (DSP_CELL / RATE) /* s */
#define LEVEL (-20.0)           /* dB, the voice's */
#define OVER  1.5               /* dB */

enum { PIECES = 1500 };

static const double swing[REST_BANDS] = {-70.0, -68.0, -72.0, -95.0};

typedef struct {
    double threshold[REST_BANDS], slow[REST_BANDS], breath[REST_BANDS], climb;
    double since_sound, breathing, unlike, looked;
    bool voiced;
    RestKind kind;
} Plain;

static void plain_know(Plain *p)
{
    static const double beyond[REST_BANDS] = {7.0, 4.5, 3.5, 3.0};
    *p = (Plain){.kind = REST_NONE};
    for (int b = 0; b < REST_BANDS; ++b)
        p->threshold[b] = pow(10.0, 0.1 * fmax(swing[b] + beyond[b] + OVER, LEVEL - 65.0));
}

/* Does a phrase begin in a rest: does a band rise 11 dB over the breath, or do a breath's two climb by more than 900 dB
 * a second and 6 dB? */
static bool plain_rises(const Plain *p, const double *power)
{
    bool any = power[1] + power[2] > 4.0 * p->climb;
    for (int b = 0; b < REST_BANDS; ++b)
        any = any || power[b] > fmax(p->threshold[b], 12.6 * p->breath[b]);
    return any;
}

static RestKind plain_kind(Plain *p, const double *power, bool sounds, bool breath)
{
    if (p->kind == REST_NONE)
        return p->since_sound >= 0.12 ? REST_ROOM : p->breathing >= 0.25 ? REST_BREATH : REST_NONE;
    p->unlike = sounds && !breath ? p->unlike + CELL : 0.0;
    if (plain_rises(p, power) || p->unlike > 0.003)
        return REST_NONE;
    if (sounds && breath)
        return REST_BREATH;
    return p->since_sound >= 0.06 ? REST_ROOM : p->kind;
}

static void plain_hear(Plain *p, const RestBands *bands)
{
    const double *const power = bands->power;
    bool sounds = false;
    double all = 0.0;
    for (int b = 0; b < REST_BANDS; ++b) {
        sounds = sounds || power[b] > p->threshold[b];
        p->slow[b] = power[b] + exp(-CELL / 0.012) * (p->slow[b] - power[b]);
        p->breath[b] = power[b] + exp(-CELL / 0.03) * (p->breath[b] - power[b]);
        all += p->slow[b];
    }
    p->since_sound = sounds ? 0.0 : p->since_sound + CELL;
    p->climb = fmax(fmin(power[1] + power[2], p->climb * pow(10.0, 90.0 * CELL)), pow(10.0, 0.1 * (LEVEL - 42.0)));
    const bool like = sounds && rest_bands_breath(p->slow) && all < pow(10.0, 0.1 * (LEVEL + 3.0));
    p->looked += CELL;
    if (!like || power[1] < 2.0 * p->threshold[1]) {
        p->voiced = false;
    } else if (p->looked >= 0.006) {
        p->voiced = rest_bands_voiced(bands);
        p->looked = 0.0;
    }
    const bool breath = like && !p->voiced;
    p->breathing = breath ? p->breathing + CELL : 0.0;
    p->kind = plain_kind(p, power, sounds, breath);
}

/* What a piece of sound ends with: nothing, a breath or what might be one, or anything, about as loud as where rules
 * begin to hold. With a pitch or without. */
static void draw(double aim[REST_BANDS], RestBands *bands, Random *random)
{
    const double kind = random_unit(random), db = random_between(random, -68.0, -12.0);
    for (int b = 0; b < REST_BANDS; ++b) {
        const double middle = random_between(random, -3.6, 3.6), any = random_between(random, -12.0, 8.0);
        const double still = swing[b] + random_between(random, -20.0, b < 3 ? 6.0 : 9.0);
        aim[b] = db_to_power(kind < 0.45 ? still : kind < 0.9 ? db + (b == 1 || b == 2 ? middle : -6.0) : db + any);
    }
    const uint32_t turn = random_unit(random) < 0.7 ? 0 : 1 + (uint32_t)random_between(random, 3.0, 9.0);
    for (uint32_t i = 0; i < 1000; ++i)
        voicing_push(&bands->signs, turn ? i / turn % 2 == 0 : random_unit(random) < 0.5);
}

static void it_goes_by_the_rules(void **state)
{
    (void)state;
    Random random = random_stream(8, 1);
    RestBands bands;
    RestFinder f;
    Plain plain;
    uint32_t times[REST_BREATH + 1] = {0};
    rest_bands_init(&bands, RATE, 1);
    rest_finder_init(&f, RATE);
    rest_finder_know(&f, swing, LEVEL, OVER);
    plain_know(&plain);
    double power[REST_BANDS] = {0.0};
    for (int i = 0; i < PIECES; ++i) {
        double aim[REST_BANDS];
        draw(aim, &bands, &random);
        const double keep = exp(-CELL / exp(random_between(&random, -8.0, -3.5))); /* 0.3 to 30 ms */
        for (int cell = (int)random_between(&random, 3.0, i % 3 ? 60.0 : 500.0); cell > 0; --cell) {
            for (int b = 0; b < REST_BANDS; ++b) {
                power[b] = aim[b] + keep * (power[b] - aim[b]);
                bands.power[b] = power[b] * random_between(&random, 0.8, 1.25);
            }
            plain_hear(&plain, &bands);
            assert_int_equal(rest_finder_hear(&f, &bands), plain.kind);
            ++times[plain.kind];
        }
    }
    assert_true(times[REST_NONE] > 10000 && times[REST_ROOM] > 10000 && times[REST_BREATH] > 10000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_goes_by_the_rules),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
