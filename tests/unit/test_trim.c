/* Trim: that the gain it finds is right, that it is found from the voice alone, and how it moves. */
#include "trim.h"

#include "click.h"
#include "figure.h"
#include "learned_room.h"
#include "play.h"
#include "seeds.h"
#include "singer/singer.h"
#include "spoken.h"
#include "units.h"
#include "voices.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 48000.0

static Trim *inside(const Player *p)
{
    return p->dsp;
}

static Player *trim_at(double rate, uint32_t channels, const TrimParams *params)
{
    Player *t = malloc(sizeof *t);
    assert_non_null(t);
    assert_true(play_init(t, &trim, rate, channels));
    play_set(t, params);
    return t;
}

static void drop(Player *t)
{
    play_done(t);
    free(t);
}

static TrimReport heard(const Player *t)
{
    TrimReport r;
    play_report(t, &r);
    return r;
}

static float *room(uint32_t frames)
{
    float *x = calloc(frames, sizeof *x);
    assert_non_null(x);
    return x;
}

static void sing(const SingerSpec *spec, SingerTake *take)
{
    assert_true(singer_sing(spec, take));
}

/* ---- Ten takes ---- */

#define TARGET (-18.0)

static const TrimParams to_target = {.target = TARGET, .learn = true, .ceiling = -1.0};

/* Less their mean: without the direct current, which is no sound. */
static double mean_square(const float *x, uint32_t n)
{
    double squares = 0.0, sum = 0.0;
    for (uint32_t t = 0; t < n; ++t) {
        squares += (double)x[t] * x[t];
        sum += (double)x[t];
    }
    return (squares - sum * sum / n) / n;
}

/* Own measure, from the definition: plain RMS of 400 ms blocks every 100 ms, gated at -70 dB and 10 dB under the mean.
 */
static double gated_level(const float *x, uint32_t frames, double rate)
{
    const uint32_t hop = (uint32_t)(rate / 10.0), blocks = frames / hop > 3 ? frames / hop - 3 : 0;
    double *power = calloc(blocks + 1, sizeof *power), gate = 1e-7, mean = 0.0;
    assert_non_null(power);
    for (uint32_t b = 0; b < blocks; ++b)
        power[b] = mean_square(x + (size_t)b * hop, 4 * hop);
    for (int pass = 0; pass < 2; ++pass) {
        double sum = 0.0, passed = 0.0;
        for (uint32_t b = 0; b < blocks; ++b)
            if (power[b] >= gate) {
                sum += power[b];
                passed += 1.0;
            }
        mean = sum / passed;
        gate = fmax(gate, mean / 10.0);
    }
    free(power);
    return 10.0 * log10(mean);
}

/* First frame by which the singer has sung for so many seconds; the whole take if she never does. */
static uint32_t sung_for(const SingerTake *take, double seconds)
{
    double sung = 0.0;
    for (size_t f = 0; f < take->f0_count; ++f) {
        sung += take->f0[f] > 0.f ? 0.01 : 0.0;
        if (sung >= seconds)
            return (uint32_t)(0.01 * (double)(f + 1) * take->rate);
    }
    return take->frames;
}

typedef struct {
    double early_error, error, gain, fastest;
    bool held_back;
} Run;

/* Feeds frames from..to, looking at the gain every 10 ms. */
static void feed(Player *t, const float *x, uint32_t from, uint32_t to, double rate, Run *run)
{
    static float out[512];
    const uint32_t step = (uint32_t)(rate / 100.0);
    double before = gain_move_db(&inside(t)->gain);
    for (uint32_t at = from; at < to; at += step) {
        const uint32_t n = to - at < step ? to - at : step;
        play(t, (const float *[]){x + at}, (float *[]){out}, n);
        const double gain = gain_move_db(&inside(t)->gain);
        if (n == step)
            run->fastest = fmax(run->fastest, (gain - before) / (step / rate));
        before = gain;
    }
}

static Run run_take(const SingerSpec *spec)
{
    SingerTake take;
    sing(spec, &take);
    Run run = {0};
    Player *t = trim_at(take.rate, 1, &to_target);
    const uint32_t early = sung_for(&take, 15.0);
    assert_true(early < take.frames);
    feed(t, take.audio, 0, early, take.rate, &run);
    run.early_error = heard(t).gain + gated_level(take.voice, early, take.rate) - TARGET;
    feed(t, take.audio, early, take.frames, take.rate, &run);
    run.gain = heard(t).gain;
    run.error = run.gain + gated_level(take.voice, take.frames, take.rate) - TARGET;
    run.held_back = heard(t).held_back;
    drop(t);
    singer_free(&take);
    return run;
}

static const struct {
    SingerVoice voice;
    double gain_db; /* off the target */
    double uneven_db, hiss_db, breath_db, rest_seconds;
} takes[] = {
    {SINGER_BASS, -24, 3, -40, -20, 6},     {SINGER_BARITONE, -20, 4, -45, -15, 8},
    {SINGER_TENOR, -16, 2, -35, -20, 5},    {SINGER_ALTO, -12, 5, -50, -18, 10},
    {SINGER_MEZZO, -8, 3, -40, -12, 6},     {SINGER_SOPRANO, -4, 4, -40, -20, 8},
    {SINGER_SPOKEN_LOW, 0, 2, -35, -15, 4}, {SINGER_SPOKEN_HIGH, 2, 3, -45, -15, 7},
    {SINGER_MEZZO, 4, 0, -40, -20, 12},     {SINGER_TENOR, 6, 4, -30, -14, 6},
};

static void ten_takes_reach_the_target(void **state)
{
    (void)state;
    double early = 0.0, whole = 0.0, rests = 0.0, fastest = 0.0;
    for (size_t i = 0; i < sizeof takes / sizeof *takes; ++i) {
        SingerSpec spec = {.voice = takes[i].voice,
                           .seed = i + 1,
                           .seconds = 32.0,
                           .level_db = TARGET,
                           .gain_db = takes[i].gain_db,
                           .uneven_db = takes[i].uneven_db,
                           .hiss_db = takes[i].hiss_db,
                           .breath_db = takes[i].breath_db};
        const Run dense = run_take(&spec);
        spec.rest_seconds = takes[i].rest_seconds;
        const Run wide = run_take(&spec);
        assert_false(dense.held_back || wide.held_back);
        early = fmax(early, fmax(fabs(dense.early_error), fabs(wide.early_error)));
        whole = fmax(whole, fmax(fabs(dense.error), fabs(wide.error)));
        rests = fmax(rests, fabs(wide.gain - dense.gain));
        fastest = fmax(fastest, fmax(dense.fastest, wide.fastest));
    }
    figure_at_most("Trim", "ten takes, 24 dB too quiet to 6 too hot: off after 15 s of voice", early, 0.5, "dB",
                   "requirement");
    figure_at_most("Trim", "ten takes: off after the whole take", whole, 0.5, "dB", "requirement");
    figure_at_most("Trim", "ten takes: long rests added move the gain by", rests, 0.2, "dB", "requirement");
    figure_at_most("Trim", "ten takes: fastest rise of the gain", fastest, 6.0001, "dB/s", "requirement");
}

/* The last minute of it would ask for 4 dB less than the whole. */
static void verse_and_chorus_are_one_take(void **state)
{
    (void)state;
    double db[40];
    for (int i = 0; i < 40; ++i)
        db[i] = i < 24 ? -8.0 : 3.0;
    const SingerSpec spec = {.voice = SINGER_ALTO,
                             .seed = 77,
                             .rate = 16000.0,
                             .seconds = 240.0,
                             .level_db = TARGET,
                             .phrase_db = db,
                             .phrase_db_count = 40,
                             .gain_db = -10.0,
                             .hiss_db = -40.0};
    const Run run = run_take(&spec);
    assert_false(run.held_back);
    figure_at_most("Trim", "4 minutes, quiet verse, loud chorus: off after the take", fabs(run.error), 0.1, "dB",
                   "ours; required: 0.5");
}

/* ---- Other people's voices ---- */

/* The answer about the last words comes while it is silent. */
static void let_it_end(Spoken *s)
{
    const uint32_t n = s->n + (uint32_t)s->rate;
    s->x = realloc(s->x, n * sizeof *s->x);
    assert_non_null(s->x);
    memset(s->x + s->n, 0, (n - s->n) * sizeof *s->x);
    s->n = n;
}

typedef struct {
    double level;  /* where the gain puts it, dB over the target */
    double after;  /* where it lies with its peaks turned down */
    double peak;   /* the highest that comes out, dB over the ceiling */
    double before; /* its highest peak over its level */
} Put;

/* Learned in one pass, measured in another, on hold. */
static Put put(const Spoken *s)
{
    const TrimParams hold = {.target = TARGET, .learn = false, .ceiling = -1.0};
    Player *t = trim_at(s->rate, 1, &to_target);
    float *out = room(s->n);
    play(t, (const float *[]){s->x}, (float *[]){out}, s->n);
    play_reset(t);
    play_set(t, &hold);
    play(t, (const float *[]){s->x}, (float *[]){out}, s->n);
    const double plain = gated_level(s->x, s->n, s->rate);
    Put p = {.level = plain + heard(t).gain - TARGET,
             .after = gated_level(out, s->n, s->rate) - TARGET,
             .before = heard(t).peak - plain,
             .peak = -100.0};
    for (uint32_t f = 0; f < s->n; ++f)
        p.peak = fmax(p.peak, gain_to_db(fabs((double)out[f])) + 1.0);
    free(out);
    drop(t);
    return p;
}

/* The percentage of peaks, and how near a voice has to sound, were set on the speakers for tuning. */
static void recorded_voices_reach_the_target(VoicesUse use, const char *who)
{
    double worst = 0.0, least = 0.0, crest = 0.0, peak = -100.0;
    for (uint32_t v = 0; v < VOICES_ALL; ++v) {
        Spoken take;
        if (voices[v].use != use)
            continue;
        if (!voices_speak(&take, v, 0, 30.0))
            skip();
        let_it_end(&take);
        const Put p = put(&take);
        worst = fmax(worst, fabs(p.level));
        least = fmin(least, p.after);
        crest = fmax(crest, p.before);
        peak = fmax(peak, p.peak);
        spoken_free(&take);
    }
    char what[120];
    snprintf(what, sizeof what, "%s: plain gated level after the gain, off the target", who);
    figure_at_most("Trim", what, worst, 0.5, "dB", "requirement");
    snprintf(what, sizeof what, "%s: the same of what comes out, peaks turned down", who);
    figure_at_least("Trim", what, least, -1.0, "dB", "own limit");
    snprintf(what, sizeof what, "%s: highest sample over the ceiling", who);
    figure_at_most("Trim", what, peak, 0.0, "dB", "requirement: 1");
    assert_true(crest > 19.0);
}

static void voices_tuned_on_reach_the_target(void **state)
{
    (void)state;
    recorded_voices_reach_the_target(VOICES_TUNE, "8 recorded voices tuned on");
}

static void voices_judged_on_reach_the_target(void **state)
{
    (void)state;
    recorded_voices_reach_the_target(VOICES_JUDGE, "9 recorded voices not tuned on");
}

/* ---- What is not a voice ---- */

static const struct {
    const char *what;
    SingerSpec spec;
} noises[] = {
    {"room noise", {.hiss_db = -12.0}},
    {"hum, 50 Hz", {.hum_hz = 50.0, .hum_db = -12.0}},
    {"hum, 60 Hz, drifting", {.hum_hz = 60.0, .hum_db = -12.0, .hum_drift = 0.5}},
    {"breath", {.breath_db = -6.0, .rest_seconds = 2.0}},
    {"all of them", {.hiss_db = -20.0, .hum_hz = 50.0, .hum_db = -20.0, .breath_db = -10.0, .rest_seconds = 1.0}},
};

static void noise_alone_leaves_the_take_alone(void **state)
{
    (void)state;
    double most = 0.0;
    for (size_t i = 0; i < sizeof noises / sizeof *noises; ++i) {
        SingerSpec spec = noises[i].spec;
        spec.seed = 100 + i;
        spec.seconds = 40.0;
        SingerTake take;
        sing(&spec, &take);
        float *out = room(take.frames);
        for (uint32_t f = 0; f < take.frames; ++f)
            take.audio[f] -= take.voice[f];
        Player *t = trim_at(take.rate, 1, &to_target);
        play(t, (const float *[]){take.audio}, (float *[]){out}, take.frames);
        most = fmax(most, fabs(heard(t).gain));
        if (memcmp(out + play_latency(t), take.audio, (take.frames - play_latency(t)) * sizeof *out) != 0)
            fail_msg("%s alone was changed", noises[i].what);
        drop(t);
        free(out);
        singer_free(&take);
    }
    figure_at_most("Trim", "room noise, hum, breath alone: gain", most, 0.0, "dB", "requirement");
}

/* ---- One take for what follows ---- */

static SingerTake demo;

static int make_demo(void **state)
{
    (void)state;
    return !singer_sing(
        &(SingerSpec){.voice = SINGER_MEZZO, .seed = 5, .seconds = 14.0, .gain_db = -12.0, .hiss_db = -45.0}, &demo);
}

static int free_demo(void **state)
{
    (void)state;
    singer_free(&demo);
    return 0;
}

static void hear_demo(Player *t, uint32_t frames)
{
    float *out = room(frames);
    play(t, (const float *[]){demo.audio, demo.audio}, (float *[]){out, out}, frames);
    free(out);
}

static void reads_the_outside_measure(void **state)
{
    (void)state;
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    assert_float_equal(heard(t).voice_level, singer_level_db(demo.voice, demo.frames, RATE), 0.3);
    drop(t);
}

static void two_channels_get_one_gain(void **state)
{
    (void)state;
    Player *one = trim_at(RATE, 1, &to_target), *two = trim_at(RATE, 2, &to_target),
           *half = trim_at(RATE, 2, &to_target);
    float *faint = room(demo.frames), *l = room(demo.frames), *r = room(demo.frames);
    hear_demo(one, demo.frames);
    play(two, (const float *[]){demo.audio, demo.audio}, (float *[]){l, r}, demo.frames);
    assert_memory_equal(l, r, demo.frames * sizeof *l);
    /* one channel counts for 1 % of the other; a dead one would not count at all (living.h) */
    for (uint32_t f = 0; f < demo.frames; ++f)
        faint[f] = 0.1f * demo.audio[f];
    play(half, (const float *[]){faint, demo.audio}, (float *[]){l, r}, demo.frames);
    assert_float_equal(heard(two).voice_level, heard(one).voice_level, 1e-9);
    const double apart = heard(one).voice_level - heard(half).voice_level;
    assert_float_equal(apart, 2.97, 0.15);
    drop(one);
    drop(two);
    drop(half);
    free(faint);
    free(l);
    free(r);
}

/* ---- The ceiling ---- */

static const double rates[] = {8000, 11025, 44100, 48000, 96000, 192000, 384000};
enum { RATES = sizeof rates / sizeof *rates };

enum { LEVELS_FIELD, PEAKS_FIELD, PEAK_FIELD };

/* A figure as if it had been learned: a voice at db, its peaks at dbtp. As a session was saved before peaks were
 * counted: one peak. */
static void teach(Player *t, double db, double dbtp)
{
    Learned l = LEARNED_WITH_ROOM;
    float *level = learned_field(trim.learned.schema, &l, LEVELS_FIELD);
    const uint32_t bin = (uint32_t)((db - LEVEL_MEMORY_LOW) * LEVEL_MEMORY_STEP);
    level[bin] = 100.f;
    l.count[LEVELS_FIELD] = bin + 1;
    l.count[PEAK_FIELD] = 1;
    *learned_field(trim.learned.schema, &l, PEAK_FIELD) = (float)dbtp;
    play_put(t, &l);
}

static double highest(const float *x, uint32_t n)
{
    double most = 0.0;
    for (uint32_t f = 0; f < n; ++f)
        most = fmax(most, fabs((double)x[f]));
    return most;
}

static float noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (float)(*seed / 2147483648.0 - 1.0);
}

/* What comes after a whisper: sample f of it. */
typedef enum { NOISE, SQUARE, SCREAM, BURSTS, SAMPLES, HOTTEST, STEP, NYQUIST, KINDS } Kind;

static const char *const kinds[KINDS] = {"full-scale noise", "a square wave",      "a scream", "bursts",
                                         "odd samples",      "+23 dBFS, a square", "a step",   "fs/2"};

static float come(Kind kind, uint32_t f, double rate, uint32_t *seed)
{
    const double phase = fmod(440.0 * f / rate, 1.0);
    switch (kind) {
    case NOISE:
        return noise(seed);
    case SQUARE:
        return phase < 0.5 ? 1.f : -1.f;
    case SCREAM:
        return (float)(1.0 - 2.0 * phase) + 0.1f * noise(seed);
    case BURSTS:
        return fmod(f / rate, 0.037) < 0.006 ? 4.f * noise(seed) : 1e-3f * noise(seed);
    case SAMPLES:
        return f % 997 == 0 ? 8.f : 1e-3f * noise(seed);
    case HOTTEST:
        return phase < 0.5 ? 14.1f : -14.1f;
    case STEP:
        return 0.9f;
    default:
        return f % 2 ? 1.f : -1.f;
    }
}

/* What comes out of half a second of it, dB over the ceiling, where a voice 30 dB under the target was learned. */
static double over_by(Kind kind, double rate, bool learn, bool known)
{
    const TrimParams params = {.target = -18.0, .learn = learn, .ceiling = -1.0};
    const uint32_t n = (uint32_t)(0.5 * rate), quiet = n / 5;
    float *x = room(n), *y = room(n);
    uint32_t seed = seeded(7);
    for (uint32_t f = 0; f < n; ++f)
        x[f] = f < quiet ? 1e-3f * noise(&seed) : come(kind, f, rate, &seed);
    Player *t = trim_at(rate, 1, &params);
    if (known)
        teach(t, -50.0, -35.0);
    play(t, (const float *[]){x}, (float *[]){y}, n);
    assert_true(heard(t).gain > (known ? 20.0 : -1e-9));
    const double over = gain_to_db(highest(y, n)) + 1.0;
    drop(t);
    free(x);
    free(y);
    return over;
}

static void nothing_passes_the_ceiling(void **state)
{
    (void)state;
    for (Kind kind = 0; kind < KINDS; ++kind) {
        double worst = -100.0;
        for (int r = 0; r < RATES; ++r)
            for (int way = 0; way < 4; ++way)
                worst = fmax(worst, over_by(kind, rates[r], way & 1, way & 2));
        char what[120];
        snprintf(what, sizeof what, "%s after a whisper, or with nothing learned: over the ceiling", kinds[kind]);
        figure_at_most("Trim", what, worst, 0.0, "dB", "requirement: 1");
        assert_true(worst > -3.0);
    }
}

/* Every way the gain and the hand can move while it is loud: the part before the hand is what is held. */
static void nothing_passes_while_the_gain_moves(void **state)
{
    (void)state;
    enum { N = 48000 };
    static float x[N], y[N];
    double worst = -100.0;
    for (uint32_t seed = 1; seed <= 12; ++seed) {
        uint32_t random = seeded(seed);
        TrimParams p = {.target = -18.0, .learn = seed % 2, .ceiling = -1.0};
        Player *t = trim_at(RATE, 1, &p);
        teach(t, -30.0, -20.0);
        for (int move = 0; move < 4; ++move) {
            for (uint32_t f = 0; f < N; ++f)
                x[f] = come(BURSTS, f, RATE, &random);
            play(t, (const float *[]){x}, (float *[]){y}, N);
            if (move) /* the first is at rest */
                worst = fmax(worst, gain_to_db(highest(y + 100, N - 100)) + 1.0);
            teach(t, -30.0 + 20.0 * noise(&random), -20.0);
            p.target = -20.0 + 10.0 * noise(&random);
            play_set(t, &p);
        }
        drop(t);
    }
    figure_at_most("Trim", "bursts while the gain is on its way: over the ceiling", worst, 0.0, "dB", "requirement: 1");
}

/* Own interpolation: 16 points between samples, a sinc of 64 samples under a Hann window. */
static double true_peak_of(const float *x, uint32_t n)
{
    enum { POINTS = 16, REACH = 32 };
    double tap[POINTS][2 * REACH], most = 0.0;
    for (int p = 0; p < POINTS; ++p)
        for (int k = 0; k < 2 * REACH; ++k) {
            const double u = k - REACH + 1 - p / (double)POINTS;
            tap[p][k] = (u == 0.0 ? 1.0 : sin(DSP_PI * u) / (DSP_PI * u)) * (0.5 + 0.5 * cos(DSP_PI * u / REACH));
        }
    for (uint32_t f = REACH; f + REACH < n; ++f)
        for (int p = 0; p < POINTS; ++p) {
            double sum = 0.0;
            for (int k = 0; k < 2 * REACH; ++k)
                sum += tap[p][k] * x[f + (uint32_t)k - REACH + 1];
            most = fmax(most, fabs(sum));
        }
    return gain_to_db(most);
}

/* Noise with all of the band is the worst there is; a scream has what a voice has. */
static void between_the_samples_too(void **state)
{
    (void)state;
    enum { N = 24000 };
    static float x[N], y[N];
    static const struct {
        Kind kind;
        double limit;
    } cases[] = {{NOISE, 1.5}, {BURSTS, 1.5}, {SCREAM, 0.3}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; ++i) {
        uint32_t seed = seeded(3);
        for (uint32_t f = 0; f < N; ++f)
            x[f] = come(cases[i].kind, f, RATE, &seed);
        Player *t = trim_at(RATE, 1, &(TrimParams){.target = -18.0, .learn = false, .ceiling = -1.0});
        teach(t, -50.0, -35.0);
        play(t, (const float *[]){x}, (float *[]){y}, N);
        char what[120];
        snprintf(what, sizeof what, "%s 30 dB over: true peak over the ceiling", kinds[cases[i].kind]);
        figure_at_most("Trim", what, true_peak_of(y + 1000, N - 1000) + 1.0, cases[i].limit, "dB", "own limit");
        drop(t);
    }
}

static void hand_trim_passes_the_ceiling(void **state)
{
    (void)state;
    const TrimParams params = {.target = -10.0, .learn = false, .hand_trim = 5.0, .ceiling = -1.0};
    enum { N = 4800 };
    static float x[N];
    for (uint32_t f = 0; f < N; ++f)
        x[f] = click_sine(f, RATE, 1.0);
    Player *t = trim_at(RATE, 1, &params);
    teach(t, -40.0, -10.0);
    play(t, (const float *[]){x}, (float *[]){x}, N);
    assert_float_equal(heard(t).gain, 9.0 + 5.0, 1e-6);
    assert_true(heard(t).held_back);
    /* 0 dBFS, 9 dB up, 10 down to the ceiling, 5 up */
    assert_float_equal(gain_to_db(highest(x, N)), -1.0 + 5.0, 0.01);
    assert_float_equal(heard(t).turned_down, 10.0, 0.01);
    drop(t);
}

/* Six of seven frames of the voice stay under the ceiling where it holds the gain back. */
static void own_peaks_stay_under_the_ceiling(void **state)
{
    (void)state;
    const TrimParams params = {.target = -10.0, .learn = true, .ceiling = -3.0};
    Player *t = trim_at(RATE, 1, &params);
    hear_demo(t, demo.frames);
    assert_true(heard(t).held_back);
    const double gain = heard(t).gain;
    uint32_t frames = 0, over = 0;
    for (size_t k = 0; k < demo.f0_count && (k + 1) * 480 <= demo.frames; ++k)
        if (demo.f0[k] > 0.f) {
            ++frames;
            over += gain_to_db(highest(demo.audio + k * 480, 480)) + gain > -3.0;
        }
    figure_within("Trim", "held back at -10 dB: frames of voice that pass the ceiling", 100.0 * over / frames, 15.0,
                  5.0, "%", "own limit");
    drop(t);
}

/* ---- What is not the voice's own peak ---- */

/* The gain that the demo ends with, `extra` added to it from `at` on. */
static double gain_with(const TrimParams *p, const float *extra, uint32_t n, uint32_t at)
{
    float *x = room(demo.frames), *y = room(demo.frames);
    memcpy(x, demo.audio, demo.frames * sizeof *x);
    for (uint32_t f = 0; f < n; ++f)
        x[at + f] += extra[f];
    Player *t = trim_at(RATE, 1, p);
    play(t, (const float *[]){x}, (float *[]){y}, demo.frames);
    const double gain = heard(t).gain;
    drop(t);
    free(x);
    free(y);
    return gain;
}

/* The take lies at -30 dB. At -18 there is room for its peaks, at -10 they hold the gain back. */
static void an_odd_peak_does_not_move_the_gain(void **state)
{
    (void)state;
    static float thump[912];
    for (uint32_t f = 0; f < 912; ++f)
        thump[f] = 0.95f * (float)sin(DSP_PI * f / 912); /* 19 ms */
    const float sample = 0.95f;
    double by_sample = 0.0, by_thump = 0.0;
    for (double target = -18.0; target <= -10.0; target += 8.0) {
        const TrimParams p = {.target = target, .learn = true, .ceiling = -1.0};
        const double gain = gain_with(&p, NULL, 0, 0);
        for (uint32_t at = 100000; at < 600000; at += 83311) {
            by_sample = fmax(by_sample, fabs(gain_with(&p, &sample, 1, at) - gain));
            by_thump = fmax(by_thump, fabs(gain_with(&p, thump, 912, at) - gain));
        }
    }
    figure_at_most("Trim", "one sample at 0.95 in a take at -30 dB moves the gain by", by_sample, 0.1, "dB",
                   "requirement: 0.5");
    figure_at_most("Trim", "a thump of 19 ms at 0.95 in it moves the gain by", by_thump, 0.5, "dB", "requirement");
}

static double crest_of_demo(void)
{
    return gain_to_db(highest(demo.audio, demo.frames)) - gated_level(demo.audio, demo.frames, RATE);
}

static void an_ordinary_voice_is_never_touched(void **state)
{
    (void)state;
    const TrimParams hold = {.target = TARGET, .learn = false, .ceiling = -1.0};
    assert_true(crest_of_demo() < 15.0);
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    play_reset(t);
    play_set(t, &hold);
    float *y = room(demo.frames);
    play(t, (const float *[]){demo.audio}, (float *[]){y}, demo.frames);
    const double gain = inside(t)->gain.gain;
    const uint32_t late = play_latency(t);
    assert_true(late > 0 && gain > 1.5);
    for (uint32_t f = late; f < demo.frames; ++f)
        assert_true(y[f] == (float)(demo.audio[f - late] * gain));
    drop(t);
    free(y);
}

/* For that moment: the sample after which the voice is as it was, to the bit. */
static void a_peak_is_turned_down_for_a_moment(void **state)
{
    (void)state;
    const TrimParams hold = {.target = TARGET, .learn = false, .ceiling = -1.0};
    enum { N = 24000, WHEN = 12000 };
    static float x[N], y[N];
    uint32_t seed = seeded(5);
    for (uint32_t f = 0; f < N; ++f)
        x[f] = 0.01f * noise(&seed);
    x[WHEN] = 2.f;
    Player *t = trim_at(RATE, 1, &hold);
    teach(t, -30.0, -20.0);
    double most = 0.0;
    for (uint32_t at = 0; at < N; at += DSP_CELL) {
        play(t, (const float *[]){x + at}, (float *[]){y + at}, DSP_CELL);
        most = fmax(most, heard(t).turned_down);
    }
    assert_true(heard(t).turned_down == 0.0);
    const uint32_t late = play_latency(t);
    uint32_t first = N, last = 0;
    for (uint32_t f = late; f < N; ++f)
        if (y[f] != (float)(x[f - late] * inside(t)->gain.gain)) {
            first = f < first ? f : first;
            last = f;
        }
    figure_at_most("Trim", "a sample 19 dB over: the sound is touched before it for", (WHEN + late - first) / RATE,
                   0.002, "s", "requirement");
    figure_at_most("Trim", "and after it for", (last - WHEN - late) / RATE, 0.1, "s", "own limit");
    figure_within("Trim", "and turned_down read", most, 12.125 + gain_to_db(2.0) + 1.0, 0.5, "dB", "own truth");
    drop(t);
}

/* One gain for both channels, whichever is over. */
static void two_channels_are_turned_down_alike(void **state)
{
    (void)state;
    enum { N = 9600 };
    static float l[N], r[N], a[N], b[N];
    uint32_t seed = seeded(11);
    for (uint32_t f = 0; f < N; ++f) {
        l[f] = f > 4000 && f < 5000 ? 3.f * noise(&seed) : 0.1f;
        r[f] = 0.25f;
    }
    Player *t = trim_at(RATE, 2, &(TrimParams){.target = TARGET, .learn = false, .ceiling = -1.0});
    play(t, (const float *[]){l, r}, (float *[]){a, b}, N);
    const uint32_t late = play_latency(t);
    double least = 1.0;
    for (uint32_t f = late; f < N; ++f) {
        const double gain = (double)b[f] / 0.25;
        assert_float_equal(a[f], (float)((double)l[f - late] * gain), 1e-6);
        least = fmin(least, gain);
    }
    assert_true(least < 0.35);
    drop(t);
}

/* With nothing learned and no hand: what lies under the ceiling passes to the bit, what lies over it does not. */
static void an_input_over_the_ceiling_is_turned_down_too(void **state)
{
    (void)state;
    enum { N = 9600 };
    static float x[N], y[N];
    for (uint32_t f = 0; f < N; ++f)
        x[f] = click_sine(f, RATE, f < 4800 ? 0.89 : 0.95);
    Player *t = trim_at(RATE, 1, &to_target);
    play(t, (const float *[]){x}, (float *[]){y}, N);
    const uint32_t late = play_latency(t);
    assert_memory_equal(y + late, x, 4500 * sizeof *x);
    const double least = db_to_gain(-1.01), most = db_to_gain(-1.0);
    const double peak = highest(y + 6000, N - 6000);
    assert_true(peak > least && peak <= most);
    drop(t);
}

/* ---- How it moves ---- */

/* Sends a steady signal in, so that out / in is the gain, while everything that can move it is moved. */
static void never_rises_faster_than_6_db_a_second(void **state)
{
    (void)state;
    TrimParams p = {.target = -20.0, .learn = true, .ceiling = -1.0};
    Player *t = trim_at(RATE, 1, &p);
    const uint32_t apart = 240, late = play_latency(t);
    static float x[96000], y[96000];
    for (uint32_t i = 0; i < 96000; ++i)
        x[i] = 0.001f;
    double before = 0.0, fastest = 0.0;
    uint32_t seed = seeded(3);
    for (int event = 0; event < 24; ++event) {
        seed = seed * 1664525u + 1013904223u;
        const double u = seed / 4294967296.0;
        switch (event % 6) {
        case 0:
            teach(t, -50.0 + 40.0 * u, -20.0 - 30.0 * u);
            break;
        case 1:
            p.hand_trim = -24.0 + 48.0 * u;
            break;
        case 2:
            p.target = -30.0 + 20.0 * u;
            break;
        case 3:
            p.learn = false;
            break;
        case 4:
            p.learn = true;
            break;
        default:
            p.ceiling = -6.0 + 6.0 * u;
        }
        play_set(t, &p);
        const uint32_t n = 9600 + (uint32_t)(86400.0 * u);
        play(t, (const float *[]){x}, (float *[]){y}, n);
        for (uint32_t i = event ? 0 : late; i + apart < n; i += apart) {
            const double now = gain_to_db(y[i] / x[i]);
            if (event || i > late)
                fastest = fmax(fastest, (now - before) * RATE / apart);
            before = now;
        }
        before = gain_to_db(y[n - 1] / x[n - 1]);
    }
    figure_at_most("Trim", "any control moved at any moment: fastest rise", fastest, 6.01, "dB/s", "requirement");
    assert_true(fastest > 5.9);
    drop(t);
}

enum { SINE = 48000, CHANGE = 24000 };

typedef struct {
    TrimParams before, after;
    bool peak; /* a peak 29 dB over the ceiling comes in at the change, in the other channel */
} Change;

static const Change changes[] = {
    {{.target = -20, .learn = true, .hand_trim = 0, .ceiling = -1},
     {.target = -20, .learn = true, .hand_trim = 24, .ceiling = -1},
     false},
    {{.target = -20, .learn = true, .hand_trim = 24, .ceiling = -1},
     {.target = -20, .learn = true, .hand_trim = -24, .ceiling = -1},
     false},
    {{.target = -10, .learn = true, .hand_trim = 0, .ceiling = -1},
     {.target = -30, .learn = true, .hand_trim = 0, .ceiling = -1},
     false},
    {{.target = -20, .learn = false, .hand_trim = 0, .ceiling = -1},
     {.target = -20, .learn = true, .hand_trim = 0, .ceiling = -1},
     false},
    {{.target = -10, .learn = true, .hand_trim = 0, .ceiling = -1},
     {.target = -10, .learn = true, .hand_trim = 0, .ceiling = -1},
     true},
};

static double tick_of(const Change *c, uint32_t when)
{
    static float x[SINE], other[SINE], y[SINE], z[SINE];
    for (uint32_t t = 0; t < SINE; ++t)
        x[t] = click_sine(t, RATE, 1e-3);
    memset(other, 0, sizeof other);
    if (c->peak)
        for (uint32_t t = when; t < SINE; ++t)
            other[t] = 0.9f;
    Player *t = trim_at(RATE, 2, &c->before);
    teach(t, -40.0, -60.0);
    play(t, (const float *[]){x, other}, (float *[]){y, z}, when);
    const double gain = db_to_gain(heard(t).gain);
    play_set(t, &c->after);
    play(t, (const float *[]){x + when, other + when}, (float *[]){y + when, z + when}, SINE - when);
    drop(t);
    return click_level(y, SINE, when, RATE, 1e-3 * gain);
}

static void no_change_ticks(void **state)
{
    (void)state;
    double worst = -200.0, cut = -200.0;
    for (size_t i = 0; i < sizeof changes / sizeof *changes; ++i)
        for (uint32_t when = CHANGE; when < CHANGE + 220; when += 31) {
            double *to = changes[i].peak ? &cut : &worst;
            *to = fmax(*to, tick_of(&changes[i], when));
        }
    figure_at_most("Trim", "a control moved under 220 Hz: what is left above 4 kHz", worst, -85.0, "dB",
                   "ours; required: -60");
    figure_at_most("Trim", "turned down by 29 dB beside 220 Hz: what is left above 4 kHz", cut, -60.0, "dB",
                   "requirement");
}

/* ---- Learn and hold ---- */

static void hold_holds(void **state)
{
    (void)state;
    TrimParams p = to_target;
    Player *t = trim_at(RATE, 1, &p);
    hear_demo(t, demo.frames);
    p.learn = false;
    play_set(t, &p);
    const double gain = heard(t).gain;
    const uint32_t version = play_version(t);
    hear_demo(t, demo.frames / 2);
    assert_true(heard(t).gain == gain);
    assert_int_equal(play_version(t), version);
    drop(t);
}

static void with_nothing_learned_the_hand_sets_the_gain(void **state)
{
    (void)state;
    const TrimParams p = {.target = -18.0, .learn = false, .hand_trim = 7.5, .ceiling = -1.0};
    Player *t = trim_at(RATE, 1, &p);
    hear_demo(t, demo.frames);
    assert_float_equal(heard(t).gain, 7.5, 1e-7);
    assert_true(heard(t).voice_level == UNITS_DB_FLOOR && !heard(t).in_window); /* on hold nobody listens */
    assert_false(heard(t).held_back);
    drop(t);
}

static void hear_scaled(Player *t, uint32_t frames, float gain)
{
    float *x = room(frames);
    for (uint32_t f = 0; f < frames; ++f)
        x[f] = gain * demo.audio[f];
    play(t, (const float *[]){x}, (float *[]){x}, frames);
    free(x);
}

/* On hold nobody listens, so learning that starts afresh hears what a new Trim hears; the read-outs stay those of what
 * was learned. */
static void a_fresh_start_listens_as_a_new_one_does(void **state)
{
    (void)state;
    TrimParams p = to_target;
    Player *t = trim_at(RATE, 1, &p), *fresh = trim_at(RATE, 1, &to_target);
    const uint32_t whole_cells = demo.frames / DSP_CELL * DSP_CELL;
    hear_demo(t, whole_cells);
    const double learned = heard(t).voice_level;
    p.learn = false;
    play_set(t, &p);
    hear_scaled(t, 48000, 0.5f);
    hear_scaled(t, 4800, 0.f);
    assert_true(heard(t).voice_level == learned);
    assert_int_equal(t->grid.into, 0);
    p.learn = true;
    play_set(t, &p);
    hear_demo(t, demo.frames);
    hear_demo(fresh, demo.frames);
    assert_memory_equal(&inside(t)->memory.level, &inside(fresh)->memory.level, sizeof(Tally));
    assert_memory_equal(&inside(t)->memory.peaks, &inside(fresh)->memory.peaks, sizeof(Tally));
    drop(t);
    drop(fresh);
}

static void a_fresh_start_keeps_the_gain_until_a_voice_is_heard(void **state)
{
    (void)state;
    TrimParams p = to_target;
    Player *t = trim_at(RATE, 1, &p);
    hear_demo(t, demo.frames);
    const double gain = heard(t).gain;
    p.learn = false;
    play_set(t, &p);
    p.learn = true;
    play_set(t, &p);
    static float silent[96000];
    play(t, (const float *[]){silent}, (float *[]){silent}, 96000);
    assert_float_equal(heard(t).gain, gain, 1e-6);
    static float louder[400000];
    assert_true(demo.frames > 400000);
    for (uint32_t f = 0; f < 400000; ++f)
        louder[f] = 2.f * demo.audio[f];
    play(t, (const float *[]){louder}, (float *[]){louder}, 400000);
    Player *fresh = trim_at(RATE, 1, &to_target);
    for (uint32_t f = 0; f < 400000; ++f)
        louder[f] = 2.f * demo.audio[f];
    play(fresh, (const float *[]){louder}, (float *[]){louder}, 400000);
    assert_float_equal(heard(t).voice_level, heard(fresh).voice_level, 0.3);
    assert_true(heard(t).gain < gain - 4.0);
    drop(t);
    drop(fresh);
}

static void a_fresh_start_keeps_the_peaks_until_a_voice_is_heard(void **state)
{
    (void)state;
    TrimParams p = {.target = -10.0, .learn = false, .ceiling = -1.0};
    Player *t = trim_at(RATE, 1, &p);
    teach(t, -40.0, -10.0);
    static float silent[96000];
    play(t, (const float *[]){silent}, (float *[]){silent}, 32);
    p.learn = true;
    play_set(t, &p);
    play(t, (const float *[]){silent}, (float *[]){silent}, 96000);
    assert_float_equal(heard(t).gain, 9.0, 1e-6); /* not 30: the ceiling still counts */
    assert_true(heard(t).held_back);
    drop(t);
}

static void a_reset_forgets_nothing_learned(void **state)
{
    (void)state;
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    const TrimReport before = heard(t);
    play_reset(t);
    play_set(t, &to_target);
    float x[200], y[200];
    for (uint32_t f = 0; f < 200; ++f)
        x[f] = 0.125f;
    play(t, (const float *[]){x}, (float *[]){y}, 200);
    assert_float_equal(heard(t).gain, before.gain, 1e-6);
    const double expected = 0.125 * db_to_gain(before.gain);
    assert_true(y[play_latency(t) - 1] == 0.f);
    assert_float_equal(y[play_latency(t)], expected, 1e-6);
    assert_float_equal(heard(t).voice_level, before.voice_level, 1e-9);
    drop(t);
}

/* ---- State ---- */

/* As a host writes and reads it: decimal text. */
static void through_text(Learned *l)
{
    for (uint32_t f = 0; f < trim.learned.schema->fields; ++f) {
        float *value = learned_field(trim.learned.schema, l, f);
        for (uint32_t i = 0; i < l->count[f]; ++i) {
            char text[64];
            snprintf(text, sizeof text, "%.8f", (double)value[i]);
            value[i] = strtof(text, NULL);
        }
    }
}

static void a_restored_session_equals_one_that_never_stopped(void **state)
{
    (void)state;
    Learned saved = LEARNED_WITH_ROOM;
    Learned again = LEARNED_WITH_ROOM;
    const TrimParams hold = {.target = TARGET, .learn = false, .ceiling = -1.0};
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    play_get(t, &saved);
    through_text(&saved);
    learned_check(trim.learned.schema, &saved);
    Player *restored = trim_at(RATE, 1, &hold);
    play_put(restored, &saved);
    play_get(restored, &again);
    assert_true(learned_same(trim.learned.schema, &saved, &again));

    play_reset(t);
    play_set(t, &hold);
    float *a = room(48000), *b = room(48000);
    play(t, (const float *[]){demo.audio}, (float *[]){a}, 48000);
    play(restored, (const float *[]){demo.audio}, (float *[]){b}, 48000);
    assert_memory_equal(a, b, 48000 * sizeof *a);
    assert_true(b[24000] != demo.audio[24000]);
    drop(t);
    drop(restored);
    free(a);
    free(b);
}

/* The same just after a fresh start, when the figure is older than the memory. */
static void a_kept_figure_is_restored_too(void **state)
{
    (void)state;
    Learned saved = LEARNED_WITH_ROOM;
    TrimParams p = {.target = TARGET, .learn = false, .ceiling = -1.0};
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    play_set(t, &p);
    p.learn = true;
    play_set(t, &p);
    play_get(t, &saved);
    through_text(&saved);
    Player *restored = trim_at(RATE, 1, &p);
    play_put(restored, &saved);
    play_reset(t);
    play_set(t, &p);
    float a = 0.1f, b = 0.1f;
    play(t, (const float *[]){&a}, (float *[]){&a}, 1);
    play(restored, (const float *[]){&b}, (float *[]){&b}, 1);
    assert_true(heard(t).gain < -1.0 || heard(t).gain > 1.0);
    assert_true(heard(t).gain == heard(restored).gain);
    assert_true(a == b);
    drop(t);
    drop(restored);
}

static void learning_goes_on_after_a_restore(void **state)
{
    (void)state;
    Learned saved = LEARNED_WITH_ROOM;
    const uint32_t half = demo.frames / 2;
    Player *whole = trim_at(RATE, 1, &to_target), *first = trim_at(RATE, 1, &to_target),
           *second = trim_at(RATE, 1, &to_target);
    hear_demo(whole, demo.frames);
    hear_demo(first, half);
    play_get(first, &saved);
    play_put(second, &saved);
    float *out = room(demo.frames);
    play(second, (const float *[]){demo.audio + half}, (float *[]){out}, demo.frames - half);
    assert_float_equal(heard(second).voice_level, heard(whole).voice_level, 0.3);
    free(out);
    drop(whole);
    drop(first);
    drop(second);
}

/* What is put in is all that is known: a field that is not there is what it was before anything was learned. */
static void missing_fields_are_unlearned(void **state)
{
    (void)state;
    Learned good = LEARNED_WITH_ROOM, part = LEARNED_WITH_ROOM, want = LEARNED_WITH_ROOM, got = LEARNED_WITH_ROOM;
    Player *t = trim_at(RATE, 1, &to_target);
    hear_demo(t, demo.frames);
    play_get(t, &good);
    for (uint32_t f = 0; f < trim.learned.schema->fields; ++f) {
        Player *fresh = trim_at(RATE, 1, &to_target);
        learned_copy(trim.learned.schema, &part, &good);
        part.count[f] = 0;
        play_put(fresh, &part);
        play_get(fresh, &want);
        play_put(t, &good);
        play_put(t, &part);
        play_get(t, &got);
        assert_true(learned_same(trim.learned.schema, &want, &got));
        assert_false(f < 2 && learned_same(trim.learned.schema, &good, &got));
        drop(fresh);
    }
    drop(t);
}

/* ---- Read-outs ---- */

static const struct {
    float x[10];
    double clipped;
} clips[] = {
    {{0, 1, 0, -1, 0, 1, 0, 0, 0, 0}, 0},               /* lone samples */
    {{0, 1, 1, 0, 0, 0, 0, 0, 0, 0}, 2},                /* the shortest run */
    {{0, 1, 1, 1, 1, 0, -1, -1, -1, 0}, 7},             /* both sides */
    {{0, 1, -1, 1, -1, 0, 0, 0, 0, 0}, 0},              /* not equal */
    {{0, 0.998f, 0.998f, 0.998f, 0, 0, 0, 0, 0, 0}, 0}, /* under full scale */
    {{0, 0.99997f, 0.99997f, 0, 0, 0, 0, 0, 0, 0}, 2},  /* the top of 16 bits */
    {{0, 1.5f, 1.5f, 0, 0, 0, 0, 0, 0, 0}, 2},          /* clipped, then raised */
};

static void clipped_samples_are_counted(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof clips / sizeof *clips; ++i) {
        Player *t = trim_at(RATE, 2, &to_target);
        float zero[64] = {0}, out[64], side[64];
        /* a run may lie across blocks; the read-out is that of the next grid point */
        play(t, (const float *[]){clips[i].x, zero}, (float *[]){out, side}, 3);
        play(t, (const float *[]){clips[i].x + 3, zero}, (float *[]){out, side}, 7);
        play(t, (const float *[]){zero, zero}, (float *[]){out, side}, 64);
        assert_float_equal(heard(t).clipped, clips[i].clipped, 0.0);
        drop(t);
    }
}

/* A count that a float read-out can still hold to the sample. */
static void a_million_clipped_samples_are_the_most(void **state)
{
    (void)state;
    Player *t = trim_at(DSP_RATE_MIN, 2, &to_target);
    float full[4096], out[4096] = {0}, side[4096] = {0};
    for (int i = 0; i < 4096; ++i)
        full[i] = 1.f;
    for (int i = 0; i < 130; ++i)
        play(t, (const float *[]){full, full}, (float *[]){out, side}, 4096);
    assert_float_equal(heard(t).clipped, 1000000.0, 0.0);
    drop(t);
}

static void missing_samples_teach_nothing(void **state)
{
    (void)state;
    Player *clean = trim_at(RATE, 1, &to_target), *t = trim_at(RATE, 1, &to_target);
    float *hurt = room(demo.frames), *out = room(demo.frames);
    memcpy(hurt, demo.audio, demo.frames * sizeof *hurt);
    for (uint32_t f = 200000; f < 210000; ++f)
        hurt[f] = 0.f;
    hear_demo(clean, demo.frames);
    play(t, (const float *[]){hurt}, (float *[]){out}, demo.frames);
    assert_true(heard(t).peak <= heard(clean).peak);
    assert_float_equal(heard(t).voice_level, heard(clean).voice_level, 0.3);
    for (uint32_t f = 0; f < demo.frames; ++f)
        assert_true(isfinite(out[f]));
    drop(clean);
    drop(t);
    free(hurt);
    free(out);
}

static void the_window_is_minus_24_to_minus_12(void **state)
{
    (void)state;
    static const struct {
        double target;
        bool fine;
    } cases[] = {{-30.0, false}, {-24.5, false}, {-23.5, true}, {-18.0, true}, {-12.5, true}, {-11.5, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; ++i) {
        Player *t = trim_at(RATE, 1, &(TrimParams){.target = cases[i].target, .learn = true});
        teach(t, -30.0, -30.0);
        float x = 0.f;
        play(t, (const float *[]){&x}, (float *[]){&x}, 1);
        assert_int_equal(heard(t).in_window, cases[i].fine);
        drop(t);
    }
    Player *t = trim_at(RATE, 1, &to_target);
    float x = 0.f;
    play(t, (const float *[]){&x}, (float *[]){&x}, 1);
    assert_false(heard(t).in_window);
    assert_true(heard(t).voice_level == UNITS_DB_FLOOR);
    drop(t);
}

/* ---- The contract ---- */

static void blocks_do_not_matter(void **state)
{
    (void)state;
    static const uint32_t cut[] = {5, 400, 10, 300, 1, 0};
    const TrimParams p = {.target = -10.0, .learn = true, .ceiling = -3.0};
    const uint32_t n = demo.frames;
    Player *whole = trim_at(RATE, 2, &p), *cuts = trim_at(RATE, 2, &p);
    float *l = room(n), *r = room(n), *a = room(n), *b = room(n);
    play(whole, (const float *[]){demo.audio, demo.voice}, (float *[]){l, r}, n);
    memcpy(a, demo.audio, n * sizeof *a);
    memcpy(b, demo.voice, n * sizeof *b);
    for (uint32_t at = 0, i = 0; at < n; ++i) {
        const uint32_t m = cut[i % 6] < n - at ? cut[i % 6] : n - at;
        /* in place, and crossed: left is written where right was read */
        play(cuts, (const float *[]){a + at, b + at}, (float *[]){b + at, a + at}, m);
        at += m;
    }
    assert_memory_equal(l, b, n * sizeof *l);
    assert_memory_equal(r, a, n * sizeof *r);
    drop(whole);
    drop(cuts);
    free(l);
    free(r);
    free(a);
    free(b);
}

static void works_at_every_rate(void **state)
{
    (void)state;
    for (int r = 0; r < RATES; ++r) {
        Player *t = trim_at(rates[r], 2, &to_target);
        enum { N = 4000 };
        static float a[N], b[N];
        uint32_t seed = seeded(9);
        for (int i = 0; i < N; ++i) {
            seed = seed * 1664525u + 1013904223u;
            a[i] = i < 2000 ? (float)(seed / 134217728.0 - 16.0) : 1e-40f;
            b[i] = i % 3 ? DSP_BROKEN : -DSP_BROKEN;
        }
        play(t, (const float *[]){a, b}, (float *[]){a, b}, N);
        for (int i = 0; i < N; ++i)
            assert_true(isfinite(a[i]) && isfinite(b[i]));
        assert_in_range(play_latency(t), 1, (uint32_t)(0.002 * rates[r]));
        drop(t);
    }
}

static void bad_rates_and_channels_are_refused(void **state)
{
    (void)state;
    static const struct {
        double rate;
        uint32_t channels;
    } bad[] = {{0, 1}, {7999, 1}, {384001, 1}, {48000, 0}, {48000, 3}};
    Player t;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; ++i) {
        assert_false(play_init(&t, &trim, bad[i].rate, bad[i].channels));
        play_done(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_takes_reach_the_target),
        cmocka_unit_test(verse_and_chorus_are_one_take),
        cmocka_unit_test(voices_tuned_on_reach_the_target),
        cmocka_unit_test(voices_judged_on_reach_the_target),
        cmocka_unit_test(noise_alone_leaves_the_take_alone),
        cmocka_unit_test(reads_the_outside_measure),
        cmocka_unit_test(two_channels_get_one_gain),
        cmocka_unit_test(nothing_passes_the_ceiling),
        cmocka_unit_test(nothing_passes_while_the_gain_moves),
        cmocka_unit_test(between_the_samples_too),
        cmocka_unit_test(hand_trim_passes_the_ceiling),
        cmocka_unit_test(own_peaks_stay_under_the_ceiling),
        cmocka_unit_test(an_odd_peak_does_not_move_the_gain),
        cmocka_unit_test(an_ordinary_voice_is_never_touched),
        cmocka_unit_test(a_peak_is_turned_down_for_a_moment),
        cmocka_unit_test(two_channels_are_turned_down_alike),
        cmocka_unit_test(an_input_over_the_ceiling_is_turned_down_too),
        cmocka_unit_test(never_rises_faster_than_6_db_a_second),
        cmocka_unit_test(no_change_ticks),
        cmocka_unit_test(hold_holds),
        cmocka_unit_test(with_nothing_learned_the_hand_sets_the_gain),
        cmocka_unit_test(a_fresh_start_listens_as_a_new_one_does),
        cmocka_unit_test(a_fresh_start_keeps_the_gain_until_a_voice_is_heard),
        cmocka_unit_test(a_fresh_start_keeps_the_peaks_until_a_voice_is_heard),
        cmocka_unit_test(a_reset_forgets_nothing_learned),
        cmocka_unit_test(a_restored_session_equals_one_that_never_stopped),
        cmocka_unit_test(a_kept_figure_is_restored_too),
        cmocka_unit_test(learning_goes_on_after_a_restore),
        cmocka_unit_test(missing_fields_are_unlearned),
        cmocka_unit_test(clipped_samples_are_counted),
        cmocka_unit_test(a_million_clipped_samples_are_the_most),
        cmocka_unit_test(the_window_is_minus_24_to_minus_12),
        cmocka_unit_test(missing_samples_teach_nothing),
        cmocka_unit_test(blocks_do_not_matter),
        cmocka_unit_test(works_at_every_rate),
        cmocka_unit_test(bad_rates_and_channels_are_refused),
    };
    return cmocka_run_group_tests(tests, make_demo, free_demo);
}
