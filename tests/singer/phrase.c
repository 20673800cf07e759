#include "phrase.h"

#include "colour.h"
#include "dsp.h"
#include "tract.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TICK         0.002
#define LEVELLING    0.75  /* how much of the difference between notes a singer evens out */
#define ASPIRATION   0.12  /* linear, in the source */
#define FRICTION_IN  0.03  /* s: how long friction takes to come and to go */
#define CLUSTER_ROOM 180.0 /* Hz: least distance between formants */

enum { STREAM_SOURCE = 1000, STREAM_NOISE = 100000 };

bool singing_init(Singing *s, const SingerSpec *spec, double rate, double longest)
{
    memset(s, 0, sizeof *s);
    s->spec = spec;
    s->traits = voice_traits(spec->voice);
    s->rate = rate;
    s->tick = (uint32_t)fmax(1, round(TICK * rate));
    s->room = (size_t)ceil((longest + PHRASE_TAIL) * rate) + 1;
    s->tick_room = s->room / s->tick + 1;
    corners_make(&s->corners);
    s->voice = malloc(s->room * sizeof(float));
    s->raised = malloc(s->room * sizeof(float));
    s->scratch = malloc(s->tick_room * sizeof(float));
    bool ok = s->voice && s->raised && s->scratch;
    for (int t = 0; t < TRACKS; t++)
        ok = (s->track[t] = malloc(s->tick_room * sizeof(float))) && ok;
    return ok;
}

void singing_done(Singing *s)
{
    free(s->voice);
    free(s->raised);
    free(s->scratch);
    for (int t = 0; t < TRACKS; t++)
        free(s->track[t]);
    memset(s, 0, sizeof *s);
}

/* ---- the tracks: first in steps, then smoothed ---- */

static size_t tick_of(const Singing *s, double seconds)
{
    const double tick = fmax(0, round(seconds * s->rate / s->tick));
    return tick < (double)s->ticks ? (size_t)tick : s->ticks;
}

static void draw(Singing *s, Track track, double start, double end, double value)
{
    for (size_t k = tick_of(s, start), stop = tick_of(s, end); k < stop; k++)
        s->track[track][k] = (float)value;
}

/* A mean over `seconds`, centred; the ends are held. */
static void average(Singing *s, float *x, double seconds)
{
    const long half = lrint(seconds * s->rate / s->tick / 2), last = (long)s->ticks - 1;
    double sum = 0;
    for (long k = -half; k <= half; k++)
        sum += x[k < 0 ? 0 : k > last ? last : k];
    for (long k = 0; k <= last; k++) {
        s->scratch[k] = (float)(sum / (double)(2 * half + 1));
        const long in = k + half + 1, out = k - half;
        sum += x[in > last ? last : in] - x[out < 0 ? 0 : out];
    }
    memcpy(x, s->scratch, s->ticks * sizeof *x);
}

static void smooth(Singing *s, Track track, double seconds)
{
    average(s, s->track[track], seconds);
    average(s, s->track[track], seconds);
}

static void draw_syllable(Singing *s, const Syllable *y)
{
    const ConsonantTraits *k = consonant_traits(y->consonant);
    const double scale = s->traits->woman ? 1.15 : 1;
    double vowel[FORMANTS];
    singer_formants(s->spec->voice, y->vowel, vowel);
    const double sounds = y->vowel_start + k->breath;

    draw(s, TRACK_PITCH, y->start, y->end, y->midi);
    draw(s, TRACK_GAIN, y->start, y->end, y->accent_db);
    draw(s, TRACK_LOUDNESS, y->start, sounds, k->voicing);
    draw(s, TRACK_LOUDNESS, sounds, y->end, 1);
    draw(s, TRACK_BREATH, y->vowel_start, sounds, ASPIRATION);
    for (int f = 0; f < FORMANTS; f++) {
        const bool pulled = k->onset != ONSET_NONE;
        draw(s, (Track)(TRACK_F1 + f), y->start, y->vowel_start, pulled ? k->locus[f] * scale : vowel[f]);
        draw(s, (Track)(TRACK_F1 + f), y->vowel_start, y->end, vowel[f]);
    }
}

/* Vibrato sets in a little after the note; the pitch of any voice wanders slightly. */
static void sway(Singing *s, const Syllable *y, size_t count, Random *random)
{
    const double cents = s->spec->vibrato_cents > 0   ? s->spec->vibrato_cents
                         : s->spec->vibrato_cents < 0 ? 0
                                                      : s->traits->vibrato_cents;
    const double hz = s->traits->vibrato_hz > 0 ? s->traits->vibrato_hz : 5.5;
    double phase = random_unit(random), wander = 0;
    size_t at = 0;
    for (size_t k = 0; k < s->ticks; k++) {
        const double now = (double)k * s->tick / s->rate;
        while (at + 1 < count && now >= y[at + 1].start)
            at++;
        const double grown = fmin(1, fmax(0, (now - y[at].vowel_start - 0.1) / 0.25));
        phase += hz * (1 + 0.05 * wander) * s->tick / s->rate;
        wander += (2 * random_unit(random) - 1) * 0.15 - wander * 0.02;
        s->track[TRACK_PITCH][k] += (float)((cents * grown * sin(2 * DSP_PI * phase) + 4 * wander) / 100);
    }
}

/* A sung vowel's first formant does not stay under the fundamental: the mouth opens. */
static void open_mouth(Singing *s)
{
    float *const *t = s->track;
    for (size_t k = 0; k < s->ticks; k++) {
        t[TRACK_PITCH][k] = 440.f * exp2f((t[TRACK_PITCH][k] - 69.f) / 12.f);
        t[TRACK_F1][k] = fmaxf(t[TRACK_F1][k], t[TRACK_PITCH][k]);
        t[TRACK_F2][k] = fmaxf(t[TRACK_F2][k], t[TRACK_F1][k] + (float)CLUSTER_ROOM);
        t[TRACK_F3][k] = fmaxf(t[TRACK_F3][k], t[TRACK_F2][k] + (float)CLUSTER_ROOM);
    }
}

static double raised_cosine(double x)
{
    return x <= 0 ? 0 : x >= 1 ? 1 : 0.5 - 0.5 * cos(DSP_PI * x);
}

/* The last vowel is let go, not cut. */
static void fade_out(Singing *s, double end)
{
    const double length = s->traits->sung ? 0.15 : 0.07;
    for (size_t k = 0; k < s->ticks; k++)
        s->track[TRACK_LOUDNESS][k] *= (float)raised_cosine((end - (double)k * s->tick / s->rate) / length);
}

static void draw_tracks(Singing *s, const Syllable *y, size_t count, Random *random)
{
    for (int t = 0; t < TRACKS; t++)
        memset(s->track[t], 0, s->ticks * sizeof(float));
    for (size_t i = 0; i < count; i++)
        draw_syllable(s, &y[i]);
    const size_t end = tick_of(s, y[count - 1].end);
    const Track held[] = {TRACK_PITCH, TRACK_GAIN, TRACK_F1, TRACK_F2, TRACK_F3};
    for (size_t h = 0; h < sizeof held / sizeof *held; h++)
        for (size_t k = end; k < s->ticks; k++)
            s->track[held[h]][k] = s->track[held[h]][end - 1];

    draw(s, TRACK_LOUDNESS, 0, 0.012, 0);
    smooth(s, TRACK_PITCH, s->traits->sung ? 0.05 : 0.07);
    smooth(s, TRACK_LOUDNESS, 0.016);
    fade_out(s, y[count - 1].end);
    smooth(s, TRACK_BREATH, 0.012);
    smooth(s, TRACK_GAIN, 0.06);
    for (int f = 0; f < FORMANTS; f++)
        smooth(s, (Track)(TRACK_F1 + f), 0.03);
    sway(s, y, count, random);
    open_mouth(s);
}

/* ---- voice ---- */

static double from_db(double db)
{
    return pow(10, db / 20);
}

/* All formants at a tick: the moving three, this voice's own two, then those of a plain tube. */
static void formants_at(const Singing *s, size_t k, double hz[TRACT_POLES], double width[TRACT_POLES])
{
    const double tube = s->traits->woman ? 1150 : 1000;
    const double widths[] = {70, 90, 140, 220, 320};
    const double wide = s->traits->woman ? 1.25 : 1;
    for (int f = 0; f < FORMANTS; f++)
        hz[f] = s->track[TRACK_F1 + f][k];
    hz[3] = fmax(s->traits->upper[0], hz[2] + CLUSTER_ROOM);
    hz[4] = fmax(s->traits->upper[1], hz[3] + CLUSTER_ROOM);
    for (int f = 5; f < TRACT_POLES; f++)
        hz[f] = fmax(hz[f - 1] + CLUSTER_ROOM, tube * (f + 0.5));
    for (int f = 0; f < TRACT_POLES; f++)
        width[f] = f < 5 ? widths[f] * wide : 0.09 * hz[f];
}

static void run_tract(Singing *s)
{
    Tract tract;
    tract_init(&tract, s->rate);
    for (size_t k = 0, at = 0; at < s->n; k++, at += s->tick) {
        double hz[TRACT_POLES], width[TRACT_POLES];
        formants_at(s, k, hz, width);
        tract_shape(&tract, hz, width);
        tract_run(&tract, s->voice + at, s->n - at < s->tick ? s->n - at : s->tick);
    }
}

static void run_body(Singing *s)
{
    Colour tilt = colour_fall(s->traits->tilt_hz, s->rate);
    colour_run(&tilt, s->voice, s->n);
    for (int b = 0; b < BODY_BELLS; b++) {
        const SingerBell *bell = &s->traits->body[b];
        if (bell->hz <= 0)
            continue;
        Colour c = colour_bell(bell->hz, bell->db, bell->q, s->rate);
        colour_run(&c, s->voice, s->n);
    }
}

static double rms_between(const Singing *s, double start, double end)
{
    const size_t from = (size_t)(start * s->rate), to = (size_t)(end * s->rate);
    double sum = 0;
    for (size_t i = from; i < to && i < s->n; i++)
        sum += (double)s->voice[i] * s->voice[i];
    return to > from ? sqrt(sum / (double)(to - from)) : 0;
}

/* Some vowels at some pitches come out far louder than others; a singer evens that out in part. */
static void level_notes(Singing *s, const Syllable *y, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const double sounds = y[i].vowel_start + consonant_traits(y[i].consonant)->breath;
        const double edge = 0.15 * (y[i].end - sounds);
        const double rms = rms_between(s, sounds + edge, y[i].end - edge);
        const double evened = rms > 0 ? from_db(y[i].accent_db) * pow(rms, -LEVELLING) : 1;
        draw(s, TRACK_GAIN, y[i].start, i + 1 < count ? y[i].end : (double)s->n / s->rate + 1, evened);
    }
    smooth(s, TRACK_GAIN, 0.04);
    for (size_t i = 0; i < s->n; i++) {
        const size_t k = i / s->tick, next = k + 1 < s->ticks ? k + 1 : k;
        const float f = (float)(i % s->tick) / (float)s->tick;
        s->voice[i] *= s->track[TRACK_GAIN][k] + f * (s->track[TRACK_GAIN][next] - s->track[TRACK_GAIN][k]);
    }
}

/* Puts the vowels at level 1, so that consonants find their place under them. */
static void scale_voice(Singing *s, const Syllable *y, size_t count)
{
    double energy = 0, time = 0;
    for (size_t i = 0; i < count; i++) {
        const double rms = rms_between(s, y[i].vowel_start, y[i].end);
        energy += rms * rms * (y[i].end - y[i].vowel_start);
        time += y[i].end - y[i].vowel_start;
    }
    const float scale = energy > 0 ? (float)sqrt(time / energy) : 1.f;
    for (size_t i = 0; i < s->n; i++)
        s->voice[i] *= scale;
}

/* ---- consonants ---- */

/* Friction comes and goes smoothly; a burst starts at once and dies away. */
static double noise_shape(const ConsonantTraits *k, double at, double length)
{
    if (k->onset == ONSET_PLOSIVE)
        return raised_cosine(at / 0.001) * exp(-3 * at / length);
    const double in = k->closure > 0 ? 0.01 : FRICTION_IN;
    return raised_cosine(at / in) * raised_cosine((length - at) / FRICTION_IN);
}

static double noise_centre(const Singing *s, const ConsonantTraits *k)
{
    const double own = s->spec->sibilant_hz > 0 ? s->spec->sibilant_hz : s->traits->sibilant_hz;
    return k->centre_hz > 0 ? k->centre_hz : own;
}

static void add_consonant(Singing *s, const Syllable *y, Random random)
{
    const ConsonantTraits *k = consonant_traits(y->consonant);
    if (k->onset != ONSET_PLOSIVE && k->onset != ONSET_FRICATIVE && k->onset != ONSET_SIBILANT)
        return;
    const double level = from_db(k->level_db + random_between(&random, -1.5, 1.5));
    const double raise = from_db(y->raised_db) - 1;
    NoiseBand noise = noise_band(noise_centre(s, k), k->q, k->onset == ONSET_SIBILANT ? SKIRTS_SIBILANT : SKIRTS_EVEN,
                                 s->rate, random);
    const double length = y->vowel_start - y->noise;
    const double drawn = k->onset == ONSET_PLOSIVE ? 2 * length : length;
    const size_t from = (size_t)ceil(y->noise * s->rate);
    for (size_t i = from; i < s->n && (double)i < (y->noise + drawn) * s->rate; i++) {
        const double at = (double)i / s->rate - y->noise;
        const double x = level * noise_shape(k, at, length) * noise_band_next(&noise);
        s->voice[i] += (float)x;
        s->raised[i] += (float)(raise * x);
    }
}

static void scale_phrase(Singing *s, double seconds)
{
    const double rms = rms_between(s, 0, seconds);
    const float scale = rms > 0 ? (float)(1 / rms) : 0.f;
    for (size_t i = 0; i < s->n; i++) {
        s->voice[i] *= scale;
        s->raised[i] *= scale;
    }
}

/* The last samples fade, so that no phrase ends on an edge. */
static void fade_end(Singing *s)
{
    const size_t length = (size_t)(0.02 * s->rate);
    for (size_t i = 0; i < length && i < s->n; i++)
        s->voice[s->n - 1 - i] *= (float)i / (float)length;
}

void singing_phrase(Singing *s, const Score *score, uint32_t number)
{
    const ScorePhrase *phrase = &score->phrases[number];
    const Syllable *y = &score->syllables[phrase->first];
    s->n = (size_t)ceil((phrase->length + PHRASE_TAIL) * s->rate);
    s->ticks = (s->n + s->tick - 1) / s->tick;
    memset(s->raised, 0, s->n * sizeof *s->raised);

    Random random = random_stream(s->spec->seed, STREAM_SOURCE + number);
    draw_tracks(s, y, phrase->count, &random);
    const GlottisTracks source = {s->track[TRACK_PITCH], s->track[TRACK_LOUDNESS], s->track[TRACK_BREATH], s->ticks,
                                  s->tick};
    const Glottis glottis = {s->traits->open, from_db(s->traits->breathiness), 1};
    glottis_sing(&glottis, &s->corners, &source, s->rate, &random, s->voice, s->n);
    run_tract(s);
    run_body(s);
    level_notes(s, y, phrase->count);
    scale_voice(s, y, phrase->count);
    for (size_t i = 0; i < phrase->count; i++)
        add_consonant(s, &y[i], random_stream(s->spec->seed, STREAM_NOISE + phrase->first + i));
    fade_end(s);
    scale_phrase(s, phrase->length);
}
