/* EBU Tech 3342 (seen second-hand): loudness range, as Check finds it, of 1 kHz stereo tones of 20 s each, +-1 LU, and
 * of singing, by the definition over a list of all short-term values. */
#include "check.h"
#include "loudness.h"
#include "play.h"

#include "figure.h"
#include "seeds.h"
#include "singer/singer.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define RATE 48000.0
enum { BLOCK = 4800, TONE_BLOCKS = 200, MOST_BLOCKS = 3000 };

static const struct {
    double db[5];
    int tones;
    double range;
} cases[] = {
    {{-20, -30}, 2, 10},
    {{-20, -15}, 2, 5},
    {{-40, -20}, 2, 20},
    {{-50, -35, -20, -35, -50}, 5, 15},
};

static void start(Player *p, uint32_t channels)
{
    assert_true(play_init(p, &check, RATE, channels));
    play_set(p, &(CheckParams){.learn = true});
}

static void hear(Player *p, const float *x)
{
    float out[BLOCK];
    play(p, (const float *[]){x, x}, (float *[]){out, out}, BLOCK);
}

static double range_found(Player *p)
{
    CheckReport r;
    play_report(p, &r);
    play_done(p);
    return r.loudness_range;
}

static double range_of_tones(const double *db, int tones)
{
    Player p;
    start(&p, 2);
    for (uint32_t b = 0; b < (uint32_t)tones * TONE_BLOCKS; ++b) {
        float x[BLOCK];
        for (uint32_t t = 0; t < BLOCK; ++t)
            x[t] = (float)(db_to_gain(db[b / TONE_BLOCKS]) * sin(2.0 * DSP_PI * 1000.0 * t / RATE));
        hear(&p, x);
    }
    return range_found(&p);
}

static void ranges_of_tones(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < 4; ++i) {
        char text[64];
        const double range = range_of_tones(cases[i].db, cases[i].tones);
        snprintf(text, sizeof text, "Tech 3342 case %d, loudness range", i + 1);
        figure_within("Check", text, range, cases[i].range, 1.0, "LU", "EBU Tech 3342 [T]; wide: its tolerance");
        worst = fmax(worst, fabs(range - cases[i].range));
    }
    figure_at_most("Check", "Tech 3342, loudness ranges off by", worst, 0.2, "LU", "ours: a bin of Check's tally");
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Short-term values above -70 LUFS and then above 20 LU under their mean; from the 10th to the 95th percentile. */
static double range_of_list(double *lufs, size_t count)
{
    double gate = LOUDNESS_LOW;
    for (int pass = 0; pass < 2; ++pass) {
        double power = 0.0;
        size_t kept = 0;
        for (size_t i = 0; i < count; ++i)
            if (lufs[i] > gate) {
                lufs[kept++] = lufs[i];
                power += db_to_power(lufs[i]);
            }
        count = kept;
        gate = power_to_db(power / (double)count) - 20.0;
    }
    qsort(lufs, count, sizeof *lufs, by_size);
    return lufs[lround(0.95 * (double)(count - 1))] - lufs[lround(0.10 * (double)(count - 1))];
}

static void the_range_of_singing(void **state)
{
    (void)state;
    SingerTake take;
    assert_true(singer_sing(
        &(SingerSpec){.voice = SINGER_TENOR, .seed = seeded(8), .rate = RATE, .uneven_db = 6, .hiss_db = -60}, &take));
    Player p;
    static double lufs[MOST_BLOCKS];
    size_t count = 0;
    LoudnessNow now;
    loudness_now_init(&now, RATE, 1);
    start(&p, 1);
    for (uint32_t at = 0; at + BLOCK <= take.frames && count < MOST_BLOCKS; at += BLOCK) {
        hear(&p, take.audio + at);
        loudness_now_process(&now, (const float *[]){take.audio + at}, BLOCK);
        if (now.hops >= LOUDNESS_HOPS)
            lufs[count++] = loudness_now_short_term(&now);
    }
    figure_at_most("Check", "loudness range of singing, against its definition over a list",
                   fabs(range_found(&p) - range_of_list(lufs, count)), 0.1, "LU", "EBU Tech 3342 [T]");
    singer_free(&take);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ranges_of_tones),
        cmocka_unit_test(the_range_of_singing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
