/* The invented singer: what it says about a take has to be true, and its faults may touch nothing else. */
#include "colour.h"
#include "figure.h"
#include "seeds.h"
#include "glottis.h"
#include "room.h"
#include "singer.h"
#include "spectrum.h"

#include "dsp.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static SingerTake sing(SingerSpec spec)
{
    SingerTake take;
    assert_true(singer_sing(&spec, &take));
    return take;
}

static double db(double amplitude)
{
    return 20 * log10(fmax(amplitude, 1e-15));
}

static double rms(const float *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * x[i];
    return n ? sqrt(sum / (double)n) : 0;
}

static double span_rms(const SingerTake *t, const float *x, double start, double end)
{
    const size_t from = (size_t)lrint(start * t->rate), to = (size_t)lrint(end * t->rate);
    return rms(x + from, to - from);
}

static double peak(const float *x, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs((double)x[i]));
    return most;
}

/* What the recording has beside the voice. The caller frees. */
static float *added(const SingerTake *t)
{
    float *x = malloc(t->frames * sizeof *x);
    assert_non_null(x);
    for (uint32_t i = 0; i < t->frames; i++)
        x[i] = t->audio[i] - t->voice[i];
    return x;
}

static float *difference(const SingerTake *a, const SingerTake *b)
{
    assert_int_equal(a->frames, b->frames);
    float *x = malloc(a->frames * sizeof *x);
    assert_non_null(x);
    for (uint32_t i = 0; i < a->frames; i++)
        x[i] = a->voice[i] - b->voice[i];
    return x;
}

static bool same_audio(const SingerTake *a, const SingerTake *b)
{
    return a->frames == b->frames && !memcmp(a->audio, b->audio, a->frames * sizeof(float));
}

static double note_of(double hz)
{
    return 69 + 12 * log2(hz / 440);
}

/* ---- the take as a whole ---- */

static void the_seed_alone_decides(void **state)
{
    (void)state;
    const SingerSpec spec = {
        .voice = SINGER_ALTO, .seed = 5, .seconds = 6, .hiss_db = -50, .breath_db = -25, .clicks = 4};
    SingerSpec next = spec;
    next.seed = 6;
    SingerTake a = sing(spec), b = sing(spec), c = sing(next);
    assert_true(same_audio(&a, &b));
    assert_false(same_audio(&a, &c));
    singer_free(&a);
    singer_free(&b);
    singer_free(&c);
}

/* O'Neill's demonstration program prints these six numbers for seed 42, stream 54 (pcg32, from memory). */
static void random_numbers_are_those_of_pcg32(void **state)
{
    (void)state;
    static const uint32_t expected[] = {0xa15c02b7, 0x7b47f409, 0xba1d3330, 0x83d2f293, 0xbfa4784b, 0xcbed606e};
    Random random = random_stream(42, 54);
    for (size_t i = 0; i < sizeof expected / sizeof *expected; i++)
        assert_int_equal(random_bits(&random), expected[i]);
}

static void a_faultless_recording_is_the_voice(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.seed = 1, .seconds = 5});
    assert_memory_equal(t.audio, t.voice, t.frames * sizeof(float));
    assert_int_equal(t.clipped, 0);
    singer_free(&t);
}

static void the_level_is_the_one_asked_for(void **state)
{
    (void)state;
    double worst = 0;
    for (int v = 0; v < SINGER_VOICES; v++)
        for (int i = 0; i < 3; i++) {
            const double level = (double[]){0, -30, -12}[i], rate = (double[]){48000, 8000, 44100}[i];
            SingerTake t =
                sing((SingerSpec){.voice = (SingerVoice)v, .seed = 2, .level_db = level, .rate = rate, .seconds = 12});
            worst = fmax(worst, fabs(singer_level_db(t.audio, t.frames, rate) - (level != 0 ? level : -18)));
            assert_true(fabs(t.voice_level_db - singer_level_db(t.voice, t.frames, rate)) < 1e-9);
            singer_free(&t);
        }
    figure_at_most("Singer", "level off the one asked for", worst, 1e-5, "dB", "ours; required: 0.01");
}

static void the_level_meter_gates(void **state)
{
    (void)state;
    enum { RATE = 8000, SECONDS = 20 };
    float *x = calloc((size_t)RATE * SECONDS, sizeof *x);
    assert_non_null(x);
    for (int i = 0; i < RATE * SECONDS; i++) /* half at -20.0, half 20 dB lower */
        x[i] = (i < RATE * SECONDS / 2 ? 0.1f : 0.01f) * (i & 1 ? -1.f : 1.f);
    figure_within("Singer", "gated level, half of it 20 dB lower", singer_level_db(x, RATE * SECONDS, RATE), -20, 0.15,
                  "dB", "computed");
    memset(x, 0, (size_t)RATE * SECONDS * sizeof *x);
    assert_true(singer_level_db(x, RATE * SECONDS, RATE) == -200);
    free(x);
}

static void any_rate_and_length(void **state)
{
    (void)state;
    static const double rates[] = {8000, 11025, 16000, 44100, 96000, 192000};
    static const double lengths[] = {0.5, 1, 2.3, 7};
    for (size_t r = 0; r < 6; r++)
        for (size_t l = 0; l < 4; l++)
            for (int v = SINGER_TENOR; v < SINGER_VOICES; v += 4) {
                SingerTake t = sing((SingerSpec){.voice = (SingerVoice)v, .rate = rates[r], .seconds = lengths[l]});
                assert_int_equal(t.frames, (uint32_t)ceil(lengths[l] * rates[r]));
                assert_true(t.note_count > 0 && t.phrase_count > 0);
                assert_true(t.notes[t.note_count - 1].end <= lengths[l]);
                assert_true(isfinite(rms(t.audio, t.frames)) && rms(t.audio, t.frames) > 0.01);
                singer_free(&t);
            }
}

static void what_cannot_be_sung_is_refused(void **state)
{
    (void)state;
    const SingerSpec bad[] = {{.rate = 7999},
                              {.rate = 192001},
                              {.rate = NAN},
                              {.seconds = 0.4},
                              {.seconds = -1},
                              {.voice = SINGER_VOICES},
                              {.gain_db = INFINITY},
                              {.boxy = {{400, 90, 1}}},
                              {.hum_hz = 5},
                              {.esses_share = 1.5},
                              {.sibilant_hz = 12000},
                              {.room_seconds = 0.01},
                              {.low_note = 60, .high_note = 50},
                              {.transpose = 100}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        SingerTake t;
        if (singer_sing(&bad[i], &t))
            fail_msg("row %zu was sung", i);
        assert_null(t.audio);
        singer_free(&t);
    }
}

/* ---- what is sung ---- */

typedef struct {
    double span, pitches; /* of the voice's range; different notes */
    bool whole;           /* within the range, every vowel, consonants of each kind */
} Sung;

static Sung what_is_sung(SingerVoice voice, uint64_t seed)
{
    SingerTake t = sing((SingerSpec){.voice = voice, .seed = seed, .rate = 8000});
    bool pitch[128] = {false}, vowel[SINGER_VOWELS] = {false};
    int pitches = 0, vowels = 0;
    for (size_t i = 0; i < t.note_count; i++) {
        pitch[lrint(t.notes[i].midi)] = true;
        vowel[t.notes[i].vowel] = true;
    }
    for (int i = 0; i < 128; i++)
        pitches += pitch[i];
    for (int i = 0; i < SINGER_VOWELS; i++)
        vowels += vowel[i];
    double low, high;
    singer_range(voice, &low, &high);
    const double lowest = note_of(t.lowest_hz), highest = note_of(t.highest_hz);
    const bool within = lowest >= low - 0.01 && highest <= high + 0.01;
    const bool whole = within && vowels == SINGER_VOWELS && t.sibilant_count >= 4 && t.plosive_count >= 4;
    singer_free(&t);
    return (Sung){(highest - lowest) / (high - low), pitches, whole};
}

/* Notes are drawn, so that now and then a take of 30 s keeps to the middle. */
static void a_take_spans_its_range(void **state)
{
    (void)state;
    double narrow = 0, least = 1, fewest = 128;
    for (int v = 0; v < SINGER_VOICES; v++)
        for (uint64_t seed = 1; seed <= 25; seed++) {
            const Sung sung = what_is_sung((SingerVoice)v, 100 * seed);
            assert_true(sung.whole);
            narrow += sung.span < 0.6;
            least = fmin(least, sung.span);
            fewest = fmin(fewest, sung.pitches);
        }
    figure_at_most("Singer", "200 takes: over less than 60 % of the voice's range", narrow, 10, "takes",
                   "our own limit");
    figure_at_least("Singer", "the same: narrowest, of the range", 100 * least, 40, "%", "our own limit");
    figure_at_least("Singer", "the same: fewest different notes", fewest, 8, "notes", "our own limit");
}

static void a_ladder_has_every_step(void **state)
{
    (void)state;
    SingerTake t =
        sing((SingerSpec){.voice = SINGER_TENOR, .ladder = true, .no_consonants = true, .seconds = 20, .transpose = 3});
    bool heard[128] = {false};
    for (size_t i = 0; i < t.note_count; i++)
        heard[lrint(t.notes[i].midi)] = true;
    for (int midi = 51; midi <= 75; midi++)
        assert_true(heard[midi]);
    assert_int_equal(t.sibilant_count + t.plosive_count + t.fricative_count, 0);
    singer_free(&t);
}

/* Period at a place by autocorrelation: the best lag near the expected one, between samples by a parabola. */
static double pitch_near(const float *x, size_t n, double hz, double rate)
{
    const int around = (int)lrint(rate / hz);
    const int reach = (int)(0.15 * around) + 2;
    double best = -1, score[3] = {0};
    int at = around;
    for (int lag = around - reach; lag <= around + reach; lag++) {
        double r[3] = {0};
        for (int d = -1; d <= 1; d++) {
            double xy = 0, yy = 0;
            for (size_t i = 0; i + (size_t)(lag + 1) < n; i++) {
                xy += (double)x[i] * x[i + (size_t)(lag + d)];
                yy += (double)x[i + (size_t)(lag + d)] * x[i + (size_t)(lag + d)];
            }
            r[d + 1] = xy / sqrt(yy + 1e-20);
        }
        if (r[1] > best) {
            best = r[1];
            at = lag;
            memcpy(score, r, sizeof r);
        }
    }
    const double bend = score[0] - 2 * score[1] + score[2];
    return rate / (at + (bend < 0 ? 0.5 * (score[0] - score[2]) / bend : 0));
}

static void the_pitch_is_as_told(void **state)
{
    (void)state;
    double worst = 0;
    int measured = 0;
    for (int v = 0; v < SINGER_VOICES; v++) {
        SingerTake t = sing((SingerSpec){.voice = (SingerVoice)v, .seed = 3, .seconds = 8, .vibrato_cents = -1});
        for (size_t i = 0; i < t.note_count; i++) {
            const SingerNote *n = &t.notes[i];
            if (n->end - n->vowel_start < 0.2)
                continue;
            const double at = n->vowel_start + 0.1;
            const double told = t.f0[lrint((at + 0.025) * 100)];
            const double hz = pitch_near(t.voice + lrint(at * t.rate), (size_t)(0.05 * t.rate), told, t.rate);
            worst = fmax(worst, fabs(1200 * log2(hz / told)));
            measured++;
        }
        singer_free(&t);
    }
    assert_true(measured > 40);
    figure_at_most("Singer", "measured pitch off the told track, worst note", worst, 25, "cents", "requirement");
}

static void sung_notes_hold_their_pitch(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.voice = SINGER_MEZZO, .seed = 4});
    double worst = 0, swing = 0;
    for (size_t i = 0; i < t.note_count; i++) {
        const SingerNote *n = &t.notes[i];
        if (n->end - n->vowel_start < 0.55)
            continue;
        double sum = 0, low = 1e9, high = 0;
        const size_t from = (size_t)((n->vowel_start + 0.15) * 100), to = (size_t)((n->end - 0.08) * 100);
        for (size_t k = from; k < to; k++) {
            sum += log2(t.f0[k] / n->hz);
            low = fmin(low, t.f0[k]);
            high = fmax(high, t.f0[k]);
        }
        worst = fmax(worst, fabs(1200 * sum / (double)(to - from)));
        swing = fmax(swing, 600 * log2(high / low));
    }
    figure_at_most("Singer", "mean of a held note off its pitch", worst, 20, "cents", "requirement");
    figure_within("Singer", "vibrato, to each side", swing, 55, 10, "cents", "requirement");
    singer_free(&t);
}

static void the_source_does_not_alias(void **state)
{
    (void)state;
    enum { N = 1 << 16, TICK = 96 };
    static float hz[N / TICK + 1], loud[N / TICK + 1], breath[N / TICK + 1], x[N];
    static Corners corners;
    corners_make(&corners);
    const double f0 = 48000.0 / 64 * 1.37; /* 1027.5 Hz: its images fall between its harmonics */
    for (size_t i = 0; i < N / TICK + 1; i++) {
        hz[i] = (float)f0;
        loud[i] = 1;
    }
    Random random = random_stream(seeded(1), 1);
    const GlottisTracks tracks = {hz, loud, breath, N / TICK + 1, TICK};
    glottis_sing(&(Glottis){0.6, 0, 0}, &corners, &tracks, 48000, &random, x, N);
    Spectrum s = spectrum_of(x + 4096, N - 8192, 16384, 48000);
    double between = 0;
    for (int h = 0; (h + 1) * f0 < 20000; h++)
        between += pow(10, spectrum_band(&s, (h + 0.1) * f0, (h + 0.9) * f0) / 10);
    figure_at_most("Singer", "pulses at 1 kHz: what lies between the harmonics",
                   10 * log10(between) - spectrum_band(&s, 0, 24000), -70, "dB", "requirement");
    spectrum_free(&s);
}

/* ---- consonants ---- */

static void sibilants_are_fricative_noise(void **state)
{
    (void)state;
    static const double own[] = {4000, 5500, 6839, 9000};
    for (int i = 0; i < 4; i++) {
        SingerTake t = sing((SingerSpec){.voice = SINGER_ALTO, .seed = 9, .seconds = 60, .sibilant_hz = own[i]});
        double power[8192] = {0}, level = 0, vowels = 0;
        int count = 0, notes = 0;
        for (size_t k = 0; k < t.sibilant_count; k++) {
            const SingerSound *s = &t.sibilants[k];
            const bool wide = s->kind == SINGER_Z || s->kind == SINGER_ZH || s->kind == SINGER_CH;
            assert_true(s->end - s->start >= (wide ? 0.085 : 0.12) && s->end - s->start <= 0.181);
            if (s->kind != SINGER_S)
                continue;
            const size_t from = (size_t)(s->start * t.rate), n = (size_t)((s->end - s->start) * t.rate);
            Spectrum spectrum = spectrum_of(t.voice + from, n, 1024, t.rate);
            for (int b = 0; b < 512; b++)
                power[b] += spectrum.power[b];
            level += pow(rms(t.voice + from, n), 2);
            count++;
            spectrum_free(&spectrum);
        }
        for (size_t k = 0; k < t.note_count; k++, notes++)
            vowels += pow(span_rms(&t, t.voice, t.notes[k].vowel_start, t.notes[k].end), 2);
        assert_true(count >= 3);
        /* the spectrum is noisy: its peak is where a mean over 700 Hz is largest */
        int best = 50;
        double most = 0;
        for (int b = 40; b < 400; b++) {
            double sum = 0;
            for (int d = -7; d <= 7; d++)
                sum += power[b + d];
            if (sum > most) {
                most = sum;
                best = b;
            }
        }
        char what[80];
        snprintf(what, sizeof what, "peak of an s asked for at %.0f Hz", own[i]);
        figure_within("Singer", what, best * t.rate / 1024 / own[i], 1, 0.12, "of it", "requirement");
        figure_within("Singer", "level of an s to the vowels", 10 * log10(level / count / (vowels / notes)), -10, 4,
                      "dB", "common practice");
        singer_free(&t);
    }
}

/* ---- faults ---- */

static void gain_moves_everything(void **state)
{
    (void)state;
    const SingerSpec spec = {
        .seed = 1, .seconds = 8, .hiss_db = -40, .hum_hz = 50, .breath_db = -20, .pops = 2, .clicks = 3};
    SingerSpec quiet = spec;
    quiet.gain_db = -24;
    SingerTake a = sing(spec), b = sing(quiet);
    double worst = 0;
    for (uint32_t i = 0; i < a.frames; i++)
        worst = fmax(worst, fabs(b.audio[i] - a.audio[i] * 0.0630957));
    assert_true(worst < 1e-6);
    assert_true(fabs(b.voice_level_db - (-42)) < 0.01);
    singer_free(&a);
    singer_free(&b);
}

static void clipping_is_counted(void **state)
{
    (void)state;
    const SingerSpec spec = {.seed = 1, .seconds = 8, .gain_db = 15};
    SingerSpec clipping = spec;
    clipping.clip = true;
    SingerTake a = sing(spec), b = sing(clipping);
    uint32_t over = 0, full = 0;
    for (uint32_t i = 0; i < a.frames; i++) {
        over += fabsf(a.audio[i]) > 1;
        full += fabsf(b.audio[i]) == 1;
    }
    assert_true(over > 100);
    assert_int_equal(b.clipped, over);
    assert_true(full >= over && peak(b.audio, b.frames) == 1);
    assert_memory_equal(a.voice, b.voice, a.frames * sizeof(float));
    singer_free(&a);
    singer_free(&b);
}

static void uneven_phrases_are_off_by_what_is_told(void **state)
{
    (void)state;
    static const double own[] = {3, -5};
    const SingerSpec specs[] = {{.seed = 3, .uneven_db = 8}, {.seed = 3, .phrase_db = own, .phrase_db_count = 2}};
    SingerTake even = sing((SingerSpec){.seed = 3});
    double first = 0;
    for (size_t p = 0; p < even.phrase_count; p++) { /* without the fault phrases are alike */
        const SingerSpan *s = &even.phrases[p];
        const double level = db(span_rms(&even, even.voice, s->start, s->end));
        first = p ? first : level;
        assert_true(fabs(level - first) < 0.05);
    }
    for (int k = 0; k < 2; k++) {
        SingerTake t = sing(specs[k]);
        double low = 99, high = -99;
        for (size_t p = 0; p < t.phrase_count; p++) {
            const SingerSpan *s = &t.phrases[p];
            const double off =
                db(span_rms(&t, t.voice, s->start, s->end) / span_rms(&even, even.voice, s->start, s->end));
            assert_true(fabs(off - s->db) < 0.01);
            assert_true(k == 0 || s->db == own[p % 2]);
            low = fmin(low, off);
            high = fmax(high, off);
        }
        assert_true(k == 1 || (fabs(low + 8) < 0.01 && fabs(high - 8) < 0.01));
        singer_free(&t);
    }
    singer_free(&even);
}

static void added_rests_leave_the_phrases(void **state)
{
    (void)state;
    const SingerSpec spec = {.voice = SINGER_SPOKEN_HIGH, .seed = 3, .seconds = 15};
    SingerSpec longer = spec;
    longer.rest_seconds = 4;
    SingerTake a = sing(spec), b = sing(longer);
    assert_int_equal(a.phrase_count, b.phrase_count);
    assert_int_equal(b.frames, a.frames + (a.phrase_count - 1) * 4 * 48000);
    for (size_t p = 0; p < a.phrase_count; p++) {
        const size_t from = (size_t)lrint(a.phrases[p].start * a.rate), to = (size_t)lrint(b.phrases[p].start * b.rate);
        const size_t n = (size_t)((a.phrases[p].end - a.phrases[p].start) * a.rate);
        assert_memory_equal(a.voice + from, b.voice + to, n * sizeof(float));
    }
    for (size_t r = 0; r < b.rest_count; r++) /* 80 ms after a phrase nothing rings any more */
        if (b.rests[r].end - b.rests[r].start > 0.2)
            assert_true(span_rms(&b, b.voice, b.rests[r].start + 0.1, b.rests[r].end) == 0);
    singer_free(&a);
    singer_free(&b);
}

static void boxy_resonances_are_bells(void **state)
{
    (void)state;
    const SingerSpec spec = {.voice = SINGER_BARITONE, .seed = 2, .seconds = 20};
    SingerSpec boxy = spec;
    boxy.boxy[0] = (SingerBell){300, 10, 5};
    boxy.boxy[1] = (SingerBell){900, 6, 0};
    SingerTake a = sing(spec), b = sing(boxy);
    Spectrum sa = spectrum_of(a.voice, a.frames, 16384, a.rate), sb = spectrum_of(b.voice, b.frames, 16384, b.rate);
    const double at[] = {300, 900, 4000}, expected[] = {10, 6, 0};
    for (int i = 0; i < 3; i++) {
        const double gain = spectrum_band(&sb, at[i] - 2, at[i] + 2) - spectrum_band(&sa, at[i] - 2, at[i] + 2);
        figure_within("Singer", "gain of a boxy resonance", gain, expected[i], 0.3, "dB", "computed");
    }
    spectrum_free(&sa);
    spectrum_free(&sb);
    singer_free(&a);
    singer_free(&b);
}

static void exploding_sibilants_are_raised_and_nothing_else(void **state)
{
    (void)state;
    const SingerSpec spec = {.voice = SINGER_SOPRANO, .seed = 2};
    SingerSpec fault = spec;
    fault.esses_db = 9;
    fault.esses_share = 0.4;
    SingerTake a = sing(spec), b = sing(fault);
    float *more = difference(&b, &a);
    size_t raised = 0;
    double inside = 0, least[2] = {100, 100}; /* unvoiced, voiced */
    for (size_t i = 0; i < b.sibilant_count; i++) {
        const SingerSound *s = &b.sibilants[i];
        const double over = db(span_rms(&b, b.voice, s->start, s->end) / span_rms(&a, a.voice, s->start, s->end));
        if (s->raised_db != 0) {
            raised++;
            /* the voice sounds on under z and zh, and at the borders: the whole rises by less */
            double *low = &least[s->kind == SINGER_Z || s->kind == SINGER_ZH];
            *low = fmin(*low, over);
            assert_true(over < 9.01);
            inside += pow(span_rms(&b, more, s->start - 0.001, s->end + 0.001), 2) * (s->end - s->start + 0.002);
        } else
            assert_true(over == 0);
    }
    assert_int_equal(raised, (size_t)lrint(0.4 * (double)b.sibilant_count));
    figure_at_least("Singer", "s sh ch raised by 9 dB: least rise, their borders with vowels too", least[0], 6.5, "dB",
                    "our own limit");
    figure_at_least("Singer", "z zh, with the voice under them: the same", least[1], 1, "dB", "our own limit");
    const double all = pow(rms(more, b.frames), 2) * b.frames / b.rate;
    assert_true(fabs(inside / all - 1) < 0.001);
    free(more);
    singer_free(&a);
    singer_free(&b);
}

static void pops_are_low(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.voice = SINGER_SPOKEN_LOW, .seed = 2, .pops = 5, .pop_db = 12});
    float *pops = added(&t);
    Spectrum s = spectrum_of(pops, t.frames, 8192, t.rate);
    figure_at_least("Singer", "share of a pop's energy under 200 Hz",
                    100 * pow(10, (spectrum_band(&s, 0, 200) - spectrum_band(&s, 0, 24000)) / 10), 95, "%",
                    "requirement");
    size_t popped = 0;
    for (size_t i = 0; i < t.plosive_count; i++) {
        const size_t at = (size_t)lrint(t.plosives[i].start * t.rate);
        const double most = peak(pops + at, (size_t)(0.15 * t.rate));
        if (t.plosives[i].raised_db == 0)
            continue;
        popped++;
        assert_true(fabs(db(most) - (-18 + 12)) < 1.0);
    }
    assert_int_equal(popped, 5);
    spectrum_free(&s);
    free(pops);
    singer_free(&t);
}

static void hum_is_where_it_is_told(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.seed = 2, .hum_hz = 60, .hum_db = -30, .hum_drift = 0.5, .hum_harmonics = 6});
    float *hum = added(&t);
    assert_true(fabs(db(rms(hum, t.frames)) - (-48)) < 0.1);
    double worst = 0;
    for (size_t i = 1; i < 29; i++) {
        const double hz = pitch_near(hum + i * 48000, 24000, 60, t.rate);
        worst = fmax(worst, fabs(hz / t.hum_hz[i * 100 + 25] - 1));
    }
    figure_at_most("Singer", "frequency of hum off the told track", 100 * worst, 0.005, "%", "requirement");
    Spectrum s = spectrum_of(hum, t.frames, 32768, t.rate);
    assert_true(spectrum_band(&s, 410, 24000) < -48 - 50);
    spectrum_free(&s);
    free(hum);
    singer_free(&t);
}

static void breath_stays_in_the_rests(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.seed = 2, .rest_seconds = 5, .seconds = 15, .breath_db = -20});
    float *breath = added(&t);
    assert_true(t.breath_count >= 2 * t.phrase_count - 1);
    for (size_t i = 0; i < t.breath_count; i++)
        assert_true(fabs(db(span_rms(&t, breath, t.breaths[i].start, t.breaths[i].end)) - (-38)) < 2);
    for (size_t p = 0; p < t.phrase_count; p++)
        assert_true(span_rms(&t, breath, t.phrases[p].start, t.phrases[p].end) == 0);
    Spectrum s = spectrum_of(breath, t.frames, 1024, t.rate);
    double most = -200, where = 0;
    for (double hz = 600; hz < 6000; hz += 47) {
        const double level = spectrum_band(&s, hz - 150, hz + 150);
        where = level > most ? hz : where;
        most = fmax(most, level);
    }
    figure_within("Singer", "peak of breath noise", where, 1650, 300, "Hz", "phonetics, from memory");
    spectrum_free(&s);
    free(breath);
    singer_free(&t);
}

static void clicks_lie_where_they_are_told(void **state)
{
    (void)state;
    SingerTake t = sing((SingerSpec){.seed = 2, .clicks = 25, .click_db = -10});
    float *clicks = added(&t);
    assert_int_equal(t.click_count, 25);
    for (size_t i = 0; i < t.click_count; i++) {
        const size_t at = (size_t)(t.clicks[i].start * t.rate),
                     n = (size_t)((t.clicks[i].end - t.clicks[i].start) * t.rate);
        assert_true(fabs(db(peak(clicks + at, n + 2)) - (-28)) < 3);
        memset(clicks + at, 0, (n + 2) * sizeof *clicks);
    }
    assert_true(peak(clicks, t.frames) == 0);
    free(clicks);
    singer_free(&t);
}

static void hiss_has_its_level(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        const double rate = (double[]){8000, 44100, 48000}[i];
        SingerTake t = sing((SingerSpec){.seed = 2, .rate = rate, .hiss_db = -45});
        float *hiss = added(&t);
        const double level = db(rms(hiss, t.frames));
        figure_within("Singer", "level of hiss", level, -63, 0.9, "dB", "requirement; wide: some rates need it");
        figure_within("Singer", "level of hiss, as the truth has it", t.hiss_level_db, level, 0.05, "dB", "measured");
        free(hiss);
        singer_free(&t);
    }
}

/* T30 as in ISO 3382-1: the backward integral of the answer to an impulse, from -5 to -35 dB. */
static double decay_time(const float *h, size_t n, double rate)
{
    double left = 0, t5 = 0, t35 = 0;
    double *energy = calloc(n, sizeof *energy);
    assert_non_null(energy);
    for (size_t i = n; i-- > 0;)
        energy[i] = left += (double)h[i] * h[i];
    for (size_t i = 0; i < n; i++) {
        const double level = 10 * log10(energy[i] / energy[0] + 1e-30);
        if (level > -5)
            t5 = (double)i / rate;
        if (level > -35)
            t35 = (double)i / rate;
    }
    free(energy);
    return 2 * (t35 - t5);
}

static void a_room_has_its_decay_time(void **state)
{
    (void)state;
    static const double times[] = {0.3, 0.8, 2};
    for (int i = 0; i < 3; i++) {
        const double rate = 48000;
        const size_t n = (size_t)(rate * (2 * times[i] + 0.2));
        float *dry = calloc(n, sizeof *dry), *wet = calloc(n, sizeof *wet);
        assert_non_null(dry);
        assert_non_null(wet);
        dry[0] = 1;
        assert_true(room_add(rate, times[i], -9, dry, wet, n));
        figure_within("Singer", "energy of the room to the direct sound", db(rms(wet, n) * sqrt((double)n)), -9, 0.005,
                      "dB", "ours; required: 0.1");
        for (int pass = 0; pass < 2; pass++) {
            Colour octave = colour_band(500, 1.4, rate);
            colour_run(&octave, wet, n);
        }
        char what[64];
        snprintf(what, sizeof what, "decay time of a room of %.1f s, T30 near 500 Hz", times[i]);
        figure_within("Singer", what, decay_time(wet, n, rate) / times[i], 1, 0.08, "of it", "ISO 3382-1:2009");
        free(dry);
        free(wet);
    }
}

static void a_voice_in_a_room_keeps_its_truth(void **state)
{
    (void)state;
    const SingerSpec spec = {.seed = 4, .seconds = 10};
    SingerSpec room = spec;
    room.room_seconds = 0.9;
    room.room_db = -3;
    SingerTake a = sing(spec), b = sing(room);
    assert_memory_equal(a.voice, b.voice, a.frames * sizeof(float));
    float *wet = added(&b);
    assert_true(db(rms(wet, b.frames)) - db(rms(b.voice, b.frames)) > -8);
    free(wet);
    singer_free(&a);
    singer_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_seed_alone_decides),
        cmocka_unit_test(random_numbers_are_those_of_pcg32),
        cmocka_unit_test(a_faultless_recording_is_the_voice),
        cmocka_unit_test(the_level_is_the_one_asked_for),
        cmocka_unit_test(the_level_meter_gates),
        cmocka_unit_test(any_rate_and_length),
        cmocka_unit_test(what_cannot_be_sung_is_refused),
        cmocka_unit_test(a_take_spans_its_range),
        cmocka_unit_test(a_ladder_has_every_step),
        cmocka_unit_test(the_pitch_is_as_told),
        cmocka_unit_test(sung_notes_hold_their_pitch),
        cmocka_unit_test(the_source_does_not_alias),
        cmocka_unit_test(sibilants_are_fricative_noise),
        cmocka_unit_test(gain_moves_everything),
        cmocka_unit_test(clipping_is_counted),
        cmocka_unit_test(uneven_phrases_are_off_by_what_is_told),
        cmocka_unit_test(added_rests_leave_the_phrases),
        cmocka_unit_test(boxy_resonances_are_bells),
        cmocka_unit_test(exploding_sibilants_are_raised_and_nothing_else),
        cmocka_unit_test(pops_are_low),
        cmocka_unit_test(hum_is_where_it_is_told),
        cmocka_unit_test(breath_stays_in_the_rests),
        cmocka_unit_test(clicks_lie_where_they_are_told),
        cmocka_unit_test(hiss_has_its_level),
        cmocka_unit_test(a_room_has_its_decay_time),
        cmocka_unit_test(a_voice_in_a_room_keeps_its_truth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
