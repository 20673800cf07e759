/* Takes with every fault at once, through the repairs and the starter chain as render runs them: recorded voices
 * (tests/voices.h), spoken and turned into singing, and the invented singer, whose phrases are made even first and are
 * then moved up and down, popped, breathed between, clicked, put into a room, and laid under hum and noise. What comes
 * out is compared with what the clean take gives through the starter chain: level, sibilance, third octaves, each
 * phrase; and, of the repairs alone, how much noise and hum is left in the rests, beside what was asked for. Plate is
 * left out: it lays the same tail over both. Faults for which the bundle has no repair are not planted. A line per
 * take, then medians and worst.
 *
 * Judges only, whom no constant was set on: three who speak and a singer; LINCTUS_VOICES=judge asks all of them, sung
 * too, and --repair auto besides; "tune" so asks those that constants were set on. */
#include "runs.h"

#include "asked.h"
#include "design.h"
#include "figure.h"
#include "noises.h"
#include "room.h"
#include "spectrum.h"
#include "values.h"
#include "worded.h"

#define SECONDS  20.0
#define LONG     38.0 /* s: where all are asked; so long are songs that are there already */
#define LEAST    2.0  /* s: of a phrase */
#define UNEVEN   5.5  /* dB, to each side */
#define UNDER    35.0 /* dB: the noise under the voice, */
#define FAINT    75.0 /* that of the clean take, */
#define HUM      32.0 /* the hum, */
#define BREATH   12.0 /* a breath */
#define POP      15.0 /* dB: a pop over the voice, */
#define CLICK    0.0  /* a click: peaks */
#define ROOM_T60 0.4  /* s */
#define ROOM_DB  6.0  /* dB: the voice itself over what the room makes of it */
#define HUM_DOWN 30.0 /* dB: what is asked for */
#define LESS     10.0 /* dB: so does Floor the noise, and so does Rests what lies in the rests: their defaults */
#define EDGE     0.5  /* s after a phrase, in which its room dies away, and */
#define BEFORE   0.15 /* before one, that are no rest yet */
#define LONGER   1.0  /* s: so much longer are rests without a breath: 50 ms tell no hum from the noise that is left */
#define HIGHS    5000.0 /* Hz: where sibilance lies */
#define LOUD     0.05   /* share of the 10 ms that are sibilants: those with the most highs */
#define STRONG   30.0   /* dB under the strongest third octave: fainter ones are the room's and the noise's */

enum { POPS = 4, CLICKS = 16, HARMONICS = 10, GRAIN = 480, PHRASES = 100, GRAINS = 10000 };

typedef struct {
    Worded w;
    double level;                        /* of the words */
    float *clean, *faulty, *noise, *hum; /* the last two: as they were planted */
} Whole;

static struct {
    Values level, sibilance, octaves, phrases, noise, hum;
    Values came, alone; /* third octaves: of the faulty take, of what the repairs alone made of it */
    uint32_t takes;
} score[2]; /* repairs by name, and those that Check asked for */

/* Not only a few of them. */
static bool all_of_it(void)
{
    return asked_for("judge") || asked_for("tune") || asked_for("all");
}

/* ---- The bundle's repairs ---- */

static const char *const repair[] = {"hum", "pops", "ticks", "floor", "booth", "rests", "phrase"};

static bool has(const char *plugin)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/linctus.lv2/%s.ttl", every_build(), plugin);
    return access(path, F_OK) == 0;
}

static const char *all_repairs(void)
{
    static char list[128];
    *list = '\0';
    for (size_t i = 0; i < sizeof repair / sizeof *repair; ++i)
        if (has(repair[i]))
            snprintf(list + strlen(list), sizeof list - strlen(list), "%s%s", *list ? "," : "", repair[i]);
    return list;
}

/* ---- The take ---- */

static double power(const double *y, WordedSpan at)
{
    double sum = 1e-20;
    for (uint32_t i = at.from; i < at.to; ++i)
        sum += y[i] * y[i];
    return at.to > at.from ? sum / (at.to - at.from) : 1e-20;
}

static WordedSpan phrase_of(const Worded *w, uint32_t i)
{
    return (WordedSpan){i ? w->rest[i - 1].to : 0, i < w->rests ? w->rest[i].from : w->n};
}

/* Each phrase times a gain, up to the middles of the rests about it. */
static void move_phrase(const Worded *w, uint32_t i, float *x, double db)
{
    const uint32_t from = i ? (w->rest[i - 1].from + w->rest[i - 1].to) / 2 : 0,
                   to = i < w->rests ? (w->rest[i].from + w->rest[i].to) / 2 : w->n;
    for (uint32_t k = from; k < to; ++k)
        x[k] *= (float)db_to_gain(db);
}

static void make_even(Worded *w)
{
    double *const y = worded_weighted(w->words, w->n, RATE);
    for (uint32_t i = 0; i <= w->rests; ++i)
        move_phrase(w, i, w->words, w->level - power_to_db(power(y, phrase_of(w, i))));
    free(y);
}

/* Every second rest, which no breath lies in: silence in its middle. */
static void lengthen(Worded *w)
{
    const uint32_t more = (uint32_t)(LONGER * RATE), pieces = w->rests / 2;
    float *const words = every_floats(w->n + pieces * more);
    uint32_t done = 0, moved = 0;
    for (uint32_t i = 0; i < w->rests; ++i) {
        const WordedSpan r = w->rest[i];
        const uint32_t middle = (r.from + r.to) / 2;
        w->rest[i] = (WordedSpan){r.from + moved, r.to + moved + (i % 2 ? more : 0)};
        if (i % 2 == 0)
            continue;
        memcpy(words + done + moved, w->words + done, (middle - done) * sizeof *words);
        done = middle;
        moved += more;
    }
    memcpy(words + done + moved, w->words + done, (w->n - done) * sizeof *words);
    free(w->words);
    w->words = words;
    w->n += moved;
}

static Recording onto(const Whole *h, float *x)
{
    return (Recording){x, h->w.n, RATE};
}

static void plant_room(Whole *h)
{
    float *const wet = every_floats(h->w.n);
    double dry = 0.0, late = 1e-20;
    assert_true(room_add(RATE, ROOM_T60, 0.0, h->faulty, wet, h->w.n));
    for (uint32_t i = 0; i < h->w.n; ++i) {
        dry += (double)h->faulty[i] * (double)h->faulty[i];
        late += (double)wet[i] * (double)wet[i];
    }
    for (uint32_t i = 0; i < h->w.n; ++i)
        h->faulty[i] += (float)(sqrt(dry / late) * db_to_gain(-ROOM_DB)) * wet[i];
    free(wet);
}

/* A breath in every second rest, a pop at the beginning of the phrases behind the others, clicks anywhere. */
static void plant_moments(Whole *h, uint32_t seed)
{
    const Worded *w = &h->w;
    Random random = random_stream(seed, 3);
    for (uint32_t i = 0, popped = 0; i < w->rests; ++i) {
        const double end = w->rest[i].to / (double)RATE;
        if (i % 2 == 0)
            add_breath(onto(h, h->faulty), end - 0.41, end - 0.06, db_to_gain(h->level - BREATH),
                       random_stream(seed, 200 + i));
        else if (popped++ < POPS)
            add_pop(onto(h, h->faulty), end - 0.02, db_to_gain(h->level + POP), random_stream(seed, 300 + i));
    }
    for (uint32_t c = 0; has("ticks") && c < CLICKS; ++c) {
        const double at = (c + random_between(&random, 0.1, 0.9)) / CLICKS * w->n / RATE;
        add_click(onto(h, h->faulty), at, random_between(&random, 0.001, 0.004), db_to_gain(h->level + CLICK),
                  random_stream(seed, 100 + c));
    }
}

static void plant(Whole *h, uint32_t seed)
{
    Random random = random_stream(seed, 1);
    memcpy(h->faulty, h->w.words, h->w.n * sizeof *h->faulty);
    for (uint32_t i = 0; i <= h->w.rests; ++i)
        move_phrase(&h->w, i, h->faulty, i < 2 ? (i ? UNEVEN : -UNEVEN) : random_between(&random, -UNEVEN, UNEVEN));
    if (has("booth"))
        plant_room(h);
    plant_moments(h, seed);
    add_hiss(onto(h, h->noise), db_to_gain(h->level - UNDER), random_stream(seed, 5));
    add_hum(onto(h, h->hum), 50.0, 0.0, HARMONICS, db_to_gain(h->level - HUM), random_stream(seed, 4));
    for (uint32_t i = 0; i < h->w.n; ++i)
        h->faulty[i] += h->noise[i] + h->hum[i];
}

static void whole_make(Whole *h, const Spoken *words, uint32_t seed)
{
    worded_phrases(&h->w, words, LEAST, 0.0, FAINT, seed);
    lengthen(&h->w);
    make_even(&h->w);
    h->level = h->w.level;
    h->clean = every_floats(h->w.n);
    h->faulty = every_floats(h->w.n);
    h->noise = every_floats(h->w.n);
    h->hum = every_floats(h->w.n);
    add_hiss(onto(h, h->clean), db_to_gain(h->level - FAINT), random_stream(seed, 6));
    for (uint32_t i = 0; i < h->w.n; ++i)
        h->clean[i] += h->w.words[i];
    plant(h, seed);
}

static void whole_free(Whole *h)
{
    free(h->clean);
    free(h->faulty);
    free(h->noise);
    free(h->hum);
    worded_free(&h->w);
}

/* ---- What came out, beside what the clean take gave ---- */

/* The left channel, as long as the take. */
static float *left_of(const Bench *b, const char *name, uint32_t n)
{
    Sound s = sound_load(b, name);
    float *const x = every_floats(n);
    for (uint32_t i = 0; i < n && i < s.n; ++i)
        x[i] = s.x[(size_t)i * s.channels];
    sound_free(&s);
    return x;
}

/* The phrases alone, silence between them. */
static float *phrases_in(const Worded *w, const float *x)
{
    float *const y = every_floats(w->n);
    for (uint32_t i = 0; i <= w->rests; ++i) {
        const WordedSpan p = phrase_of(w, i);
        memcpy(y + p.from, x + p.from, (p.to - p.from) * sizeof *y);
    }
    return y;
}

/* The farthest phrase, dB. */
static double phrases_off(const Worded *w, const float *clean, const float *mended)
{
    double *const a = worded_weighted(clean, w->n, RATE), *const b = worded_weighted(mended, w->n, RATE);
    double worst = 0.0;
    for (uint32_t i = 0; i <= w->rests; ++i) {
        const WordedSpan p = phrase_of(w, i);
        if (p.to - p.from > RATE / 2)
            worst = fmax(worst, fabs(power_to_db(power(b, p)) - power_to_db(power(a, p))));
    }
    free(a);
    free(b);
    return worst;
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Highs of every 10 ms. */
static uint32_t highs_of(const float *x, uint32_t n, double *highs)
{
    Biquad section[2];
    SvfState state[2] = {{0}};
    design_butterworth_high_pass(4, HIGHS, RATE, section);
    const Svf filter[] = {svf_from_biquad(&section[0]), svf_from_biquad(&section[1])};
    const uint32_t grains = n / GRAIN < GRAINS ? n / GRAIN : GRAINS;
    for (uint32_t g = 0; g < grains; ++g) {
        highs[g] = 0.0;
        for (uint32_t i = g * GRAIN; i < (g + 1) * GRAIN; ++i) {
            const double y = svf_step(&filter[1], &state[1], svf_step(&filter[0], &state[0], (double)x[i]));
            highs[g] += y * y;
        }
    }
    return grains;
}

/* By how much the highs differ where the clean take has the most of them, dB. */
static double sibilance_off(const float *clean, const float *mended, uint32_t n)
{
    static double a[GRAINS], b[GRAINS], sorted[GRAINS];
    double before = 1e-20, after = 1e-20;
    const uint32_t grains = highs_of(clean, n, a);
    highs_of(mended, n, b);
    memcpy(sorted, a, grains * sizeof *a);
    qsort(sorted, grains, sizeof *sorted, by_value);
    const double least = sorted[(uint32_t)((1.0 - LOUD) * grains)];
    for (uint32_t g = 0; g < grains; ++g) {
        before += a[g] >= least ? a[g] : 0.0;
        after += a[g] >= least ? b[g] : 0.0;
    }
    return power_to_db(after / before);
}

/* ---- What is left in the rests ---- */

/* The inner part of a rest without a breath. */
static WordedSpan inner(const Worded *w, uint32_t i)
{
    const WordedSpan r = w->rest[i];
    const WordedSpan in = {r.from + (uint32_t)(EDGE * RATE), r.to - (uint32_t)(BEFORE * RATE)};
    return i % 2 && r.to > r.from + (uint32_t)((EDGE + BEFORE) * RATE) ? in : (WordedSpan){0, 0};
}

/* Over 600 Hz, where there is no hum. */
static double noise_in_rests(const Worded *w, const float *x)
{
    double sum = 1e-20;
    SvfState state[2] = {{0}};
    Biquad section[2];
    design_butterworth_high_pass(4, 900.0, RATE, section);
    const Svf filter[] = {svf_from_biquad(&section[0]), svf_from_biquad(&section[1])};
    double *const y = calloc(w->n + 1, sizeof *y);
    assert_non_null(y);
    for (uint32_t i = 0; i < w->n; ++i)
        y[i] = svf_step(&filter[1], &state[1], svf_step(&filter[0], &state[0], (double)x[i]));
    for (uint32_t i = 0; i < w->rests; ++i) {
        const WordedSpan in = inner(w, i);
        sum += in.to > in.from ? power(y, in) * (in.to - in.from) : 0.0;
    }
    free(y);
    return power_to_db(sum);
}

/* Energy of what stands in the rests at so many Hz, and at every 50 Hz more. */
static double lines_in_rests(const Worded *w, const float *x, double hz)
{
    double sum = 0.0;
    for (int k = 0; k < HARMONICS; ++k) {
        double re = 0.0, im = 0.0;
        const double turn = 2.0 * DSP_PI * (hz + 50.0 * k) / RATE;
        for (uint32_t i = 0; i < w->rests; ++i)
            for (uint32_t t = inner(w, i).from; t < inner(w, i).to; ++t) {
                re += (double)x[t] * cos(turn * t);
                im += (double)x[t] * sin(turn * t);
            }
        sum += re * re + im * im;
    }
    return sum;
}

/* Of 50 Hz and its harmonics, over what noise has beside them. */
static double hum_in_rests(const Worded *w, const float *x)
{
    const double beside = lines_in_rests(w, x, 75.0);
    return power_to_db(fmax(lines_in_rests(w, x, 50.0) - beside, 0.1 * beside));
}

/* ---- One take ---- */

static const char chain[] = "--stages trim,tone,compressor,esses";

static void render_it(Bench *b, const char *repairs, const char *stages, const char *rest)
{
    char arguments[512];
    snprintf(arguments, sizeof arguments, "--replace --bits float --set hum.hum_down=%.0f --repair %s %s %s", HUM_DOWN,
             repairs, stages, rest);
    run_well(b, arguments);
}

/* What was asked for, dB: of the noise in the rests, and of the hum there. Auto asks for what Check found, and the
 * table has a part for each stage. */
static void asked_of(const Bench *b, double *noise, double *hum)
{
    const double rests = strstr(b->out, "\nrests\n") ? LESS : 0.0;
    *noise = rests + (strstr(b->out, "\nfloor\n") ? LESS : 0.0);
    *hum = rests + (strstr(b->out, "\nhum\n") ? HUM_DOWN : 0.0);
}

/* The third octave of the phrases that differs most, once both are as loud. */
static double octaves_off(const Worded *w, const float *clean, const float *other)
{
    float *const a = phrases_in(w, clean), *const b = phrases_in(w, other);
    const double louder = singer_level_db(b, w->n, RATE) - singer_level_db(a, w->n, RATE);
    for (uint32_t i = 0; i < w->n; ++i)
        b[i] *= (float)db_to_gain(-louder);
    const double off = spectrum_change(a, b, w->n, RATE, STRONG);
    free(a);
    free(b);
    return off;
}

/* Of what came out through the chain. */
static void compare(const Whole *h, Bench *b, bool itself, double off[4])
{
    Values *const to[4] = {&score[itself].level, &score[itself].sibilance, &score[itself].octaves,
                           &score[itself].phrases};
    float *const clean = left_of(b, "even.wav", h->w.n), *const mended = left_of(b, "mended.wav", h->w.n);
    off[0] = singer_level_db(mended, h->w.n, RATE) - singer_level_db(clean, h->w.n, RATE);
    float *const a = phrases_in(&h->w, clean), *const c = phrases_in(&h->w, mended);
    off[1] = sibilance_off(a, c, h->w.n);
    off[2] = octaves_off(&h->w, clean, mended);
    off[3] = phrases_off(&h->w, clean, mended);
    for (int i = 0; i < 4; ++i)
        values_add(to[i], off[i]);
    free(a);
    free(c);
    free(clean);
    free(mended);
}

/* Through the chain: in one run with the repairs that Check asks for; in a second run with those that were named, which
 * need not be played twice so. */
static void put_through(Bench *b, const char *repairs, bool itself)
{
    char arguments[128];
    snprintf(arguments, sizeof arguments, "--replace --bits float %s repaired.wav -o mended.wav", chain);
    if (itself)
        render_it(b, repairs, chain, "faulty.wav -o mended.wav");
    else
        run_well(b, arguments);
}

static void mend(const char *name, const Whole *h, const char *repairs, Bench *b)
{
    double off[4], noise, hum;
    const bool itself = !strcmp(repairs, "auto");
    render_it(b, repairs, "--stages trim --voice none --set trim.enabled=off", "faulty.wav -o repaired.wav");
    asked_of(b, &noise, &hum);
    put_through(b, repairs, itself);
    compare(h, b, itself, off);
    float *const repaired = left_of(b, "repaired.wav", h->w.n);
    noise += noise_in_rests(&h->w, repaired) - noise_in_rests(&h->w, h->noise);
    hum += hum_in_rests(&h->w, repaired) - hum_in_rests(&h->w, h->hum);
    const double came = octaves_off(&h->w, h->clean, h->faulty), alone = octaves_off(&h->w, h->clean, repaired);
    printf("%-12s %s level %+5.2f dB, sibilance %+5.2f, third octaves %4.2f (%4.2f before the chain, %4.2f as it "
           "came), phrases %4.2f; "
           "over what was asked: noise "
           "%+6.2f, hum %+6.2f\n",
           name, itself ? "auto " : "named", off[0], off[1], off[2], alone, came, off[3], noise, hum);
    values_add(&score[itself].alone, alone);
    values_add(&score[itself].came, came);
    values_add(&score[itself].noise, noise);
    values_add(&score[itself].hum, hum);
    ++score[itself].takes;
    free(repaired);
}

static void judge(const char *name, const Spoken *words, uint32_t seed)
{
    Whole h;
    Bench *b;
    char arguments[128];
    assert_int_equal(bench_start((void **)&b), 0);
    whole_make(&h, words, seed);
    save(b, "clean.wav", WAV_FLOAT, RATE, 1, h.clean, h.w.n);
    save(b, "faulty.wav", WAV_FLOAT, RATE, 1, h.faulty, h.w.n);
    snprintf(arguments, sizeof arguments, "--bits float %s clean.wav -o even.wav", chain);
    run_well(b, arguments);
    mend(name, &h, all_repairs(), b);
    if (all_of_it())
        mend(name, &h, "auto", b);
    whole_free(&h);
    bench_end((void **)&b);
}

static void ask_singer(SingerVoice voice)
{
    SingerTake t;
    const SingerSpec spec = {.voice = voice, .seed = 60 + voice, .seconds = all_of_it() ? LONG : SECONDS};
    assert_true(singer_sing(&spec, &t));
    judge(singer_voice_name(voice), &(Spoken){.rate = RATE, .n = t.frames, .x = t.voice}, 100 + voice);
    singer_free(&t);
}

static bool ask_spoken(uint32_t v)
{
    Spoken spoken;
    if (!voices_speak(&spoken, v, 0, all_of_it() ? LONG : SECONDS))
        return false;
    judge(voices[v].name, &spoken, v);
    spoken_free(&spoken);
    return true;
}

static bool ask_sung(uint32_t v)
{
    VoicesSong song;
    if (!voices_sing(&song, v, 0, LONG, 1, 0.0))
        return false;
    judge(voices[v].name, &song.take, v);
    voices_song_free(&song);
    return true;
}

static void ask_everybody(void **state)
{
    (void)state;
    for (uint32_t v = 0, asked = 0; v < VOICES_LONG; ++v) {
        if (!asked_voice(v) || (!all_of_it() && asked++ % 2))
            continue;
        if (!ask_spoken(v) || (all_of_it() && !ask_sung(v)))
            skip();
    }
    for (uint32_t v = 1; v < SINGER_VOICES; v += 2)
        if (v == SINGER_ALTO || all_of_it())
            ask_singer((SingerVoice)v);
    assert_true(score[0].takes >= 4);
}

/* ---- What is held ---- */

static const char *of(bool itself, const char *what)
{
    static char text[160];
    snprintf(text, sizeof text, "%s%s", itself ? "--repair auto: " : "", what);
    return asked_whom(text);
}

static void need(bool itself)
{
    if (score[itself].takes < 4)
        skip();
}

static void the_voice_is_as_the_clean_one(bool itself)
{
    need(itself);
    figure_note("Every fault", of(itself, "takes asked"), score[itself].takes, "");
    figure_at_most("Every fault", of(itself, "voice level, against the clean take's: farthest"),
                   values_farthest(&score[itself].level), 1.0, "dB", "requirement");
    figure_within("Every fault", of(itself, "sibilance, against the clean take's: median"),
                  values_at(&score[itself].sibilance, 0.5), 0.0, 1.0, "dB", "requirement");
    figure_at_most("Every fault", of(itself, "sibilance, against the clean take's: farthest"),
                   values_farthest(&score[itself].sibilance), 1.5, "dB", "our own limit; required: 1");
    figure_note("Every fault", of(itself, "third octave that differs most as it came: median"),
                values_at(&score[itself].came, 0.5), "dB");
    figure_at_most("Every fault", of(itself, "third octave that differs most before the chain: median"),
                   values_at(&score[itself].alone, 0.5), 4.5, "dB",
                   "our own limit; required: 2; the room's own colour, which no repair takes out");
    figure_at_most("Every fault", of(itself, "third octave that differs most: median"),
                   values_at(&score[itself].octaves, 0.5), 5.5, "dB",
                   "our own limit; required: 2; the room's own colour, and what Tone makes of it");
    figure_at_most("Every fault", of(itself, "third octave that differs most: worst"),
                   values_at(&score[itself].octaves, 1.0), 7.5, "dB", "our own limit; required: 2");
    figure_at_most("Every fault", of(itself, "phrase that differs most, median"),
                   values_at(&score[itself].phrases, 0.5), 2.0, "dB", "requirement");
    figure_at_most("Every fault", of(itself, "phrase that differs most, worst"), values_at(&score[itself].phrases, 1.0),
                   2.0, "dB", "requirement");
}

static void what_is_left_in_the_rests_is_what_was_asked(bool itself)
{
    need(itself);
    figure_within("Every fault", of(itself, "noise in the rests, over what was asked: median"),
                  values_at(&score[itself].noise, 0.5), 0.0, 2.0, "dB", "requirement");
    figure_at_most("Every fault", of(itself, "noise in the rests, over what was asked: most"),
                   values_at(&score[itself].noise, 1.0), 2.0, "dB", "requirement");
    figure_at_most("Every fault", of(itself, "hum in the rests, over what was asked: median"),
                   values_at(&score[itself].hum, 0.5), 2.0, "dB", "requirement");
    if (all_of_it())
        figure_note("Every fault", of(itself, "hum in the rests, over what was asked: most"),
                    values_at(&score[itself].hum, 1.0), "dB");
    else
        figure_at_most("Every fault", of(itself, "hum in the rests, over what was asked: most"),
                       values_at(&score[itself].hum, 1.0), 2.0, "dB", "requirement");
}

static void named_repairs_keep_the_voice(void **state)
{
    (void)state;
    the_voice_is_as_the_clean_one(false);
}

static void named_repairs_do_what_was_asked(void **state)
{
    (void)state;
    what_is_left_in_the_rests_is_what_was_asked(false);
}

static void repairs_that_check_asks_for_keep_the_voice(void **state)
{
    (void)state;
    the_voice_is_as_the_clean_one(true);
}

static void repairs_that_check_asks_for_do_what_was_asked(void **state)
{
    (void)state;
    what_is_left_in_the_rests_is_what_was_asked(true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ask_everybody),
        cmocka_unit_test(named_repairs_keep_the_voice),
        cmocka_unit_test(named_repairs_do_what_was_asked),
        cmocka_unit_test(repairs_that_check_asks_for_keep_the_voice),
        cmocka_unit_test(repairs_that_check_asks_for_do_what_was_asked),
    };
    return _cmocka_run_group_tests("tests", tests, all_of_it() ? 5 : 3, NULL, NULL);
}
