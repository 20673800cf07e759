/* The five in a row, as a person uses them: each with the preset of the voice, first listening to the whole take, then
 * on hold in an instance that got what was learned. Eight singers, spoken sentences and recordings, at several rates.
 *
 * What is common practice of the trade (no source can be named for it): a vocal goes in at about -18 dB RMS, -24 to -12
 * is fine; 3 to 6 dB a place come out of the low mids; about 6 dB of compression, less on speech, and the makeup brings
 * the level back; of the esses only what explodes; the reverb about 20 dB under, its low end kept out. */
#include "every.h"

#include "analog.h"
#include "design.h"
#include "figure.h"
#include "level.h"
#include "sibilants.h"
#include "singer.h"
#include "spectrum.h"
#include "spoken.h"
#include "true_peak.h"
#include "units.h"

#define TRADE "common practice"
#define OURS  "requirement"

static Host *host;

/* ---- The chain ---- */

typedef enum { RAW, TRIM, TONE, COMPRESSOR, ESSES, PLATE, STAGES } Stage;
static const char *const stem[STAGES] = {NULL, "trim", "tone", "compressor", "esses", "plate"};

typedef struct {
    const char *name, *voice; /* of the take; label of the presets */
    double rate;
    uint32_t n;
    float *sound[STAGES]; /* what came out of each stage; PLATE: its left channel */
    float *right;
    Instance *stage[STAGES]; /* as it stood at the end */
    Span *span;              /* where Esses heard a sibilant */
    uint32_t spans;
} Chain;

static void chain_free(Chain *c)
{
    for (int s = 0; s < STAGES; ++s) {
        free(c->sound[s]);
        instance_free(c->stage[s]);
    }
    free(c->right);
    free(c->span);
    memset(c, 0, sizeof *c);
}

static void must(bool ok, const Error *e)
{
    if (!ok)
        fail_msg("%s", e->text);
}

static Instance *set_up(const Chain *c, Stage s)
{
    Error e;
    const Plugin *plugin = host_plugin(host, stem[s], 1);
    assert_non_null(plugin);
    Instance *i = instance_new(host, plugin, c->rate, INSTANCE_PLAIN, &e);
    must(i != NULL, &e);
    must(instance_preset(i, c->voice, &e), &e);
    if (s == PLATE)
        must(instance_preset(i, "In line", &e), &e);
    return i;
}

enum { BLOCK = DSP_CELL, LATEST = 512 };

/* Esses's read-out is as of the grid point, and its detector speaks of what its smoothing has taken in. */
static void note_span(Chain *c, uint32_t at, bool heard)
{
    enum { MOST = 4096 };
    if (!c->span)
        c->span = calloc(MOST, sizeof *c->span);
    assert_non_null(c->span);
    const double now = (at - (double)BLOCK) / c->rate - 0.005;
    const bool open = c->spans && c->span[c->spans - 1].end < 0.0;
    if (heard && !open) {
        assert_true(c->spans < MOST);
        c->span[c->spans++] = (Span){now, -1.0};
    } else if (!heard && open) {
        c->span[c->spans - 1].end = now;
    }
}

/* What the stage makes of the take, its latency taken off. left NULL: it only listens. */
static void play(Chain *c, Stage s, Instance *i, float *left, float *right)
{
    const float *in = c->sound[s - 1];
    const uint32_t latency = instance_latency(i), whole = c->n + latency;
    instance_activate(i);
    for (uint32_t at = 0; at < whole; at += BLOCK) {
        float x[BLOCK] = {0}, y[2][BLOCK];
        for (uint32_t k = 0; k < BLOCK && at + k < c->n; ++k)
            x[k] = in[at + k];
        instance_run(i, (const float *const[]){x, x}, (float *const[]){y[0], y[1]}, BLOCK);
        if (s == ESSES && left)
            note_span(c, at, instance_value(i, "heard") > 0.f);
        for (uint32_t k = 0; k < BLOCK && left; ++k) {
            const uint32_t to = at + k - latency;
            if (at + k < latency || to >= c->n)
                continue;
            left[to] = y[0][k];
            if (right)
                right[to] = y[1][k];
        }
    }
    if (s == ESSES && left)
        note_span(c, whole, false);
}

static char *listen(Chain *c, Stage s)
{
    Error e;
    Instance *i = set_up(c, s);
    if (!plugin_port(instance_plugin(i), "learn")) {
        instance_free(i);
        return NULL;
    }
    instance_set(i, "learn", 1.f);
    play(c, s, i, NULL, NULL);
    char *state = instance_save(i, &e);
    must(state != NULL, &e);
    instance_free(i);
    return state;
}

/* sound[RAW] is there; the others are made. */
static void chain_run(Chain *c)
{
    Error e;
    for (Stage s = TRIM; s < STAGES; ++s) {
        char *state = listen(c, s);
        Instance *i = c->stage[s] = set_up(c, s);
        if (state)
            must(instance_restore(i, state, false, &e), &e);
        free(state);
        instance_set(i, "learn", 0.f);
        c->sound[s] = every_floats(c->n);
        if (s == PLATE)
            c->right = every_floats(c->n);
        play(c, s, i, c->sound[s], s == PLATE ? c->right : NULL);
    }
}

static double shown(const Chain *c, Stage s, const char *symbol)
{
    return (double)instance_value(c->stage[s], symbol);
}

/* ---- Meters ---- */

static void meter(const float *x, const Chain *c, double *rms, double *loudness)
{
    static Level l;
    level_init(&l, c->rate, 1);
    level_process(&l, (const float *const[]){x}, c->n);
    *rms = level_rms(&l);
    *loudness = level_loudness(&l);
    level_done(&l);
}

static double rms_of(const float *x, const Chain *c)
{
    double rms, loudness;
    meter(x, c, &rms, &loudness);
    return rms;
}

static double loudness_of(const float *x, const Chain *c)
{
    double rms, loudness;
    meter(x, c, &rms, &loudness);
    return loudness;
}

static double peak_of(const float *x, const Chain *c)
{
    TruePeak p;
    true_peak_init(&p, c->rate);
    const float silence[TRUE_PEAK_LAG] = {0};
    const float peak = true_peak_above(&p, 0, x, 0.f, c->n), last = true_peak_above(&p, 0, silence, 0.f, TRUE_PEAK_LAG);
    return gain_to_db(fmaxf(peak, last));
}

enum { THIRDS = 25 };

/* Bins of 1.5 Hz or less: a note must not leak into the third octave below it. */
static Spectrum spectrum(const float *x, const Chain *c)
{
    size_t window = 8192;
    while (c->rate / (double)window > 1.5)
        window *= 2;
    return spectrum_of(x, c->n, window, c->rate);
}

static double third(int i)
{
    return 1000.0 * pow(10.0, (i - 12) / 10.0); /* from 63 Hz to 16 kHz */
}

#define HALF_THIRD 1.122018454301963 /* 10^(1/20) */

/* dB, the loudest one 0; -200 where the rate has no room for it. */
static void thirds_of(const Spectrum *s, double db[THIRDS])
{
    for (int i = 0; i < THIRDS; ++i)
        db[i] = third(i) * HALF_THIRD < 0.45 * s->rate ? spectrum_band(s, third(i) / HALF_THIRD, third(i) * HALF_THIRD)
                                                       : -200.0;
}

static double loudest_of(const double db[THIRDS])
{
    double most = -200.0;
    for (int i = 0; i < THIRDS; ++i)
        most = fmax(most, db[i]);
    return most;
}

/* ---- Takes ---- */

static const struct {
    SingerVoice voice;
    const char *preset;
    double rate, gain;
} singers[SINGER_VOICES] = {
    {SINGER_BASS, "Bass", 44100, -14},
    {SINGER_BARITONE, "Baritone", 48000, 3},
    {SINGER_TENOR, "Tenor", 44100, -6},
    {SINGER_ALTO, "Alto", 48000, -20},
    {SINGER_MEZZO, "Mezzo-soprano", 44100, 0},
    {SINGER_SOPRANO, "Soprano", 96000, -9},
    {SINGER_SPOKEN_LOW, "Spoken low", 48000, -8},
    {SINGER_SPOKEN_HIGH, "Spoken high", 44100, 2},
};

/* Speech that was recorded, or put together from recorded speech. */
static const struct {
    const char *voice, *recording, *preset; /* voice: one of flite's; else a recording */
    double rate;                            /* 0: as it comes */
    double f;                               /* least F measure of the sibilants; 0: for information */
} spoken_takes[] = {
    {"awb", NULL, "Spoken low", 0, 0.9},           {"rms", NULL, "Spoken low", 44100, 0.9},
    {"slt", NULL, "Spoken high", 48000, 0.9},      {"kal", NULL, "Spoken low", 0, 0.0},
    {NULL, "walk", "Spoken low", 0, 0.0},          {NULL, "numbers", "Spoken low", 0, 0.0},
    {NULL, "reading1", "Spoken high", 22050, 0.0},
};
enum { SPOKEN_TAKES = sizeof spoken_takes / sizeof *spoken_takes };

static Chain sung[SINGER_VOICES], said[SPOKEN_TAKES];
static Spoken labels[SPOKEN_TAKES];

static void sing(int v)
{
    Chain *c = &sung[v];
    SingerTake take;
    assert_true(singer_sing(&(SingerSpec){.voice = singers[v].voice,
                                          .seed = 40 + (uint64_t)v,
                                          .rate = singers[v].rate,
                                          .seconds = 7,
                                          .gain_db = singers[v].gain,
                                          .esses_db = 10,
                                          .uneven_db = 4,
                                          .breath_db = -30,
                                          .hiss_db = -55},
                            &take));
    *c = (Chain){.name = singer_voice_name(singers[v].voice), .voice = singers[v].preset, .rate = take.rate};
    c->n = take.frames;
    c->sound[RAW] = take.audio;
    take.audio = NULL;
    singer_free(&take);
    chain_run(c);
}

/* The labels that lie in the first seconds, and as much sound as they cover. */
static void shorten(Spoken *s, double seconds)
{
    while (s->phones && s->phone[s->phones - 1].end > seconds)
        --s->phones;
    s->n = (uint32_t)fmin(s->n, (s->phones ? s->phone[s->phones - 1].end : seconds) * s->rate);
}

/* False: its package is not installed. A recording of some seconds is played until there is enough to learn from. */
static bool say(int k)
{
    Spoken *s = &labels[k];
    const bool there =
        spoken_takes[k].voice ? sibilants_say(s, spoken_takes[k].voice) : spoken_load(s, spoken_takes[k].recording);
    if (!there)
        return false;
    if (spoken_takes[k].voice)
        shorten(s, 25.0);
    if (spoken_takes[k].rate > 0.0)
        spoken_resample(s, spoken_takes[k].rate);
    const uint32_t times = spoken_takes[k].voice ? 1 : (uint32_t)ceil(10.0 * s->rate / s->n);
    Chain *c = &said[k];
    *c = (Chain){.name = spoken_takes[k].voice ? spoken_takes[k].voice : spoken_takes[k].recording,
                 .voice = spoken_takes[k].preset,
                 .rate = s->rate,
                 .n = times * s->n};
    c->sound[RAW] = every_floats(c->n);
    for (uint32_t t = 0; t < times; ++t)
        memcpy(c->sound[RAW] + (size_t)t * s->n, s->x, s->n * sizeof(float));
    chain_run(c);
    return true;
}

static int prepare(void **state)
{
    (void)state;
    char path[4096];
    snprintf(path, sizeof path, "%s/linctus.lv2", every_build());
    Error e;
    host = host_open(path, &e);
    must(host != NULL, &e);
    for (int v = 0; v < SINGER_VOICES; ++v)
        sing(v);
    for (int k = 0; k < SPOKEN_TAKES; ++k)
        say(k);
    return 0;
}

static int clear(void **state)
{
    (void)state;
    for (int v = 0; v < SINGER_VOICES; ++v)
        chain_free(&sung[v]);
    for (int k = 0; k < SPOKEN_TAKES; ++k) {
        chain_free(&said[k]);
        spoken_free(&labels[k]);
    }
    host_close(host);
    return 0;
}

enum { TAKES = SINGER_VOICES + SPOKEN_TAKES };

/* The takes one after another; NULL where a package is missing. */
static const Chain *take_at(int i)
{
    const Chain *c = i < SINGER_VOICES ? &sung[i] : &said[i - SINGER_VOICES];
    return c->n ? c : NULL;
}

static bool is_spoken(const Chain *c)
{
    return !strncmp(c->voice, "Spoken", 6);
}

static const char *named(const Chain *c, const char *what)
{
    static char text[128];
    snprintf(text, sizeof text, "%s, %g kHz: %s", c->name, c->rate / 1000.0, what);
    return text;
}

/* ---- Level ---- */

static void trim_brings_the_level(void **state)
{
    (void)state;
    double off = 0.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        const double level = rms_of(c->sound[TRIM], c), target = shown(c, TRIM, "target");
        figure_within("Chain", named(c, "level after Trim"), level, -18.0, 6.0, "dB",
                      TRADE "; wide: ours is nearer, below");
        const double promised = shown(c, TRIM, "voice_level") + shown(c, TRIM, "gain");
        if (shown(c, TRIM, "held_back") > 0.0) {
            print_message("%s: the peak ceiling holds the level %.1f dB under its target\n", c->name, target - level);
            continue;
        }
        assert_true(fabs(promised - target) < 0.05);
        off = fmax(off, fabs(level - target));
    }
    figure_at_most("Chain", "all takes: plain gated level after Trim, off its target", off, 0.5, "dB", OURS);
}

static void nothing_clips(void **state)
{
    (void)state;
    double trim = -200.0, end = -200.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        trim = fmax(trim, peak_of(c->sound[TRIM], c) - shown(c, TRIM, "ceiling"));
        const double peak = fmax(peak_of(c->sound[PLATE], c), peak_of(c->right, c));
        print_message("%s: peak at the end %.2f dBTP\n", c->name, peak);
        end = fmax(end, peak);
    }
    figure_at_most("Chain", "all takes: peaks after Trim, over its ceiling", trim, 0.05, "dB", OURS);
    figure_at_most("Chain", "all takes: highest peak at the end of the chain", end, 0.0, "dBTP", OURS);
}

/* ---- Tone ---- */

/* The port of a dip that is placed by hand, or that was found. */
static double dip_shown(const Chain *c, const char *who, int dip, const char *what)
{
    char symbol[24];
    snprintf(symbol, sizeof symbol, "%s%d_%s", who, dip, what);
    return shown(c, TONE, symbol);
}

/* What the dips come to at one frequency: those that the preset has for the hand, or those that were found. */
static double dips_at(const Chain *c, const char *who, double hz)
{
    double db = 0.0;
    for (int d = 1; d <= 3; ++d)
        if (dip_shown(c, who, d, "depth") < 0.0)
            db += analog_bell(hz, dip_shown(c, who, d, "freq"), dip_shown(c, who, d, "depth"),
                              design_q(dip_shown(c, who, d, "width")));
    return db;
}

/* What Tone does at one frequency, as its read-outs have it. */
static double curve_at(const Chain *c, double hz)
{
    static const int order[] = {0, 2, 3, 4};
    const int steepness = order[(int)shown(c, TONE, "low_cut_slope")];
    const double found = shown(c, TONE, "found_low_cut"), cut = found > 0.0 ? found : 60.0;
    return analog_butterworth_high_pass(hz, cut, steepness) + dips_at(c, "found", hz) +
           analog_high_shelf(hz, shown(c, TONE, "air_freq"), shown(c, TONE, "air_lift")) + shown(c, TONE, "makeup_now");
}

static void dips_take_out_3_to_6_db(void **state)
{
    (void)state;
    for (int v = 0; v < SINGER_VOICES; ++v) {
        const Chain *c = &sung[v];
        double deepest = 0.0;
        for (double hz = 200.0; hz <= 1000.0; hz *= 1.01)
            deepest = fmin(deepest, dips_at(c, "dip", hz));
        for (int d = 1; d <= 3; ++d) {
            const double db = dip_shown(c, "dip", d, "depth");
            assert_true(db == 0.0 || (db <= -3.0 && db >= -6.0));
        }
        figure_within("Chain", named(c, "deepest the preset cuts by hand from 200 Hz to 1 kHz"), -deepest, 4.5, 1.5,
                      "dB", TRADE);
    }
}

/* Third octave by third octave, from the audio: what went in times the analog curve is what comes out. Bands 50 dB
 * under the loudest hold too little to tell. */
static void tone_changes_the_spectrum_as_its_curve_says(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        Spectrum in = spectrum(c->sound[TRIM], c);
        Spectrum out = spectrum(c->sound[TONE], c);
        double before[THIRDS], expected[THIRDS], after[THIRDS];
        thirds_of(&in, before);
        thirds_of(&out, after);
        for (size_t k = 1; k <= in.size / 2; ++k)
            in.power[k] *= db_to_power(curve_at(c, (double)k * c->rate / (double)in.size));
        thirds_of(&in, expected);
        const double loudest = loudest_of(before);
        for (int b = 0; b < THIRDS; ++b)
            if (before[b] > loudest - 50.0 && expected[b] > loudest - 50.0)
                worst = fmax(worst, fabs(after[b] - expected[b]));
        spectrum_free(&in);
        spectrum_free(&out);
    }
    figure_at_most("Chain", "all takes: Tone's change per third octave, against the analog curve", worst, 0.2, "dB",
                   "W3C Audio EQ Cookbook; Butterworth");
}

/* For information: what the five together do to the colour of each take, Plate's ambience included. */
static void change_per_third_octave(void **state)
{
    (void)state;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        Spectrum in = spectrum(c->sound[RAW], c);
        Spectrum out = spectrum(c->sound[PLATE], c);
        double before[THIRDS], after[THIRDS];
        thirds_of(&in, before);
        thirds_of(&out, after);
        const double gain = loudness_of(c->sound[PLATE], c) - loudness_of(c->sound[RAW], c);
        char line[16 * THIRDS] = "";
        for (int b = 0; b < THIRDS; ++b)
            if (before[b] > loudest_of(before) - 50.0)
                snprintf(line + strlen(line), sizeof line - strlen(line), " %.0f:%+.1f", third(b),
                         after[b] - before[b] - gain);
        print_message("%s\n", named(c, "change in dB at Hz, beside loudness:"));
        print_message("   %s\n", line);
        spectrum_free(&in);
        spectrum_free(&out);
    }
}

/* ---- Compressor ---- */

/* On hold nobody measures: the take once more with the threshold that was found, set by hand, on learn. */
static double measured_reduction(const Chain *c)
{
    Chain again = *c;
    Instance *i = set_up(&again, COMPRESSOR);
    instance_set(i, "threshold_set_by", 0.f);
    instance_set(i, "threshold", (float)shown(c, COMPRESSOR, "threshold_now"));
    instance_set(i, "learn", 1.f);
    play(&again, COMPRESSOR, i, NULL, NULL);
    const double usual = (double)instance_value(i, "usual_reduction");
    instance_free(i);
    return usual;
}

static void compressor_takes_about_what_was_asked(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        const double wanted = shown(c, COMPRESSOR, "wanted_reduction"), usual = measured_reduction(c);
        assert_true(fabs(shown(c, COMPRESSOR, "usual_reduction") - wanted) < 0.1); /* of what was learned */
        figure_within("Chain", named(c, "usual reduction"), usual, is_spoken(c) ? 3.0 : 6.0, 1.0, "dB",
                      TRADE "; wide: so far that it can be heard");
        worst = fmax(worst, fabs(usual - wanted));
    }
    figure_at_most("Chain", "all takes: usual reduction off the wanted one", worst, 1.0, "dB", OURS);
}

static void makeup_brings_the_loudness_back(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        const double in = loudness_of(c->sound[TONE], c), out = loudness_of(c->sound[COMPRESSOR], c);
        print_message("%s: loudness %.1f LUFS raw, %.1f into the compressor, %.1f out of it, %.1f at the end\n",
                      c->name, loudness_of(c->sound[RAW], c), in, out, loudness_of(c->sound[PLATE], c));
        worst = fmax(worst, fabs(out - in));
    }
    figure_at_most("Chain", "all takes: loudness after the compressor, against before", worst, 0.5, "LU",
                   "common practice; BS.1770 measure");
}

/* ---- Esses ---- */

static bool heard_at(const Chain *c, double start, double end)
{
    double sum = 0.0;
    for (uint32_t k = 0; k < c->spans; ++k)
        sum += fmax(0.0, fmin(c->span[k].end, end) - fmax(c->span[k].start, start));
    return sum >= 0.4 * (end - start);
}

static void sibilants_are_heard_where_the_labels_say(void **state)
{
    (void)state;
    static const char *const kind[] = {"s", "z", "sh", "zh", "ch", "jh"};
    enum { KINDS = sizeof kind / sizeof *kind };
    uint32_t all[KINDS] = {0}, right[KINDS] = {0};
    bool any = false;
    for (int k = 0; k < SPOKEN_TAKES; ++k) {
        const Chain *c = &said[k];
        if (!c->n || !spoken_takes[k].voice)
            continue;
        any = true;
        SpanScore score;
        spans_score(&score, c->span, c->spans, &labels[k]);
        const double heard = score.right + score.wrong;
        figure_note("Chain", named(c, "sibilants, precision"), heard > 0.0 ? score.right / heard : 1.0, "");
        figure_note("Chain", named(c, "sibilants, recall"), score.right / (double)(score.right + score.missed), "");
        if (spoken_takes[k].f > 0.0)
            figure_at_least("Chain", named(c, "sibilants, F"), spans_f(&score), spoken_takes[k].f, "", OURS);
        else
            figure_note("Chain", named(c, "sibilants, F (labels up to 0.1 s late)"), spans_f(&score), "");
        for (uint32_t p = 0; p < labels[k].phones && spoken_takes[k].f > 0.0; ++p)
            for (int s = 0; s < KINDS; ++s)
                if (!strcmp(labels[k].phone[p].name, kind[s])) {
                    ++all[s];
                    right[s] += heard_at(c, labels[k].phone[p].start, labels[k].phone[p].end);
                }
    }
    if (!any)
        skip();
    for (int s = 0; s < KINDS; ++s) {
        char what[64];
        snprintf(what, sizeof what, "of %u spoken %s, heard", all[s], kind[s]);
        if (all[s])
            figure_note("Chain", what, 100.0 * right[s] / all[s], "%");
    }
}

/* It is a safety: away from the sibilants nothing is touched, and what comes out is never louder. */
static void esses_leave_the_rest_alone(void **state)
{
    (void)state;
    double most_share = 0.0, louder = -200.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        print_message("%s: %u sibilants heard, %.0f %% of them caught\n", c->name, c->spans,
                      shown(c, ESSES, "caught_share"));
        most_share = fmax(most_share, shown(c, ESSES, "caught_share"));
        louder = fmax(louder, loudness_of(c->sound[ESSES], c) - loudness_of(c->sound[COMPRESSOR], c));
    }
    figure_at_most("Chain", "all takes: largest share of the sibilants that is caught", most_share, 50.0, "%", TRADE);
    figure_at_most("Chain", "all takes: louder after Esses by at most", louder, 0.01, "LU", OURS);
}

/* ---- Plate ---- */

static void reverb_is_20_db_under_without_its_low_end(void **state)
{
    (void)state;
    double low = -200.0;
    for (int i = 0; i < TAKES; ++i) {
        const Chain *c = take_at(i);
        if (!c)
            continue;
        float *wet = every_floats(c->n);
        for (uint32_t k = 0; k < c->n; ++k)
            wet[k] = c->sound[PLATE][k] - c->sound[ESSES][k];
        const double under = rms_of(wet, c) - rms_of(c->sound[ESSES], c);
        figure_within("Chain", named(c, "ambience against the voice"), under, -20.0, 4.0, "dB",
                      TRADE "; wide: so far that it can be heard");
        Spectrum in = spectrum(c->sound[ESSES], c), out = spectrum(wet, c);
        double dry[THIRDS], ambience[THIRDS];
        thirds_of(&in, dry);
        thirds_of(&out, ambience);
        const double middle = spectrum_band(&out, 500, 2000) - spectrum_band(&in, 500, 2000);
        for (int b = 0; b < THIRDS; ++b)
            if (third(b) * HALF_THIRD <= 0.5 * shown(c, PLATE, "low_cut") && dry[b] > loudest_of(dry) - 45.0)
                low = fmax(low, ambience[b] - dry[b] - middle);
        spectrum_free(&in);
        spectrum_free(&out);
        free(wet);
    }
    figure_at_most("Chain", "ambience an octave under its low cut, against 500 Hz to 2 kHz", low, -10.0, "dB", TRADE);
}

/* ---- Presets ---- */

/* Lowest notes: ranges in common usage, seen second-hand. The trade's figures for the cut: about 100 to 110 Hz
 * for a deep male voice, up to 150 for a female voice. */
static void low_cut_stays_under_the_lowest_note(void **state)
{
    (void)state;
    static const struct {
        const char *voice;
        double note;     /* MIDI */
        double from, to; /* Hz */
    } range[] = {
        {"Bass", 40, 80, 110}, {"Baritone", 45, 80, 110},      {"Tenor", 48, 80, 150},
        {"Alto", 53, 80, 150}, {"Mezzo-soprano", 57, 80, 150}, {"Soprano", 60, 80, 150},
    };
    for (size_t i = 0; i < sizeof range / sizeof *range; ++i) {
        const Chain *c = &sung[i];
        assert_string_equal(c->voice, range[i].voice);
        const double cut = shown(c, TONE, "low_cut"), rule = dsp_clamp(0.8 * note_to_hz(range[i].note), 80.0, 150.0);
        const bool deep = range[i].to < 150.0;
        assert_true(cut >= range[i].from && cut <= range[i].to);
        if (!deep)
            assert_true(fabs(cut - rule) <= 2.0);
        figure_at_most("Chain", named(c, "preset's low cut"), cut, deep ? 110.0 : rule + 2.0, "Hz",
                       "common practice; voice ranges");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trim_brings_the_level),
        cmocka_unit_test(nothing_clips),
        cmocka_unit_test(dips_take_out_3_to_6_db),
        cmocka_unit_test(tone_changes_the_spectrum_as_its_curve_says),
        cmocka_unit_test(change_per_third_octave),
        cmocka_unit_test(compressor_takes_about_what_was_asked),
        cmocka_unit_test(makeup_brings_the_loudness_back),
        cmocka_unit_test(sibilants_are_heard_where_the_labels_say),
        cmocka_unit_test(esses_leave_the_rest_alone),
        cmocka_unit_test(reverb_is_20_db_under_without_its_low_end),
        cmocka_unit_test(low_cut_stays_under_the_lowest_note),
    };
    return cmocka_run_group_tests(tests, prepare, clear);
}
