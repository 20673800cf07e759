/* Sibilance: does it hear the sibilants of speech and song, and nothing else? */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "design.h"
#include "figure.h"
#include "plain_sibilance_ears.h"
#include "seeds.h"
#include "sibilance.h"
#include "sibilants.h"
#include "singer.h"
#include "units.h"

enum { MOST_SPANS = 4096 };

/* A decision speaks of what its smoothing has taken in. */
#define LATE 0.005

typedef struct {
    Span span[MOST_SPANS];
    uint32_t spans, whole;
    double seconds; /* of all spans */
} Heard;

static void hear(Heard *h, const float *x, uint32_t n, double rate, float gain)
{
    static Sibilance s;
    float cell[DSP_CELL];
    *h = (Heard){0};
    sibilance_init(&s, rate, 1);
    bool before = false;
    for (uint32_t at = 0; at + DSP_CELL <= n; at += DSP_CELL) {
        h->whole += sibilance_tick(&s);
        const double now = at / rate - LATE;
        if (s.sounding && !before)
            h->span[h->spans++].start = now;
        if (!s.sounding && before) {
            h->span[h->spans - 1].end = now;
            h->seconds += now - h->span[h->spans - 1].start;
        }
        assert_true(h->spans < MOST_SPANS);
        before = s.sounding;
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            cell[i] = gain * x[at + i];
        sibilance_process(&s, (const float *[]){cell}, DSP_CELL);
    }
    if (before)
        h->span[h->spans - 1].end = n / rate;
}

static Heard heard;

/* ---- Speech ---- */

static Spoken spoken[SIBILANTS_VOICES];

static int say_all(void **state)
{
    (void)state;
    sibilants_say_all(spoken);
    return 0;
}

static int free_all(void **state)
{
    (void)state;
    sibilants_free_all(spoken);
    return 0;
}

static void need_speech(void)
{
    if (!spoken[SIBILANTS_VOICES - 1].n)
        skip();
}

/* The voices from `first` on together, at another rate (0: as it comes) and gain. */
static SpanScore pooled(uint32_t first, double rate, float gain)
{
    SpanScore sum = {0};
    for (uint32_t v = first; v < SIBILANTS_VOICES; ++v) {
        Spoken take = spoken[v];
        take.x = malloc(take.n * sizeof *take.x);
        assert_non_null(take.x);
        memcpy(take.x, spoken[v].x, take.n * sizeof *take.x);
        if (rate > 0.0)
            spoken_resample(&take, rate);
        hear(&heard, take.x, take.n, take.rate, gain);
        SpanScore one;
        spans_score(&one, heard.span, heard.spans, &take);
        sum.right += one.right;
        sum.missed += one.missed;
        sum.wrong += one.wrong;
        free(take.x);
    }
    return sum;
}

static void speech_at_every_rate(void **state)
{
    (void)state;
    need_speech();
    /* Resampling takes most of the time: one voice is enough to see that a rate is treated like another. */
    static const struct {
        uint32_t first;
        double rate;
        const char *what;
    } row[] = {
        {0, 0, "awb, rms, slt, 16 kHz"},
        {0, 44100, "awb, rms, slt, 44.1 kHz"},
        {2, 48000, "slt, 48 kHz"},
        {2, 96000, "slt, 96 kHz"},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        const SpanScore score = pooled(row[i].first, row[i].rate, 1.f);
        char what[96];
        snprintf(what, sizeof what, "F of sibilants, flite %s (%u of %u, %u wrong)", row[i].what, score.right,
                 score.right + score.missed, score.wrong);
        figure_at_least("Esses", what, spans_f(&score), 0.9, "", "requirement");
    }
}

static void speech_at_every_level(void **state)
{
    (void)state;
    need_speech();
    const SpanScore loud = pooled(0, 0, 1.f), quiet = pooled(0, 0, 0.1f);
    assert_memory_equal(&loud, &quiet, sizeof loud);
}

static void speech_in_noise(void **state)
{
    (void)state;
    need_speech();
    Spoken *take = &spoken[2];
    float *noisy = malloc(take->n * sizeof *noisy);
    assert_non_null(noisy);
    uint32_t seed = seeded(1);
    for (uint32_t i = 0; i < take->n; ++i) {
        seed = seed * 1664525u + 1013904223u;
        noisy[i] = take->x[i] + 0.001f * (float)(int32_t)seed / 2147483648.f; /* -65 dB */
    }
    hear(&heard, noisy, take->n, take->rate, 1.f);
    free(noisy);
    SpanScore score;
    spans_score(&score, heard.span, heard.spans, take);
    figure_at_least("Esses", "F of sibilants, slt in white noise at -65 dB", spans_f(&score), 0.9, "",
                    "the same, on a take with hiss");
}

static void other_voices_for_information(void **state)
{
    (void)state;
    Spoken take;
    if (!sibilants_say(&take, "kal"))
        skip();
    hear(&heard, take.x, take.n, take.rate, 1.f);
    SpanScore score;
    spans_score(&score, heard.span, heard.spans, &take);
    spoken_free(&take);
    figure_note("Esses", "F of sibilants, flite kal at 8 kHz, labels up to 0.1 s late", spans_f(&score), "");
    if (!spoken_robot(&take, "en", 50, "She sells six fresh fish. The choice was just; she rushes this passage."))
        skip();
    hear(&heard, take.x, take.n, take.rate, 1.f);
    figure_note("Esses", "sibilants heard in espeak-ng's 18", heard.whole, "");
    spoken_free(&take);
}

/* ---- Song ---- */

static bool touches(const Span *a, double start, double end)
{
    return a->start < end && a->end > start;
}

static bool touches_any(const Span *span, const SingerSound *sound, size_t count)
{
    for (size_t i = 0; i < count; ++i)
        if (touches(span, sound[i].start - 0.01, sound[i].end + 0.05))
            return true;
    return false;
}

static double covered(const SingerSound *sound)
{
    double sum = 0.0;
    for (uint32_t k = 0; k < heard.spans; ++k)
        sum += fmax(0.0, fmin(heard.span[k].end, sound->end) - fmax(heard.span[k].start, sound->start));
    return sum / (sound->end - sound->start);
}

typedef struct {
    SpanScore spans;
    double wrong_seconds, seconds;
} SungScore;

static void add_take(SungScore *score, const SingerSpec *spec)
{
    SingerTake take;
    assert_true(singer_sing(spec, &take));
    hear(&heard, take.audio, take.frames, take.rate, 1.f);
    for (size_t i = 0; i < take.sibilant_count; ++i)
        ++*(covered(&take.sibilants[i]) >= 0.4 ? &score->spans.right : &score->spans.missed);
    for (uint32_t k = 0; k < heard.spans; ++k) {
        const Span *span = &heard.span[k];
        if (touches_any(span, take.sibilants, take.sibilant_count) ||
            touches_any(span, take.fricatives, take.fricative_count) ||
            touches_any(span, take.plosives, take.plosive_count))
            continue;
        ++score->spans.wrong;
        score->wrong_seconds += span->end - span->start;
    }
    score->seconds += take.frames / take.rate;
    singer_free(&take);
}

/* Takes differ: alone, eight of them come to 0.88 to 0.98. */
static void sung_sibilants(void **state)
{
    (void)state;
    SungScore score = {0};
    for (uint64_t i = 0; i < (uint64_t)3 * SINGER_VOICES; ++i)
        add_take(&score,
                 &(SingerSpec){
                     .voice = (SingerVoice)(i % SINGER_VOICES), .seed = 2 + 100 * i, .seconds = 20, .breath_db = -25});
    char what[96];
    snprintf(what, sizeof what, "F of sibilants, 24 sung takes with breath (%u of %u, %u wrong)", score.spans.right,
             score.spans.right + score.spans.missed, score.spans.wrong);
    figure_at_least("Esses", what, spans_f(&score.spans), 0.9, "", "our own limit");
    figure_at_most("Esses", "those: time vowels and breath are taken for sibilants",
                   100.0 * score.wrong_seconds / score.seconds, 0.5, "%", "our own limit");
}

/* Every semitone on every vowel: bright ones too. */
static void sung_vowels(void **state)
{
    (void)state;
    static const SingerVoice voice[] = {SINGER_BASS, SINGER_TENOR, SINGER_MEZZO, SINGER_SOPRANO};
    double wrong_seconds = 0.0, seconds = 0.0;
    for (uint64_t i = 0; i < 4 * sizeof voice / sizeof *voice; ++i) {
        SingerTake take;
        const SingerSpec spec = {
            .voice = voice[i % 4], .seed = 22 + 100 * i, .seconds = 15, .ladder = true, .no_consonants = true};
        assert_true(singer_sing(&spec, &take));
        hear(&heard, take.audio, take.frames, take.rate, 1.f);
        wrong_seconds += heard.seconds;
        seconds += take.frames / take.rate;
        singer_free(&take);
    }
    figure_at_most("Esses", "time sung vowels, all semitones, 16 takes, are taken for sibilants",
                   100.0 * wrong_seconds / seconds, 1.5, "%", "our own limit");
}

/* ---- What is no voice ---- */

static void fill(float *x, uint32_t n, double (*sound)(double t, uint32_t *seed), double rate)
{
    uint32_t seed = seeded(7);
    for (uint32_t i = 0; i < n; ++i)
        x[i] = (float)sound(i / rate, &seed);
}

static double white(double t, uint32_t *seed)
{
    (void)t;
    *seed = *seed * 1664525u + 1013904223u;
    return 0.1 * (double)(int32_t)*seed / 2147483648.0;
}

static double puffs(double t, uint32_t *seed)
{
    return fmod(t, 0.5) < 0.15 ? white(t, seed) : 0.0;
}

static double hum(double t, uint32_t *seed)
{
    double sum = 0.01 * white(t, seed);
    for (int k = 1; k <= 20; ++k)
        sum += 0.1 / k * sin(2.0 * DSP_PI * 50.0 * k * t);
    return sum;
}

/* NOLINTNEXTLINE(readability-non-const-parameter): the type of every sound */
static double silence(double t, uint32_t *seed)
{
    (void)t;
    (void)seed;
    return 0.0;
}

/* A voice with rests, and hiss all the time that is as loud as a soft sibilant. */
static double voice_and_hiss(double t, uint32_t *seed)
{
    const double voice = fmod(t, 1.0) < 0.5 ? 0.2 * sin(2.0 * DSP_PI * 200.0 * t) : 0.0;
    return voice + 0.6 * white(t, seed);
}

static void steady_noise_is_none(void **state)
{
    (void)state;
    enum { N = 48000 * 5 };
    static float x[N];
    fill(x, N, voice_and_hiss, 48000.0);
    hear(&heard, x, N, 48000.0, 1.f);
    assert_int_equal(heard.spans, 0);
}

static void nothing_without_a_voice(void **state)
{
    (void)state;
    static double (*const sounds[])(double, uint32_t *) = {white, puffs, hum, silence};
    enum { N = 48000 * 5 };
    static float x[N];
    for (size_t i = 0; i < sizeof sounds / sizeof *sounds; ++i) {
        fill(x, N, sounds[i], 48000.0);
        hear(&heard, x, N, 48000.0, 1.f);
        assert_int_equal(heard.spans, 0);
    }
}

/* ---- A sibilant made to measure ---- */

static Svf section(Biquad b)
{
    return svf_from_biquad(&b);
}

/* 0.5 s of a vowel, then `seconds` of noise from 4 to 7 kHz, then the vowel again. Returns how many samples. */
static uint32_t vowel_noise_vowel(float *x, double rate, double seconds)
{
    uint32_t seed = seeded(3);
    const uint32_t first = (uint32_t)(0.5 * rate), noise = (uint32_t)(seconds * rate), n = 2 * first + noise;
    const Svf from = section(design_high_pass(4000.0, 0.7, rate)), to = section(design_low_pass(7000.0, 0.7, rate));
    SvfState a = {0}, b = {0};
    for (uint32_t i = 0; i < n; ++i) {
        const double t = i / rate;
        const double hiss = svf_step(&to, &b, svf_step(&from, &a, white(t, &seed)));
        const double vowel = 0.2 * sin(2.0 * DSP_PI * 200.0 * t) + 0.05 * sin(2.0 * DSP_PI * 800.0 * t);
        x[i] = (float)(i >= first && i < first + noise ? 0.7 * sqrt(rate / 16000.0) * hiss : vowel);
    }
    return n;
}

static void whole_ones_alone_are_reported(void **state)
{
    (void)state;
    static float x[48000 * 3];
    static const struct {
        double seconds;
        uint32_t whole;
    } row[] = {{0.005, 0}, {0.05, 1}, {0.2, 1}, {0.4, 1}, {1.2, 0}};
    for (size_t i = 0; i < sizeof row / sizeof *row; ++i) {
        const uint32_t n = vowel_noise_vowel(x, 48000.0, row[i].seconds);
        hear(&heard, x, n, 48000.0, 1.f);
        assert_int_equal(heard.whole, row[i].whole);
        assert_true(heard.seconds < SIBILANCE_LONGEST + 0.01);
    }
}

static void a_missing_sample_does_not_matter(void **state)
{
    (void)state;
    static float x[48000 * 3];
    const uint32_t n = vowel_noise_vowel(x, 48000.0, 0.2);
    x[(uint32_t)(0.6 * 48000.0)] = 0.f;
    hear(&heard, x, n, 48000.0, 1.f);
    assert_int_equal(heard.whole, 1);
}

static void heard_early(void **state)
{
    (void)state;
    static float x[96000 * 2];
    static const double rates[] = {16000, 44100, 48000, 96000};
    double latest = 0.0;
    for (size_t i = 0; i < sizeof rates / sizeof *rates; ++i) {
        const uint32_t n = vowel_noise_vowel(x, rates[i], 0.2);
        hear(&heard, x, n, rates[i], 1.f);
        assert_int_equal(heard.whole, 1);
        latest = fmax(latest, heard.span[0].start + LATE - 0.5);
    }
    figure_at_most("Esses", "from the start of a sibilant until it is heard, 16 to 96 kHz", 1000.0 * latest, 10.0, "ms",
                   "our own limit");
}

static void levels_are_levels(void **state)
{
    (void)state;
    static Sibilance s;
    static float x[DSP_CELL];
    for (uint32_t band = 0; band < SIBILANCE_BANDS; ++band) {
        sibilance_init(&s, 48000.0, 1);
        for (uint32_t at = 0; at < 24000; at += DSP_CELL) {
            sibilance_tick(&s);
            for (uint32_t i = 0; i < DSP_CELL; ++i)
                x[i] = 0.1f * (float)sin(2.0 * DSP_PI * sibilance_hz[band] * (at + i) / 48000.0);
            sibilance_process(&s, (const float *[]){x}, DSP_CELL);
        }
        /* The 3 kHz high-pass in front takes some of the lowest band. */
        const double before = -10.0 * log10(1.0 + pow(3000.0 / sibilance_hz[band], 4.0));
        assert_true(fabs(power_to_db(sibilance_power(&s, band)) - (-23.01 + before)) < 0.5);
    }
}

/* ---- Where a sibilant is densest ---- */

/* Levels, dB, that the bands show of white noise through a bell of Q 1.5 at hz. */
static void levels_of_peak(double hz, float *level)
{
    static Sibilance s;
    double sum[SIBILANCE_BANDS] = {0};
    const Biquad bell = design_band_pass(hz, 1.5, 96000.0);
    const Svf section = svf_from_biquad(&bell);
    SvfState state = {0};
    float x[DSP_CELL];
    uint32_t seed = 5;
    sibilance_init(&s, 96000.0, 1);
    for (uint32_t cell = 0; cell < 12000; ++cell) {
        sibilance_tick(&s);
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            x[i] = 0.1f * (float)svf_step(&section, &state, white(0.0, &seed));
        sibilance_process(&s, (const float *[]){x}, DSP_CELL);
        for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
            sum[b] += cell < 1000 ? 0.0 : sibilance_power(&s, b);
    }
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        level[b] = (float)power_to_db(sum[b] / 11000.0);
}

/* A peak between two bands is found between them, not a step away; one that moves up is found further up. */
static void a_peak_is_found_between_the_bands(void **state)
{
    (void)state;
    double worst = 0.0, before = 0.0;
    for (double octave = log2(4000.0); octave < log2(8100.0); octave += 1.0 / 12.0) {
        float level[SIBILANCE_BANDS];
        double density;
        levels_of_peak(exp2(octave), level);
        const double found = sibilance_densest(level, &density);
        worst = fmax(worst, fabs(found - octave));
        assert_true(found > before);
        before = found;
    }
    figure_at_most("Esses", "noise with a peak at 4 to 8 kHz: where it is densest, off by", worst, 0.2, "octaves",
                   "our own limit: the bands are half an octave apart");
}

/* However the levels lie, the answer lies between the middles of the bands that sound, and so does the density. */
static void the_densest_place_lies_among_the_bands(void **state)
{
    (void)state;
    uint32_t seed = 11;
    for (int turn = 0; turn < 20000; ++turn) {
        float level[SIBILANCE_BANDS];
        double density, loudest = -1000.0;
        const uint32_t bands = 3 + (uint32_t)turn % (SIBILANCE_BANDS - 2);
        for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b) {
            level[b] = b < bands ? (float)(-60.0 + 30.0 * white(0.0, &seed)) : (float)UNITS_DB_FLOOR;
            loudest = fmax(loudest, (double)level[b]);
        }
        const double found = sibilance_densest(level, &density);
        assert_true(found >= log2(sibilance_hz[0]) - 1e-3 && found <= log2(sibilance_hz[bands - 1]) + 1e-3);
        assert_true(fabs(density - loudest) < 4.0);
    }
}

static void too_few_bands_tell_no_place(void **state)
{
    (void)state;
    double density;
    float level[SIBILANCE_BANDS] = {-40.f, -42.f, (float)UNITS_DB_FLOOR, (float)UNITS_DB_FLOOR, (float)UNITS_DB_FLOOR};
    assert_true(sibilance_densest(level, &density) == 0.0 && density == UNITS_DB_FLOOR);
    level[2] = -44.f;
    assert_true(sibilance_densest(level, &density) > 0.0 && density > -45.0);
}

/* ---- Vectors ---- */

/* Noise of any length, so that a state lies in every lane; all of what is kept has to be the same. */
static void ears_keep_to_the_bit(SibilanceEars *ears, SibilanceEars *told, uint32_t channels)
{
    static Sibilance got, want;
    uint32_t seed = seeded(11);
    sibilance_init(&got, 48000.0, channels);
    sibilance_init(&want, 48000.0, channels);
    for (uint32_t n = 1; n <= DSP_CELL; ++n) {
        float x[2][DSP_CELL];
        for (uint32_t t = 0; t < DSP_CELL; ++t)
            for (uint32_t c = 0; c < 2; ++c)
                x[c][t] = (float)((int32_t)(seed = seed * 1664525u + 1013904223u)) / 4294967296.f;
        ears(&got, (const float *[]){x[0], x[1]}, n);
        told(&want, (const float *[]){x[0], x[1]}, n);
    }
    assert_memory_equal(got.state, want.state, sizeof got.state);
    assert_memory_equal(got.gathered, want.gathered, sizeof got.gathered);
    assert_true(got.steady == want.steady && want.steady > 0.f);
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        assert_true(sibilance_power(&want, b) > 0.0);
}

static void vectors_of_four_keep_to_the_bit(void **state)
{
    (void)state;
    ears_keep_to_the_bit(sibilance_ears_four, plain_sibilance_ears, 1);
    ears_keep_to_the_bit(sibilance_ears_four, plain_sibilance_ears, 2);
}

static void vectors_of_eight_keep_to_the_bit(void **state)
{
    (void)state;
    if (WIDE_AVX2 && !wide_avx2()) {
        printf("skipped: this processor has no AVX2\n");
        skip();
    }
    ears_keep_to_the_bit(sibilance_ears_avx2, plain_sibilance_ears, 2);
    ears_keep_to_the_bit(sibilance_ears_one_avx2, plain_sibilance_ears, 1);
}

static void what_is_called_is_one_of_them(void **state)
{
    (void)state;
    ears_keep_to_the_bit(sibilance_process, plain_sibilance_ears, 1);
    ears_keep_to_the_bit(sibilance_process, plain_sibilance_ears, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vectors_of_four_keep_to_the_bit),
        cmocka_unit_test(vectors_of_eight_keep_to_the_bit),
        cmocka_unit_test(what_is_called_is_one_of_them),
        cmocka_unit_test(a_peak_is_found_between_the_bands),
        cmocka_unit_test(the_densest_place_lies_among_the_bands),
        cmocka_unit_test(too_few_bands_tell_no_place),
        cmocka_unit_test(speech_at_every_rate),
        cmocka_unit_test(speech_at_every_level),
        cmocka_unit_test(speech_in_noise),
        cmocka_unit_test(other_voices_for_information),
        cmocka_unit_test(sung_sibilants),
        cmocka_unit_test(sung_vowels),
        cmocka_unit_test(nothing_without_a_voice),
        cmocka_unit_test(steady_noise_is_none),
        cmocka_unit_test(whole_ones_alone_are_reported),
        cmocka_unit_test(a_missing_sample_does_not_matter),
        cmocka_unit_test(heard_early),
        cmocka_unit_test(levels_are_levels),
    };
    return cmocka_run_group_tests(tests, say_all, free_all);
}
