/* Floor: how far a noise goes down, that nothing happens where there is none, what is learned and kept. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dsp.h"
#include "figure.h"
#include "learned_room.h"
#include "noise_floor.h"
#include "play.h"
#include "seeds.h"
#include "singer/random.h"
#include "spectrum.h"
#include "units.h"

static const NoiseFloorParams usual = {.down_by = 12.0, .works_from = 20.0, .learn = true};

typedef struct {
    double rate;
    uint32_t n;
    float *in[2], *out[2];
} Sound;

/* Noise with an even spectrum, of this level; the channels have nothing in common. */
static Sound noise_of(double rate, double seconds, double db)
{
    Sound s = {.rate = rate, .n = (uint32_t)(seconds * rate)};
    Random random = random_stream(seeded(11), 1);
    const double peak = sqrt(3.0) * db_to_gain(db);
    for (int c = 0; c < 2; ++c) {
        s.in[c] = calloc(s.n, sizeof(float));
        s.out[c] = calloc(s.n, sizeof(float));
        assert_true(s.in[c] && s.out[c]);
        for (uint32_t t = 0; t < s.n; ++t)
            s.in[c][t] = (float)random_between(&random, -peak, peak);
    }
    return s;
}

static void drop(Sound *s)
{
    for (int c = 0; c < 2; ++c) {
        free(s->in[c]);
        free(s->out[c]);
    }
}

static Player made(double rate, uint32_t channels, const NoiseFloorParams *params)
{
    Player p;
    assert_true(play_init(&p, &noise_floor, rate, channels));
    play_set(&p, params);
    return p;
}

static void hear(Player *p, Sound *s)
{
    play(p, (const float *const[]){s->in[0], s->in[1]}, (float *const[]){s->out[0], s->out[1]}, s->n);
}

/* dB: the last half of it, output under input. */
static double went_down(const Sound *s, uint32_t channel)
{
    double in = 0.0, out = 0.0;
    for (uint32_t t = s->n / 2; t < s->n; ++t) {
        in += (double)s->in[channel][t] * (double)s->in[channel][t];
        out += (double)s->out[channel][t] * (double)s->out[channel][t];
    }
    return 10.0 * log10(in / out);
}

/* Per cent of the energy of what has come out: what was taken from the delayed input. */
static double share_removed(const Sound *s, uint32_t latency)
{
    double in = 0.0, gone = 0.0;
    for (uint32_t t = latency; t < s->n; ++t) {
        const double late = (double)s->in[0][t - latency], off = late - (double)s->out[0][t];
        in += late * late;
        gone += off * off;
    }
    return 100.0 * gone / in;
}

static void assert_late(const Sound *s, uint32_t latency, uint32_t channels)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t t = 0; t < s->n; ++t) {
            const float want = t < latency ? 0.f : s->in[c][t - latency];
            assert_memory_equal(&want, &s->out[c][t], sizeof want);
        }
}

static void noise_goes_down_by_what_is_asked(void **state)
{
    (void)state;
    static const double rates[] = {8000, 44100, 48000, 96000}, asked[] = {6, 12, 15};
    for (int r = 0; r < 4; ++r)
        for (int a = 0; a < 3; ++a) {
            NoiseFloorParams params = usual;
            params.down_by = asked[a];
            Player p = made(rates[r], 1, &params);
            Sound s = noise_of(rates[r], 6.0, -50.0);
            hear(&p, &s);
            char what[100];
            snprintf(what, sizeof what, "steady noise, %g dB asked for at %g Hz: down by", asked[a], rates[r]);
            figure_within("Floor", what, went_down(&s, 0), asked[a], asked[a] > 12.0 ? 1.5 : 1.0, "dB",
                          asked[a] > 12.0 ? "ours" : "requirement; wide: its tolerance");
            drop(&s);
            play_done(&p);
        }
}

/* Half a decibel is not nothing: only "down by 0" leaves the sound as it is. */
static void a_little_is_done_too(void **state)
{
    (void)state;
    NoiseFloorParams params = usual;
    params.down_by = 0.5;
    Player p = made(48000.0, 1, &params);
    Sound s = noise_of(48000.0, 6.0, -50.0);
    hear(&p, &s);
    figure_within("Floor", "steady noise, 0.5 dB asked for: down by", went_down(&s, 0), 0.5, 0.01, "dB",
                  "our own limit");
    drop(&s);
    play_done(&p);
}

static void where_nothing_is_known_the_input_comes_out(void **state)
{
    (void)state;
    NoiseFloorParams hold = usual, none = usual;
    hold.learn = false;
    none.down_by = 0.0;
    const NoiseFloorParams *const idle[] = {&hold, &none, &usual};
    for (int i = 0; i < 3; ++i) {
        Player p = made(48000.0, 2, idle[i]);
        Sound s = noise_of(48000.0, i == 2 ? 1.2 : 4.0, -50.0); /* while learning: until a window was heard */
        hear(&p, &s);
        assert_late(&s, play_latency(&p), 2);
        NoiseFloorReport heard;
        play_report(&p, &heard);
        assert_true(heard.removed == 0.0 && heard.down == 0.0);
        assert_true((heard.noise == UNITS_DB_FLOOR) == (i != 1));
        drop(&s);
        play_done(&p);
    }
}

static void below_works_from_nothing_happens(void **state)
{
    (void)state;
    NoiseFloorParams params = usual;
    params.works_from = 23990.0;
    Player p = made(48000.0, 1, &params);
    Sound s = noise_of(48000.0, 4.0, -50.0);
    hear(&p, &s);
    assert_true(fabs(went_down(&s, 0)) < 0.05);
    drop(&s);
    play_done(&p);
}

/* What goes and what stays are the whole. */
static void what_goes_can_be_heard(void **state)
{
    (void)state;
    NoiseFloorParams params = usual;
    Player p = made(48000.0, 1, &params);
    Sound s = noise_of(48000.0, 4.0, -50.0), gone = noise_of(48000.0, 4.0, -50.0);
    hear(&p, &s);
    params.hear_removed = true;
    Player q = made(48000.0, 1, &params);
    hear(&q, &gone);
    double worst = 0.0;
    for (uint32_t t = play_latency(&p); t < s.n; ++t)
        worst = fmax(worst, fabs((double)(s.out[0][t] + gone.out[0][t] - s.in[0][t - play_latency(&p)])));
    figure_at_most("Floor", "what stays and what goes, added, over the noise: off by", gain_to_db(worst) + 50.0, -115.0,
                   "dB", "ours");
    assert_true(went_down(&gone, 0) > 2.0 && went_down(&gone, 0) < 3.0); /* 1 - 10^(-12/20) = 0.75: 2.5 dB */
    drop(&s);
    drop(&gone);
    play_done(&p);
    play_done(&q);
}

static void what_was_learned_works_from_the_first_frame(void **state)
{
    (void)state;
    Player p = made(48000.0, 1, &usual);
    Sound s = noise_of(48000.0, 6.0, -50.0), brief = noise_of(48000.0, 1.0, -50.0);
    hear(&p, &s);
    Learned l;
    assert_true(learned_init(&l, noise_floor.learned.schema));
    play_get(&p, &l);
    NoiseFloorParams hold = usual;
    hold.learn = false;
    Player q = made(48000.0, 1, &hold);
    play_put(&q, &l);
    hear(&q, &brief);
    figure_within("Floor", "restored, on hold, within the first second: 12 dB asked for, down by", went_down(&brief, 0),
                  12.0, 1.0, "dB", "requirement");
    NoiseFloorReport heard;
    play_report(&q, &heard);
    figure_within("Floor", "noise of -50 dB: reads", heard.noise, -50.0, 0.2, "dB", "ours");
    assert_true(heard.heard > 3.0 && heard.heard < 6.0);
    assert_true(heard.down < -11.0);
    const double share = share_removed(&brief, processor_latency(&noise_floor, q.dsp));
    figure_at_most("Floor", "energy removed: told off by", fabs(heard.removed - share), 0.1, "%", "own truth");
    drop(&s);
    drop(&brief);
    learned_done(&l);
    play_done(&p);
    play_done(&q);
}

static void a_dead_channel_changes_nothing(void **state)
{
    (void)state;
    double read[2];
    for (int dead = 0; dead < 2; ++dead) {
        Player p = made(48000.0, 2, &usual);
        Sound s = noise_of(48000.0, 6.0, -50.0);
        for (uint32_t t = s.n / 3; dead && t < s.n; ++t)
            s.in[1][t] = 0.f;
        hear(&p, &s);
        NoiseFloorReport heard;
        play_report(&p, &heard);
        read[dead] = heard.noise;
        assert_true(fabs(went_down(&s, 0) - 12.0) < 1.0);
        drop(&s);
        play_done(&p);
    }
    figure_within("Floor", "a channel that dies: the noise reads", read[1], read[0], 0.2, "dB", "ours");
}

static void hold_to_learn_starts_afresh(void **state)
{
    (void)state;
    NoiseFloorParams params = usual;
    Player p = made(48000.0, 1, &params);
    Sound s = noise_of(48000.0, 6.0, -50.0), brief = noise_of(48000.0, 0.1, -50.0);
    hear(&p, &s);
    params.learn = false;
    play_set(&p, &params);
    hear(&p, &brief);
    params.learn = true;
    play_set(&p, &params);
    hear(&p, &brief);
    NoiseFloorReport heard;
    play_report(&p, &heard);
    assert_true(heard.heard < 0.5);
    hear(&p, &s);
    play_report(&p, &heard);
    assert_true(heard.heard > 5.0);
    drop(&s);
    drop(&brief);
    play_done(&p);
}

/* dB: between these frequencies, of the second half. */
static double band_went_down(const Sound *s, double lo, double hi)
{
    Spectrum in = spectrum_of(s->in[0] + s->n / 2, s->n / 2, 16384, s->rate);
    Spectrum out = spectrum_of(s->out[0] + s->n / 2, s->n / 2, 16384, s->rate);
    const double down = spectrum_band(&in, lo, hi) - spectrum_band(&out, lo, hi);
    spectrum_free(&in);
    spectrum_free(&out);
    return down;
}

/* From 20 Hz is from the lowest bin on; from 80, what lies a bin and more lower stays. The lowest bins sway more than
 * others, and 12 dB come to 8 to 10 there, in half of 36 s. */
static void the_lows_go_where_they_are_asked_for(void **state)
{
    (void)state;
    for (int from = 20; from < 100; from += 60) {
        NoiseFloorParams params = usual;
        params.works_from = from;
        Player p = made(48000.0, 1, &params);
        Sound s = noise_of(48000.0, 36.0, -50.0);
        hear(&p, &s);
        const double lows = band_went_down(&s, 1.0, 20.0);
        assert_true(from == 20 ? lows > 7.5 : lows < 0.5);
        assert_true(band_went_down(&s, 100.0, 400.0) > 11.0);
        drop(&s);
        play_done(&p);
    }
}

/* Noise of 40 Hz to each side of `hz`. */
static void make_thuds(float *x, uint32_t n, double hz, double rate)
{
    Random random = random_stream(seeded(12), 1);
    double low[3] = {0};
    for (uint32_t t = 0; t < n; ++t) {
        low[0] += 0.006 * (random_between(&random, -1.0, 1.0) - low[0]);
        for (int i = 1; i < 3; ++i)
            low[i] += 0.006 * (low[i - 1] - low[i]);
        x[t] = (float)(0.033 * low[2] * cos(2.0 * DSP_PI * hz * t / rate));
    }
}

/* dB that thuds about this frequency lose: half a second long each, from 5 s on. */
static double thuds_went_down(double hz)
{
    enum { HALF = 24000 };
    Player p = made(48000.0, 1, &usual);
    Sound s = noise_of(48000.0, 9.0, -50.0);
    const uint32_t late = play_latency(&p);
    float *thud = calloc(s.n, sizeof *thud);
    double in = 0.0, out = 0.0;
    assert_non_null(thud);
    make_thuds(thud, s.n, hz, s.rate);
    for (uint32_t t = 10 * HALF; t < s.n; ++t)
        s.in[0][t] += t / HALF % 2 ? thud[t] : 0.f;
    hear(&p, &s);
    for (uint32_t t = 11 * HALF; t + HALF + late < s.n; t += 2 * HALF) {
        Spectrum before = spectrum_of(s.in[0] + t, HALF, 8192, s.rate);
        Spectrum after = spectrum_of(s.out[0] + t + late, HALF, 8192, s.rate);
        in += db_to_power(spectrum_band(&before, fmax(hz - 30.0, 20.0), hz + 50.0));
        out += db_to_power(spectrum_band(&after, fmax(hz - 30.0, 20.0), hz + 50.0));
        spectrum_free(&before);
        spectrum_free(&after);
    }
    free(thud);
    drop(&s);
    play_done(&p);
    return power_to_db(in / out);
}

/* They lie 10 dB over what the noise has there. Of each bin by itself 2 dB would go, as it does where voices are. */
static void a_thud_under_a_word_stays(void **state)
{
    (void)state;
    figure_at_most("Floor", "thuds 10 dB over the noise, 12 dB asked for: down by", thuds_went_down(0.0), 0.8, "dB",
                   "ours");
    assert_true(thuds_went_down(130.0) > 1.5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_goes_down_by_what_is_asked),
        cmocka_unit_test(a_little_is_done_too),
        cmocka_unit_test(where_nothing_is_known_the_input_comes_out),
        cmocka_unit_test(below_works_from_nothing_happens),
        cmocka_unit_test(what_goes_can_be_heard),
        cmocka_unit_test(what_was_learned_works_from_the_first_frame),
        cmocka_unit_test(a_dead_channel_changes_nothing),
        cmocka_unit_test(hold_to_learn_starts_afresh),
        cmocka_unit_test(the_lows_go_where_they_are_asked_for),
        cmocka_unit_test(a_thud_under_a_word_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
