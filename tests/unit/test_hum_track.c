/* The hum of a whole take, from points: made ones, whose fundamental and make-up are known, then recorded voices
 * (tests/voices.h) with a hum planted in them that stands still or drifts. What is left is known to the sample: what
 * is said to be hum less the hum that was planted. LINCTUS_VOICES=tune asks those that constants were set on,
 * LINCTUS_VOICES=all everybody. */
#include "hum_track.h"

#include "asked.h"
#include "figure.h"
#include "hum_points.h"
#include "singer/noises.h"
#include "units.h"
#include "values.h"
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

#define RATE    48000.0
#define SECONDS 20.0
#define UNDER   20.0 /* dB: the hum under the voice */
#define LEVEL   (-40.0)

enum { HARMONICS_50 = 20, HARMONICS_60 = 16, MADE = 12 * 48000, LONGEST = 20 * 48000 };

/* ---- A take ---- */

typedef struct {
    float *hum, *in, *left, *point[DSP_CHANNELS];
    uint32_t n, channels;
    HumTrack track;
} Take;

static float *floats(uint32_t n)
{
    float *const x = calloc(n, sizeof *x);
    assert_non_null(x);
    return x;
}

static Take humming(uint32_t n, double hz, double drift, double rms, uint32_t seed)
{
    Take t = {.hum = floats(n), .in = floats(n), .left = floats(n), .n = n, .channels = 1};
    add_hum((Recording){t.hum, n, RATE}, hz, drift, hz > 55.0 ? HARMONICS_60 : HARMONICS_50, rms, (Random){seed, 1});
    memcpy(t.in, t.hum, n * sizeof *t.in);
    return t;
}

static void drop(Take *t)
{
    free(t->hum);
    free(t->in);
    free(t->left);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        free(t->point[c]);
    hum_track_done(&t->track);
}

/* The second channel has half of the first. */
static void find(Take *t, double rate, uint32_t family, double db)
{
    HumTrackTake take = {.rate = rate, .channels = t->channels, .stride = hum_points_stride(rate)};
    take.points = t->n / take.stride;
    for (uint32_t c = 0; c < t->channels; ++c) {
        HumPoints p = {.stride = take.stride};
        t->point[c] = floats(take.points);
        hum_points_process(&p, t->in, t->point[c], take.points * take.stride);
        for (uint32_t i = 0; c && i < take.points; ++i)
            t->point[c][i] *= 0.5f;
        take.point[c] = t->point[c];
    }
    assert_true(hum_track_find(&t->track, &take, family, db));
}

static void play(const Take *t, uint32_t channel, double up_to, float *to)
{
    float hum[DSP_CHANNELS][DSP_CELL], told[DSP_CELL], *const now[DSP_CHANNELS] = {hum[0], hum[1]};
    for (uint32_t from = 0; from < t->n; from += DSP_CELL) {
        const uint32_t n = t->n - from < DSP_CELL ? t->n - from : DSP_CELL;
        hum_track_play(&t->track, from, up_to, now, told, n);
        memcpy(to + from, now[channel], n * sizeof *to);
    }
}

static double power(const float *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        sum += (double)x[i] * (double)x[i];
    return sum / n;
}

/* By how much less than the hum is left, all of it where it is not told, in one cell of eight from beginning to end. */
static double down(const Take *t)
{
    float hum[DSP_CHANNELS][DSP_CELL], told[DSP_CELL], *const now[DSP_CHANNELS] = {hum[0], hum[1]};
    double before = 0.0, after = 1e-30;
    for (uint32_t from = 0; from + DSP_CELL <= t->n; from += 8 * DSP_CELL) {
        hum_track_play(&t->track, from, FOLLOWER_HIGHEST, now, told, DSP_CELL);
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            hum[0][i] = told[i] * hum[0][i] - t->hum[from + i];
        before += power(t->hum + from, DSP_CELL);
        after += power(hum[0], DSP_CELL);
    }
    return power_to_db(before / after);
}

/* Bursts of a note that lies on the hum's third harmonic, a second long, with rests of half of one. */
static void add_notes(Take *t, double rms)
{
    for (uint32_t i = 0; i < t->n; ++i) {
        const double at = i / RATE, place = fmod(at, 1.5);
        const double swell = place < 1.0 ? sin(DSP_PI * place) : 0.0;
        t->in[i] += (float)(rms * sqrt(2.0) * swell * sin(2.0 * DSP_PI * 150.0 * at));
    }
}

/* ---- Made takes ---- */

static void a_hum_alone_is_known(void **state)
{
    (void)state;
    for (uint32_t family = 0; family < FOLLOWER_FAMILIES; ++family) {
        Take t = humming(MADE, family ? 60.0 : 50.0, 0.01, db_to_gain(LEVEL), 3);
        find(&t, RATE, family, LEVEL);
        assert_true(t.track.settled);
        figure_at_least("Hum", "of a whole take, drifting by 1 %, alone: down by", down(&t), 40.0, "dB", "ours");
        drop(&t);
    }
}

static void notes_on_a_harmonic_do_not_bend_it(void **state)
{
    (void)state;
    for (int drifts = 0; drifts < 2; ++drifts) {
        Take t = humming(MADE, 50.0, drifts ? 0.01 : 0.0, db_to_gain(LEVEL), 5);
        add_notes(&t, db_to_gain(LEVEL + 25.0));
        find(&t, RATE, 0, LEVEL);
        assert_true(t.track.settled);
        figure_at_least("Hum", "of a whole take, notes on its third harmonic 25 dB over it: down by", down(&t), 40.0,
                        "dB", "ours");
        drop(&t);
    }
}

/* Bursts of hiss, two seconds long, with rests of half of one. What is hissed on a harmonic now and then leaves its
 * amplitude as it was, by chance, and turns it all the same. */
static void noise_over_it_does_not_bend_it(void **state)
{
    (void)state;
    static const double hz[FOLLOWER_FAMILIES] = {50.0, 60.0};
    for (uint32_t family = 0; family < FOLLOWER_FAMILIES; ++family) {
        Take t = humming(MADE, hz[family], 0.0, db_to_gain(LEVEL), 5);
        float *const hiss = floats(t.n);
        add_hiss((Recording){hiss, t.n, RATE}, db_to_gain(LEVEL + 15.0), (Random){2 - family, 1});
        for (uint32_t i = 0; i < t.n; ++i) {
            const double place = fmod(i / RATE, 2.5);
            t.in[i] += (float)dsp_clamp(10.0 * fmin(place, 2.0 - place), 0.0, 1.0) * hiss[i];
        }
        free(hiss);
        find(&t, RATE, family, LEVEL);
        assert_true(t.track.settled);
        figure_at_least("Hum", "of a whole take, bursts of hiss 15 dB over it: down by", down(&t), 22.0, "dB", "ours");
        drop(&t);
    }
}

static float told_at(const Take *t, double second)
{
    float hum[DSP_CHANNELS][DSP_CELL], told[DSP_CELL], *const now[DSP_CHANNELS] = {hum[0], hum[1]};
    hum_track_play(&t->track, (uint64_t)(second * RATE), FOLLOWER_HIGHEST, now, told, DSP_CELL);
    return told[0];
}

/* The first five seconds are covered, so that the curve goes astray there. */
static void what_nothing_tells_of_is_said(void **state)
{
    (void)state;
    Take t = humming(MADE, 50.0, 0.01, db_to_gain(LEVEL), 5);
    add_hiss((Recording){t.in, (size_t)5 * 48000, RATE}, db_to_gain(LEVEL + 45.0), (Random){2, 1});
    find(&t, RATE, 0, LEVEL);
    assert_true(t.track.settled);
    for (double second = 0.1; second < 4.8; second += 0.3)
        assert_true(told_at(&t, second) == 0.f);
    for (double second = 5.2; second < 12.0; second += 0.3)
        assert_true(told_at(&t, second) == 1.f);
    drop(&t);
}

/* In rests too. The other harmonics tell. */
static void rumble_hides_no_hum(void **state)
{
    (void)state;
    Take t = humming(MADE, 50.0, 0.01, db_to_gain(LEVEL), 5);
    float *const hiss = floats(t.n);
    double first = 0.0, second = 0.0;
    add_hiss((Recording){hiss, t.n, RATE}, db_to_gain(LEVEL + 24.0), (Random){2, 1});
    for (uint32_t i = 0; i < t.n; ++i) {
        const double keep = 1.0 - 2.0 * DSP_PI * 50.0 / RATE;
        first = (double)hiss[i] + keep * (first - (double)hiss[i]);
        second = first + keep * (second - first);
        t.in[i] += (float)second;
    }
    free(hiss);
    add_notes(&t, db_to_gain(LEVEL + 25.0));
    find(&t, RATE, 0, LEVEL);
    assert_true(t.track.settled);
    figure_at_least("Hum", "of a whole take, rumble about its fundamental: down by", down(&t), 12.0, "dB", "ours");
    drop(&t);
}

static void channels_share_the_curve(void **state)
{
    (void)state;
    Take t = humming(MADE / 2, 50.0, 0.01, db_to_gain(LEVEL), 4);
    t.channels = 2;
    find(&t, RATE, 0, LEVEL);
    assert_true(down(&t) > 40.0);
    float *const other = floats(t.n);
    play(&t, 0, FOLLOWER_HIGHEST, t.left);
    play(&t, 1, FOLLOWER_HIGHEST, other);
    for (uint32_t i = 0; i < t.n; ++i)
        assert_true(fabsf(other[i] - 0.5f * t.left[i]) < 1e-5f);
    free(other);
    drop(&t);
}

static void nothing_over_up_to_is_put_out(void **state)
{
    (void)state;
    Take t = humming(MADE / 2, 50.0, 0.0, db_to_gain(LEVEL), 4);
    find(&t, RATE, 0, LEVEL);
    play(&t, 0, 50.0, t.left);
    /* One sine: its slope has 2 pi 50 times its power. */
    double slope = 0.0;
    for (uint32_t i = 1; i < t.n; ++i)
        slope += pow((double)(t.left[i] - t.left[i - 1]) * RATE, 2.0) / (t.n - 1);
    assert_true(fabs(sqrt(slope / power(t.left, t.n)) / (2.0 * DSP_PI * 50.0) - 1.0) < 1e-3);
    play(&t, 0, 49.0, t.left);
    assert_true(power(t.left, t.n) == 0.0);
    drop(&t);
}

/* Where a take was cut out there is no hum, and none is put in. */
static void silence_stays_silent(void **state)
{
    (void)state;
    Take t = humming(MADE, 50.0, 0.0, db_to_gain(LEVEL), 4);
    const uint32_t from = 3 * 48000, to = 5 * 48000, edge = 4800;
    memset(t.in + from, 0, (to - from) * sizeof *t.in);
    find(&t, RATE, 0, LEVEL);
    assert_true(t.track.settled);
    play(&t, 0, FOLLOWER_HIGHEST, t.left);
    assert_true(power(t.left + from + edge, to - from - 2 * edge) == 0.0);
    assert_true(fabs(power_to_db(power(t.left, from - edge)) - LEVEL) < 0.1);
    drop(&t);
}

/* At other rates points lie closer or wider. */
static void any_rate_will_do(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 44100.0, 192000.0};
    for (uint32_t i = 0; i < 3; ++i) {
        Take t = {.n = (uint32_t)(4.0 * rates[i]), .channels = 1};
        t.hum = floats(t.n);
        t.in = floats(t.n);
        t.left = floats(t.n);
        add_hum((Recording){t.hum, t.n, rates[i]}, 60.0, 0.01, HARMONICS_60, db_to_gain(LEVEL), (Random){5, 1});
        memcpy(t.in, t.hum, t.n * sizeof *t.in);
        find(&t, rates[i], 1, LEVEL);
        assert_true(t.track.settled);
        assert_true(down(&t) > 40.0);
        drop(&t);
    }
}

static void what_is_no_hum_is_not_settled(void **state)
{
    (void)state;
    Take t = humming(MADE, 50.0, 0.0, 0.0, 4);
    for (int what = 0; what < 2; ++what) {
        if (what)
            add_hiss((Recording){t.in, t.n, RATE}, db_to_gain(LEVEL), (Random){9, 1});
        find(&t, RATE, 0, LEVEL);
        assert_false(t.track.settled);
        play(&t, 0, FOLLOWER_HIGHEST, t.left);
        assert_true(power(t.left, t.n) == 0.0);
        hum_track_done(&t.track);
        free(t.point[0]);
        t.point[0] = NULL;
    }
    t.n = 48000 / 10;
    find(&t, RATE, 0, LEVEL);
    assert_false(t.track.settled);
    drop(&t);
}

/* ---- Recorded voices ---- */

/* A hum to be planted in every voice: of power 1. */
typedef struct {
    double hz, drift;
    float *x;
} Planted;

static void add(Values *to, uint32_t v, const Spoken *take, const Planted *hum)
{
    const double rms = sqrt(power(take->x, take->n) * db_to_power(-UNDER));
    Take t = {.hum = floats(take->n), .in = floats(take->n), .n = take->n, .channels = 1};
    for (uint32_t i = 0; i < take->n; ++i) {
        t.hum[i] = (float)rms * hum->x[i];
        t.in[i] = t.hum[i] + take->x[i];
    }
    find(&t, RATE, hum->hz > 55.0, gain_to_db(rms));
    const double by = down(&t);
    printf("%-9s %2.0f Hz +-%.0f %%, whole take: %s, %5.1f dB down\n", voices[v].name, hum->hz, 100.0 * hum->drift,
           t.track.settled ? "settled" : "not settled", by);
    values_add(to, by);
    drop(&t);
}

static void voices_with(double drift, Values *to)
{
    Planted hum[FOLLOWER_FAMILIES] = {{.hz = 50.0}, {.hz = 60.0}};
    for (uint32_t f = 0; f < FOLLOWER_FAMILIES; ++f) {
        hum[f].drift = drift;
        hum[f].x = floats(LONGEST);
        add_hum((Recording){hum[f].x, LONGEST, RATE}, hum[f].hz, drift, f ? HARMONICS_60 : HARMONICS_50, 1.0,
                (Random){5 + f, 1});
    }
    for (uint32_t v = 0; v < VOICES_ALL; ++v) {
        Spoken take;
        if (!asked_voice(v) || !voices_speak(&take, v, 0, SECONDS))
            continue;
        take.n = take.n < LONGEST ? take.n : LONGEST;
        for (uint32_t f = 0; f < FOLLOWER_FAMILIES && take.n > LONGEST / 2; ++f)
            add(to, v, &take, &hum[f]);
        spoken_free(&take);
    }
    for (uint32_t f = 0; f < FOLLOWER_FAMILIES; ++f)
        free(hum[f].x);
    if (!to->n)
        skip();
}

static void under_voices_it_stands_still(void **state)
{
    (void)state;
    static Values by;
    voices_with(0.0, &by);
    figure_at_least("Hum", asked_whom("20 dB under them, whole take known: down by, median"), values_median(&by), 30.0,
                    "dB", "requirement");
    figure_note("Hum", asked_whom("20 dB under them, whole take known: down by, least"), by.value[0], "dB");
}

static void under_voices_it_drifts(void **state)
{
    (void)state;
    static Values by;
    voices_with(0.01, &by);
    figure_at_least("Hum", asked_whom("swinging by 1 % in 23 s, whole take known: down by, median"), values_median(&by),
                    30.0, "dB", "requirement");
    figure_note("Hum", asked_whom("swinging by 1 % in 23 s, whole take known: down by, least"), by.value[0], "dB");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hum_alone_is_known),
        cmocka_unit_test(notes_on_a_harmonic_do_not_bend_it),
        cmocka_unit_test(noise_over_it_does_not_bend_it),
        cmocka_unit_test(rumble_hides_no_hum),
        cmocka_unit_test(what_nothing_tells_of_is_said),
        cmocka_unit_test(channels_share_the_curve),
        cmocka_unit_test(nothing_over_up_to_is_put_out),
        cmocka_unit_test(silence_stays_silent),
        cmocka_unit_test(any_rate_will_do),
        cmocka_unit_test(what_is_no_hum_is_not_settled),
        cmocka_unit_test(under_voices_it_stands_still),
        cmocka_unit_test(under_voices_it_drifts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
