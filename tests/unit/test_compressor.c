/* Compressor: its times, what it leaves alone, the threshold and the makeup it finds, and how it moves. */
#include "compressor.h"
#include "play.h"

#include "click.h"
#include "figure.h"
#include "learned_room.h"
#include "seeds.h"
#include "loudness.h"
#include "singer/singer.h"
#include "spectrum.h"
#include "spoken.h"
#include "starter.h"
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

/* NOLINTNEXTLINE(bugprone-macro-parentheses): a name to declare stands in no parentheses */
#define EACH(i, table) for (size_t i = 0; i < sizeof(table) / sizeof *(table); ++i)

#define HOLD 0.012 /* s, as documented */

/* By hand, nothing learned, no makeup. */
static CompressorParams by_hand(double threshold)
{
    CompressorParams p = starter_compressor;
    p.wanted = p.learn = p.even_loudness = false;
    p.threshold = threshold;
    return p;
}

static CompressorParams held(CompressorParams p)
{
    p.learn = false;
    return p;
}

static Player *fresh(double rate, uint32_t channels)
{
    Player *c = malloc(sizeof *c);
    assert_non_null(c);
    assert_true(play_init(c, &compressor, rate, channels));
    return c;
}

static Player *compressor_at(double rate, uint32_t channels, const CompressorParams *p)
{
    Player *c = fresh(rate, channels);
    play_set(c, p);
    return c;
}

static void drop(Player *c)
{
    play_done(c);
    free(c);
}

static CompressorReport seen(const Player *c)
{
    CompressorReport r;
    play_report(c, &r);
    return r;
}

static void run(Player *c, const float *x, float *y, uint32_t n)
{
    play(c, (const float *const[]){x}, (float *const[]){y}, n);
}

static float *room(uint32_t n)
{
    float *x = calloc(n + 1, sizeof *x);
    assert_non_null(x);
    return x;
}

static SingerTake sung(const SingerSpec *spec)
{
    SingerTake take;
    assert_true(singer_sing(spec, &take));
    return take;
}

/* What a take teaches. */
static void teach(const float *x, uint32_t n, double rate, const CompressorParams *p, Learned *learned)
{
    Player *c = compressor_at(rate, 1, p);
    float *y = room(n);
    run(c, x, y, n);
    play_get(c, learned);
    free(y);
    drop(c);
}

/* ---- Times ---- */

/* A signal of constant magnitude, from one level to another at half its length: the gain is read off every sample. */
static float *step_of(uint32_t n, double before, double after)
{
    float *x = room(n);
    for (uint32_t i = 0; i < n; ++i)
        x[i] = (float)(db_to_gain(i < n / 2 ? before : after) * (i % 4 < 2 ? 1.0 : -1.0));
    return x;
}

/* Samples from the last one before the step until the gain has gone 63 % of its way. */
static double time_of_step(double rate, const CompressorParams *p, double before, double after, double seconds)
{
    const uint32_t n = 2 * (uint32_t)(seconds * rate);
    float *x = step_of(n, before, after), *y = room(n);
    Player *c = compressor_at(rate, 1, p);
    const uint32_t latency = play_latency(c), from = n / 2 - 1;
    run(c, x, y, n);
    drop(c);
    double *gain = calloc(n, sizeof *gain);
    assert_non_null(gain);
    for (uint32_t i = 0; i + latency < n; ++i)
        gain[i] = gain_to_db(fabs((double)y[i + latency] / (double)x[i]));
    const double start = gain[from], end = gain[n - latency - 1], goal = end + (start - end) * exp(-1.0);
    uint32_t i = from;
    while ((gain[i] - goal) * (start - goal) > 0.0)
        ++i;
    const double time = i - 1 + (gain[i - 1] - goal) / (gain[i - 1] - gain[i]) - from;
    free(gain);
    free(x);
    free(y);
    return time;
}

static CompressorParams for_times(double attack, double release)
{
    CompressorParams p = by_hand(-50.0);
    p.attack = attack;
    p.release = release;
    p.look_ahead = 0.0;
    p.detector_low_cut = 20.0;
    return p;
}

/* Attack and release over their ranges, each beside the other's shortest and longest. */
static void times_are_what_the_ports_say(void **state)
{
    static const double rates[] = {44100, 96000};
    static const double attack[] = {0.1, 0.3, 1, 10, 100}, release[] = {5, 10, 100, 1000};
    static const double other_release[] = {5, 1000}, other_attack[] = {0.1, 100};
    double worst_attack = 0.0, worst_release = 0.0;
    (void)state;
    EACH (r, rates) {
        EACH (a, attack)
            EACH (o, other_release) {
                const CompressorParams p = for_times(attack[a], other_release[o]);
                const double time = time_of_step(rates[r], &p, -30.0, -10.0, 1.0) / rates[r] * 1000.0;
                worst_attack = fmax(worst_attack, fabs(time / attack[a] - 1.0));
            }
        EACH (e, release)
            EACH (o, other_attack) {
                const CompressorParams p = for_times(other_attack[o], release[e]);
                const double all = time_of_step(rates[r], &p, -10.0, -30.0, release[e] > 100 ? 7.0 : 1.0) / rates[r];
                worst_release = fmax(worst_release, fabs((all - HOLD) * 1000.0 / release[e] - 1.0));
            }
    }
    figure_at_most("Compressor", "attack 0.1..100 ms: worst error of the time to 63 %", 100.0 * worst_attack, 5.0, "%",
                   "requirement");
    figure_at_most("Compressor", "release 5..1000 ms after a hold of 12 ms: worst error", 100.0 * worst_release, 5.0,
                   "%", "requirement");
}

static void latency_is_5_ms_and_look_ahead_lies_inside(void **state)
{
    static const double rates[] = {8000, 11025, 44100, 48000, 96000, 384000};
    (void)state;
    EACH (r, rates) {
        Player *c = fresh(rates[r], 1);
        assert_int_equal(play_latency(c), lround(0.005 * rates[r]));
        drop(c);
    }
    /* The gain moves look_ahead before the sound does. */
    for (double ahead = 0.0; ahead <= 5.0; ahead += 1.25) {
        CompressorParams p = for_times(0.1, 10.0);
        p.look_ahead = ahead;
        enum { N = 9600 };
        float *x = step_of(N, -30.0, -10.0), *y = room(N);
        Player *c = compressor_at(48000, 1, &p);
        const uint32_t latency = play_latency(c);
        run(c, x, y, N);
        drop(c);
        uint32_t first = 4000;
        const double still = gain_to_db(fabs((double)y[first + latency] / (double)x[first]));
        while (fabs(gain_to_db(fabs((double)y[first + latency] / (double)x[first])) - still) < 0.01)
            ++first;
        assert_int_equal(first, N / 2 - (uint32_t)lround(ahead * 48.0));
        free(x);
        free(y);
    }
}

/* ---- Steady notes and onsets ---- */

/* The threshold for a reduction of a steady sine of this peak level, as the detector hears it at these settings. */
static CompressorParams reducing(double reduction, double level, double hz)
{
    const double u = pow(starter_compressor.detector_low_cut / hz, 4.0);
    const double heard = level - 10.0 * log10(1.0 + u); /* second-order Butterworth */
    const Curve c = {0.0, curve_slope(starter_compressor.ratio), starter_compressor.knee};
    return by_hand(heard - curve_over(&c, reduction));
}

static void steady_notes_stay_pure(void **state)
{
    static const double notes[] = {82.41, 98.0, 110.0, 130.81, 220.0, 440.0, 1046.5};
    static const double rates[] = {44100, 48000, 96000};
    double worst = 0.0, off = 0.0;
    (void)state;
    EACH (r, rates)
        EACH (k, notes) {
            const double rate = rates[r], hz = notes[k];
            const uint32_t n = (uint32_t)(0.8 * rate), settle = (uint32_t)(0.3 * rate);
            float *x = room(n);
            for (uint32_t i = 0; i < n; ++i)
                x[i] = (float)(0.5 * sin(2.0 * DSP_PI * hz * i / rate));
            const CompressorParams p = reducing(6.0, gain_to_db(0.5), hz);
            Player *c = compressor_at(rate, 1, &p);
            run(c, x, x, n);
            off = fmax(off, fabs(seen(c).reduction - 6.0));
            drop(c);
            const double fundamental = spectrum_part(x + settle, n - settle, hz, rate);
            double harmonics = 0.0;
            for (int h = 2; h <= 12; ++h)
                harmonics += pow(spectrum_part(x + settle, n - settle, h * hz, rate), 2.0);
            worst = fmax(worst, sqrt(harmonics) / fundamental);
            free(x);
        }
    figure_at_most("Compressor", "steady note 82..1047 Hz, 1 ms / 10 ms, 6 dB: harmonic distortion", 100.0 * worst,
                   0.002, "%", "ours; required: 0.5");
    figure_at_most("Compressor", "the same: reduction off 6 dB", off, 0.0005, "dB", "ours; required: 0.1");
}

/* A voice's wave is one sharp peak a period: the hold bridges whole periods, so the gain stays still. */
static void voiced_periods_are_not_followed(void **state)
{
    static const double notes[] = {82.41, 110.0, 196.0};
    const double rate = 48000;
    double worst = 0.0;
    (void)state;
    EACH (k, notes) {
        enum { N = 48000 };
        float *x = room(N), *y = room(N);
        for (uint32_t i = 0; i < N; ++i)
            for (int h = 1; h <= 20; ++h)
                x[i] += (float)(0.04 * cos(2.0 * DSP_PI * h * notes[k] * i / rate));
        const CompressorParams p = by_hand(-12.0);
        Player *c = compressor_at(rate, 1, &p);
        const uint32_t latency = play_latency(c);
        run(c, x, y, N);
        drop(c);
        double lowest = 1e9, highest = 0.0;
        for (uint32_t i = N / 2; i + latency < N; ++i) {
            if (fabsf(x[i]) < 0.01f)
                continue;
            const double gain = fabs((double)y[i + latency] / (double)x[i]);
            lowest = fmin(lowest, gain);
            highest = fmax(highest, gain);
        }
        worst = fmax(worst, gain_to_db(highest / lowest));
        free(x);
        free(y);
    }
    figure_at_most("Compressor", "pulse-like notes from 82 Hz up: swing of the gain in a period", worst, 0.1, "dB",
                   "requirement");
}

static void onsets_do_not_slip_through(void **state)
{
    static const double phases[] = {0.0, 0.25, 0.125};
    static const double rates[] = {44100, 48000, 96000};
    double worst = 0.0;
    (void)state;
    EACH (r, rates)
        EACH (k, phases) {
            const uint32_t n = (uint32_t)(0.4 * rates[r]), from = n / 4;
            float *x = room(n), *y = room(n);
            for (uint32_t i = from; i < n; ++i)
                x[i] = (float)(0.5 * sin(2.0 * DSP_PI * (phases[k] + 1000.0 * (i - from) / rates[r])));
            const CompressorParams p = reducing(6.0, gain_to_db(0.5), 1000.0);
            Player *c = compressor_at(rates[r], 1, &p);
            run(c, x, y, n);
            const uint32_t first = from + (x[from] == 0.f) + play_latency(c);
            const double settled = -seen(c).reduction;
            drop(c);
            assert_true(fabs(settled + 6.0) < 0.05);
            const double gain =
                gain_to_db(fabs((double)y[first] / (double)x[first - (uint32_t)lround(0.005 * rates[r])]));
            worst = fmax(worst, gain - settled);
            free(x);
            free(y);
        }
    figure_at_most("Compressor", "onset, 1 kHz, look-ahead 2 ms: first sample over the settled level", worst, 1.0, "dB",
                   "requirement");
}

/* ---- Wanted reduction ---- */

/* Reduction read off the audio, apart from what the processor says: energy of 50 ms frames before and after; the median
 * over the quarter with the highest peaks of the frames in which the singer's own record has a pitch throughout. */
typedef struct {
    double peak, reduction;
} FrameSeen;

static int by_peak(const void *a, const void *b)
{
    return -values_by_size(&((const FrameSeen *)a)->peak, &((const FrameSeen *)b)->peak);
}

static double sum_of_squares(const float *x, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        sum += (double)x[i] * (double)x[i];
    return sum;
}

static double peak_of(const float *x, uint32_t n)
{
    double peak = 0.0;
    for (uint32_t i = 0; i < n; ++i)
        peak = fmax(peak, fabs((double)x[i]));
    return peak;
}

static double reduction_in_audio(const SingerTake *take, const float *y, uint32_t latency)
{
    const uint32_t frame = (uint32_t)(0.05 * take->rate), frames = take->frames / frame - 1;
    FrameSeen *f = calloc(frames, sizeof *f);
    assert_non_null(f);
    uint32_t n = 0;
    for (uint32_t k = 0; k < frames; ++k) {
        bool voiced = true;
        for (uint32_t h = 5 * k; h < 5 * k + 5; ++h)
            voiced = voiced && h < take->f0_count && take->f0[h] > 0.f;
        if (!voiced)
            continue;
        const double before = sum_of_squares(take->audio + (size_t)k * frame, frame);
        const double after = sum_of_squares(y + (size_t)k * frame + latency, frame);
        f[n++] = (FrameSeen){peak_of(take->audio + (size_t)k * frame, frame), power_to_db(before / after)};
    }
    assert_true(n > 40);
    qsort(f, n, sizeof *f, by_peak);
    double *reduction = calloc(n, sizeof *reduction);
    assert_non_null(reduction);
    for (uint32_t k = 0; k < n / 4; ++k)
        reduction[k] = f[k].reduction;
    qsort(reduction, n / 4, sizeof *reduction, values_by_size);
    const double median = reduction[n / 8];
    free(f);
    free(reduction);
    return median;
}

typedef struct {
    double usual, in_audio; /* worst distance from what was wanted */
} Misses;

/* The reduction that is measured with this threshold, by listening: on hold nobody measures. */
static double measured_reduction(const float *x, uint32_t n, double rate, CompressorParams p, double threshold)
{
    p.wanted = p.even_loudness = false;
    p.learn = true;
    p.threshold = threshold;
    Player *c = compressor_at(rate, 1, &p);
    float *y = room(n);
    run(c, x, y, n);
    const double usual = seen(c).usual_reduction;
    free(y);
    drop(c);
    return usual;
}

static void miss_of(const SingerTake *take, CompressorParams p, Misses *m)
{
    Learned learned = LEARNED_WITH_ROOM;
    teach(take->audio, take->frames, take->rate, &p, &learned);
    p.learn = p.even_loudness = false;
    Player *c = fresh(take->rate, 1);
    play_put(c, &learned);
    play_set(c, &p);
    float *y = room(take->frames);
    run(c, take->audio, y, take->frames);
    assert_float_equal(seen(c).usual_reduction, p.wanted_reduction, 0.05);
    const double usual = measured_reduction(take->audio, take->frames, take->rate, p, seen(c).threshold_now);
    m->usual = fmax(m->usual, fabs(usual - p.wanted_reduction));
    m->in_audio = fmax(m->in_audio, fabs(reduction_in_audio(take, y, play_latency(c)) - p.wanted_reduction));
    free(y);
    drop(c);
}

static void wish_is_met_on_quiet_and_loud_takes(void **state)
{
    static const double gains[] = {-24.0, 6.0};
    Misses m = {0};
    (void)state;
    for (int voice = 0; voice < SINGER_VOICES; ++voice) {
        const SingerSpec spec = {.voice = (SingerVoice)voice,
                                 .seed = 11,
                                 .seconds = 12,
                                 .gain_db = gains[voice % 2],
                                 .uneven_db = voice % 3 * 3.0,
                                 .hiss_db = -50,
                                 .breath_db = -25};
        SingerTake take = sung(&spec);
        miss_of(&take, starter_compressor, &m);
        singer_free(&take);
    }
    figure_at_most("Compressor", "6 dB at 2.5:1, eight voices -24..+6 dB: usual_reduction off by", m.usual, 1.0, "dB",
                   "requirement");
    figure_at_most("Compressor", "the same, read off the audio by 50 ms frames", m.in_audio, 1.0, "dB", "requirement");
}

static const struct {
    double wanted, ratio, knee, attack, release;
} wishes[] = {
    {3, 2.5, 6, 1, 10},   {12, 2.5, 6, 1, 10},    {6, 20, 0, 1, 10},  {6, 1.5, 18, 1, 10},
    {6, 2.5, 6, 10, 100}, {6, 2.5, 6, 0.1, 1000}, {6, 4, 6, 30, 300}, {6, 2.5, 6, 100, 1000},
};

static CompressorParams wish(size_t i)
{
    CompressorParams p = starter_compressor;
    p.wanted_reduction = wishes[i].wanted;
    p.ratio = wishes[i].ratio;
    p.knee = wishes[i].knee;
    p.attack = wishes[i].attack;
    p.release = wishes[i].release;
    return p;
}

/* The threshold follows the controls on hold, as if it had been learned with them. */
static void threshold_follows_the_controls_on_hold(void **state)
{
    double worst = 0.0;
    Learned learned = LEARNED_WITH_ROOM;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 6, .seconds = 10, .uneven_db = 3});
    (void)state;
    teach(take.audio, take.frames, take.rate, &starter_compressor, &learned);
    EACH (i, wishes) {
        const CompressorParams p = held(wish(i));
        Player *c = fresh(take.rate, 1);
        play_put(c, &learned);
        play_set(c, &p);
        const double usual = measured_reduction(take.audio, take.frames, take.rate, p, seen(c).threshold_now);
        worst = fmax(worst, fabs(usual - p.wanted_reduction));
        drop(c);
    }
    singer_free(&take);
    figure_at_most("Compressor", "learned at the defaults, then other wishes on hold: off by", worst, 1.0, "dB",
                   "requirement");
}

/* Where nothing that they follow from changes, the figures are not worked out again; then they are. */
static void figures_that_stand_are_left_alone(void **state)
{
    enum { N = 96000 };
    Learned learned = LEARNED_WITH_ROOM;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 6, .seconds = 10});
    (void)state;
    teach(take.audio, take.frames, take.rate, &starter_compressor, &learned);
    CompressorParams p = held(starter_compressor);
    Player *c = fresh(take.rate, 1), *other = fresh(take.rate, 1);
    play_put(c, &learned);
    play_put(other, &learned);
    play_set(c, &p);
    p.wanted_reduction = 3.0;
    play_set(other, &p);
    float *y = room(N);
    for (int half = 0; half < 2; ++half) {
        run(c, take.audio, y, N);
        run(other, take.audio, y, N);
        const Compressor *inside = c->dsp;
        assert_int_equal(inside->steps_left, 0);
        assert_true(half == (seen(c).makeup_now == seen(other).makeup_now));
        play_set(c, &p);
    }
    assert_true(seen(c).threshold_now == seen(other).threshold_now);
    free(y);
    drop(c);
    drop(other);
    singer_free(&take);
}

static void a_wish_out_of_reach_stops_at_minus_60(void **state)
{
    CompressorParams p = starter_compressor;
    p.ratio = 1.05;
    p.wanted_reduction = 12.0;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_ALTO, .seed = 2, .seconds = 6});
    Learned learned = LEARNED_WITH_ROOM;
    (void)state;
    teach(take.audio, take.frames, take.rate, &p, &learned);
    p.learn = false;
    Player *c = fresh(take.rate, 1);
    play_put(c, &learned);
    play_set(c, &p);
    float *y = room(take.frames);
    run(c, take.audio, y, take.frames);
    assert_true(seen(c).threshold_now == -60.0);
    assert_true(seen(c).usual_reduction > 1.0 && seen(c).usual_reduction < 4.0);
    free(y);
    drop(c);
    singer_free(&take);
}

/* ---- Even loudness ---- */

static double loudness_of(const float *x, uint32_t n, double rate)
{
    Loudness *l = malloc(sizeof *l);
    assert_non_null(l);
    loudness_init(l, rate, 1);
    loudness_process(l, (const float *const[]){x}, n);
    const double lufs = loudness_integrated(l);
    free(l);
    return lufs;
}

/* How much louder a take comes out on hold, after one pass of learning. usual: NULL, or gets the reduction that is
 * measured at the threshold found. */
static double louder_by(const float *x, uint32_t n, double rate, CompressorParams p, double *usual)
{
    Learned learned = LEARNED_WITH_ROOM;
    teach(x, n, rate, &p, &learned);
    p.learn = false;
    Player *c = fresh(rate, 1);
    play_put(c, &learned);
    play_set(c, &p);
    float *y = room(n);
    run(c, x, y, n);
    const double by = loudness_of(y, n, rate) - loudness_of(x, n, rate);
    if (usual)
        *usual = measured_reduction(x, n, rate, p, seen(c).threshold_now);
    free(y);
    drop(c);
    return by;
}

static void loudness_stays_on_sung_takes(void **state)
{
    double worst = 0.0;
    (void)state;
    for (int voice = 0; voice < SINGER_VOICES; ++voice) {
        const SingerSpec spec = {.voice = (SingerVoice)voice,
                                 .seed = 21,
                                 .seconds = 12,
                                 .gain_db = voice % 2 ? -20.0 : 3.0,
                                 .uneven_db = voice % 3 * 4.0,
                                 .hiss_db = -50,
                                 .breath_db = -25};
        SingerTake take = sung(&spec);
        worst = fmax(worst, fabs(louder_by(take.audio, take.frames, take.rate, starter_compressor, NULL)));
        singer_free(&take);
    }
    figure_at_most("Compressor", "even loudness, eight voices: gated loudness off by", worst, 0.5, "LU", "requirement");
}

static void wish_and_loudness_hold_at_other_settings(void **state)
{
    double worst = 0.0, missed = 0.0;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_SPOKEN_HIGH, .seed = 8, .seconds = 10, .uneven_db = 4});
    (void)state;
    EACH (i, wishes) {
        double usual;
        worst = fmax(worst, fabs(louder_by(take.audio, take.frames, take.rate, wish(i), &usual)));
        missed = fmax(missed, fabs(usual - wishes[i].wanted));
    }
    for (double blend = 0.0; blend < 100.0; blend += 33.0) {
        CompressorParams p = starter_compressor;
        p.blend = blend;
        worst = fmax(worst, fabs(louder_by(take.audio, take.frames, take.rate, p, NULL)));
    }
    singer_free(&take);
    figure_at_most("Compressor", "wishes of 3..12 dB, other curves and times: usual_reduction off by", missed, 1.0,
                   "dB", "requirement");
    figure_at_most("Compressor", "even loudness, the same and other blends: off by", worst, 0.5, "LU", "requirement");
}

/* The makeup in force on hold, after one pass of learning, of a take moved to this peak, dB. */
static double makeup_at(const Spoken *take, double peak)
{
    Learned learned = LEARNED_WITH_ROOM;
    const CompressorParams p = held(starter_compressor);
    float *x = room(take->n);
    const double gain = db_to_gain(peak) / peak_of(take->x, take->n);
    for (uint32_t i = 0; i < take->n; ++i)
        x[i] = (float)(gain * (double)take->x[i]);
    teach(x, take->n, take->rate, &starter_compressor, &learned);
    Player *c = fresh(take->rate, 1);
    play_put(c, &learned);
    play_set(c, &p);
    run(c, x, x, DSP_CELL);
    const double makeup = seen(c).makeup_now;
    free(x);
    drop(c);
    return makeup;
}

/* The rests of a quiet take lie under the -70 LUFS at which BS.1770 cuts, those of a loud one do not. */
static void makeup_is_the_same_at_any_level(void **state)
{
    static const double peak[] = {-7.0, -13.4, -19.9, -24.2, -27.0};
    double worst[2] = {0}; /* VoicesUse */
    uint32_t heard = 0;
    (void)state;
    for (uint32_t v = 0; v < VOICES_ALL; ++v) {
        Spoken take;
        if (!voices_speak(&take, v, 0, 20.0) || take.n == 0)
            continue;
        double least = INFINITY, most = -INFINITY;
        EACH (i, peak) {
            const double makeup = makeup_at(&take, peak[i]);
            least = fmin(least, makeup);
            most = fmax(most, makeup);
        }
        printf("%-9s makeup %.2f dB, from -7 to -27 dBFS peak apart by %.3f\n", voices[v].name, most, most - least);
        worst[voices[v].use] = fmax(worst[voices[v].use], most - least);
        spoken_free(&take);
        ++heard;
    }
    if (!heard)
        skip();
    figure_at_most("Compressor", "makeup found at -7 to -27 dBFS peak, worst recorded voice for tuning: apart by",
                   worst[VOICES_TUNE], 0.1, "dB", "requirement");
    figure_at_most("Compressor", "the same, for judging", worst[VOICES_JUDGE], 0.1, "dB", "requirement");
}

static void append(Spoken *to, const Spoken *more)
{
    to->x = realloc(to->x, (to->n + more->n) * sizeof *to->x);
    assert_non_null(to->x);
    memcpy(to->x + to->n, more->x, more->n * sizeof *more->x);
    to->n += more->n;
}

/* Recorded and synthesised speech, as much as is installed. */
static void loudness_stays_on_speech(void **state)
{
    static const char *const readings[] = {"reading1", "reading2", "reading3", "reading4", "reading5"};
    static const char *const speakers[] = {"awb", "slt"};
    double worst = 0.0;
    int takes = 0;
    (void)state;
    Spoken all = {0};
    EACH (i, readings) {
        Spoken s = {0};
        if (!spoken_load(&s, readings[i]))
            break;
        all.rate = s.rate;
        append(&all, &s);
        spoken_free(&s);
    }
    if (all.n) {
        worst = fabs(louder_by(all.x, all.n, all.rate, starter_compressor, NULL));
        ++takes;
    }
    spoken_free(&all);
    EACH (v, speakers) {
        Spoken speech = {0};
        for (int k = 0; k < 4; ++k) {
            Spoken s = {0};
            if (!spoken_say(&s, speakers[v], spoken_sentences[k]))
                break;
            speech.rate = s.rate;
            append(&speech, &s);
            spoken_free(&s);
        }
        if (speech.n) {
            worst = fmax(worst, fabs(louder_by(speech.x, speech.n, speech.rate, starter_compressor, NULL)));
            ++takes;
        }
        spoken_free(&speech);
    }
    if (!takes)
        skip();
    figure_at_most("Compressor", "even loudness, recorded and synthesised speech: off by", worst, 0.5, "LU",
                   "requirement");
}

/* ---- Nothing to do ---- */

static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)(int32_t)*seed / 2147483648.f;
}

static void assert_delayed(const CompressorParams *p, double level)
{
    enum { N = 20000 };
    float *x = room(N), *y = room(N);
    uint32_t seed = seeded(3);
    for (uint32_t i = 0; i < N; ++i)
        x[i] = (float)db_to_gain(level) * noise(&seed);
    Player *c = compressor_at(44100, 1, p);
    const uint32_t latency = play_latency(c);
    run(c, x, y, N);
    drop(c);
    for (uint32_t i = 0; i < N; ++i)
        assert_true(y[i] == (i < latency ? 0.f : x[i - latency]));
    free(x);
    free(y);
}

static void with_nothing_to_do_the_input_passes_to_the_bit(void **state)
{
    CompressorParams below = by_hand(-20.0), straight = by_hand(-60.0), dry = by_hand(-60.0), half = by_hand(-20.0);
    (void)state;
    straight.ratio = 1.0;
    dry.blend = 0.0;
    dry.makeup = 24.0;
    half.blend = 37.0;
    assert_delayed(&below, -30.0);
    assert_delayed(&half, -30.0);
    assert_delayed(&straight, 0.0);
    assert_delayed(&dry, 0.0);
}

/* ---- Moving ---- */

static const struct {
    const char *what;
    size_t at;
    double from, to;
} moves[] = {
    {"threshold", offsetof(CompressorParams, threshold), -60, 0},
    {"threshold", offsetof(CompressorParams, threshold), 0, -60},
    {"ratio", offsetof(CompressorParams, ratio), 1, 20},
    {"ratio", offsetof(CompressorParams, ratio), 20, 1},
    {"attack", offsetof(CompressorParams, attack), 0.1, 100},
    {"attack", offsetof(CompressorParams, attack), 100, 0.1},
    {"release", offsetof(CompressorParams, release), 5, 1000},
    {"release", offsetof(CompressorParams, release), 1000, 5},
    {"knee", offsetof(CompressorParams, knee), 0, 18},
    {"knee", offsetof(CompressorParams, knee), 18, 0},
    {"look_ahead", offsetof(CompressorParams, look_ahead), 0, 5},
    {"look_ahead", offsetof(CompressorParams, look_ahead), 5, 0},
    {"detector_low_cut", offsetof(CompressorParams, detector_low_cut), 20, 300},
    {"detector_low_cut", offsetof(CompressorParams, detector_low_cut), 300, 20},
    {"makeup", offsetof(CompressorParams, makeup), -12, 24},
    {"makeup", offsetof(CompressorParams, makeup), 24, -12},
    {"blend", offsetof(CompressorParams, blend), 0, 100},
    {"blend", offsetof(CompressorParams, blend), 100, 0},
};

static void put_at(CompressorParams *p, size_t at, double value)
{
    memcpy((char *)p + at, &value, sizeof value);
}

/* The sine swells and fades while the control is moved, so that the gain is under way. */
static double click_of(size_t k, uint32_t when, bool swells)
{
    enum { N = 36000 };
    const double rate = 48000, amplitude = 0.5;
    float *x = room(N);
    for (uint32_t i = 0; i < N; ++i)
        x[i] =
            click_sine(i, rate, amplitude) * (swells ? (float)(0.6 + 0.4 * sin(2.0 * DSP_PI * 3.0 * i / rate)) : 1.f);
    CompressorParams p = by_hand(-30.0);
    p.attack = 1.0;
    put_at(&p, moves[k].at, moves[k].from);
    Player *c = compressor_at(rate, 1, &p);
    run(c, x, x, when);
    put_at(&p, moves[k].at, moves[k].to);
    play_set(c, &p);
    run(c, x + when, x + when, N - when);
    drop(c);
    double loudest = amplitude;
    for (uint32_t i = when; i < when + 4800; ++i)
        loudest = fmax(loudest, fabs((double)x[i]));
    const double db = click_level(x, N, when, rate, loudest);
    free(x);
    return db;
}

static void no_control_clicks(void **state)
{
    static const uint32_t moments[] = {19200, 19257, 24111};
    double worst = -300.0;
    (void)state;
    EACH (k, moves)
        EACH (m, moments)
            for (int swells = 0; swells < 2; ++swells) {
                const double db = click_of(k, moments[m], swells);
                if (db > -60.0)
                    print_error("%s from %g to %g at %u: %.1f dB\n", moves[k].what, moves[k].from, moves[k].to,
                                moments[m], db);
                worst = fmax(worst, db);
            }
    figure_at_most("Compressor", "any control moved under a 220 Hz sine: left above 4 kHz", worst, -75.0, "dB",
                   "ours; required: -60");
}

/* What a threshold takes off a level. */
static double taken(double threshold, double level)
{
    const Curve curve = {threshold, curve_slope(starter_compressor.ratio), starter_compressor.knee};
    return curve_reduction(&curve, level);
}

/* From nothing, through learning, to a found makeup: the gain goes nowhere quickly, not even that of the highest peak.
 */
static void learning_never_jumps(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_BASS, .seed = 4, .seconds = 10, .gain_db = -20});
    Player *c = compressor_at(take.rate, 1, &starter_compressor);
    const uint32_t step = (uint32_t)(take.rate / 100.0);
    const double peak = gain_to_db(peak_of(take.audio, take.frames));
    double rise = 0.0, reduction = 0.0;
    CompressorReport last = seen(c);
    (void)state;
    for (uint32_t at = 0; at + step < take.frames; at += step) {
        run(c, take.audio + at, take.audio + at, step);
        const CompressorReport now = seen(c);
        rise = fmax(rise, (now.makeup_now - last.makeup_now) * 100.0);
        const double more = taken(now.threshold_now, peak) - taken(last.threshold_now, peak);
        reduction = fmax(reduction, fabs(more) * 100.0);
        last = now;
    }
    assert_true(last.threshold_now < -30.0 && last.makeup_now > 2.0);
    figure_at_most("Compressor", "while learning: the found makeup rises by at most", rise, 6.1, "dB/s", "requirement");
    figure_at_most("Compressor", "while learning: the reduction of the highest peak moves by at most", reduction, 6.1,
                   "dB/s", "requirement");
    drop(c);
    singer_free(&take);
}

/* A smaller wish lets the gain rise; the found makeup has to be gone by then: with no reduction left, what comes out is
 * what went in, and in between it never gets louder than that. */
static void a_smaller_wish_makes_no_burst(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_MEZZO, .seed = 4, .seconds = 8});
    const uint32_t n = take.frames, second = (uint32_t)take.rate;
    CompressorParams p = starter_compressor;
    Learned learned = LEARNED_WITH_ROOM;
    double burst = -100.0;
    (void)state;
    p.wanted_reduction = 12.0;
    p.release = 5.0;
    teach(take.audio, n, take.rate, &p, &learned);
    p.learn = false;
    float *y = room(n);
    for (uint32_t when = 2 * second; when + second < n; when += second / 2) {
        Player *c = fresh(take.rate, 1);
        const uint32_t latency = play_latency(c);
        p.wanted_reduction = 12.0;
        play_put(c, &learned);
        play_set(c, &p);
        run(c, take.audio, y, when);
        const double before = peak_of(take.audio, n);
        p.wanted_reduction = 0.0;
        play_set(c, &p);
        run(c, take.audio + when, y + when, second);
        burst = fmax(burst, gain_to_db(peak_of(y + when + latency, second - latency) / before));
        drop(c);
    }
    figure_at_most("Compressor", "wish from 12 to 0 dB: peaks over those of the input", burst, 0.5, "dB",
                   "requirement");
    free(y);
    singer_free(&take);
}

/* ---- Learning ---- */

static void until_a_voice_is_heard_nothing_is_turned_down(void **state)
{
    enum { N = 96000, LATE = 48000 / 200 };
    float *x = room(N), *y = room(N);
    uint32_t seed = seeded(1);
    (void)state;
    for (uint32_t i = 0; i < N; ++i)
        x[i] = 0.9f * noise(&seed);
    CompressorParams p = starter_compressor;
    p.threshold = -33.0;
    Player *c = compressor_at(48000, 1, &p);
    run(c, x, y, N);
    for (uint32_t i = LATE; i < N; ++i)
        assert_true(fabsf(y[i] - x[i - LATE]) < 1e-5f);
    assert_true(seen(c).makeup_now == 0.0);
    Learned learned = LEARNED_WITH_ROOM;
    play_get(c, &learned);
    assert_int_equal(learned.count[0], 0);
    drop(c);
    free(x);
    free(y);
}

/* On hold with nothing learned, loud sound passes as it came. */
static void on_hold_nothing_known_turns_nothing_down(void **state)
{
    enum { N = 48000, LATE = 48000 / 200 };
    float *x = room(N), *y = room(N);
    uint32_t seed = seeded(1);
    (void)state;
    for (uint32_t i = 0; i < N; ++i)
        x[i] = 0.9f * noise(&seed);
    CompressorParams p = starter_compressor;
    p.learn = false;
    Player *c = compressor_at(48000, 1, &p);
    run(c, x, y, N);
    assert_int_equal(play_latency(c), LATE);
    for (uint32_t i = LATE; i < N; ++i)
        assert_true(fabsf(y[i] - x[i - LATE]) < 1e-5f);
    drop(c);
    free(x);
    free(y);
}

static void hold_holds(void **state)
{
    SingerTake quiet = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 1, .seconds = 6, .gain_db = -15});
    SingerTake loud = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 2, .seconds = 6});
    Learned before = LEARNED_WITH_ROOM;
    Learned after = LEARNED_WITH_ROOM;
    (void)state;
    teach(quiet.audio, quiet.frames, quiet.rate, &starter_compressor, &before);
    const CompressorParams p = held(starter_compressor);
    Player *c = fresh(loud.rate, 1);
    play_put(c, &before);
    play_set(c, &p);
    const CompressorReport first = seen(c);
    run(c, loud.audio, loud.audio, loud.frames);
    play_get(c, &after);
    assert_true(learned_same(compressor.learned.schema, &before, &after));
    assert_true(seen(c).threshold_now == first.threshold_now);
    assert_true(seen(c).makeup_now == first.makeup_now);
    drop(c);
    singer_free(&quiet);
    singer_free(&loud);
}

/* Fields of what was in force before a fresh start, and the one behind them, which is always there. */
enum { KEPT = 3, RAISED = 6 };

static void through_text(Learned *l)
{
    learned_check(compressor.learned.schema, l);
    for (uint32_t f = 0; f < compressor.learned.schema->fields; ++f) {
        assert_true(l->count[f] == (f < KEPT || f == RAISED ? compressor.learned.schema->field[f].max : 0));
        float *value = learned_field(compressor.learned.schema, l, f);
        for (uint32_t i = 0; i < l->count[f]; ++i) {
            char text[64];
            snprintf(text, sizeof text, "%.8f", (double)value[i]);
            const float back = strtof(text, NULL);
            assert_memory_equal(&back, &value[i], sizeof back);
        }
    }
}

/* Through the take, one that is reset and another that was restored do the same to the bit, and know the same after it:
 * *known. Drops both. */
static void go_on_alike(Player *one, Player *two, const SingerTake *take, Learned *known)
{
    float *a = room(take->frames), *b = room(take->frames);
    Learned other = LEARNED_WITH_ROOM;
    play_reset(one);
    play_set(one, &starter_compressor);
    play_set(two, &starter_compressor);
    run(one, take->audio, a, take->frames);
    run(two, take->audio, b, take->frames);
    assert_memory_equal(a, b, take->frames * sizeof *a);
    play_get(one, known);
    play_get(two, &other);
    assert_true(learned_same(compressor.learned.schema, known, &other));
    drop(one);
    drop(two);
    free(a);
    free(b);
}

/* Saved at the end of one take, put into another instance: both then make the same of the next one, and both go on
 * learning to the same. A reset lies between, as a host may do. */
static void a_restored_session_goes_on_exactly(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_ALTO, .seed = 9, .seconds = 8});
    float *a = room(take.frames);
    Learned learned = LEARNED_WITH_ROOM, then = LEARNED_WITH_ROOM;
    (void)state;
    Player *one = compressor_at(take.rate, 1, &starter_compressor), *two = fresh(take.rate, 1);
    run(one, take.audio, a, take.frames);
    play_get(one, &learned);
    through_text(&learned);
    play_put(two, &learned);
    go_on_alike(one, two, &take, &then);
    assert_false(learned_same(compressor.learned.schema, &then, &learned));
    free(a);
    singer_free(&take);
}

/* Saved just after learning began afresh, when the figures in force are older than the memory that is filled. */
static void a_fresh_start_is_restored_exactly(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_ALTO, .seed = 9, .seconds = 8});
    float *a = room(take.frames);
    Learned begun = LEARNED_WITH_ROOM, restored_now = LEARNED_WITH_ROOM, then = LEARNED_WITH_ROOM;
    (void)state;
    Player *one = compressor_at(take.rate, 1, &starter_compressor), *two = fresh(take.rate, 1);
    run(one, take.audio, a, take.frames);
    const CompressorParams hold = held(starter_compressor);
    play_set(one, &hold);
    run(one, take.audio, a, 64);
    play_set(one, &starter_compressor);
    uint32_t at = 0;
    for (; !begun.count[0]; at += 64) { /* the first voiced frame */
        run(one, take.audio + at, a, 64);
        play_get(one, &begun);
    }
    assert_true(begun.count[KEPT] > 0);
    play_put(two, &begun);
    play_get(two, &restored_now);
    assert_true(learned_same(compressor.learned.schema, &begun, &restored_now));
    go_on_alike(one, two, &take, &then);
    assert_int_equal(then.count[KEPT], 0);
    free(a);
    singer_free(&take);
}

/* What is put in is all that is known; a memory's fields belong together. */
static void a_missing_field_leaves_nothing_known(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_ALTO, .seed = 9, .seconds = 5});
    Learned learned = LEARNED_WITH_ROOM, broken = LEARNED_WITH_ROOM, after = LEARNED_WITH_ROOM;
    float still[480] = {0};
    (void)state;
    teach(take.audio, take.frames, take.rate, &starter_compressor, &learned);
    for (uint32_t f = 0; f < KEPT; ++f) {
        Player *c = compressor_at(take.rate, 1, &starter_compressor);
        play_put(c, &learned);
        run(c, still, still, 480);
        assert_true(seen(c).threshold_now < LEVELS_HIGH);
        learned_copy(compressor.learned.schema, &broken, &learned);
        broken.count[f] = f ? 0 : 7;
        play_put(c, &broken);
        play_get(c, &after);
        for (uint32_t k = 0; k < RAISED; ++k)
            assert_int_equal(after.count[k], 0);
        for (int i = 0; i < 100; ++i) {
            play_set(c, &starter_compressor);
            run(c, still, still, 480);
        }
        assert_float_equal(seen(c).threshold_now, LEVELS_HIGH, 1e-3); /* nothing is turned down */
        assert_float_equal(seen(c).makeup_now, 0.0, 1e-3);
        drop(c);
    }
    singer_free(&take);
}

/* Hold, then learn: the figures from before stay in force until there is a second of new voice, and are what a save
 * keeps; then the threshold goes over to the new take. */
static void a_fresh_start_keeps_the_figures_until_a_voice_is_heard(void **state)
{
    SingerTake loud = sung(&(SingerSpec){.voice = SINGER_BARITONE, .seed = 9, .seconds = 8});
    SingerTake quiet = sung(&(SingerSpec){.voice = SINGER_BARITONE, .seed = 10, .seconds = 16, .gain_db = -15});
    enum { SILENCE = 48000 };
    float *still = room(SILENCE);
    Learned learned = LEARNED_WITH_ROOM;
    Learned kept = LEARNED_WITH_ROOM;
    (void)state;
    teach(loud.audio, loud.frames, loud.rate, &starter_compressor, &learned);
    CompressorParams p = held(starter_compressor);
    Player *c = fresh(loud.rate, 1);
    play_put(c, &learned);
    play_set(c, &p);
    const double before = seen(c).threshold_now;
    run(c, still, still, 100);
    p.learn = true;
    play_set(c, &p);
    run(c, still, still, SILENCE - 100);
    assert_true(seen(c).threshold_now == before);
    play_get(c, &kept);
    assert_int_equal(kept.count[0], 0);
    assert_memory_equal(learned.value, learned_field(compressor.learned.schema, &kept, KEPT),
                        sizeof *kept.value * learned_at(compressor.learned.schema, KEPT));
    run(c, quiet.audio, quiet.audio, quiet.frames);
    assert_true(fabs(seen(c).threshold_now - (before - 15.0)) < 3.0);
    drop(c);
    free(still);
    singer_free(&loud);
    singer_free(&quiet);
}

static void missing_samples_teach_nothing(void **state)
{
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_BARITONE, .seed = 12, .seconds = 12});
    float *y = room(take.frames);
    (void)state;
    Player *c = compressor_at(take.rate, 1, &starter_compressor);
    run(c, take.audio, y, take.frames);
    const CompressorReport clean = seen(c);
    drop(c);
    for (uint32_t i = 20000; i < take.frames; i += 40000)
        take.audio[i] = 0.f;
    c = compressor_at(take.rate, 1, &starter_compressor);
    run(c, take.audio, y, take.frames);
    figure_at_most("Compressor", "a missing sample every 0.8 s moves the found threshold by",
                   fabs(seen(c).threshold_now - clean.threshold_now), 0.01, "dB", "ours; required: 0.1");
    figure_at_most("Compressor", "and the found makeup by", fabs(seen(c).makeup_now - clean.makeup_now), 0.01, "dB",
                   "ours; required: 0.1");
    drop(c);
    free(y);
    singer_free(&take);
}

/* ---- House rules ---- */

static void blocks_do_not_matter(void **state)
{
    static const uint32_t blocks[] = {5, 400, 10, 300, 1, 0};
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 3, .seconds = 4});
    const uint32_t n = take.frames;
    float *l = room(n), *r = room(n), *a[2] = {room(n), room(n)};
    (void)state;
    for (uint32_t i = 0; i < n; ++i) {
        l[i] = take.audio[i];
        r[i] = 0.7f * take.audio[n - 1 - i];
    }
    Player *c = compressor_at(take.rate, 2, &starter_compressor);
    play(c, (const float *const[]){l, r}, a, n);
    drop(c);
    c = compressor_at(take.rate, 2, &starter_compressor);
    for (uint32_t at = 0, k = 0; at < n; ++k) {
        const uint32_t m = blocks[k % 6] < n - at ? blocks[k % 6] : n - at;
        /* In place, with the channels crossed. */
        play(c, (const float *const[]){l + at, r + at}, (float *const[]){r + at, l + at}, m);
        at += m;
    }
    drop(c);
    assert_memory_equal(a[0], r, n * sizeof *l);
    assert_memory_equal(a[1], l, n * sizeof *l);
    free(l);
    free(r);
    free(a[0]);
    free(a[1]);
    singer_free(&take);
}

/* Both channels get one gain, that of the louder, whichever it is. */
static void channels_are_linked(void **state)
{
    enum { N = 24000 };
    float *x[2] = {room(N), room(N)}, *y[2] = {room(N), room(N)}, *mono = room(N);
    const CompressorParams p = by_hand(-20.0);
    (void)state;
    for (uint32_t loud = 0; loud < 2; ++loud) {
        for (uint32_t i = 0; i < N; ++i) {
            x[loud][i] = click_sine(i, 48000, 0.5);
            x[1 - loud][i] = -0.25f * x[loud][i];
        }
        Player *c = compressor_at(48000, 2, &p);
        play(c, (const float *const *)x, y, N);
        drop(c);
        c = compressor_at(48000, 1, &p);
        run(c, x[loud], mono, N);
        drop(c);
        for (uint32_t i = 0; i < N; ++i) {
            assert_true(y[loud][i] == mono[i]);
            assert_true(y[1 - loud][i] == -0.25f * mono[i]);
        }
    }
    for (int ch = 0; ch < 2; ++ch) {
        free(x[ch]);
        free(y[ch]);
    }
    free(mono);
}

/* Samples as broken as they come, at every rate: finite, and at the default times back to normal within 100 ms. */
static void stays_finite_and_recovers(void **state)
{
    static const double rates[] = {8000, 11025, 44100, 96000, 384000};
    double worst = 0.0;
    (void)state;
    EACH (r, rates) {
        const uint32_t n = (uint32_t)(0.3 * rates[r]), hit = n / 3, back = hit + (uint32_t)(0.105 * rates[r]);
        float *x = room(n), *y = room(n), *clean = room(n);
        for (uint32_t i = 0; i < n; ++i)
            x[i] = click_sine(i, rates[r], 0.3);
        const CompressorParams p = by_hand(-24.0);
        Player *c = compressor_at(rates[r], 1, &p);
        run(c, x, clean, n);
        drop(c);
        for (uint32_t i = 0; i < 8; ++i)
            x[hit + i] = i % 3 ? DSP_BROKEN : -DSP_BROKEN;
        c = compressor_at(rates[r], 1, &p);
        run(c, x, y, n);
        drop(c);
        for (uint32_t i = 0; i < n; ++i) {
            assert_true(isfinite(y[i]));
            if (i > back)
                worst = fmax(worst, fabs((double)y[i] - (double)clean[i]));
        }
        free(x);
        free(y);
        free(clean);
    }
    figure_at_most("Compressor", "100 ms after broken samples: off by", worst, 5e-7, "", "ours; required: 0.001");
}

static void bad_rates_and_channels_are_refused(void **state)
{
    (void)state;
    Player c;
    assert_false(play_init(&c, &compressor, 7999, 1));
    play_done(&c);
    assert_false(play_init(&c, &compressor, 48000, 0));
    play_done(&c);
    assert_false(play_init(&c, &compressor, 48000, 3));
    play_done(&c);
    assert_false(play_init(&c, &compressor, NAN, 1));
    play_done(&c);
}

/* ---- On hold nobody listens ---- */

static void usual_reduction_on_hold_is_that_of_what_was_learned(void **state)
{
    (void)state;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_TENOR, .seed = 6, .seconds = 8});
    Learned learned = LEARNED_WITH_ROOM;
    const CompressorParams p = held(starter_compressor);
    float *y = room(take.frames);
    teach(take.audio, take.frames, take.rate, &starter_compressor, &learned);
    Player *c = compressor_at(take.rate, 1, &p);
    run(c, take.audio, y, take.frames);
    assert_true(seen(c).usual_reduction == 0.0);
    play_put(c, &learned);
    run(c, take.audio, y, take.frames);
    assert_float_equal(seen(c).usual_reduction, p.wanted_reduction, 0.05);
    free(y);
    drop(c);
    singer_free(&take);
}

static void hear_loud_and_stop(Player *c, const float *x, uint32_t cells)
{
    float *y = room(cells * DSP_CELL);
    for (uint32_t f = 0; f < cells * DSP_CELL; ++f)
        y[f] = f < cells / 2 * DSP_CELL ? 2.f * x[f] : 0.f;
    run(c, y, y, cells * DSP_CELL);
    free(y);
}

/* What learning that starts afresh hears is what a new Compressor hears. */
static void a_fresh_start_listens_as_a_new_one_does(void **state)
{
    (void)state;
    SingerTake take = sung(&(SingerSpec){.voice = SINGER_ALTO, .seed = 5, .seconds = 8});
    Learned learned = LEARNED_WITH_ROOM, afresh = LEARNED_WITH_ROOM;
    CompressorParams p = by_hand(-30.0);
    p.learn = true;
    Player *c = compressor_at(take.rate, 1, &p);
    hear_loud_and_stop(c, take.audio, 3000);
    const CompressorParams hold = held(p);
    play_set(c, &hold);
    hear_loud_and_stop(c, take.audio, 6000);
    play_set(c, &p);
    float *y = room(take.frames);
    run(c, take.audio, y, take.frames);
    play_get(c, &afresh);
    free(y);
    drop(c);
    teach(take.audio, take.frames, take.rate, &p, &learned);
    assert_true(learned.count[0] && afresh.count[0] == learned.count[0]);
    for (uint32_t f = 0; f < KEPT; ++f) {
        const uint32_t at = learned_at(compressor.learned.schema, f);
        assert_memory_equal(afresh.value + at, learned.value + at, learned.count[f] * sizeof *learned.value);
    }
    singer_free(&take);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_are_what_the_ports_say),
        cmocka_unit_test(usual_reduction_on_hold_is_that_of_what_was_learned),
        cmocka_unit_test(a_fresh_start_listens_as_a_new_one_does),
        cmocka_unit_test(latency_is_5_ms_and_look_ahead_lies_inside),
        cmocka_unit_test(steady_notes_stay_pure),
        cmocka_unit_test(voiced_periods_are_not_followed),
        cmocka_unit_test(onsets_do_not_slip_through),
        cmocka_unit_test(wish_is_met_on_quiet_and_loud_takes),
        cmocka_unit_test(threshold_follows_the_controls_on_hold),
        cmocka_unit_test(figures_that_stand_are_left_alone),
        cmocka_unit_test(a_wish_out_of_reach_stops_at_minus_60),
        cmocka_unit_test(loudness_stays_on_sung_takes),
        cmocka_unit_test(wish_and_loudness_hold_at_other_settings),
        cmocka_unit_test(makeup_is_the_same_at_any_level),
        cmocka_unit_test(loudness_stays_on_speech),
        cmocka_unit_test(with_nothing_to_do_the_input_passes_to_the_bit),
        cmocka_unit_test(no_control_clicks),
        cmocka_unit_test(learning_never_jumps),
        cmocka_unit_test(a_smaller_wish_makes_no_burst),
        cmocka_unit_test(until_a_voice_is_heard_nothing_is_turned_down),
        cmocka_unit_test(on_hold_nothing_known_turns_nothing_down),
        cmocka_unit_test(hold_holds),
        cmocka_unit_test(a_restored_session_goes_on_exactly),
        cmocka_unit_test(a_fresh_start_is_restored_exactly),
        cmocka_unit_test(a_missing_field_leaves_nothing_known),
        cmocka_unit_test(a_fresh_start_keeps_the_figures_until_a_voice_is_heard),
        cmocka_unit_test(missing_samples_teach_nothing),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(channels_are_linked),
        cmocka_unit_test(stays_finite_and_recovers),
        cmocka_unit_test(bad_rates_and_channels_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
