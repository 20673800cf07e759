/* Following a noise, from tables of frames: how near it comes, what it takes for noise and what not, and the memory. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "figure.h"
#include "noise_track.h"
#include "seeds.h"
#include "singer/random.h"
#include "units.h"

#define RATE   48000.0
#define FRAMES (RATE / HOP)
enum { SIZE = 1536, HOP = 512, BINS = SIZE / 2 + 1 };

typedef struct {
    NoiseTrack track;
    Random random;
} Ear;

static void make(Ear *e)
{
    assert_true(noise_track_init(&e->track, RATE, SIZE, HOP));
    e->random = random_stream(seeded(9), 1);
}

/* Seconds of noise of this density, moving by `slope` dB a second; over it, between two bins, something louder. */
typedef struct {
    double seconds, db, slope;
    uint32_t from, to;
    double louder; /* dB over the noise */
} Scene;

static void hear(Ear *e, Scene s, float most)
{
    for (int f = 0; f < s.seconds * FRAMES; ++f) {
        float power[BINS];
        const double noise = db_to_power(s.db + s.slope * f / FRAMES) / e->track.density;
        for (uint32_t k = 0; k < BINS; ++k) {
            const double here = k >= s.from && k < s.to ? noise * db_to_power(s.louder) : noise;
            power[k] = (float)(-here * log(1.0 - random_unit(&e->random)));
        }
        for (uint32_t b = 0; b < e->track.bands; ++b)
            noise_track_hear(&e->track, b, power + e->track.edge[b], most);
    }
}

static double worst_error(const NoiseTrack *t, double db)
{
    double worst = 0.0;
    for (uint32_t b = 0; b < t->bands; ++b) {
        assert_true(t->band[b].known);
        worst = fmax(worst, fabs(noise_track_level(t, b) - db));
    }
    return worst;
}

static void steady_noise_is_found(void **state)
{
    (void)state;
    Ear e;
    make(&e);
    hear(&e, (Scene){.seconds = 1.3, .db = -100.0}, INFINITY);
    for (uint32_t b = 0; b < e.track.bands; ++b)
        assert_false(e.track.band[b].known); /* not a window yet */
    hear(&e, (Scene){.seconds = 5.0, .db = -100.0}, INFINITY);
    figure_at_most("Floor", "steady noise: the worst band is off by", worst_error(&e.track, -100.0), 1.0, "dB", "ours");
    noise_track_done(&e.track);
}

static void a_held_note_is_no_noise(void **state)
{
    (void)state;
    Ear e;
    make(&e);
    hear(&e, (Scene){.seconds = 4.0, .db = -100.0}, INFINITY);
    hear(&e, (Scene){.seconds = 8.0, .db = -100.0, .from = 10, .to = 400, .louder = 30.0}, INFINITY);
    figure_at_most("Floor", "a note of 8 s, 30 dB over the noise: the noise is off by", worst_error(&e.track, -100.0),
                   3.0, "dB", "ours");
    noise_track_done(&e.track);
}

/* Frames alike, `times` as strong as the noise that is known. */
static void hear_alike(NoiseTrack *t, double seconds, double times)
{
    float power[BINS];
    for (uint32_t k = 0; k < BINS; ++k)
        power[k] = (float)(times * db_to_power(-100.0) / t->density);
    for (int f = 0; f < seconds * FRAMES; ++f)
        for (uint32_t b = 0; b < t->bands; ++b)
            noise_track_hear(t, b, power + t->edge[b], INFINITY);
}

static float taken_in(double times, uint32_t *bins)
{
    Ear e;
    make(&e);
    *bins = e.track.edge[1];
    hear_alike(&e.track, 3.0, 1.0);
    const float before = e.track.band[0].mean;
    hear_alike(&e.track, 0.1, times);
    const float share = e.track.band[0].mean / before;
    noise_track_done(&e.track);
    return share;
}

/* Up to 2 + 4 / sqrt(bins) times the least counts as the noise, and no more. */
static void as_much_as_noise_swings_is_taken_for_it(void **state)
{
    (void)state;
    uint32_t bins;
    taken_in(1.0, &bins);
    const double most = 2.0 + 4.0 / sqrt(bins);
    assert_true(taken_in(most - 0.1, &bins) > 1.2f);
    assert_true(taken_in(most + 0.1, &bins) < 1.001f);
}

static void a_slow_change_is_followed(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        Ear e;
        make(&e);
        hear(&e, (Scene){.seconds = 4.0, .db = -100.0}, INFINITY);
        hear(&e, (Scene){.seconds = 10.0, .db = -100.0, .slope = 0.6 * sign}, INFINITY);
        figure_at_most("Floor", sign > 0 ? "6 dB up in 10 s: off by" : "6 dB down in 10 s: off by",
                       worst_error(&e.track, -100.0 + 6.0 * sign), 2.0, "dB", "ours");
        noise_track_done(&e.track);
    }
}

static void what_was_no_noise_is_forgotten(void **state)
{
    (void)state;
    Ear e;
    make(&e);
    hear(&e, (Scene){.seconds = 4.0, .db = -70.0}, INFINITY); /* a take that begins in the middle of a note */
    hear(&e, (Scene){.seconds = 0.6, .db = -100.0}, INFINITY);
    figure_at_most("Floor", "0.6 s into the first rest: off by", worst_error(&e.track, -100.0), 1.5, "dB",
                   "ours; LINCTUS_SEEDS 0 to 20: 0.42 to 1.18");
    noise_track_done(&e.track);
}

/* What comes after a fresh start is known as if nothing had come before, however much louder that was. */
static void what_was_forgotten_leaves_no_trace(void **state)
{
    (void)state;
    Ear used, fresh;
    make(&used);
    make(&fresh);
    hear_alike(&used.track, 3.0, 1e9);
    noise_track_start(&used.track, &(NoiseMemory){0}); /* of nothing */
    hear_alike(&used.track, 2.0, 1.0);
    hear_alike(&fresh.track, 2.0, 1.0);
    assert_true(worst_error(&used.track, -100.0) < 0.001);
    assert_memory_equal(used.track.noise, fresh.track.noise, BINS * sizeof *fresh.track.noise);
    noise_track_done(&used.track);
    noise_track_done(&fresh.track);
}

static void silence_changes_nothing(void **state)
{
    (void)state;
    Ear e;
    make(&e);
    hear(&e, (Scene){.seconds = 4.0, .db = -100.0}, INFINITY);
    NoiseBand before[NOISE_BANDS];
    memcpy(before, e.track.band, sizeof before);
    hear(&e, (Scene){.seconds = 4.0, .db = -190.0}, INFINITY);
    assert_memory_equal(before, e.track.band, sizeof before);
    noise_track_done(&e.track);
}

static void it_starts_from_the_memory_and_keeps_to_its_most(void **state)
{
    (void)state;
    Ear e;
    make(&e);
    NoiseMemory m = {{0}, {0}};
    for (uint32_t b = 0; b < e.track.bands; ++b) {
        assert_true(noise_memory_level(&m, b) == NOISE_LOWEST);
        noise_memory_add(&m, b, -99.0);
        noise_memory_add(&m, b, -101.0);
        assert_true(noise_memory_level(&m, b) == -100.0);
    }
    noise_track_start(&e.track, &m);
    assert_true(worst_error(&e.track, -100.0) < 0.001);
    hear(&e, (Scene){.seconds = 20.0, .db = -70.0}, (float)db_to_power(-92.0));
    assert_true(worst_error(&e.track, -100.0) < 0.001); /* 30 dB over what was learned is no noise, however long */
    noise_track_done(&e.track);
}

static void the_memory_is_a_mean_and_holds_its_range(void **state)
{
    (void)state;
    NoiseMemory m = {{0}, {0}};
    for (int i = 0; i < 1000; ++i)
        noise_memory_add(&m, 3, i % 2 ? -80.0 : -82.0);
    assert_true(fabs(noise_memory_level(&m, 3) + 81.0) < 0.1);
    assert_int_equal(m.times[3], NOISE_TIMES);
    noise_memory_add(&m, 4, -1000.0);
    noise_memory_add(&m, 5, 1000.0);
    assert_true(m.level[4] == 1 && m.level[5] == 65535);
    assert_true(noise_band_end(NOISE_BANDS - 1) > 23999.0 && noise_band_end(NOISE_BANDS - 1) < 24001.0);
}

/* ---- Beside the equations, plainly in double ---- */

enum { LONGEST = 4000 };

typedef struct {
    double smooth[LONGEST], noise[BINS], level, mean, quiet;
    uint32_t frames;
    bool known;
} Plain;

/* The least of the part of the window that is under way and of the three before it; 0 until four are whole. */
static double plain_least(const Plain *p)
{
    const uint32_t part = (uint32_t)ceil(0.35 * FRAMES), whole = p->frames / part;
    double least = 0.0;
    for (uint32_t i = whole < 4 ? p->frames : (whole - 3) * part; i < p->frames; ++i)
        least = least > 0.0 ? fmin(least, p->smooth[i]) : p->smooth[i];
    return least;
}

static double plain_mean(const double *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t k = 0; k < n; ++k)
        sum += x[k] / n;
    return sum;
}

static void plain_hear(Plain *p, const double *power, uint32_t n, double density, double most)
{
    const double now = plain_mean(power, n), smoothing = exp(-1.0 / (0.05 * FRAMES));
    if (now * density < pow(10.0, -17.2))
        return;
    p->smooth[p->frames] = p->frames ? now + smoothing * (p->smooth[p->frames - 1] - now) : now;
    ++p->frames;
    const double least = plain_least(p), risen = p->level * pow(10.0, 0.1 / FRAMES);
    if (least > 0.0)
        p->level = p->level > 0.0 ? fmin(least, risen) : least;
    p->level = fmin(p->level, most / density);
    const double gate = p->level * (2.0 + 4.0 / sqrt(n));
    if (0.7 * p->mean > gate)
        p->quiet = 0.0;
    if (now >= gate || p->smooth[p->frames - 1] >= gate)
        return;
    p->quiet = fmin(p->quiet + 1.0, 0.5 * FRAMES);
    for (uint32_t k = 0; k < n; ++k)
        p->noise[k] = fmax(p->noise[k] + (power[k] - p->noise[k]) / p->quiet, 1e-20);
    p->mean = plain_mean(p->noise, n);
    p->known = p->known || p->quiet >= 0.15 * FRAMES;
}

/* A noise that steps up and down, at times by more than counts as noise; at times all but silence, and silence. One bin
 * is always silent. */
static double next_level(Random *random, double now)
{
    static const double step[] = {0.0, 0.0, 0.0, 0.7, 1.5, 2.5, 4.0, 6.0, -1.0, -3.0, -8.0, 20.0, -60.0, -80.0};
    const size_t steps = sizeof step / sizeof *step, i = (size_t)random_between(random, 0.0, (double)steps);
    return now < -120.0 || now > -80.0 ? -100.0 : now + step[i];
}

static bool close_to(double is, double wanted)
{
    return fabs(is - wanted) <= 1e-3 * fabs(wanted);
}

static void it_goes_as_the_equations_do(void **state)
{
    (void)state;
    static Plain plain;
    plain = (Plain){.frames = 0};
    Ear e;
    assert_true(noise_track_init(&e.track, RATE, SIZE, HOP));
    Random random = random_stream(7, 1); /* not shifted: what lies on a limit would differ by rounding alone */
    const uint32_t band = 20, from = e.track.edge[band], n = e.track.edge[band + 1] - from;
    double db = -90.0;
    uint32_t known_at = 0;
    for (uint32_t f = 0; f < LONGEST; ++f) {
        if (f % 29 == 0)
            db = next_level(&random, db);
        float power[BINS];
        double exact[BINS];
        for (uint32_t k = 0; k < n; ++k) {
            const double noise = k == 5 ? 0.0 : db_to_power(db) / e.track.density;
            power[k] = (float)(-noise * log(1.0 - random_unit(&random)));
            exact[k] = (double)power[k];
        }
        const double most = f > 3000 ? db_to_power(-98.0) : INFINITY;
        noise_track_hear(&e.track, band, power, (float)most);
        plain_hear(&plain, exact, n, e.track.density, most);
        const NoiseBand *const b = &e.track.band[band];
        assert_true(close_to((double)b->level, plain.level) && close_to((double)b->mean, plain.mean));
        assert_true(close_to((double)b->quiet, plain.quiet) && b->known == plain.known);
        for (uint32_t k = 0; plain.quiet > 0.0 && k < n; ++k)
            assert_true(close_to((double)e.track.noise[from + k], plain.noise[k]));
        known_at = known_at || !b->known ? known_at : f;
    }
    assert_true(known_at > 100);
    noise_track_done(&e.track);
}

static void bands_are_even_in_mel(void **state)
{
    (void)state;
    static const double rates[] = {8000.0, 48000.0, 96000.0};
    for (int r = 0; r < 3; ++r) {
        NoiseTrack t;
        assert_true(noise_track_init(&t, rates[r], SIZE, HOP));
        uint32_t bands = 0;
        for (uint32_t end = 0; end < t.bins && bands < NOISE_BANDS; ++bands) {
            const double hz = 700.0 * (pow(1.0 + 24000.0 / 700.0, (bands + 1) / 32.0) - 1.0);
            end = (uint32_t)fmin(ceil(hz * SIZE / rates[r]), t.bins);
            end = bands == 31 ? t.bins : end;
            assert_int_equal(t.edge[bands + 1], end);
        }
        assert_int_equal(t.bands, bands);
        noise_track_done(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_noise_is_found),
        cmocka_unit_test(a_held_note_is_no_noise),
        cmocka_unit_test(as_much_as_noise_swings_is_taken_for_it),
        cmocka_unit_test(a_slow_change_is_followed),
        cmocka_unit_test(what_was_no_noise_is_forgotten),
        cmocka_unit_test(what_was_forgotten_leaves_no_trace),
        cmocka_unit_test(silence_changes_nothing),
        cmocka_unit_test(it_starts_from_the_memory_and_keeps_to_its_most),
        cmocka_unit_test(the_memory_is_a_mean_and_holds_its_range),
        cmocka_unit_test(it_goes_as_the_equations_do),
        cmocka_unit_test(bands_are_even_in_mel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
