/* EBU Tech 3341, Table 1 (seen second-hand): 1 kHz sines, stereo, in phase; levels are the peak of each channel
 * in dBFS. Cases 6 to 8, 10, 11, 13 and 14 (surround, recorded programme, moving starts) are not here. */
#include "loudness.h"
#include "true_peak.h"

#include "figure.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define SOURCE "EBU Tech 3341 Table 1 [T]"

typedef struct {
    double seconds, db;
} Tone;

typedef struct {
    int number;
    Tone tone[5];
    int repeats;
} Case;

static const Case steady[] = {
    {1, {{20, -23}}, 1},
    {2, {{20, -33}}, 1},
};

static const Case gated[] = {
    {3, {{10, -36}, {60, -23}, {10, -36}}, 1},
    {4, {{10, -72}, {10, -36}, {60, -23}, {10, -36}, {10, -72}}, 1},
    {5, {{20, -26}, {20.1, -20}, {20, -26}}, 1},
};

/* Called after each 100 ms of a case's sound. */
typedef void Watch(const Loudness *l, double seconds, void *data);

static void play(Loudness *l, const Case *c, double rate, Watch *watch, void *data)
{
    loudness_init(l, rate, 2);
    uint32_t at = 0;
    double end = 0.0;
    for (int r = 0; r < c->repeats; ++r)
        for (int i = 0; i < 5 && c->tone[i].seconds > 0.0; ++i) {
            end += c->tone[i].seconds;
            for (const double gain = db_to_gain(c->tone[i].db); at < end * rate; ++at) {
                const float x = (float)(gain * sin(2.0 * DSP_PI * 1000.0 * at / rate));
                loudness_process(l, (const float *[]){&x, &x}, 1);
                if (watch && (at + 1) % l->now.hop == 0)
                    watch(l, (at + 1) / rate, data);
            }
        }
}

static Loudness *meter(void)
{
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    return l;
}

static void expect(const Case *c, const char *what, double value, double expected)
{
    char text[64];
    snprintf(text, sizeof text, "Tech 3341 case %d, %s", c->number, what);
    figure_within("Loudness", text, value, expected, 0.1, "LUFS", SOURCE);
}

static void steady_tones(void **state)
{
    (void)state;
    Loudness *l = meter();
    for (int i = 0; i < 2; ++i) {
        play(l, &steady[i], 48000.0, NULL, NULL);
        expect(&steady[i], "momentary", loudness_now_momentary(&l->now), steady[i].tone[0].db);
        expect(&steady[i], "short-term", loudness_now_short_term(&l->now), steady[i].tone[0].db);
        expect(&steady[i], "integrated", loudness_integrated(l), steady[i].tone[0].db);
    }
    free(l);
}

static void gated_integrated(void **state)
{
    (void)state;
    Loudness *l = meter();
    for (int i = 0; i < 3; ++i) {
        play(l, &gated[i], 48000.0, NULL, NULL);
        expect(&gated[i], "integrated", loudness_integrated(l), -23.0);
    }
    free(l);
}

typedef struct {
    double from;
    double (*read)(const LoudnessNow *);
    double lo, hi;
} Span;

static void follow(const Loudness *l, double seconds, void *data)
{
    Span *s = data;
    if (seconds < s->from - 1e-6)
        return;
    s->lo = fmin(s->lo, s->read(&l->now));
    s->hi = fmax(s->hi, s->read(&l->now));
}

static void constant_short_term(void **state)
{
    (void)state;
    static const Case c = {9, {{1.34, -20}, {1.66, -30}}, 5};
    Loudness *l = meter();
    Span s = {3.0, loudness_now_short_term, 0.0, -100.0};
    play(l, &c, 48000.0, follow, &s);
    expect(&c, "short-term, lowest after 3 s", s.lo, -23.0);
    expect(&c, "short-term, highest after 3 s", s.hi, -23.0);
    free(l);
}

static void constant_momentary(void **state)
{
    (void)state;
    static const Case c = {12, {{0.18, -20}, {0.22, -30}}, 25};
    Loudness *l = meter();
    Span s = {1.0, loudness_now_momentary, 0.0, -100.0};
    play(l, &c, 48000.0, follow, &s);
    expect(&c, "momentary, lowest after 1 s", s.lo, -23.0);
    expect(&c, "momentary, highest after 1 s", s.hi, -23.0);
    free(l);
}

static const struct {
    int number;
    double divisor, degrees, amplitude, dbtp;
} peaks[] = {
    {15, 4, 0, 0.50, -6.0},    {16, 4, 45, 0.50, -6.0}, {17, 6, 60, 0.50, -6.0},
    {18, 8, 67.5, 0.50, -6.0}, {19, 4, 45, 1.41, 3.0},
};

/* One second that comes and goes in 10 ms. */
static double peak_reading(int i, double rate)
{
    TruePeak p;
    true_peak_init(&p, rate);
    const int n = (int)rate, fade = (int)(0.01 * rate);
    float highest = 0.f;
    for (int t = 0; t < n; ++t) {
        const int edge = t < n - t ? t : n - t;
        const double w = edge < fade ? (double)edge / fade : 1.0;
        const float x = (float)(w * peaks[i].amplitude *
                                sin(2.0 * DSP_PI * t / peaks[i].divisor + peaks[i].degrees * DSP_PI / 180.0));
        highest = fmaxf(highest, true_peak_above(&p, 0, &x, 0.f, 1));
    }
    return gain_to_db(highest);
}

static void true_peaks(void **state)
{
    (void)state;
    for (int i = 0; i < 5; ++i) {
        char text[64];
        snprintf(text, sizeof text, "Tech 3341 case %d, true peak", peaks[i].number);
        const double db = peak_reading(i, 48000.0), low = peaks[i].dbtp - 0.4, high = peaks[i].dbtp + 0.2;
        figure_within("True peak", text, db, (low + high) / 2.0, 0.3, "dBTP", "EBU Tech 3341 Table 1 [T], +0.2/-0.4");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_tones),       cmocka_unit_test(gated_integrated), cmocka_unit_test(constant_short_term),
        cmocka_unit_test(constant_momentary), cmocka_unit_test(true_peaks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
