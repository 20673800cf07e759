/* Ticks: each stage from tables, then the processor: what is no tick passes to the bit, at every rate a planted click
 * goes and the sound beside it stays; what goes and what stays add up to the take. */
#include "ticks.h"

#include "figure.h"
#include "linear_prediction.h"
#include "play.h"
#include "singer.h"
#include "singer/noises.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const TicksParams usual = {.down = 60.0, .from = 14.0, .faintest = -40.0, .longest = 5.0};

static float *floats(uint32_t n)
{
    float *const x = calloc(n + 1, sizeof *x);
    assert_non_null(x);
    return x;
}

static double noise(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return (double)(*state >> 8) / 8388608.0 - 1.0;
}

/* ---- What stands out ---- */

enum { AT = 60, FAR = 50 };

/* All pieces are 1, that in question 100, and one other. */
static bool stands_out(uint32_t other, double strength, double over, Tick *tick, uint64_t *first)
{
    double error[TICK_RING];
    for (uint32_t i = 0; i < TICK_RING; ++i)
        error[i] = 1.0;
    error[AT] = 100.0;
    error[other] = strength;
    return tick_stands_out(error, AT, over, 10, tick, first);
}

static void a_tick_stands_out_of_what_is_around(void **state)
{
    (void)state;
    Tick t;
    uint64_t first;
    assert_true(stands_out(0, 1.0, 19.9, &t, &first));
    assert_true(fabs(t.over - 20.0) < 1e-9 && t.around == 1.0);
    assert_false(stands_out(0, 1.0, 20.1, &t, &first));
    const uint32_t spoils[] = {AT - 40, AT - 5, AT + 9, AT + 30}, leaves[] = {AT - 41, AT - 4, AT + 8, AT + 31};
    for (uint32_t i = 0; i < 4; ++i) {
        assert_false(stands_out(spoils[i], 50.0, 14.0, &t, &first));
        assert_true(stands_out(leaves[i], 50.0, 14.0, &t, &first));
    }
    assert_false(stands_out(AT + 6, 101.0, 14.0, &t, &first)); /* not the strongest */
    assert_false(stands_out(AT - 6, 101.0, 14.0, &t, &first));
    assert_true(stands_out(AT + 7, 101.0, 14.0, &t, &first));
}

/* An edit: silence on one side, exact zeros. */
static void an_edge_of_silence_is_no_tick(void **state)
{
    (void)state;
    for (int side = 0; side < 3; ++side) {
        double error[TICK_RING] = {0.0};
        for (uint32_t i = 0; i < TICK_RING; ++i)
            error[i] = (side == 0 && i < AT) || (side == 1 && i > AT) || side == 2 ? 1.0 : 0.0;
        error[AT] = 1000.0;
        Tick t;
        uint64_t first;
        assert_int_equal(tick_stands_out(error, AT, 14.0, 10, &t, &first), side == 2);
    }
}

/* It rings 11 dB a millisecond down to 3 dB over the mean: 100, 28, 7.8, 2.2. */
static void a_tick_begins_where_it_rises_and_rings_on(void **state)
{
    (void)state;
    Tick t;
    uint64_t first;
    double error[TICK_RING];
    assert_true(stands_out(0, 1.0, 14.0, &t, &first));
    assert_int_equal(first, AT - 1);
    assert_int_equal(t.pieces, 6);
    const double rings[] = {1.0, 100.0, 28.0, 7.84, 2.1952, 1.0};
    for (uint32_t i = 0; i < 6; ++i)
        assert_true(fabs(t.error[i] - rings[i]) < 1e-9);
    assert_true(stands_out(AT + 2, 30.0, 14.0, &t, &first) && t.error[3] == 30.0 && t.pieces == 6);
    assert_true(stands_out(AT - 1, 3.0, 14.0, &t, &first) && first == AT - 2 && t.error[1] == 3.0 && t.pieces == 7);
    for (uint32_t i = 0; i < TICK_RING; ++i)
        error[i] = 1.0;
    for (uint32_t i = AT - 9; i <= AT + 8; ++i)
        error[i] = i < AT - 4 ? 1.0 : 90.0;
    error[AT] = 1e6;
    assert_true(tick_stands_out(error, AT, 14.0, 3, &t, &first));
    assert_true(first == AT - 5 && t.pieces == 5); /* as early as may be, and three pieces long */
    assert_true(tick_stands_out(error, AT, 14.0, 12, &t, &first));
    assert_int_equal(t.pieces, 14);
}

/* All pieces are 1, but ten in a row. */
static void a_rise_is_that_of_the_loudest_five_milliseconds(void **state)
{
    (void)state;
    const struct {
        uint32_t from;
        double rise;
    } steps[] = {{AT + 9, 20.0},    {AT + 47, 20.0},  {AT + 48, 19.547}, {AT - 4, 0.0},
                 {AT - 5, -10.374}, {AT - 14, -20.0}, {AT - 40, -20.0},  {AT - 41, -19.547}};
    for (uint32_t s = 0; s < sizeof steps / sizeof *steps; ++s) {
        double power[TICK_RING];
        for (uint32_t i = 0; i < TICK_RING; ++i)
            power[i] = 1.0;
        for (uint32_t i = 0; i < 10; ++i)
            power[steps[s].from + i] = 100.0;
        assert_true(fabs(tick_rise(power, AT) - steps[s].rise) < 0.01);
    }
}

/* ---- The finder ---- */

static void clicks_are_found_where_they_are(void **state)
{
    (void)state;
    static TickFinder f;
    static const double rates[] = {8000, 11025, 22050, 44100, 48000, 47000};
    for (uint32_t r = 0; r < 6; ++r) {
        const uint32_t n = (uint32_t)rates[r];
        float *const x = floats(n);
        uint32_t seed = 3, found = 0;
        for (uint32_t i = 0; i < n; ++i)
            x[i] = (float)(0.001 * noise(&seed));
        for (uint32_t k = 0; k < 8; ++k)
            add_click((Recording){x, n, rates[r]}, 0.1013 + 0.1 * k, 0.002, 0.1, random_stream(5, k));
        tick_finder_init(&f, rates[r]);
        tick_finder_reset(&f);
        assert_int_equal(f.piece, (uint32_t)(rates[r] * 0.0005));
        for (uint32_t i = 0; i + f.piece <= n; i += f.piece) {
            Tick t;
            tick_finder_hear(&f, x + i, f.piece);
            if (!tick_finder_step(&f, 14.0, 10, &t))
                continue;
            const double at = (0.1013 + 0.1 * found++) * rates[r];
            const double early = at - (double)t.from;
            assert_true(early >= 0.0 && early <= 2.0 * f.piece && t.n == t.pieces * f.piece);
            assert_true(f.heard - t.from <= (uint64_t)(TICK_LATE + TICK_EARLY) * f.piece);
        }
        assert_int_equal(found, 8);
        free(x);
    }
}

/* Noise that gets 20 dB louder 20 ms after a click, as behind the burst of a b: the click has to stand out by 8 dB
 * more; 40 ms after one it is nothing to it. */
static void a_burst_before_a_sound_is_no_tick(void **state)
{
    (void)state;
    const struct {
        double later, strength;
        uint32_t ticks;
    } cases[] = {{0.02, 0.05, 0}, {0.02, 0.5, 1}, {0.04, 0.05, 1}};
    for (uint32_t c = 0; c < 3; ++c) {
        static TickFinder f;
        const double at = 0.3013, rate = 48000.0;
        static float x[24000];
        uint32_t seed = 3, found = 0;
        for (uint32_t i = 0; i < 24000; ++i)
            x[i] = (float)((i < (at + cases[c].later) * rate ? 0.001 : 0.01) * noise(&seed));
        add_click((Recording){x, 24000, rate}, at, 0.001, cases[c].strength, random_stream(5, 1));
        tick_finder_init(&f, rate);
        tick_finder_reset(&f);
        for (uint32_t i = 0; i + f.piece <= 24000; i += f.piece) {
            Tick t;
            tick_finder_hear(&f, x + i, f.piece);
            found += tick_finder_step(&f, 14.0, 10, &t);
        }
        assert_int_equal(found, cases[c].ticks);
    }
}

/* ---- What a tick adds ---- */

enum { PIECE = 20, LENGTH = 5 * PIECE, ROOM = LENGTH + 2 * TICK_BESIDE };

/* Autocorrelation of white noise through 1 / (1 - 1.6 z^-1 + 0.8 z^-2), from its impulse response. */
static void process(double *r)
{
    double h[400] = {1.0, 1.6};
    for (int i = 2; i < 400; ++i)
        h[i] = 1.6 * h[i - 1] - 0.8 * h[i - 2];
    for (int lag = 0; lag <= TICK_ORDER; ++lag) {
        r[lag] = 0.0;
        for (int i = lag; i < 400; ++i)
            r[lag] += h[i] * h[i - lag];
    }
}

/* A process of that kind, of the difference: strong at 1/13 of the rate. */
static void make_sound(float *x, uint32_t n, double level, uint32_t seed)
{
    double d[3] = {0.0}, sum = 0.0;
    for (uint32_t i = 0; i < n + 1000; ++i) {
        d[0] = 1.6 * d[1] - 0.8 * d[2] + level * noise(&seed);
        d[2] = d[1];
        d[1] = d[0];
        sum = 0.99 * sum + d[0];
        if (i >= 1000)
            x[i - 1000] = (float)sum;
    }
}

static Tick make_tick(double level)
{
    double r[TICK_ORDER + 1];
    Tick t = {.n = LENGTH, .pieces = 5, .around = level * level / 3.0};
    process(r);
    linear_prediction(r, TICK_ORDER, t.a);
    for (uint32_t k = 0; k < 5; ++k)
        t.error[k] = t.around * (k == 0 || k == 4 ? 1.0 : k == 1 ? 1e6 : 1e3);
    return t;
}

static double power(const double *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        sum += x[i] * x[i];
    return sum / n;
}

static void what_a_tick_adds_is_worked_out(void **state)
{
    (void)state;
    static TickRepair at_once, stepwise;
    float clean[ROOM], x[ROOM];
    double tick[LENGTH] = {0.0}, left[LENGTH], rate = 0.0;
    make_sound(clean, ROOM, 0.001, 7);
    const Tick t = make_tick(0.001);
    memcpy(x, clean, sizeof x);
    for (uint32_t i = PIECE; i < 4 * PIECE; ++i) {
        tick[i] = 0.3 * exp(-0.12 * (i - PIECE)) * cos(1.1 * (i - PIECE));
        x[TICK_BESIDE + i] += (float)tick[i];
    }
    tick_repair_begin(&at_once, &t, (const float *const[]){x}, 1);
    tick_repair_step(&at_once, at_once.steps);
    tick_repair_begin(&stepwise, &t, (const float *const[]){x}, 1);
    for (uint32_t k = 1; stepwise.done < stepwise.steps; ++k, ++rate)
        tick_repair_step(&stepwise, k);
    assert_memory_equal(at_once.tick[0], stepwise.tick[0], LENGTH * sizeof(double));
    assert_int_equal(rate, at_once.steps);
    for (uint32_t i = 0; i < LENGTH; ++i)
        left[i] = at_once.tick[0][i] - tick[i];
    figure_at_least("Ticks", "a ringing tick in a process of order 2: taken out of it",
                    power_to_db(power(tick, LENGTH) / power(left, LENGTH)), 14.0, "dB", "ours");
    assert_true(fabs(at_once.tick[0][0]) < 0.01 && fabs(at_once.tick[0][LENGTH - 1]) < 0.01);
}

/* Where only the difference of the tick to a smooth sound can be told, it is: a channel by itself. */
static void channels_are_mended_by_themselves(void **state)
{
    (void)state;
    static TickRepair both, alone;
    float x[2][ROOM] = {{0.f}};
    const Tick t = make_tick(0.001);
    make_sound(x[1], ROOM, 0.001, 9);
    x[1][TICK_BESIDE + PIECE + 3] += 0.2f;
    tick_repair_begin(&both, &t, (const float *const[]){x[0], x[1]}, 2);
    tick_repair_step(&both, both.steps);
    tick_repair_begin(&alone, &t, (const float *const[]){x[1]}, 1);
    tick_repair_step(&alone, alone.steps);
    assert_memory_equal(both.tick[1], alone.tick[0], LENGTH * sizeof(double));
    assert_true(fabs(alone.tick[0][PIECE + 3] - 0.2) < 0.02);
    for (uint32_t i = 0; i < LENGTH; ++i)
        assert_true(both.tick[0][i] == 0.0);
}

/* From the first sample to the last, where the tick is strong in every piece: single samples that are off. */
static void every_sample_is_worked_out(void **state)
{
    (void)state;
    static TickRepair r;
    const uint32_t at[] = {1, 9, LENGTH / 2, LENGTH - 10, LENGTH - 2};
    for (uint32_t k = 0; k < 5; ++k) {
        float x[ROOM];
        Tick t = make_tick(0.001);
        make_sound(x, ROOM, 0.001, 3 + k);
        for (uint32_t i = 0; i < 5; ++i)
            t.error[i] = t.around * 1e6;
        x[TICK_BESIDE + at[k]] += 0.5f;
        tick_repair_begin(&r, &t, (const float *const[]){x}, 1);
        tick_repair_step(&r, r.steps);
        assert_true(fabs(r.tick[0][at[k]] - 0.5) < 0.05);
    }
}

/* What has no tick but is said to have one is not made rougher. */
static void nothing_is_made_rougher(void **state)
{
    (void)state;
    static TickRepair r;
    for (uint32_t seed = 0; seed < 20; ++seed) {
        float x[ROOM];
        double before = 0.0, after = 0.0;
        const Tick t = make_tick(0.001);
        make_sound(x, ROOM, 1e-4 * (seed + 1), seed);
        tick_repair_begin(&r, &t, (const float *const[]){x}, 1);
        tick_repair_step(&r, r.steps);
        for (uint32_t i = 0; i <= LENGTH; ++i) {
            const double step = (double)x[TICK_BESIDE + i] - (double)x[TICK_BESIDE + i - 1];
            const double now = i < LENGTH ? r.tick[0][i] : 0.0, last = i ? r.tick[0][i - 1] : 0.0;
            before += step * step;
            after += (step - now + last) * (step - now + last);
        }
        assert_true(after <= before);
    }
}

/* The sound that is put in the tick's place: noise drawn to it makes up for what cannot be told. */
static void what_cannot_be_told_is_drawn(void **state)
{
    (void)state;
    static TickRepair r;
    double drawn = 0.0, was = 0.0;
    for (uint32_t seed = 0; seed < 20; ++seed) {
        float x[ROOM];
        double put[2 * PIECE], here[2 * PIECE];
        uint32_t dice = 77 + seed;
        Tick t = {.n = LENGTH, .pieces = 5, .around = 1e-6, .a = {1.0, 1.0}}; /* (1 + z)(1 - z) leaves white noise of */
        for (uint32_t i = 0; i < ROOM; ++i)
            x[i] = (float)(0.001 * sqrt(3.0) * noise(&dice));
        t.a[1] = 0.9;
        t.a[2] = 0.8;
        for (uint32_t k = 0; k < 5; ++k)
            t.error[k] = k == 0 || k == 4 ? t.around : 1.0;
        x[TICK_BESIDE + LENGTH / 2] += 1.f;
        tick_repair_begin(&r, &t, (const float *const[]){x}, 1);
        tick_repair_step(&r, r.steps);
        for (uint32_t i = 0; i < 2 * PIECE; ++i) {
            here[i] = (double)x[TICK_BESIDE + 3 * PIECE / 2 + i];
            put[i] = here[i] - r.tick[0][3 * PIECE / 2 + i];
        }
        here[PIECE] -= here[PIECE] > 0.5 ? 1.0 : 0.0;
        drawn += power(put, 2 * PIECE) / 20;
        was += power(here, 2 * PIECE) / 20;
    }
    figure_within("Ticks", "what is put in the place of a tick in noise, to that noise", power_to_db(drawn / was), -2.7,
                  0.3, "dB", "own truth: DRAWN by this predictor's gain, and what is known from both sides");
}

/* Power that a predictor of order 1 of the difference leaves beside the tick. */
static double left_beside(const float *x, double a)
{
    double sum = 0.0;
    for (uint32_t i = TICK_TAPS; i < TICK_BESIDE; ++i) {
        const double left = (double)x[i] + (a - 1.0) * (double)x[i - 1] - a * (double)x[i - 2];
        sum += left * left / (TICK_BESIDE - TICK_TAPS);
    }
    return sum;
}

/* By the quieter side, and by the fourth root of how much the predictor raises white noise, 1 + a^2, up to a limit. */
static void a_voice_covers_more_of_what_is_drawn(void **state)
{
    (void)state;
    static TickRepair r;
    static const struct {
        double a, drawn;
    } of[] = {{0.0, 0.4}, {-0.8, 0.45266}, {-4.0, 0.7}};
    float x[ROOM];
    uint32_t dice = 77;
    for (uint32_t i = 0; i < ROOM; ++i)
        x[i] = (i < ROOM / 2 ? 0.01f : 0.02f) * (float)noise(&dice);
    for (uint32_t i = 0; i < 3; ++i) {
        Tick t = {.n = LENGTH, .pieces = 5, .around = 1e-6, .a = {1.0, of[i].a}};
        tick_repair_begin(&r, &t, (const float *const[]){x}, 1);
        assert_true(fabs(r.drawn[0] / sqrt(left_beside(x, of[i].a)) / of[i].drawn - 1.0) < 1e-3);
    }
}

/* ---- The processor ---- */

typedef struct {
    double rate;
    uint32_t n, channels;
    float *in[2], *out[2];
    TicksReport report;
} Played;

static void played_free(Played *p)
{
    for (uint32_t c = 0; c < 2; ++c) {
        free(p->in[c]);
        free(p->out[c]);
    }
}

/* Noise 60 dB down and a tone of 220 Hz: 1 s. */
static Played quiet(double rate, uint32_t channels)
{
    Played p = {.rate = rate, .n = (uint32_t)rate, .channels = channels};
    uint32_t seed = 11;
    for (uint32_t c = 0; c < 2; ++c) {
        p.in[c] = floats(p.n);
        p.out[c] = floats(p.n);
    }
    for (uint32_t i = 0; i < p.n; ++i)
        for (uint32_t c = 0; c < channels; ++c)
            p.in[c][i] = (float)(0.001 * noise(&seed) + 0.1 * sin(2.0 * DSP_PI * 220.0 * i / rate));
    return p;
}

static void plant(Played *p, uint32_t channel, double peak, double length)
{
    for (uint32_t k = 0; k < 6; ++k)
        add_click((Recording){p->in[channel], p->n, p->rate}, 0.2 + 0.1 * k, length, peak, random_stream(3, k));
}

/* The latency is taken out. */
static void run(Played *p, const TicksParams *params)
{
    Player player;
    float *late[2], *const rest = floats((uint32_t)(0.05 * p->rate));
    assert_true(play_init(&player, &ticks, p->rate, p->channels));
    const uint32_t latency = play_latency(&player);
    assert_true(latency <= 0.05 * p->rate);
    for (uint32_t c = 0; c < 2; ++c)
        late[c] = floats(p->n + latency);
    play_set(&player, params);
    play(&player, (const float *[]){p->in[0], p->in[1]}, late, p->n);
    play_report(&player, &p->report);
    play(&player, (const float *[]){rest, rest}, (float *[]){late[0] + p->n, late[1] + p->n}, latency);
    for (uint32_t c = 0; c < 2; ++c) {
        memcpy(p->out[c], late[c] + latency, p->n * sizeof(float));
        free(late[c]);
    }
    free(rest);
    play_done(&player);
}

static double energy_between(const float *a, const float *b, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        sum += ((double)a[i] - (double)b[i]) * ((double)a[i] - (double)b[i]);
    return sum;
}

static void clicks_go_at_every_rate(void **state)
{
    (void)state;
    static const double rates[] = {8000, 11025, 16000, 44100, 48000, 64000, 88200, 96000, 192000, 384000};
    double least = HUGE_VAL;
    for (uint32_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        Played clean = quiet(rates[r], 1), p = quiet(rates[r], 1);
        plant(&p, 0, 0.2, 0.002);
        run(&p, &usual);
        assert_true(p.report.removed == 6.0);
        assert_true(fabs(p.report.last_size - gain_to_db(0.2)) < 3.0);
        assert_true(p.report.last_ago > 0.2 && p.report.last_ago < 0.3 && !p.report.now);
        assert_true(p.report.voice_level == UNITS_DB_FLOOR && p.report.found == 0.0);
        least = fmin(
            least, power_to_db(energy_between(p.in[0], clean.in[0], p.n) / energy_between(p.out[0], clean.in[0], p.n)));
        run(&clean, &usual);
        assert_true(clean.report.removed == 0.0 && clean.report.last_ago == -1.0);
        assert_memory_equal(clean.in[0], clean.out[0], clean.n * sizeof(float));
        played_free(&clean);
        played_free(&p);
    }
    figure_at_least("Ticks", "clicks of 2 ms in a tone and noise, 8 to 384 kHz: down by, least", least, 14.0, "dB",
                    "ours");
}

/* Down by so many dB: what is taken is that share of the whole. */
static void they_go_down_as_asked(void **state)
{
    (void)state;
    Played all = quiet(48000, 1), some = quiet(48000, 1);
    TicksParams params = usual;
    plant(&all, 0, 0.2, 0.002);
    plant(&some, 0, 0.2, 0.002);
    run(&all, &params);
    params.down = 6.0;
    run(&some, &params);
    const double share =
        sqrt(energy_between(some.in[0], some.out[0], some.n) / energy_between(all.in[0], all.out[0], all.n));
    assert_true(fabs(share - (1.0 - db_to_gain(-6.0)) / 0.999) < 1e-3);
    params.down = 0.0;
    run(&some, &params);
    assert_true(some.report.removed == 0.0);
    assert_memory_equal(some.in[0], some.out[0], some.n * sizeof(float));
    played_free(&all);
    played_free(&some);
}

static void what_goes_and_what_stays_make_up_the_take(void **state)
{
    (void)state;
    static const double rates[] = {48000, 96000};
    for (uint32_t r = 0; r < 2; ++r) {
        Played p = quiet(rates[r], 2);
        TicksParams params = usual;
        float *stays[2];
        plant(&p, 0, 0.2, 0.002);
        plant(&p, 1, 0.1, 0.002);
        run(&p, &params);
        assert_true(p.report.removed == 6.0);
        for (uint32_t c = 0; c < 2; ++c) {
            stays[c] = floats(p.n);
            memcpy(stays[c], p.out[c], p.n * sizeof(float));
        }
        params.hear_removed = true;
        run(&p, &params);
        for (uint32_t c = 0; c < 2; ++c) {
            assert_true(energy_between(p.in[c], stays[c], p.n) > 0.01 && p.out[c][(uint32_t)(0.15 * p.rate)] == 0.f);
            for (uint32_t i = 0; i < p.n; ++i)
                assert_true(fabsf(p.out[c][i] + stays[c][i] - p.in[c][i]) < 1e-6f);
            free(stays[c]);
        }
        played_free(&p);
    }
}

/* A sample of a tick at a slower rate comes back through the low-pass that thins the sound out, where it was. */
static void a_tick_comes_back_between_its_samples(void **state)
{
    (void)state;
    enum { N = 96 * DSP_CELL, FROM = 100 };
    static const double rates[] = {48000, 96000, 192000};
    for (uint32_t r = 0; r < 3; ++r) {
        Player player;
        assert_true(play_init(&player, &ticks, rates[r], 1));
        Ticks *const t = player.dsp;
        const uint32_t late = play_latency(&player), n = late + N;
        float *const none = floats(n), *const out = floats(n);
        play_set(&player, &usual);
        assert_int_equal(late, rates[r] == 48000 ? 95 * 24 : t->factor * (95 * 24 + THIN_TAPS));
        for (uint32_t g = 0; g < TICKS_GOING; ++g)
            t->going[g] = (TicksGoing){.from = FROM + g, .n = 1, .tick = {{1.f}}};
        play_reset(&player); /* forgets them */
        t->going[2] = (TicksGoing){.from = FROM, .n = 1, .tick = {{1.f}}};
        play_set(&player, &usual);
        play(&player, (const float *[]){none}, (float *[]){out}, n);
        for (int64_t i = 0; i < N; ++i) {
            const int64_t factor = t->factor, tap = i - factor * FROM + (THIN_TAPS - 1) * factor;
            float want = i == FROM ? 1.f : 0.f;
            if (factor > 1)
                want = tap >= 0 && tap < THIN_TAPS * factor ? (float)factor * t->thin[0].tap[tap] : 0.f;
            assert_true(out[late + i] == -want);
        }
        play_done(&player);
        free(none);
        free(out);
    }
}

/* Working a tick out is spread over the pieces that follow. */
static void the_work_is_spread(void **state)
{
    (void)state;
    Played p = quiet(48000, 1);
    Player player;
    uint32_t last = 0, worked = 0;
    plant(&p, 0, 0.2, 0.002);
    assert_true(play_init(&player, &ticks, p.rate, 1));
    play_set(&player, &usual);
    const Ticks *const t = player.dsp;
    for (uint32_t i = 0; i + DSP_CELL <= p.n; i += DSP_CELL) {
        play(&player, (const float *[]){p.in[0] + i}, (float *[]){p.out[0] + i}, DSP_CELL);
        const uint32_t done = t->repair.done;
        assert_true(done <= last || done - last <= t->repair.steps / 10 + 2); /* two pieces of twenty */
        worked += done > last;
        last = done;
    }
    assert_true(worked > 6 * 12);
    play_done(&player);
    played_free(&p);
}

/* It says so while a tick goes, cell by cell, and nowhere else. */
static void it_tells_when_a_tick_goes(void **state)
{
    (void)state;
    static const double rates[] = {48000, 96000};
    for (uint32_t r = 0; r < 2; ++r) {
        Played p = quiet(rates[r], 1);
        Player player;
        uint32_t says = 0, changes = 0;
        plant(&p, 0, 0.2, 0.002);
        assert_true(play_init(&player, &ticks, p.rate, 1));
        const uint32_t late = play_latency(&player);
        play_set(&player, &usual);
        for (uint32_t i = 0; i + DSP_CELL <= p.n; i += DSP_CELL) {
            TicksReport report;
            bool changed = false;
            play(&player, (const float *[]){p.in[0] + i}, (float *[]){p.out[0] + i}, DSP_CELL);
            play_report(&player, &report);
            for (uint32_t k = i; k < i + DSP_CELL; ++k)
                changed |= p.out[0][k] != (k < late ? 0.f : p.in[0][k - late]);
            assert_true(report.now || !changed);
            says += report.now;
            changes += changed;
        }
        assert_true(changes > 6 && says <= changes + 6);
        play_done(&player);
        played_free(&p);
    }
}

/* The half sum is listened to; a dead channel has no part in it, and stays silent. */
static void a_dead_channel_stays_dead(void **state)
{
    (void)state;
    Played p = quiet(48000, 2), one = quiet(48000, 1);
    memset(p.in[1], 0, p.n * sizeof(float));
    memcpy(p.in[0], one.in[0], p.n * sizeof(float));
    plant(&p, 0, 0.2, 0.002);
    plant(&one, 0, 0.2, 0.002);
    run(&p, &usual);
    run(&one, &usual);
    assert_memory_equal(p.out[0], one.out[0], p.n * sizeof(float));
    for (uint32_t i = 0; i < p.n; ++i)
        assert_true(p.out[1][i] == 0.f);
    played_free(&p);
    played_free(&one);
}

/* In 1 ms pieces of it a tick of 4 ms is cut short; in 6 it is not. */
static void the_longest_tick_bounds_what_is_worked_out(void **state)
{
    (void)state;
    double gone[2];
    for (uint32_t k = 0; k < 2; ++k) {
        Played p = quiet(48000, 1);
        TicksParams params = usual;
        params.longest = k ? 6.0 : 1.0;
        plant(&p, 0, 0.2, 0.004);
        run(&p, &params);
        uint32_t changed = 0;
        for (uint32_t i = 0; i < p.n; ++i)
            changed += p.in[0][i] != p.out[0][i];
        gone[k] = changed / p.report.removed / 24.0;
        played_free(&p);
    }
    figure_within("Ticks", "pieces that change, with 1 ms at most", gone[0], 4.0, 0.0, "", "own truth");
    assert_true(gone[1] > 8.0 && gone[1] <= 14.0);
}

/* A voice's level known, what is 50 dB under it is left, and counted neither. */
static void faint_ticks_beside_a_voice_are_left(void **state)
{
    (void)state;
    Player player;
    float value[LEVEL_MEMORY_BINS + EVENT_LEVELS] = {0.f};
    Learned l = {.count = {LEVEL_MEMORY_BINS, EVENT_LEVELS}, .value = value};
    value[(size_t)LEVEL_MEMORY_STEP * 50] = 20.f; /* blocks of -20 dB */
    value[LEVEL_MEMORY_BINS + 2 * 75] = 3.f;      /* ticks of -25 dB, */
    value[LEVEL_MEMORY_BINS + 2 * 30] = 5.f;      /* and of -70 */
    for (uint32_t k = 0; k < 2; ++k) {
        Played p = quiet(48000, 1);
        TicksParams params = usual;
        TicksReport report;
        plant(&p, 0, 0.02, 0.002);
        params.faintest = k ? -40.0 : -10.0;
        assert_true(play_init(&player, &ticks, 48000, 1));
        play_put(&player, &l);
        play_set(&player, &params);
        play(&player, (const float *[]){p.in[0]}, (float *[]){p.out[0]}, p.n);
        play_report(&player, &report);
        assert_true(fabs(report.voice_level + 20.0) < 0.2 && report.found == 3.0);
        assert_true(report.removed == (k ? 6.0 : 0.0));
        params.faintest = -55.0;
        play_set(&player, &params);
        play_report(&player, &report);
        assert_true(report.found == 8.0);
        play_done(&player);
        played_free(&p);
    }
}

/* A singer's take with a sample missing here, 1 ms there: none is taken for a tick. At 8 kHz one sample is an eighth of
 * a millisecond, and a few are. */
static void missing_samples_are_no_ticks(void **state)
{
    (void)state;
    enum { HOLES = 40 };
    static const double rates[] = {8000, 48000, 96000};
    for (uint32_t r = 0; r < 3; ++r) {
        SingerTake t;
        assert_true(singer_sing(&(SingerSpec){.voice = SINGER_MEZZO, .seed = 4, .rate = rates[r], .seconds = 8}, &t));
        Played p = {.rate = t.rate, .n = t.frames, .channels = 1, .in = {t.audio, NULL}};
        for (uint32_t k = 0; k < HOLES; ++k) {
            const uint32_t at = (uint32_t)((0.5 + 0.18 * k) * t.rate), n = k % 4 ? 1 : (uint32_t)(0.001 * t.rate);
            memset(t.audio + at, 0, n * sizeof(float));
        }
        p.in[1] = floats(p.n);
        p.out[0] = floats(p.n);
        p.out[1] = floats(p.n);
        run(&p, &usual);
        if (r == 0)
            figure_at_most("Ticks", "8 kHz, samples missing: taken for ticks", 100.0 * p.report.removed / HOLES, 12.5,
                           "%", "ours; wide: with other seeds up to four of 40, in most takes one or none");
        assert_true(r == 0 || p.report.removed == 0.0);
        if (p.report.removed == 0.0)
            assert_memory_equal(p.in[0], p.out[0], p.n * sizeof(float));
        p.in[0] = NULL;
        played_free(&p);
        singer_free(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tick_stands_out_of_what_is_around),
        cmocka_unit_test(an_edge_of_silence_is_no_tick),
        cmocka_unit_test(a_tick_begins_where_it_rises_and_rings_on),
        cmocka_unit_test(a_rise_is_that_of_the_loudest_five_milliseconds),
        cmocka_unit_test(a_burst_before_a_sound_is_no_tick),
        cmocka_unit_test(clicks_are_found_where_they_are),
        cmocka_unit_test(what_a_tick_adds_is_worked_out),
        cmocka_unit_test(channels_are_mended_by_themselves),
        cmocka_unit_test(every_sample_is_worked_out),
        cmocka_unit_test(nothing_is_made_rougher),
        cmocka_unit_test(what_cannot_be_told_is_drawn),
        cmocka_unit_test(a_voice_covers_more_of_what_is_drawn),
        cmocka_unit_test(clicks_go_at_every_rate),
        cmocka_unit_test(they_go_down_as_asked),
        cmocka_unit_test(what_goes_and_what_stays_make_up_the_take),
        cmocka_unit_test(a_tick_comes_back_between_its_samples),
        cmocka_unit_test(the_work_is_spread),
        cmocka_unit_test(it_tells_when_a_tick_goes),
        cmocka_unit_test(a_dead_channel_stays_dead),
        cmocka_unit_test(the_longest_tick_bounds_what_is_worked_out),
        cmocka_unit_test(missing_samples_are_no_ticks),
        cmocka_unit_test(faint_ticks_beside_a_voice_are_left),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
