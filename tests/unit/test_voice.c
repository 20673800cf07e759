/* Voice: what it takes for a voice and what it does not. */
#include "voice.h"

#include "figure.h"
#include "seeds.h"
#include "singer/colour.h"
#include "singer/noises.h"
#include "singer/random.h"
#include "singer/singer.h"
#include "spoken.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* Voice looks at nothing above 2 kHz, so takes need few samples: singers, and what is no voice. */
#define RATE       16000.0
#define NOISE_RATE 8000.0

static float *room(uint32_t n)
{
    float *x = calloc(n ? n : 1, sizeof *x);
    assert_non_null(x);
    return x;
}

static double gain(double db)
{
    return pow(10, db / 20);
}

/* ---- A whole take ---- */

typedef struct {
    double hop; /* seconds; answer i is about the sound at i hops */
    uint32_t n;
    bool *on;
    double *hz;
} Heard;

/* Hears the take and silence after it, so that there is an answer about every moment of it. block 0: ragged. */
static void run(Voice *v, const float *x, uint32_t n, uint32_t block, double rate, Heard *h)
{
    static const uint32_t ragged[] = {5, 400, 10, 300, 1, 0};
    const uint32_t hop = pitch_hop(&v->pitch), lag = voice_lag(v), total = n + lag + hop;
    float *padded = room(total);
    memcpy(padded, x, n * sizeof *x);
    h->hop = hop / rate;
    h->n = 0;
    h->on = malloc((n / hop + 2) * sizeof *h->on);
    h->hz = malloc((n / hop + 2) * sizeof *h->hz);
    assert_non_null(h->on);
    assert_non_null(h->hz);
    uint32_t turn = 0, asked = lag;
    for (uint32_t at = 0; at < total;) {
        uint32_t left = block ? block : ragged[turn++ % 6];
        left = left < total - at ? left : total - at;
        while (left) { /* stops to ask where an answer is due */
            const uint32_t m = at < asked && left > asked - at ? asked - at : left;
            voice_process(v, padded + at, m);
            at += m;
            left -= m;
            if (at != asked)
                continue;
            h->on[h->n] = voice_sounding(v);
            h->hz[h->n++] = voice_pitch(v);
            asked += h->n <= n / hop ? hop : total;
        }
    }
    free(padded);
}

static Heard hear(const float *x, uint32_t n, uint32_t block, double rate)
{
    Voice v;
    Heard h;
    assert_true(voice_init(&v, rate));
    run(&v, x, n, block, rate, &h);
    voice_done(&v);
    return h;
}

static void forget(Heard *h)
{
    free(h->on);
    free(h->hz);
}

static void assert_same(const Heard *a, const Heard *b)
{
    assert_int_equal(a->n, b->n);
    assert_memory_equal(a->on, b->on, a->n * sizeof *a->on);
    assert_memory_equal(a->hz, b->hz, a->n * sizeof *a->hz);
}

/* ---- Voices ---- */

typedef struct {
    uint32_t voiced, found, rests, false_alarms;
} Score;

/* Whether f0 stays voiced (or unvoiced) for 20 ms on either side. */
static bool steadily(const SingerTake *take, size_t at, bool voiced)
{
    if (at < 2 || at + 2 >= take->f0_count)
        return false;
    for (size_t i = at - 2; i <= at + 2; i++)
        if ((take->f0[i] > 0) != voiced)
            return false;
    return true;
}

static bool within(const SingerSpan *spans, size_t n, double seconds, double margin)
{
    for (size_t i = 0; i < n; i++)
        if (seconds > spans[i].start + margin && seconds < spans[i].end - margin)
            return true;
    return false;
}

static Score score(const SingerSpec *spec)
{
    SingerTake take;
    Score s = {0};
    assert_true(singer_sing(spec, &take));
    Heard h = hear(take.audio, take.frames, 512, take.rate);
    for (uint32_t i = 0; i < h.n; i++) {
        const double seconds = i * h.hop;
        const size_t at = (size_t)lround(100 * seconds);
        if (steadily(&take, at, true)) {
            s.voiced++;
            s.found += h.on[i];
        } else if (within(take.rests, take.rest_count, seconds, 0.05)) {
            s.rests++;
            s.false_alarms += h.on[i];
        }
    }
    forget(&h);
    singer_free(&take);
    return s;
}

static void add(Score *sum, double *worst, Score s)
{
    sum->voiced += s.voiced;
    sum->found += s.found;
    sum->rests += s.rests;
    sum->false_alarms += s.false_alarms;
    *worst = fmin(*worst, 100.0 * s.found / s.voiced);
}

static void tell(const char *what, Score s, double worst, double at_least, double worst_at_least, double in_rests)
{
    char text[80];
    snprintf(text, sizeof text, "%s: sounding frames found", what);
    figure_at_least("Voice", text, 100.0 * s.found / s.voiced, at_least, "%", "own aim");
    figure_at_least("Voice", "the same: worst take", worst, worst_at_least, "%", "own aim");
    if (s.rests)
        figure_at_most("Voice", "the same: frames of rests taken for voice", 100.0 * s.false_alarms / s.rests, in_rests,
                       "%", "own aim");
}

/* The worst take is a spoken one: this singer speaks each syllable on one pitch, some dead straight on 180 Hz. */
static void hears_every_voice_and_note(void **state)
{
    (void)state;
    Score sum = {0};
    double worst = 100;
    for (int v = 0; v < SINGER_VOICES; v++) {
        add(&sum, &worst,
            score(&(SingerSpec){.voice = (SingerVoice)v, .seed = 11, .rate = RATE, .seconds = 10, .hiss_db = -15}));
        add(&sum, &worst,
            score(&(SingerSpec){
                .voice = (SingerVoice)v, .seed = 12, .rate = RATE, .seconds = 25, .ladder = true, .hiss_db = -15}));
    }
    tell("singer, E2..C6, 15 dB over noise", sum, worst, 98, 90, 0.1);
}

static void hears_voices_without_vibrato(void **state)
{
    (void)state;
    Score sum = {0};
    double worst = 100;
    for (int v = 0; v < SINGER_VOICES; v++)
        add(&sum, &worst,
            score(&(SingerSpec){.voice = (SingerVoice)v,
                                .seed = 13,
                                .rate = RATE,
                                .seconds = 10,
                                .vibrato_cents = -1,
                                .hiss_db = -30}));
    tell("singer without vibrato", sum, worst, 97, 90, 0.1);
}

/* Hum at -20, breath at -10, hiss at -45 dB to the voice: a room like many. */
static void hears_voices_in_a_room_with_hum_and_breath(void **state)
{
    (void)state;
    Score sum = {0};
    double worst = 100;
    for (uint64_t i = 0; i < (uint64_t)3 * SINGER_VOICES; i++)
        add(&sum, &worst,
            score(&(SingerSpec){.voice = (SingerVoice)(i % SINGER_VOICES),
                                .seed = 14 + 100 * i,
                                .rate = RATE,
                                .seconds = 10,
                                .rest_seconds = 1,
                                .hum_hz = i & 1 ? 50 : 60,
                                .hum_db = -20,
                                .hum_drift = 1,
                                .hum_harmonics = 30,
                                .breath_db = -10,
                                .hiss_db = -45}));
    tell("24 takes in hum, breath and hiss", sum, worst, 98, 90, 2);
}

/* A pulse-like note with vibrato of half a semitone, 8 s, from the first sample on. */
static float *long_note(double hz, uint32_t n)
{
    float *x = room(n);
    double phase = 0;
    for (uint32_t i = 0; i < n; i++) {
        const double vibrato = sin(2 * DSP_PI * 5.5 * i / RATE);
        const double f = hz * exp2(0.5 / 12 * vibrato);
        phase += f / RATE;
        double y = 0;
        for (int k = 1; k * f < 5000; k++)
            y += cos(2 * DSP_PI * k * phase) / k;
        x[i] = (float)(0.05 * (1 + 0.1 * vibrato) * y);
    }
    return x;
}

static void hears_long_notes_to_their_end(void **state)
{
    (void)state;
    static const double notes[] = {82.41, 98, 110, 123.47, 196, 246.94, 349.23, 523.25, 784, 1046.5};
    const uint32_t n = (uint32_t)(8 * RATE);
    double worst = 100, latest = 0;
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        float *x = long_note(notes[k], n);
        Heard h = hear(x, n, 512, RATE);
        uint32_t on = 0, first = 0;
        for (uint32_t i = 0; i < h.n; i++)
            on += h.on[i];
        while (first < h.n && !h.on[first])
            first++;
        worst = fmin(worst, 100.0 * on / h.n);
        latest = fmax(latest, first * h.hop);
        forget(&h);
        free(x);
    }
    figure_at_least("Voice", "notes of 8 s with vibrato: frames found, worst", worst, 98, "%", "own aim");
    figure_at_most("Voice", "a take that starts with the voice: found after", 1000 * latest, 20, "ms",
                   "own aim; wide: two steps of the answer");
}

static bool is_vowel(const char *phone)
{
    static const char *const vowels[] = {"aa", "ae", "ah", "ao", "aw", "ax", "ay", "eh",
                                         "er", "ey", "ih", "iy", "ow", "oy", "uh", "uw"};
    for (size_t i = 0; i < sizeof vowels / sizeof *vowels; i++)
        if (strcmp(phone, vowels[i]) == 0)
            return true;
    return false;
}

static void add_white(float *x, uint32_t n, double rms, uint64_t seed)
{
    Random random = random_stream(seeds_added() + seed, 77);
    for (uint32_t i = 0; i < n; i++)
        x[i] += (float)rms * random_noise(&random);
}

static double rms_of(const float *x, uint32_t n)
{
    double sum = 0;
    for (uint32_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return sqrt(sum / n);
}

typedef struct {
    uint32_t vowels, found, pauses, wrong;
} Spelling;

static void spell(const Spoken *s, Spelling *sum)
{
    Heard h = hear(s->x, s->n, 512, s->rate);
    for (uint32_t p = 0; p < s->phones; p++)
        for (uint32_t i = 0; i < h.n; i++) {
            const double seconds = i * h.hop;
            if (seconds < s->phone[p].start + 0.01 || seconds > s->phone[p].end - 0.01)
                continue;
            const bool vowel = is_vowel(s->phone[p].name), pause = strcmp(s->phone[p].name, "pau") == 0;
            sum->vowels += vowel;
            sum->found += vowel && h.on[i];
            sum->pauses += pause;
            sum->wrong += pause && h.on[i];
        }
    forget(&h);
}

static void hears_vowels_of_speech(void **state)
{
    (void)state;
    static const char *const voices[] = {"awb", "rms", "slt"};
    Spelling sum[2] = {{0}, {0}}; /* as it is, and in noise */
    for (uint32_t k = 0; k < 3 * SPOKEN_SENTENCES; k++) {
        Spoken s;
        if (!spoken_say(&s, voices[k % 3], spoken_sentences[k / 3]))
            skip();
        spell(&s, &sum[0]);
        add_white(s.x, s.n, gain(-15) * rms_of(s.x, s.n), k);
        spell(&s, &sum[1]);
        spoken_free(&s);
    }
    for (int noisy = 0; noisy < 2; noisy++) {
        char what[80];
        snprintf(what, sizeof what, "flite's voices%s: vowel frames found", noisy ? ", 15 dB over noise" : "");
        figure_at_least("Voice", what, 100.0 * sum[noisy].found / sum[noisy].vowels, 97, "%", "own aim");
        figure_at_most("Voice", "the same: frames of pauses taken for voice",
                       100.0 * sum[noisy].wrong / sum[noisy].pauses, 5, "%", "own aim");
    }
}

/* Share of the frames within 15 dB of the loudest that count as voice: consonants are among them. */
static double loud_found(const Spoken *s)
{
    Heard h = hear(s->x, s->n, 512, s->rate);
    const uint32_t hop = (uint32_t)lround(h.hop * s->rate);
    double loudest = 0;
    uint32_t loud = 0, found = 0;
    for (int pass = 0; pass < 2; pass++)
        for (uint32_t i = 1; (i + 1) * hop <= s->n; i++) {
            const double level = rms_of(s->x + (size_t)(i - 1) * hop, 2 * hop);
            if (pass == 0)
                loudest = fmax(loudest, level);
            else if (level > gain(-15) * loudest) {
                loud++;
                found += h.on[i];
            }
        }
    forget(&h);
    return 100.0 * found / loud;
}

static void hears_the_robot(void **state)
{
    (void)state;
    static const char *const voices[] = {"en", "en+f3", "de", "fr+m5"};
    double sum = 0, worst = 100;
    for (int k = 0; k < 12; k++) {
        Spoken s;
        if (!spoken_robot(&s, voices[k % 4], 10 + 40 * (k / 4), spoken_sentences[4]))
            skip();
        const double found = loud_found(&s);
        sum += found;
        worst = fmin(worst, found);
        spoken_free(&s);
    }
    figure_at_least("Voice", "espeak-ng, a voiced sentence: loud frames found", sum / 12, 90, "%", "own aim");
    figure_at_least("Voice", "the same: worst", worst, 75, "%", "own aim");
}

static void hears_recorded_speech(void **state)
{
    (void)state;
    static const char *const names[] = {"walk", "numbers", "something", "forward", "reading1", "reading3", "reading4"};
    double sum = 0;
    const size_t n = sizeof names / sizeof *names;
    for (size_t k = 0; k < n; k++) {
        Spoken s;
        if (!spoken_load(&s, names[k]))
            skip();
        sum += loud_found(&s) / (double)n;
        spoken_free(&s);
    }
    figure_at_least("Voice", "recorded speech, consonants too: loud frames found", sum, 70, "%", "own aim");
}

/* ---- What is no voice ---- */

/* Noise that falls by `slope` first-order corners at 30 Hz: 0 white, 1 brown, 2 rumble. */
static void add_coloured(float *x, uint32_t n, int slope, double rms, uint64_t seed)
{
    Random random = random_stream(seeds_added() + seed, 5);
    float *y = room(n);
    double low[2] = {0};
    const double k = 1 - exp(-2 * DSP_PI * 30 / NOISE_RATE);
    for (uint32_t i = 0; i < n; i++) {
        double s = (double)random_noise(&random);
        for (int p = 0; p < slope; p++)
            s = low[p] += k * (s - low[p]);
        y[i] = (float)s;
    }
    const double scale = rms / rms_of(y, n);
    for (uint32_t i = 0; i < n; i++)
        x[i] += (float)(scale * (double)y[i]);
    free(y);
}

/* Harmonics up to 2 kHz, each anywhere from 0 to -20 dB, falling by `slope` * 6 dB an octave; drifts by 1 %. */
static void add_buzz(float *x, uint32_t n, double hz, int slope, double rms, uint64_t seed)
{
    enum { MOST = 40 };
    Random random = random_stream(seeds_added() + seed, 6);
    double re[MOST], im[MOST], power = 0, phase = 0;
    const int count = (int)(2000 / hz);
    for (int k = 0; k < count; k++) {
        const double level = gain(random_between(&random, -20, 0)) * pow(k + 1, -slope);
        const double turn = random_between(&random, 0, 2 * DSP_PI);
        re[k] = level * cos(turn);
        im[k] = level * sin(turn);
        power += 0.5 * level * level;
    }
    const double swing = random_between(&random, 0.02, 0.2), start = random_between(&random, 0, 6);
    for (uint32_t i = 0; i < n; i++) {
        double sum = 0, hc = 1, hs = 0;
        const double c = cos(phase), s = sin(phase);
        for (int k = 0; k < count; k++) {
            const double next = hc * c - hs * s;
            hs = hs * c + hc * s;
            hc = next;
            sum += re[k] * hc - im[k] * hs;
        }
        x[i] += (float)(rms / sqrt(power) * sum);
        phase += 2 * DSP_PI * hz * (1 + 0.01 * sin(start + 2 * DSP_PI * swing * i / NOISE_RATE)) / NOISE_RATE;
    }
}

/* A breath of half a second every 1.1 s. */
static void add_breaths(float *x, uint32_t n, double rms, uint64_t seed)
{
    for (double at = 0.4; at + 0.5 < n / NOISE_RATE; at += 1.1)
        add_breath((Recording){x, n, NOISE_RATE}, at, at + 0.5, rms,
                   random_stream(seeds_added() + seed, (uint64_t)(100 * at)));
}

/* Frames of a take without any voice that are taken for one. */
static double false_alarms(const float *x, uint32_t n)
{
    Heard h = hear(x, n, 512, NOISE_RATE);
    uint32_t on = 0;
    for (uint32_t i = 0; i < h.n; i++)
        on += h.on[i];
    forget(&h);
    return on;
}

typedef struct {
    const char *what;
    int slopes;                /* of the hum: so many, from flat on */
    double mains[4];           /* Hz; 0 ends; 0 first: no hum */
    double other;              /* a second hum, 6 dB lower, or 0 */
    double hum, noise, breath; /* dB; 0: none */
    double limit;              /* worst take, frames of 501; 0: a take can be unlucky, judged with all the others */
} Nuisance;

static const Nuisance nuisances[] = {
    {"noise, white to rumble", 1, {0}, 0, 0, -50, 0, 1},
    {"loud noise", 1, {0}, 0, 0, -10, 0, 1},
    {"breath 10 dB over noise", 1, {0}, 0, 0, -55, -45, 1},
    {"breath 30 dB over noise", 1, {0}, 0, 0, -55, -25, 1},
    {"hum at -10 dB", 3, {50, 60, 100, 120}, 0, -10, 0, 0, 0},
    {"hum at -90 dB", 3, {50, 60, 100, 120}, 0, -90, 0, 0, 0},
    {"hum 25 dB over noise", 3, {50, 60, 100, 120}, 0, -40, -65, 0, 0},
    {"hum 15 dB over noise", 3, {50, 60, 100, 120}, 0, -40, -55, 0, 0},
    {"hum 5 dB over noise", 3, {50, 60, 100, 120}, 0, -40, -45, 0, 0},
    {"hum 5 dB under noise", 3, {50, 60, 100, 120}, 0, -40, -35, 0, 0},
    {"hum, breath as strong", 3, {50, 60, 100, 120}, 0, -40, -60, -40, 0},
    {"hum, breath 20 dB stronger", 3, {50, 60, 100, 120}, 0, -40, -60, -20, 0},
    {"50 or 100 Hz with 60 Hz", 3, {50, 100, 0}, 60, -40, 0, 0, 1},
    {"60 or 120 Hz with 50 Hz", 3, {60, 120, 0}, 50, -40, 0, 0, 1},
};

typedef struct {
    double worst, frames; /* taken for voice: in the worst take, in all */
    double takes, bad;    /* all; with over 1 % of their frames taken for voice */
} Alarms;

static void add_alarms(Alarms *sum, double frames)
{
    sum->worst = fmax(sum->worst, frames);
    sum->frames += frames;
    sum->takes += 1;
    sum->bad += frames > 5;
}

static Alarms alarms_of(const Nuisance *c, uint64_t seed)
{
    const uint32_t n = (uint32_t)(5 * NOISE_RATE);
    float *x = room(n);
    Alarms sum = {0};
    for (int slope = 0; slope < c->slopes; slope++)
        for (int m = 0; m < 4 && (m == 0 || c->mains[m] > 0); m++)
            for (int colour = 0; colour < (c->noise < 0 ? 3 : 1); colour++) {
                const uint64_t own = seed * 1000 + (uint64_t)(100 * slope + 10 * m + colour);
                memset(x, 0, n * sizeof *x);
                if (c->mains[m] > 0)
                    add_buzz(x, n, c->mains[m], slope, gain(c->hum), own);
                if (c->other > 0)
                    add_buzz(x, n, c->other, slope, gain(c->hum - 6), own + 1);
                if (c->noise < 0)
                    add_coloured(x, n, colour, gain(c->noise), own + 2);
                if (c->breath < 0)
                    add_breaths(x, n, gain(c->breath), own + 3);
                add_alarms(&sum, false_alarms(x, n));
            }
    free(x);
    return sum;
}

static void noise_hum_and_breath_are_no_voice(void **state)
{
    (void)state;
    double frames = 0, takes = 0, bad = 0;
    for (size_t k = 0; k < sizeof nuisances / sizeof *nuisances; k++) {
        char what[80];
        snprintf(what, sizeof what, "%s: taken for voice in the worst take of 5 s", nuisances[k].what);
        const Alarms sum = alarms_of(&nuisances[k], k + 1);
        if (nuisances[k].limit > 0)
            figure_at_most("Voice", what, sum.worst, nuisances[k].limit, "frames", "own aim");
        else
            figure_note("Voice", what, sum.worst, "frames");
        frames += sum.frames;
        takes += sum.takes;
        bad += sum.bad;
    }
    char what[80];
    snprintf(what, sizeof what, "all those %.0f takes together: taken for voice", takes);
    figure_at_most("Voice", what, 100 * frames / (501 * takes), 0.2, "% frames", "own aim");
    figure_at_most("Voice", "of those: takes with over 1 % of it", bad, 8, "takes",
                   "own aim; wide: other seeds show 2 to 4");
}

/* Four notes of 0.9 s after 3 s of hum in noise, over which they go on, with gaps of 0.2 s between them. Frames within
 * gaps, and those of them that are taken for voice; the notes are heard. */
static void count_in_gaps(uint64_t seed, uint32_t *frames, uint32_t *on)
{
    const uint32_t from = (uint32_t)(3 * NOISE_RATE), turn = (uint32_t)(1.1 * NOISE_RATE);
    const uint32_t gap = (uint32_t)(0.2 * NOISE_RATE), edge = (uint32_t)(0.05 * NOISE_RATE), n = from + 4 * turn;
    float *x = room(n);
    add_buzz(x, n, 100, 1, gain(-40), seed);
    add_coloured(x, n, 0, gain(-50), seed + 1);
    for (uint32_t i = from; i < n; i++)
        if ((i - from) % turn >= gap)
            x[i] +=
                (float)(0.2 * sin(2 * DSP_PI * 147 * i / NOISE_RATE) + 0.1 * sin(2 * DSP_PI * 294 * i / NOISE_RATE));
    Heard h = hear(x, n, 512, NOISE_RATE);
    uint32_t in_notes = 0;
    for (uint32_t k = 0; k < h.n; k++) {
        const uint32_t at = (uint32_t)(k * h.hop * NOISE_RATE), into = at < from ? 0 : (at - from) % turn;
        const bool within = at >= from + turn && into > edge && into < gap - edge;
        *frames += within;
        *on += within && h.on[k];
        in_notes += into > gap + edge && into < turn - edge && h.on[k];
    }
    assert_true(in_notes > 4 * 75);
    forget(&h);
    free(x);
}

/* Notes of 0.35 s on a multiple of 50 or 60 Hz, which move by 10 cents to each side, as in the quarter of a second
 * before a vibrato begins; each goes over into a noise of 0.1 s. Share of their frames that are taken for voice. */
static double nearly_straight(double hz)
{
    const uint32_t turn = (uint32_t)(0.8 * NOISE_RATE), note = (uint32_t)(0.35 * NOISE_RATE), n = 6 * turn;
    float *x = room(n);
    double phase = 0;
    for (uint32_t i = 0; i < n; i++) {
        phase += 2 * DSP_PI * hz * exp2(0.1 / 12 * sin(2 * DSP_PI * 5.6 * i / NOISE_RATE)) / NOISE_RATE;
        if (i % turn < note)
            x[i] = (float)(0.1 * sin(phase) + 0.05 * sin(2 * phase) + 0.03 * sin(3 * phase));
    }
    for (uint32_t at = note - (uint32_t)(0.05 * NOISE_RATE); at < n; at += turn)
        add_white(x + at, (uint32_t)(0.1 * NOISE_RATE), 0.05, at);
    Heard h = hear(x, n, 512, NOISE_RATE);
    uint32_t on = 0, of = 0;
    for (uint32_t k = 0; k < h.n; k++) {
        const bool within = (uint32_t)(k * h.hop * NOISE_RATE) % turn < note - (uint32_t)(0.05 * NOISE_RATE);
        of += within;
        on += within && h.on[k];
    }
    forget(&h);
    free(x);
    return 100.0 * on / of;
}

static void a_note_on_the_mains_that_ends_in_noise_is_no_hum(void **state)
{
    static const double notes[] = {100, 120, 150, 180, 200, 240, 250};
    (void)state;
    double worst = 100;
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++)
        worst = fmin(worst, nearly_straight(notes[k]));
    figure_at_least("Voice", "notes on the mains, +-10 cents, that end in noise: frames found, worst", worst, 50, "%",
                    "ours; 3 % where the mean clarity alone counted");
}

/* Such gaps are too short to learn a hum in, so there it has to be known still. Nearly always it is: other seeds show
 * up to 33 of the 162 frames. */
static void a_hum_is_known_through_a_phrase(void **state)
{
    (void)state;
    uint32_t frames = 0, on = 0;
    for (uint64_t seed = 1; seed <= 12; seed += 2)
        count_in_gaps(seed, &frames, &on);
    assert_true(on <= 0.3 * frames);
}

static void silence_is_no_voice(void **state)
{
    (void)state;
    float *x = room(48000);
    assert_true(false_alarms(x, 48000) == 0);
    free(x);
}

/* ---- How it behaves ---- */

static float *sung(uint32_t *n, double rate)
{
    SingerTake take;
    assert_true(singer_sing(&(SingerSpec){.voice = SINGER_ALTO,
                                          .seed = 4,
                                          .rate = rate,
                                          .seconds = 6,
                                          .hiss_db = -40,
                                          .hum_hz = 50,
                                          .hum_db = -30,
                                          .breath_db = -15},
                            &take));
    *n = take.frames;
    float *x = room(*n);
    memcpy(x, take.audio, *n * sizeof *x);
    singer_free(&take);
    return x;
}

static void blocks_change_no_bit(void **state)
{
    (void)state;
    uint32_t n;
    float *x = sung(&n, 44100);
    Heard whole = hear(x, n, n, 44100), ragged = hear(x, n, 0, 44100);
    assert_same(&whole, &ragged);
    forget(&whole);
    forget(&ragged);
    free(x);
}

static void level_changes_no_bit(void **state)
{
    (void)state;
    static const int shifts[] = {-10, -7, -3, -1, 1}; /* -60 to +6 dB */
    uint32_t n;
    float *x = sung(&n, 16000), *y = room(n);
    Heard as_is = hear(x, n, 512, 16000);
    for (size_t k = 0; k < sizeof shifts / sizeof *shifts; k++) {
        for (uint32_t i = 0; i < n; i++)
            y[i] = ldexpf(x[i], shifts[k]);
        Heard moved = hear(y, n, 512, 16000);
        assert_same(&as_is, &moved);
        forget(&moved);
    }
    forget(&as_is);
    free(x);
    free(y);
}

/* A loud hum, then, after the reset, a soft note on its pitch: what was learned of the hum has gone. */
static void reset_is_a_fresh_start(void **state)
{
    (void)state;
    const uint32_t n = (uint32_t)(2 * RATE);
    float *note = long_note(100, n), *hum = room(n);
    for (uint32_t i = 0; i < n; i++)
        hum[i] = (float)(sin(2 * DSP_PI * 100 * i / RATE) + 0.5 * sin(2 * DSP_PI * 300 * i / RATE));
    Voice v;
    Heard first, second;
    assert_true(voice_init(&v, RATE));
    run(&v, hum, n - 777, 512, RATE, &first);
    forget(&first);
    voice_reset(&v);
    run(&v, note, n, 512, RATE, &second);
    first = hear(note, n, 512, RATE);
    assert_same(&first, &second);
    forget(&first);
    forget(&second);
    voice_done(&v);
    free(note);
    free(hum);
}

/* The answer comes voice_lag() after the sound: a note between two rests of noise is found at its own time. */
static void the_lag_is_as_told(void **state)
{
    (void)state;
    const uint32_t n = (uint32_t)(3 * RATE), start = (uint32_t)(1.2 * RATE), end = (uint32_t)(2.1 * RATE);
    double worst = 0;
    for (double hz = 110; hz < 1000; hz *= 2) {
        float *x = long_note(hz, n);
        memset(x, 0, start * sizeof *x);
        memset(x + end, 0, (n - end) * sizeof *x);
        add_white(x, n, gain(-50), 1);
        Heard h = hear(x, n, 512, RATE);
        uint32_t first = 0, last = h.n - 1;
        while (first < h.n && !h.on[first])
            first++;
        while (last > 0 && !h.on[last])
            last--;
        worst = fmax(worst, fmax(fabs(first * h.hop - start / RATE), fabs(last * h.hop - end / RATE)));
        forget(&h);
        free(x);
    }
    figure_at_most("Voice", "a note's start and end are found off their time by", 1000 * worst, 30, "ms", "own aim");
}

static void every_rate_hears_the_same(void **state)
{
    (void)state;
    static const double rates[] = {8000, 44100, 96000, 192000};
    uint32_t n;
    float *x = sung(&n, 48000);
    Heard reference = hear(x, n, 512, 48000);
    double worst = 100;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; r++) {
        Spoken s = {.rate = 48000, .n = n, .x = room(n)};
        memcpy(s.x, x, n * sizeof *x);
        spoken_resample(&s, rates[r]);
        Heard h = hear(s.x, s.n, 512, rates[r]);
        uint32_t same = 0, counted = 0;
        for (uint32_t i = 0; i < h.n; i++) {
            const size_t at = (size_t)lround(i * h.hop / reference.hop);
            if (at >= reference.n)
                continue;
            counted++;
            same += h.on[i] == reference.on[at];
        }
        worst = fmin(worst, 100.0 * same / counted);
        forget(&h);
        spoken_free(&s);
    }
    figure_at_least("Voice", "8 to 192 kHz against 48 kHz: frames that agree", worst, 97, "%", "own aim");
    forget(&reference);
    free(x);
}

static void odd_rates_are_refused(void **state)
{
    (void)state;
    static const double rates[] = {0, 7999, 384001, NAN};
    for (size_t r = 0; r < sizeof rates / sizeof *rates; r++) {
        Voice v;
        assert_false(voice_init(&v, rates[r]));
        voice_done(&v);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hears_every_voice_and_note),
        cmocka_unit_test(hears_voices_without_vibrato),
        cmocka_unit_test(hears_voices_in_a_room_with_hum_and_breath),
        cmocka_unit_test(hears_long_notes_to_their_end),
        cmocka_unit_test(hears_vowels_of_speech),
        cmocka_unit_test(hears_the_robot),
        cmocka_unit_test(hears_recorded_speech),
        cmocka_unit_test(noise_hum_and_breath_are_no_voice),
        cmocka_unit_test(a_hum_is_known_through_a_phrase),
        cmocka_unit_test(a_note_on_the_mains_that_ends_in_noise_is_no_hum),
        cmocka_unit_test(silence_is_no_voice),
        cmocka_unit_test(blocks_change_no_bit),
        cmocka_unit_test(level_changes_no_bit),
        cmocka_unit_test(reset_is_a_fresh_start),
        cmocka_unit_test(the_lag_is_as_told),
        cmocka_unit_test(every_rate_hears_the_same),
        cmocka_unit_test(odd_rates_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
