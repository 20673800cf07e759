#include "singer.h"

#include "colour.h"
#include "noises.h"
#include "phrase.h"
#include "room.h"

#include "dsp.h"
#include "seeds.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    STREAM_UNEVEN = 4,
    STREAM_HISS = 5,
    STREAM_HUM = 6,
    STREAM_CLICKS = 7,
    STREAM_BREATHS = 1u << 24,
    STREAM_POP = 1u << 25
};

#define BREATH_EVERY 3.0  /* s: in a long rest a person breathes more than once */
#define TRUTH_STEP   0.01 /* s between points of a track of truth */

typedef struct {
    const SingerSpec *spec;
    SingerTake *take;
    Score score;
    Singing singing;
    uint32_t flat_frames; /* without added rests */
    float *flat, *raised; /* the faultless voice without added rests; what explodes on top */
    double *phrase_db;
    double reference; /* linear RMS of the faultless voice, gain in it */
} Session;

static double from_db(double db)
{
    return pow(10, db / 20);
}

static double or_else(double value, double otherwise)
{
    return value != 0 ? value : otherwise;
}

static bool within(double x, double lo, double hi)
{
    return x >= lo && x <= hi; /* NaN is not */
}

static bool notes_ok(const SingerSpec *s)
{
    double low, high;
    singer_range(s->voice, &low, &high);
    low = or_else(s->low_note, low);
    high = or_else(s->high_note, high);
    return within(low, 20, 100) && within(high, low, 100) && within(s->transpose, -48, 48);
}

static bool spec_ok(const SingerSpec *s)
{
    bool ok = (unsigned)s->voice < SINGER_VOICES && notes_ok(s);
    ok = ok && (s->rate == 0 || within(s->rate, 8000, 192000));
    ok = ok && (s->seconds == 0 || within(s->seconds, 0.5, 21600));
    ok = ok && within(s->level_db, -100, 20);
    ok = ok && (s->sibilant_hz == 0 || within(s->sibilant_hz, 4000, 9000)) && within(s->vibrato_cents, -1e6, 400);
    ok = ok && within(s->gain_db, -100, 60) && within(s->uneven_db, 0, 40) && within(s->rest_seconds, 0, 600);
    for (int b = 0; b < SINGER_BOXY; b++)
        ok = ok && within(s->boxy[b].hz, 0, 20000) && within(s->boxy[b].db, -40, 40) && within(s->boxy[b].q, 0, 100);
    ok = ok && within(s->esses_db, -60, 40) && within(s->esses_share, 0, 1) && within(s->pop_db, -60, 40);
    ok = ok && (s->hum_hz == 0 || within(s->hum_hz, 20, 400)) && within(s->hum_db, -120, 20);
    ok = ok && within(s->hum_drift, 0, 10) && within(s->breath_db, -120, 20) && within(s->click_db, -60, 40);
    ok = ok && (s->room_seconds == 0 || within(s->room_seconds, 0.1, 10)) && within(s->room_db, -60, 20);
    return ok && within(s->hiss_db, -120, 20) && s->hum_harmonics <= 64 && s->clicks <= 1000000;
}

/* ---- where things lie ---- */

static uint32_t flat_start(const Session *s, size_t phrase)
{
    return (uint32_t)lrint(s->score.phrases[phrase].start * s->take->rate);
}

static uint32_t phrase_start(const Session *s, size_t phrase)
{
    return flat_start(s, phrase) + (uint32_t)lrint((double)phrase * s->spec->rest_seconds * s->take->rate);
}

static double phrase_time(const Session *s, size_t phrase)
{
    return phrase_start(s, phrase) / s->take->rate;
}

/* ---- the voice ---- */

static double longest_phrase(const Score *score)
{
    double longest = 0;
    for (size_t p = 0; p < score->phrase_count; p++)
        longest = fmax(longest, score->phrases[p].length);
    return longest;
}

/* The pitch as sung, vibrato included, where the voice sounds. */
static void note_pitch(Session *s, size_t phrase)
{
    const Singing *g = &s->singing;
    const double start = phrase_time(s, phrase), length = s->score.phrases[phrase].length;
    for (size_t i = (size_t)ceil(start / TRUTH_STEP); i < s->take->f0_count; i++) {
        const double at = (double)i * TRUTH_STEP - start;
        const size_t k = (size_t)(at * s->take->rate / g->tick + 0.5);
        if (at > length || k >= g->ticks)
            break;
        s->take->f0[i] = g->track[TRACK_LOUDNESS][k] > 0.15f ? g->track[TRACK_PITCH][k] : 0.f;
    }
}

static void sing_flat(Session *s)
{
    for (size_t p = 0; p < s->score.phrase_count; p++) {
        singing_phrase(&s->singing, &s->score, (uint32_t)p);
        const uint32_t at = flat_start(s, p);
        for (size_t i = 0; i < s->singing.n && at + i < s->flat_frames; i++) {
            s->flat[at + i] += s->singing.voice[i];
            s->raised[at + i] += s->singing.raised[i];
        }
        note_pitch(s, p);
    }
}

/* Sets the level and moves the phrases apart. */
static void place_phrases(Session *s)
{
    SingerTake *t = s->take;
    const double now = singer_level_db(s->flat, s->flat_frames, t->rate);
    const double scale = now > -200 ? s->reference / from_db(now) : 0;
    for (size_t p = 0; p < s->score.phrase_count; p++) {
        const float gain = (float)(scale * from_db(s->phrase_db[p]));
        const uint32_t from = flat_start(s, p), to = phrase_start(s, p);
        const uint32_t end = p + 1 < s->score.phrase_count ? flat_start(s, p + 1) : s->flat_frames;
        for (uint32_t i = from; i < end; i++)
            t->voice[to + i - from] = gain * (s->flat[i] + s->raised[i]);
    }
    for (int b = 0; b < SINGER_BOXY; b++) {
        const SingerBell *bell = &s->spec->boxy[b];
        if (bell->hz <= 0)
            continue;
        Colour c = colour_bell(bell->hz, bell->db, or_else(bell->q, 4), t->rate);
        colour_run(&c, t->voice, t->frames);
    }
    t->voice_level_db = singer_level_db(t->voice, t->frames, t->rate);
}

/* Evenly spaced gains in random order. */
static void choose_phrase_gains(Session *s)
{
    const size_t count = s->score.phrase_count;
    Random random = random_stream(s->spec->seed, STREAM_UNEVEN);
    for (size_t p = 0; p < count; p++)
        s->phrase_db[p] =
            s->spec->uneven_db * (count > 1 ? 2.0 * (double)p / (double)(count - 1) - 1 : 1) + 0.0; /* no -0 */
    for (size_t p = count; p-- > 1;) {
        const size_t other = random_below(&random, (uint32_t)p + 1);
        const double db = s->phrase_db[p];
        s->phrase_db[p] = s->phrase_db[other];
        s->phrase_db[other] = db;
    }
    for (size_t p = 0; s->spec->phrase_db && s->spec->phrase_db_count && p < count; p++)
        s->phrase_db[p] = s->spec->phrase_db[p % s->spec->phrase_db_count];
}

/* ---- the truth about it ---- */

static SingerSound sound_of(const Session *s, const Syllable *y, double start, double raised_db)
{
    const ConsonantTraits *k = consonant_traits(y->consonant);
    const double own = or_else(s->spec->sibilant_hz, s->singing.traits->sibilant_hz);
    return (SingerSound){start + y->noise, start + y->vowel_start, y->consonant, k->centre_hz > 0 ? k->centre_hz : own,
                         raised_db};
}

static void tell_syllable(Session *s, const Syllable *y, uint32_t phrase)
{
    SingerTake *t = s->take;
    const double at = phrase_time(s, phrase);
    const ConsonantTraits *k = consonant_traits(y->consonant);
    const double hz = 440 * exp2((y->midi - 69) / 12);
    t->notes[t->note_count++] = (SingerNote){
        at + y->start, at + y->end, at + y->vowel_start + k->breath, y->midi, hz, y->vowel, y->consonant, phrase};
    t->lowest_hz = t->note_count > 1 ? fmin(t->lowest_hz, hz) : hz;
    t->highest_hz = fmax(t->highest_hz, hz);
    if (k->onset == ONSET_SIBILANT)
        t->sibilants[t->sibilant_count++] = sound_of(s, y, at, y->raised_db);
    if (k->onset == ONSET_FRICATIVE)
        t->fricatives[t->fricative_count++] = sound_of(s, y, at, 0);
    if (k->onset == ONSET_PLOSIVE)
        t->plosives[t->plosive_count++] = sound_of(s, y, at, y->popped_db);
}

static void tell_score(Session *s)
{
    SingerTake *t = s->take;
    const double length = t->frames / t->rate;
    double silent_since = 0;
    for (uint32_t p = 0; p < s->score.phrase_count; p++) {
        const ScorePhrase *phrase = &s->score.phrases[p];
        const double start = phrase_time(s, p);
        t->phrases[t->phrase_count++] = (SingerSpan){start, start + phrase->length, s->phrase_db[p]};
        t->rests[t->rest_count++] = (SingerSpan){silent_since, start, 0};
        silent_since = start + phrase->length;
        for (size_t i = 0; i < phrase->count; i++)
            tell_syllable(s, &s->score.syllables[phrase->first + i], p);
    }
    t->rests[t->rest_count++] = (SingerSpan){silent_since, length, 0};
}

/* ---- what the recording adds ---- */

static Recording recording(const SingerTake *t)
{
    return (Recording){t->audio, t->frames, t->rate};
}

/* One breath right before each phrase, more of them in a long rest, in time for the phrase. */
static void breathe(Session *s, const SingerSpan *rest, Random *random)
{
    SingerTake *t = s->take;
    double end = rest->end - 0.04;
    for (;;) {
        const double length = fmin(random_between(random, 0.3, 0.5), 0.7 * (rest->end - rest->start));
        const double start = end - length;
        if (start < rest->start + 0.05)
            return;
        const Random own = random_stream(s->spec->seed, STREAM_BREATHS + t->breath_count);
        add_breath(recording(t), start, end, s->reference * from_db(s->spec->breath_db), own);
        t->breaths[t->breath_count++] = (SingerSpan){start, end, s->spec->breath_db};
        end -= BREATH_EVERY * random_between(random, 0.8, 1.2);
    }
}

static size_t most_breaths(const Session *s)
{
    const double each = BREATH_EVERY * 0.8;
    const double rests = (double)s->score.phrase_count + 1;
    return (size_t)(rests * 2 + s->take->frames / s->take->rate / each);
}

static void add_breaths(Session *s)
{
    Random random = random_stream(s->spec->seed, STREAM_BREATHS - 1);
    for (size_t r = 0; s->spec->breath_db != 0 && r + 1 < s->take->rest_count; r++)
        breathe(s, &s->take->rests[r], &random);
}

static void add_clicks(Session *s)
{
    SingerTake *t = s->take;
    Random random = random_stream(s->spec->seed, STREAM_CLICKS);
    const double length = t->frames / t->rate;
    for (unsigned c = 0; c < s->spec->clicks; c++) {
        const double at = length * (c + random_between(&random, 0.1, 0.9)) / s->spec->clicks;
        const double lasts = random_between(&random, 0.001, 0.004);
        const double db = or_else(s->spec->click_db, -6);
        add_click(recording(t), at, lasts, s->reference * from_db(db),
                  random_stream(random_bits(&random), STREAM_CLICKS));
        t->clicks[t->click_count++] = (SingerSpan){at, at + lasts, db};
    }
}

static void add_pops(Session *s)
{
    SingerTake *t = s->take;
    for (size_t i = 0; i < t->plosive_count; i++)
        if (t->plosives[i].raised_db != 0)
            add_pop(recording(t), t->plosives[i].start, s->reference * from_db(t->plosives[i].raised_db),
                    random_stream(s->spec->seed, STREAM_POP + i));
}

static void add_steady_noise(Session *s)
{
    const SingerSpec *spec = s->spec;
    SingerTake *t = s->take;
    t->hiss_level_db = -200;
    if (spec->hiss_db != 0)
        t->hiss_level_db = 20 * log10(add_hiss(recording(t), s->reference * from_db(spec->hiss_db),
                                               random_stream(spec->seed, STREAM_HISS)));
    if (spec->hum_hz <= 0)
        return;
    const unsigned harmonics = spec->hum_harmonics ? spec->hum_harmonics : 10;
    add_hum(recording(t), spec->hum_hz, spec->hum_drift / 100, harmonics,
            s->reference * from_db(or_else(spec->hum_db, -40)), random_stream(spec->seed, STREAM_HUM));
    for (size_t i = 0; i < t->hum_count; i++)
        t->hum_hz[i] = (float)hum_frequency(spec->hum_hz, spec->hum_drift / 100, (double)i * TRUTH_STEP);
}

static void clip(SingerTake *t)
{
    for (uint32_t i = 0; i < t->frames; i++)
        if (fabsf(t->audio[i]) > 1.f) {
            t->audio[i] = t->audio[i] > 0 ? 1.f : -1.f;
            t->clipped++;
        }
}

static bool record(Session *s)
{
    SingerTake *t = s->take;
    const SingerSpec *spec = s->spec;
    memcpy(t->audio, t->voice, t->frames * sizeof *t->audio);
    if (spec->room_seconds > 0 &&
        !room_add(t->rate, spec->room_seconds, or_else(spec->room_db, -6), t->voice, t->audio, t->frames))
        return false;
    add_steady_noise(s);
    add_breaths(s);
    add_pops(s);
    add_clicks(s);
    if (spec->clip)
        clip(t);
    return true;
}

/* ---- the whole ---- */

static bool make_room(Session *s)
{
    SingerTake *t = s->take;
    const Score *score = &s->score;
    const size_t notes = score->syllable_count + 1, phrases = score->phrase_count;
    const double added = phrases > 1 ? (double)(phrases - 1) * s->spec->rest_seconds : 0;
    const double frames = ceil(score->seconds * t->rate) + ceil(added * t->rate);
    if (frames > UINT32_MAX)
        return false;
    t->frames = (uint32_t)frames;
    s->flat_frames = (uint32_t)ceil(score->seconds * t->rate);
    t->f0_count = (size_t)ceil(t->frames / t->rate / TRUTH_STEP);
    t->hum_count = s->spec->hum_hz > 0 ? t->f0_count : 0;

    s->flat = calloc(s->flat_frames, sizeof(float));
    s->raised = calloc(s->flat_frames, sizeof(float));
    s->phrase_db = calloc(phrases + 1, sizeof(double));
    t->audio = calloc(t->frames, sizeof(float));
    t->voice = calloc(t->frames, sizeof(float));
    t->f0 = calloc(t->f0_count, sizeof(float));
    t->hum_hz = t->hum_count ? calloc(t->hum_count, sizeof(float)) : NULL;
    t->notes = calloc(notes, sizeof *t->notes);
    t->sibilants = calloc(notes, sizeof *t->sibilants);
    t->fricatives = calloc(notes, sizeof *t->fricatives);
    t->plosives = calloc(notes, sizeof *t->plosives);
    t->phrases = calloc(phrases + 1, sizeof *t->phrases);
    t->rests = calloc(phrases + 1, sizeof *t->rests);
    t->breaths = calloc(most_breaths(s), sizeof *t->breaths);
    t->clicks = calloc(s->spec->clicks + 1, sizeof *t->clicks);
    return s->flat && s->raised && s->phrase_db && t->audio && t->voice && t->f0 && (t->hum_hz || !t->hum_count) &&
           t->notes && t->sibilants && t->fricatives && t->plosives && t->phrases && t->rests && t->breaths &&
           t->clicks && singing_init(&s->singing, s->spec, t->rate, longest_phrase(score));
}

static bool perform(Session *s)
{
    if (!score_write(&s->score, s->spec) || !make_room(s))
        return false;
    s->reference = from_db(or_else(s->spec->level_db, -18) + s->spec->gain_db);
    choose_phrase_gains(s);
    sing_flat(s);
    place_phrases(s);
    tell_score(s);
    return record(s);
}

bool singer_sing(const SingerSpec *spec, SingerTake *take)
{
    memset(take, 0, sizeof *take);
    if (!spec_ok(spec))
        return false;
    SingerSpec shifted = *spec;
    shifted.seed += seeds_added();
    Session s = {.spec = &shifted, .take = take};
    take->rate = or_else(spec->rate, 48000);
    const bool ok = perform(&s);
    singing_done(&s.singing);
    score_free(&s.score);
    free(s.flat);
    free(s.raised);
    free(s.phrase_db);
    if (!ok)
        singer_free(take);
    return ok;
}

void singer_free(SingerTake *take)
{
    free(take->audio);
    free(take->voice);
    free(take->notes);
    free(take->phrases);
    free(take->rests);
    free(take->sibilants);
    free(take->fricatives);
    free(take->plosives);
    free(take->breaths);
    free(take->clicks);
    free(take->f0);
    free(take->hum_hz);
    memset(take, 0, sizeof *take);
}
