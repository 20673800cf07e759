/* The levelling of a whole take on recorded voices, spoken and turned into singing, whose phrases have been moved up
 * and down (tests/worded.h): how far apart they lie then, how far the gain moves inside a phrase, that no rest is
 * lifted, and that the loudness of the whole stays. A line per voice, then medians and worst.
 *
 * Judges only, whom no constant was set on; LINCTUS_VOICES=tune asks those that constants were set on. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "asked.h"
#include "design.h"
#include "figure.h"
#include "loudness.h"
#include "phrase_ride.h"
#include "units.h"
#include "values.h"
#include "worded.h"

#define SECONDS 38.0
#define LEAST   2.0   /* s: of a phrase, but the last of a take */
#define UNEVEN  4.0   /* dB, to each side, over what the voice's own phrases differ by */
#define FAR     12.0  /* dB: phrases that lie no further apart are brought together */
#define NOISE   45.0  /* dB under the voice */
#define AFTER   0.25  /* s after the last sound of a phrase, and */
#define BEFORE  0.15  /* s before the next: the gain has its way to go */
#define STEP    0.005 /* s: where the gain is looked at */

#define BRIEF  0.3   /* s: what is shorter has no level that tells anything */
#define UNDER  20.0  /* dB */
#define RUMBLE 150.0 /* Hz: what lies lower is no part of a word (tests/worded.h) */

enum { FRAMES = 12000, PHRASES = 400, GRAIN = 480 };

static const PhraseEvening defaults = {.within = 1.0, .most_up = 6.0, .most_down = 6.0};

static const char *whom(void)
{
    return asked_for("tune") ? "Phrase over a whole take, tuned on" : "Phrase over a whole take";
}

static struct {
    Values before, after, inside, lifted, loudness;
    uint32_t voices, farther; /* asked; of them those whose phrases lay farther apart than FAR */
} score;

/* ---- Levelling ---- */

static struct {
    TakeFrame frame[FRAMES];
    uint32_t frames;
    PhraseSpan span[PHRASES];
    PhraseRide ride;
} take;

static void hear(const float *x, uint32_t n)
{
    static const float silence[DSP_CELL];
    static TakeFrames t;
    assert_true(take_frames_init(&t, VOICES_RATE, 1));
    take.frames = 0;
    for (uint32_t at = 0; at < n + (uint32_t)VOICES_RATE; at += DSP_CELL) {
        take.frames += take_frames_next(&t, &take.frame[take.frames]);
        assert_true(take.frames < FRAMES);
        take_frames_process(&t, (const float *[]){at + DSP_CELL <= n ? x + at : silence}, DSP_CELL);
    }
    take.frames = (uint32_t)fmin(take.frames, ceil(n / (TAKE_FRAME * VOICES_RATE)));
    take_frames_done(&t);
}

/* As the harness does it. */
static void level(const float *x, uint32_t n)
{
    static uint32_t blocks[EVEN_FINE];
    EvenSums sums = {{0}, {0}, {0}};
    memset(blocks, 0, sizeof blocks);
    hear(x, n);
    const uint32_t spans = phrase_spans(take.frame, take.frames, take.span, PHRASES);
    take.ride = (PhraseRide){.span = take.span, .spans = spans, .evening = defaults};
    take.ride.evening.usual = phrase_ride_level(take.span, spans, &defaults);
    phrase_ride_sum(&take.ride, take.frame, take.frames, blocks, &sums);
    take.ride.makeup = even_gain(blocks, &sums, 1.0);
}

static float *levelled(const Worded *w)
{
    float *const out = calloc(w->n + 1, sizeof *out);
    assert_non_null(out);
    level(w->take, w->n);
    for (uint32_t i = 0; i < w->n; ++i)
        out[i] = w->take[i] * (float)db_to_gain(phrase_ride_at(&take.ride, i / w->rate));
    return out;
}

/* ---- Measuring, from where the words were laid ---- */

static float *clean; /* the words, without the recording's rumble */

static void keep_words(const Worded *w)
{
    Biquad section[2];
    SvfState state[2] = {{0}};
    design_butterworth_high_pass(4, RUMBLE, w->rate, section);
    const Svf filter[] = {svf_from_biquad(&section[0]), svf_from_biquad(&section[1])};
    assert_non_null(clean = calloc(w->n + 1, sizeof *clean));
    for (uint32_t i = 0; i < w->n; ++i)
        clean[i] = (float)svf_step(&filter[1], &state[1], svf_step(&filter[0], &state[0], (double)w->words[i]));
}

static double mean_square(const float *x, uint32_t from, uint32_t to)
{
    double sum = 0.0;
    for (uint32_t k = from; k < to; ++k)
        sum += (double)x[k] * (double)x[k];
    return to > from ? sum / (to - from) : 0.0;
}

/* From its first sound to its last. */
static WordedSpan phrase_of(const Worded *w, uint32_t i)
{
    WordedSpan p = {i ? w->rest[i - 1].to : 0, i < w->rests ? w->rest[i].from : w->n};
    while (p.from + GRAIN < p.to && w->words[p.from] == 0.f)
        ++p.from;
    while (p.to > p.from + GRAIN && w->words[p.to - 1] == 0.f)
        --p.to;
    return p;
}

/* From the faintest phrase to the loudest, dB. */
static double apart(const Worded *w, const float *x)
{
    double *const y = worded_weighted(x, w->n, VOICES_RATE), least = INFINITY, most = -INFINITY;
    for (uint32_t i = 0; i <= w->rests; ++i) {
        const WordedSpan p = phrase_of(w, i);
        double sum = 0.0;
        for (uint32_t k = p.from; k < p.to; ++k)
            sum += y[k] * y[k];
        if (p.to - p.from < BRIEF * w->rate)
            continue;
        least = fmin(least, power_to_db(sum / (p.to - p.from)));
        most = fmax(most, power_to_db(sum / (p.to - p.from)));
    }
    free(y);
    return most - least;
}

/* How far the gain goes, up and down added up, while words of this phrase sound: 10 ms within UNDER of it. */
static double moved_in(WordedSpan p, double rate)
{
    const double level = power_to_db(mean_square(clean, p.from, p.to));
    double moved = 0.0;
    for (uint32_t at = p.from; at + GRAIN <= p.to; at += GRAIN)
        if (power_to_db(mean_square(clean, at, at + GRAIN)) > level - UNDER)
            moved += fabs(phrase_ride_at(&take.ride, (at + GRAIN) / rate) - phrase_ride_at(&take.ride, at / rate));
    return moved;
}

static double moved_inside(const Worded *w)
{
    double worst = 0.0;
    for (uint32_t i = 0; i <= w->rests; ++i)
        worst = fmax(worst, moved_in(phrase_of(w, i), w->rate));
    return worst;
}

/* dB: the highest gain in a rest, but for AFTER and BEFORE next to the words. */
static double lifted(const Worded *w)
{
    double worst = -INFINITY;
    for (uint32_t i = 0; i < w->rests; ++i)
        for (double at = w->rest[i].from / w->rate + AFTER; at < w->rest[i].to / w->rate - BEFORE; at += STEP)
            worst = fmax(worst, phrase_ride_at(&take.ride, at));
    return worst;
}

static double loudness_of(const float *x, uint32_t n)
{
    static Loudness l;
    loudness_init(&l, VOICES_RATE, 1);
    loudness_process(&l, (const float *[]){x}, n);
    return loudness_integrated(&l);
}

static void judge(const char *name, const Spoken *words, uint32_t seed)
{
    Worded w;
    worded_phrases(&w, words, LEAST, UNEVEN, NOISE, seed);
    float *const out = levelled(&w);
    keep_words(&w);
    const double before = apart(&w, w.take), after = apart(&w, out), inside = moved_inside(&w), up = lifted(&w);
    const double louder = loudness_of(out, w.n) - loudness_of(w.take, w.n);
    printf(
        "%-12s %2u phrases, %2u found: %5.2f dB apart, then %5.2f; gain moved by %.2f dB inside one; rests lifted by "
        "%.2f; louder by %.2f LU\n",
        name, w.rests + 1, take.ride.spans, before, after, inside, up, louder);
    if (before <= FAR) {
        values_add(&score.before, before);
        values_add(&score.after, after);
    }
    score.farther += before > FAR;
    values_add(&score.inside, inside);
    values_add(&score.lifted, up);
    values_add(&score.loudness, louder);
    ++score.voices;
    free(out);
    free(clean);
    worded_free(&w);
}

/* ---- Everybody ---- */

static void ask_everybody(void **state)
{
    (void)state;
    for (uint32_t v = 0; v < VOICES_LONG; ++v) {
        VoicesSong song;
        Spoken spoken;
        if ((voices[v].use == VOICES_TUNE) != asked_for("tune"))
            continue;
        if (!voices_sing(&song, v, 0, SECONDS, 1, 0.0))
            skip();
        judge(voices[v].name, &song.take, v);
        voices_song_free(&song);
        if (!voices_speak(&spoken, v, 0, SECONDS))
            skip();
        judge(voices[v].name, &spoken, v);
        spoken_free(&spoken);
    }
    asked_singers(60, SECONDS, judge);
}

static void need_voices(void)
{
    if (score.voices < 10)
        skip();
}

static void phrases_lie_together(void **state)
{
    (void)state;
    need_voices();
    figure_note(whom(), "takes asked, recorded and invented", score.voices, "");
    figure_note(whom(), "takes of them whose phrases lay farther apart than 12 dB", score.farther, "");
    figure_note(whom(), "from the faintest phrase to the loudest, as they came: median", values_at(&score.before, 0.5),
                "dB");
    figure_at_most(whom(), "from the faintest phrase to the loudest, levelled: median", values_at(&score.after, 0.5),
                   2.0, "dB", "requirement: within 2 dB where they were within 12");
    figure_at_least(whom(), "takes of which no two phrases lie further apart than 2 dB",
                    100.0 * values_within(&score.after, 2.0), 90.0, "%", "our own limit; required: 100");
    figure_at_most(whom(), "from the faintest phrase to the loudest, levelled: worst", values_at(&score.after, 1.0),
                   4.0, "dB", "our own limit; required: 2; a list of words with rests of all lengths");
}

static void nothing_moves_inside_a_phrase(void **state)
{
    (void)state;
    need_voices();
    figure_at_most(whom(), "gain moved while a phrase sounds: median", values_at(&score.inside, 0.5), 1.0, "dB",
                   "requirement; wide: nothing moves");
    figure_at_least(whom(), "takes in which it moves by less than 1 dB", 100.0 * values_within(&score.inside, 1.0),
                    75.0, "%", "our own limit; required: 100");
    figure_at_most(whom(), "gain moved while a phrase sounds: worst", values_at(&score.inside, 1.0), 4.5, "dB",
                   "our own limit; required: 1; a list of words with rests of all lengths");
}

static void no_rest_is_lifted(void **state)
{
    (void)state;
    need_voices();
    figure_at_most(whom(), "highest gain in a rest, from 0.25 s after a phrase to 0.15 s before the next",
                   values_at(&score.lifted, 1.0), 0.0, "dB", "requirement: no rest is lifted");
}

static void the_loudness_stays(void **state)
{
    (void)state;
    need_voices();
    figure_at_most(whom(), "loudness of the whole, against before: farthest", values_farthest(&score.loudness), 0.5,
                   "LU", "common practice; BS.1770 measure");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ask_everybody),
        cmocka_unit_test(phrases_lie_together),
        cmocka_unit_test(nothing_moves_inside_a_phrase),
        cmocka_unit_test(no_rest_is_lifted),
        cmocka_unit_test(the_loudness_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
