/* `render --like`: the fit on tables of differences that are known, what two vocals are compared by, what is refused,
 * and recorded voices. There the same recording of a speaker, or another one, is given one to three bells, cuts and
 * boosts, a low cut, a shelf and another level, and is the vocal to be like. What is measured are the files, with means
 * that are not the harness's: Welch's spectra in third octaves while somebody speaks, loudness by BS.1770.
 *
 * Judges only, whom no constant was set on; LINCTUS_VOICES=tune asks those that constants were set on, and
 * LINCTUS_TAKES=N draws N vocals of each voice, where there is one in make check. */
#include "analog.h"
#include "design.h"
#include "figure.h"
#include "like.h"
#include "like_fit.h"
#include "loudness.h"
#include "runs.h"
#include "seeds.h"
#include "spectrum.h"
#include "values.h"
#include "voices.h"

static uint32_t dice;

static double draw(double low, double high)
{
    dice = dice * 1664525u + 1013904223u;
    return low + (high - low) * ((double)(dice >> 8) / 16777216.0);
}

static void draw_from(uint32_t seed)
{
    dice = seed;
    for (int i = 0; i < 4; ++i)
        draw(0.0, 1.0);
}

/* ---- The fit ---- */

/* Sixths of an octave from 50 Hz to 16 kHz, nothing wanted. */
static LikeFit nothing(void)
{
    LikeFit f = {.points = 51};
    for (uint32_t k = 0; k < f.points; ++k)
        f.hz[k] = 1000.0 * exp2((k - 26.0) / 6.0);
    return f;
}

static void want_bell(LikeFit *f, double hz, double db, double octaves)
{
    for (uint32_t k = 0; k < f->points; ++k)
        f->db[k] += analog_bell(f->hz[k], hz, db, design_q(octaves));
}

static void want_low_cut(LikeFit *f, double hz, int order)
{
    for (uint32_t k = 0; k < f->points; ++k)
        f->db[k] += analog_butterworth_high_pass(f->hz[k], hz, order);
}

static void want_air(LikeFit *f, double hz, double db)
{
    for (uint32_t k = 0; k < f->points; ++k)
        f->db[k] += analog_high_shelf(f->hz[k], hz, db);
}

static double wanted(const LikeFit *f)
{
    return like_fit_left(f, &(ToneCurve){.low_cut = 20.0, .air_hz = 12000.0});
}

static void a_curve_is_tones(void **state)
{
    (void)state;
    const ToneCurve c = {.order = 3.0,
                         .low_cut = 110.0,
                         .dip_hz = {300.0, 100.0, 2500.0},
                         .dip_db = {-4.0, 0.0, -6.0},
                         .dip_octaves = {1.0, 1.0, 0.6},
                         .air_hz = 9000.0,
                         .air_db = 5.0};
    double worst = 0.0;
    for (double hz = 30.0; hz < 20000.0; hz *= 1.1)
        worst = fmax(worst, fabs(like_fit_curve(&c, hz) - analog_butterworth_high_pass(hz, 110.0, 3) -
                                 analog_bell(hz, 300.0, -4.0, design_q(1.0)) -
                                 analog_bell(hz, 2500.0, -6.0, design_q(0.6)) - analog_high_shelf(hz, 9000.0, 5.0)));
    figure_at_most("Like", "curve against the analog prototypes", worst, 1e-9, "dB",
                   "W3C Audio EQ Cookbook; wide: rounding alone");
}

static void what_was_done_is_found_back(void **state)
{
    (void)state;
    LikeFit cut = nothing(), dip = nothing(), air = nothing(), all = nothing();
    want_low_cut(&cut, 120.0, 4);
    const ToneCurve c = like_fit(&cut);
    assert_true(c.order == 4.0 && !(c.dip_db[0] < 0.0) && !(c.air_db > 0.0));
    want_bell(&dip, 309.0, -4.0, 1.2);
    const ToneCurve d = like_fit(&dip);
    assert_true(d.order == 0.0 && !(d.dip_db[1] < 0.0) && !(d.air_db > 0.0));
    want_air(&air, 9000.0, 4.0);
    const ToneCurve a = like_fit(&air);
    assert_true(a.order == 0.0 && !(a.dip_db[0] < 0.0));
    figure_at_most("Like", "frequency of a low cut alone is off by", 100.0 * fabs(c.low_cut / 120.0 - 1.0), 0.5, "%",
                   "requirement");
    figure_at_most("Like", "frequency of a dip alone is off by", 100.0 * fabs(d.dip_hz[0] / 309.0 - 1.0), 0.5, "%",
                   "requirement");
    figure_at_most("Like", "depth of a dip alone is off by", fabs(d.dip_db[0] + 4.0), 0.1, "dB",
                   "requirement; wide: it comes back whole");
    figure_at_most("Like", "width of a dip alone is off by", fabs(d.dip_octaves[0] - 1.2), 0.02, "octaves",
                   "requirement");
    figure_at_most("Like", "air alone is off by", fabs(a.air_db - 4.0), 0.2, "dB",
                   "requirement; wide: it comes back whole");
    want_low_cut(&all, 90.0, 2);
    want_bell(&all, 250.0, -5.0, 0.8);
    want_bell(&all, 900.0, -3.0, 1.0);
    want_bell(&all, 2800.0, -4.0, 0.7);
    want_air(&all, 8000.0, 3.0);
    const ToneCurve everything = like_fit(&all);
    figure_at_most("Like", "left of five moves at once", 100.0 * like_fit_left(&all, &everything) / wanted(&all), 5.0,
                   "%", "requirement is 50 %");
}

static void a_level_is_no_matter(void **state)
{
    (void)state;
    LikeFit f = nothing();
    want_low_cut(&f, 100.0, 3);
    want_bell(&f, 500.0, -4.0, 1.0);
    const ToneCurve low = like_fit(&f);
    for (uint32_t k = 0; k < f.points; ++k)
        f.db[k] += 7.0;
    const ToneCurve high = like_fit(&f);
    assert_true(fabs(low.dip_db[0] - high.dip_db[0]) < 0.05 && fabs(low.low_cut - high.low_cut) < 1.0);
}

static bool is_off(const ToneCurve *c)
{
    return c->order == 0.0 && c->air_db == 0.0 && c->dip_db[0] == 0.0 && c->dip_db[1] == 0.0 && c->dip_db[2] == 0.0;
}

static void nothing_wanted_nothing_moved(void **state)
{
    (void)state;
    LikeFit f = nothing();
    const ToneCurve still = like_fit(&f), none = like_fit(&(LikeFit){0});
    assert_true(is_off(&still) && is_off(&none) && like_fit_left(&(LikeFit){0}, &none) == 0.0);
}

/* Dips cut, air lifts, all within the ranges of the controls, whatever is wanted. */
static void moves_keep_to_their_ranges(void **state)
{
    (void)state;
    for (uint32_t seed = 0; seed < 4; ++seed) {
        LikeFit f = nothing();
        draw_from(seeded(seed));
        for (uint32_t k = 0; k < f.points; ++k)
            f.db[k] = draw(-30.0, 30.0);
        const ToneCurve c = like_fit(&f);
        assert_true(c.order == 0.0 || (c.order >= 2.0 && c.order <= 4.0));
        assert_true(c.low_cut >= 20.0 && c.low_cut <= 300.0 && c.air_hz >= 6000.0 && c.air_hz <= 16000.0);
        assert_true(c.air_db >= 0.0 && c.air_db <= 9.0);
        for (int i = 0; i < TONE_EVEN_DIPS; ++i) {
            assert_true(c.dip_hz[i] >= 100.0 && c.dip_hz[i] <= 4000.0 && c.dip_db[i] <= 0.0 && c.dip_db[i] >= -12.0);
            assert_true(c.dip_octaves[i] >= LIKE_FIT_LEAST_WIDTH && c.dip_octaves[i] <= 3.0);
        }
    }
}

/* What a mix differs in by one to three bells of up to 6 dB, a low cut and a shelf, with a ripple of the words. */
static double share_left(uint32_t seed, bool boosts)
{
    LikeFit f = nothing();
    draw_from(seed);
    const int bells = 1 + (int)draw(0.0, 3.0);
    want_low_cut(&f, draw(60.0, 150.0), 2 + (int)draw(0.0, 3.0));
    want_air(&f, draw(6000.0, 12000.0), draw(0.0, 6.0));
    for (int i = 0; i < bells; ++i) {
        const double hz = exp2(draw(log2(150.0), log2(4000.0))), octaves = draw(0.5, 2.0), db = draw(2.0, 6.0);
        want_bell(&f, hz, boosts && draw(0.0, 1.0) < 0.5 ? db : -db, octaves);
    }
    for (uint32_t k = 0; k < f.points; ++k)
        f.db[k] += draw(-0.5, 0.5);
    const ToneCurve c = like_fit(&f);
    return 100.0 * like_fit_left(&f, &c) / wanted(&f);
}

static void draws_are_fitted(void **state)
{
    (void)state;
    enum { DRAWS = 5 };
    double cuts = 0.0, both = 0.0;
    for (uint32_t seed = 0; seed < DRAWS; ++seed) {
        cuts = fmax(cuts, share_left(seeded(seed), false));
        both = fmax(both, share_left(seeded(seed), true));
    }
    figure_at_most("Like", "left of drawn differences, cuts: the worst", cuts, 50.0, "%", "requirement");
    figure_at_most("Like", "left of drawn differences, cuts and boosts: the worst", both, 50.0, "%", "requirement");
}

/* ---- What is left ---- */

/* Two vocals, of which the other has `db` more in a third octave. */
static Like two_vocals(void)
{
    Like l = {.counted = PORTRAIT_THIRDS};
    l.want.bands = l.after.bands = l.before.bands = BANK_BANDS;
    for (uint32_t i = 0; i < PORTRAIT_THIRDS; ++i)
        l.counts[i] = true;
    return l;
}

static void add_at(LikeSide *s, uint32_t third, double db)
{
    for (uint32_t k = 2 * third + 1; k <= 2 * third + 3 && k < BANK_BANDS; ++k)
        s->colour[k] += db;
}

static void what_is_left_is_told(void **state)
{
    (void)state;
    Like l = two_vocals();
    LikePlace place[LIKE_PLACES];
    assert_int_equal(like_places(&l, place), 0);
    assert_true(like_distance(&l, &l.after) == 0.0);
    add_at(&l.want, 12, 6.0);  /* 800 Hz */
    add_at(&l.want, 20, -8.0); /* 5 kHz */
    add_at(&l.want, 3, 4.0);   /* 100 Hz */
    add_at(&l.want, 24, 3.0);
    assert_int_equal(like_places(&l, place), LIKE_PLACES);
    const double hz[LIKE_PLACES] = {5040.0, 794.0, 99.2}, db[LIKE_PLACES] = {-8.0, 6.0, 4.0};
    for (int i = 0; i < LIKE_PLACES; ++i)
        if (fabs(place[i].hz / hz[i] - 1.0) > 0.01 || fabs(place[i].db - db[i]) > 1.0)
            fail_msg("place %d: %.0f Hz %+.1f dB", i, place[i].hz, place[i].db);
    l.counts[20] = false;
    l.counted = PORTRAIT_THIRDS - 1;
    assert_true(like_places(&l, place) == LIKE_PLACES && fabs(place[0].hz / 794.0 - 1.0) < 0.01);
}

/* ---- What vocals are compared by ---- */

static LikeSide portrait_of(const float *x, uint32_t n, double rate)
{
    static Portrait p;
    Error e;
    LikeSide s = {0};
    assert_true(portrait_start(&p, rate, 1, &e) && p.sink.write(&p.sink, (const float *const[]){x}, n, &e));
    assert_true(p.sink.end(&p.sink, &e));
    s.bands = portrait_colour(&p, s.colour);
    s.spread = portrait_spread(&p);
    s.voice = p.voice;
    portrait_free(&p);
    return s;
}

static void filter(float *x, uint32_t n, const Biquad *b)
{
    const Svf section = svf_from_biquad(b);
    SvfState state = {0};
    for (uint32_t k = 0; k < n; ++k)
        x[k] = (float)svf_step(&section, &state, (double)x[k]);
}

/* A noise as loud as the voice, where there is none. */
static void fill_rests(float *x, uint32_t from, uint32_t n)
{
    draw_from(7);
    for (uint32_t k = from; k < n; ++k)
        x[k] = (float)draw(-0.3, 0.3);
}

/* dB by which a band's change is more or less than that of the bell anywhere in the band: it depends on where in it the
 * voice's harmonics lie. */
static double off_bell(double change, double hz)
{
    double least = HUGE_VAL, most = -HUGE_VAL;
    for (int i = -4; i <= 4; ++i) {
        const double here = analog_bell(hz * exp2(i / 24.0), 1000.0, -6.0, design_q(1.0));
        least = fmin(least, here);
        most = fmax(most, here);
    }
    return fmax(fmax(least - change, change - most), 0.0);
}

static void a_portrait_hears_the_voice_alone(void **state)
{
    (void)state;
    SingerTake take;
    assert_true(singer_sing(&(SingerSpec){.voice = SINGER_ALTO, .seed = 4, .seconds = 4}, &take));
    const uint32_t n = take.frames + (uint32_t)(2.0 * take.rate);
    float *x = every_floats(n);
    memcpy(x, take.audio, take.frames * sizeof *x);
    const LikeSide was = portrait_of(x, n, take.rate);
    fill_rests(x, take.frames + (uint32_t)take.rate, n);
    const LikeSide noisy = portrait_of(x, n, take.rate);
    memcpy(x, take.audio, take.frames * sizeof *x);
    memset(x + take.frames, 0, (n - take.frames) * sizeof *x);
    const Biquad bell = design_bell(1000.0, -6.0, design_q(1.0), take.rate);
    filter(x, n, &bell);
    const LikeSide dipped = portrait_of(x, n, take.rate);
    double by_noise = 0.0, off = 0.0;
    for (uint32_t i = 3; i < PORTRAIT_THIRDS - 2; ++i) {
        const double before = portrait_third(was.colour, was.bands, i), hz = portrait_third_hz(i);
        by_noise = fmax(by_noise, fabs(portrait_third(noisy.colour, noisy.bands, i) - before));
        off = fmax(off, off_bell(portrait_third(dipped.colour, dipped.bands, i) - before, hz));
    }
    figure_at_most("Like", "colour: a second of noise a second after the voice changes it by", by_noise, 0.01, "dB",
                   "requirement; wide: nothing of it may count");
    figure_at_most("Like", "colour: a dip reads off by", off, 1.0, "dB",
                   "the bell anywhere in the band; LINCTUS_SEEDS 0 to 10: 0.02 to 0.89");
    assert_true(was.voice > 2.0 && fabs(was.voice - noisy.voice) < 0.2);
    free(x);
    singer_free(&take);
}

/* Steps of 100 ms between two levels 6 dB apart. Weighed by amplitude: shares 2/3 and 1/3, deviation 6 sqrt(2)/3. */
static void a_spread_is_what_it_says(void **state)
{
    (void)state;
    enum { STEPS = 60, STEP = 4800 };
    float *x = every_floats(STEPS * STEP);
    for (uint32_t k = 0; k < STEPS * STEP; ++k)
        x[k] = (k / STEP % 2 ? 0.2f : 0.1f) * (float)sin(0.05 * k);
    const double expected = 20.0 * log10(2.0) * sqrt(2.0) / 3.0;
    figure_within("Like", "spread of a tone in steps", portrait_of(x, STEPS * STEP, 48000.0).spread, expected, 0.01,
                  "dB", "its definition");
    memset(x, 0, (size_t)STEPS * STEP * sizeof *x);
    assert_true(portrait_of(x, STEPS * STEP, 48000.0).spread == 0.0);
    free(x);
}

/* ---- Measuring files ---- */

#define FAINT 60.0 /* dB under the strongest third octave: nothing that could be compared */
#define QUIET 20.0 /* dB under the strongest window: nobody speaks */

enum { WINDOW = 16384, THIRDS = 26 };

typedef struct {
    double power[THIRDS]; /* from 50 Hz to 16 kHz */
    double loudness;      /* LUFS, mono counted on both speakers */
} Measured;

static double middle(int third)
{
    return 1000.0 * exp2((third - 13) / 3.0);
}

static double window_power(const float *x)
{
    double power = 0.0;
    for (uint32_t k = 0; k < WINDOW; ++k)
        power += (double)x[k] * (double)x[k];
    return power;
}

static void add_window(Measured *m, const float *x, double rate)
{
    Spectrum s = spectrum_of(x, WINDOW, WINDOW, rate);
    for (int i = 0; i < THIRDS; ++i)
        m->power[i] += db_to_power(spectrum_band(&s, middle(i) * exp2(-1.0 / 6.0), middle(i) * exp2(1.0 / 6.0)));
    spectrum_free(&s);
}

/* The windows in which somebody speaks. */
static void measure_colour(Measured *m, const float *x, uint32_t n, double rate)
{
    double strongest = 0.0;
    for (uint32_t at = 0; at + WINDOW <= n; at += WINDOW / 4)
        strongest = fmax(strongest, window_power(x + at));
    for (uint32_t at = 0; at + WINDOW <= n; at += WINDOW / 4)
        if (window_power(x + at) > strongest * db_to_power(-QUIET))
            add_window(m, x + at, rate);
}

static Measured measure(const Bench *b, const char *name)
{
    static Loudness l;
    Measured m = {.loudness = 0.0};
    Sound s = sound_load(b, name);
    float *left = every_floats(s.n), *right = every_floats(s.n), *both = every_floats(s.n);
    for (uint32_t k = 0; k < s.n; ++k) {
        left[k] = s.x[(size_t)k * s.channels];
        right[k] = s.x[(size_t)(k + 1) * s.channels - 1];
        both[k] = 0.5f * (left[k] + right[k]);
    }
    measure_colour(&m, both, s.n, s.info.samplerate);
    loudness_init(&l, s.info.samplerate, s.channels);
    loudness_process(&l, (const float *const[]){left, right}, s.n);
    m.loudness = loudness_integrated(&l) + (s.channels == 1 ? 10.0 * log10(2.0) : 0.0);
    free(left);
    free(right);
    free(both);
    sound_free(&s);
    return m;
}

static bool is_faint(const Measured *m, int third)
{
    double most = 0.0;
    for (int i = 0; i < THIRDS; ++i)
        most = fmax(most, m->power[i]);
    return m->power[third] < most * db_to_power(-FAINT);
}

/* dB rms, level apart, over the third octaves in which take and vocal have something. */
static double distance(const Measured *take, const Measured *vocal, const Measured *from)
{
    double sum = 0.0, squares = 0.0, n = 0.0;
    for (int i = 0; i < THIRDS; ++i) {
        if (is_faint(take, i) || is_faint(vocal, i))
            continue;
        const double db = power_to_db(vocal->power[i] / from->power[i]);
        sum += db;
        squares += db * db;
        n += 1.0;
    }
    return sqrt(fmax(squares / n - sum * sum / (n * n), 0.0));
}

/* ---- On the command line ---- */

static void sing(const Bench *b, const char *name, uint32_t seed)
{
    save_singer(b, name, &(SingerSpec){.voice = SINGER_TENOR, .seed = seed, .seconds = 4, .gain_db = -9});
}

static void what_cannot_be_is_refused(void **state)
{
    Bench *b = *state;
    float *x = every_floats(4 * RATE);
    sing(b, "a.wav", 6);
    sing(b, "b.wav", 7);
    save(b, "silent.wav", WAV_24, RATE, 1, x, 4 * RATE);
    fill_rests(x, 0, 4 * RATE);
    save(b, "noise.wav", WAV_24, RATE, 1, x, 4 * RATE);
    save(b, "brief.wav", WAV_24, RATE, 1, x, 100);
    free(x);
    prepare(b, "echo words >words.txt");
    static const struct {
        const char *line;
        int status;
        const char *says;
    } lines[] = {
        {"--like silent.wav a.wav -o m.wav", ERROR_AUDIO, "silent or too short"},
        {"--like brief.wav a.wav -o m.wav", ERROR_AUDIO, "silent or too short"},
        {"--like noise.wav a.wav -o m.wav", ERROR_AUDIO, "0.0 s of voice were heard"},
        {"--like words.txt a.wav -o m.wav", ERROR_AUDIO, "words.txt"},
        {"--like none.wav a.wav -o m.wav", ERROR_FILE, "none.wav: no such file"},
        {"--like a.wav ./a.wav -o m.wav", ERROR_USAGE, "that is the take itself"},
        {"--like b.wav --replace a.wav -o b.wav", ERROR_USAGE, "never written over"},
        {"--like b.wav a.wav b.wav -o m.wav", ERROR_USAGE, "one take"},
        {"--like b.wav --apart a.wav -o m.wav", ERROR_USAGE, "one take to one file"},
        {"--like b.wav --together a.wav -o m.wav", ERROR_USAGE, "one take"},
        {"--like b.wav --loudness -20 a.wav -o m.wav", ERROR_USAGE, "leave out --loudness"},
        {"--like b.wav --stages trim,plate a.wav -o m.wav", ERROR_USAGE, "not among the --stages"},
        {"--like b.wav --set Tone.dip2_freq=400 a.wav -o m.wav", ERROR_USAGE, "finds Tone.dip2_freq itself"},
        {"--like b.wav --set compressor.wanted_reduction=4 a.wav -o m.wav", ERROR_USAGE, "itself"},
        {"--like b.wav --advise a.wav", ERROR_USAGE, "--advise"},
        {"--like b.wav --like=a.wav a.wav -o m.wav", ERROR_USAGE, "twice"},
        {"a.wav -o m.wav --like", ERROR_USAGE, "--like needs"},
        {"--like= a.wav -o m.wav", ERROR_USAGE, "--like needs"},
    };
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i)
        if (run(b, lines[i].line) != lines[i].status || !strstr(b->err, lines[i].says) || is_there(b, "m.wav"))
            fail_msg("%s: status %d, %s", lines[i].line, b->status, b->err);
}

/* The number before what the table says; 0: it does not say so. */
static double told_before(const Bench *b, const char *says)
{
    const char *told = strstr(b->out, says);
    while (told && told > b->out && told[-1] != ' ')
        --told;
    return told ? strtod(told, NULL) : 0.0;
}

static double air_of(const Bench *b)
{
    return told_before(b, " dB of air from");
}

/* Fitted once, the preset gives the same colour again; and what it was fitted to is in the page. */
static void what_was_fitted_is_kept(void **state)
{
    Bench *b = *state;
    sing(b, "a.wav", 6);
    run_well(b, "--stages trim,tone --set tone.air_lift=5 a.wav "
                "-o other.wav");
    prepare(b, "cp other.wav is.wav");
    run_well(b,
             "--stages trim,tone --like other.wav --save-preset kept --report page.html --bits float a.wav -o m.wav");
    prepare(b, "cmp other.wav is.wav && grep -q 'the other vocal' page.html && grep -q '<b>Like other.wav:' page.html");
    assert_non_null(strstr(b->out, "as --like found"));
    assert_non_null(strstr(b->out, "not touched: ambience, esses, room and noise, pitch and timing"));
    assert_non_null(strstr(b->out, "a preset has no part in it"));
    const double air = air_of(b);
    assert_true(fabs(air - 5.0) < 1.5);
    run_well(b, "--stages trim,tone --from-preset kept a.wav -o again.wav");
    assert_true(air_of(b) == air);
    assert_null(strstr(b->out, "as --like found"));
}

/* One channel sounds from both speakers: a mono file like a stereo one is as loud there. */
static void a_mono_file_is_as_loud(void **state)
{
    Bench *b = *state;
    sing(b, "a.wav", 6);
    run_well(b, "a.wav -o other.wav");
    run_well(b, "--stages trim,tone --like other.wav a.wav -o m.wav");
    const Measured want = measure(b, "other.wav"), is = measure(b, "m.wav");
    assert_non_null(strstr(b->out, ", mono, "));
    assert_non_null(strstr(b->out, "no Compressor is here"));
    figure_at_most("Like", "a mono file like a stereo one: loudness off by", fabs(is.loudness - want.loudness), 0.5,
                   "LU", "requirement; wide: a peak may hold it back");
}

/* A take without a voice is mixed all the same, and said to be fitted to nothing. */
static void a_take_without_a_voice_is_mixed(void **state)
{
    Bench *b = *state;
    float *x = every_floats(4 * RATE);
    sing(b, "b.wav", 7);
    fill_rests(x, 0, 4 * RATE);
    save(b, "noise.wav", WAV_24, RATE, 1, x, 4 * RATE);
    free(x);
    assert_int_equal(run(b, "--like b.wav noise.wav -o m.wav"), ERROR_NO_VOICE);
    assert_non_null(strstr(b->out, "nothing: the take has too little voice"));
    assert_true(is_there(b, "m.wav"));
}

/* ---- Recorded voices ---- */

#define SECONDS 7.0  /* of another recording; */
#define SHORTER 5.0  /* of the same one; */
#define LONGER  2.0  /* times that, where there is too little voice */
#define PEAK    0.35 /* of the vocal to be like: a mix has room for the peaks of another */

enum { MOST_SECTIONS = 8 };

typedef struct {
    Biquad section[MOST_SECTIONS];
    uint32_t n;
} Timbre;

static Timbre draw_timbre(void)
{
    Timbre s = {.n = 0};
    const int bells = 1 + (int)draw(0.0, 3.0);
    for (int i = 0; i < bells; ++i) {
        const double hz = exp2(draw(log2(150.0), log2(4000.0))), octaves = draw(0.5, 2.0), db = draw(2.0, 6.0);
        s.section[s.n++] = design_bell(hz, draw(0.0, 1.0) < 0.5 ? -db : db, design_q(octaves), VOICES_RATE);
    }
    const uint32_t order = 2 + (uint32_t)draw(0.0, 3.0);
    s.n += design_butterworth_high_pass(order, draw(60.0, 150.0), VOICES_RATE, s.section + s.n);
    const double air = draw(6000.0, 12000.0);
    s.section[s.n++] = design_high_shelf(air, draw(0.0, 6.0), VOICES_RATE);
    return s;
}

/* Filtered, and brought to a peak. */
static void give(const Timbre *s, Spoken *vocal)
{
    float peak = 1e-9f;
    for (uint32_t i = 0; i < s->n; ++i)
        filter(vocal->x, vocal->n, &s->section[i]);
    for (uint32_t k = 0; k < vocal->n; ++k)
        peak = fmaxf(peak, fabsf(vocal->x[k]));
    voices_gain(vocal, gain_to_db(PEAK / (double)peak) + draw(-9.0, 0.0));
}

static struct {
    Values same, other, words, level;
    uint32_t heard; /* takes that the voices' packages had */
} score;

/* What came of one take. */
static void judge_mix(const Bench *b, const char *name, bool other)
{
    const Measured was = measure(b, "take.wav"), want = measure(b, "vocal.wav"), is = measure(b, "mix.wav");
    const Measured plain = measure(b, "plain.wav");
    const double before = distance(&was, &want, &was), after = distance(&was, &want, &is);
    const double words = distance(&was, &plain, &was), off = is.loudness - want.loudness;
    printf("%-10s %s recording: %5.2f dB, then %.2f (%3.0f %%); the words alone %.2f dB; loudness off by %+.2f LU\n",
           name, other ? "another" : "the same", before, after, 100.0 * after / before, words, off);
    values_add(other ? &score.other : &score.same, 100.0 * after / before);
    values_add(&score.level, off);
    if (other)
        values_add(&score.words, 100.0 * after / words);
}

static void save_spoken(const Bench *b, const char *name, const Spoken *s)
{
    save(b, name, WAV_FLOAT, (int)VOICES_RATE, 1, s->x, s->n);
}

/* part: of the speaker's recordings, that the vocal to be like is made of; the take is made of part 0. false: there was
 * too little voice in it. */
static bool judge(Bench *b, uint32_t voice, uint32_t part, double seconds, uint32_t seed)
{
    Spoken take = {0}, vocal = {0};
    bool enough = true;
    if (voices_speak(&take, voice, 0, seconds) && voices_speak(&vocal, voice, part, seconds)) {
        ++score.heard;
        draw_from(seeded(seed));
        const Timbre timbre = draw_timbre();
        save_spoken(b, "take.wav", &take);
        save_spoken(b, "plain.wav", &vocal);
        give(&timbre, &vocal);
        save_spoken(b, "vocal.wav", &vocal);
        enough = !run(b, "--replace --like vocal.wav take.wav -o mix.wav");
        if (enough)
            judge_mix(b, voices[voice].name, part);
        else
            printf("%-10s %s", voices[voice].name, b->err);
    }
    spoken_free(&take);
    spoken_free(&vocal);
    return enough;
}

/* Words with long rests take longer. */
static void judge_once(Bench *b, uint32_t voice, uint32_t part, uint32_t seed)
{
    const double seconds = part ? SECONDS : SHORTER;
    if (!judge(b, voice, part, seconds, seed) && !judge(b, voice, part, LONGER * seconds, seed))
        printf("%-10s is left out\n", voices[voice].name);
}

/* One vocal of each voice, or as many as are asked for of the same recording and of another one. */
static void judge_voice(Bench *b, uint32_t voice)
{
    const char *many = getenv("LINCTUS_TAKES");
    const uint32_t n = many ? (uint32_t)strtoul(many, NULL, 10) : 1;
    for (uint32_t k = 0; k < n; ++k) {
        if (many || voice % 4 != 3)
            judge_once(b, voice, 0, 100 * voice + k);
        if (many || voice % 4 == 3)
            judge_once(b, voice, 1, 100 * voice + k);
    }
}

static void recorded_voices_come_near(void **state)
{
    const char *wish = getenv("LINCTUS_VOICES");
    const VoicesUse use = wish && !strcmp(wish, "tune") ? VOICES_TUNE : VOICES_JUDGE;
    for (uint32_t v = 0; v < VOICES_LONG; ++v)
        if (voices[v].use == use)
            judge_voice(*state, v);
    if (!score.heard)
        skip();
    assert_true(score.same.n && score.other.n);
    const char *group = use == VOICES_TUNE ? "Like, tuned on" : "Like";
    figure_at_most(group, "recorded voices, the same recording: left of the distance, the worst",
                   values_at(&score.same, 1.0), 50.0, "%", "requirement");
    figure_note(group, "recorded voices, another recording: left of the distance, the median",
                values_at(&score.other, 0.5), "%");
    figure_at_most(group, "recorded voices, another recording: left, of what the words alone differ by, the worst",
                   values_at(&score.words, 1.0), 130.0, "%", "words differ, and no move is to follow them");
    figure_at_most(group, "recorded voices: loudness off by", values_farthest(&score.level), 0.5, "LU",
                   "requirement; wide: a peak may hold it back");
}

/* More than twice what a first try begins with, so a few tries have to come to it. Tried by hand, the six
 * judges with long takes were off by 0.7, 0.0, 0.2, 0.2, 3.4 (rms, who speaks evenly) and 0.4 dB. The invented singer
 * sings so evenly that a reduction hardly shows. */
static void a_large_reduction_is_found_back(void **state)
{
    Bench *b = *state;
    enum { KAL = 11 };
    Spoken take = {0};
    assert_string_equal(voices[KAL].name, "kal");
    const bool there = voices_speak(&take, KAL, 0, 12.0);
    if (there) {
        save_spoken(b, "a.wav", &take);
        run_well(b, "--stages trim,tone,compressor --set compressor.wanted_reduction=9 a.wav -o other.wav");
        run_well(b, "--stages trim,tone,compressor --like other.wav a.wav -o m.wav");
        figure_at_most("Like", "a recorded voice's reduction of 9 dB comes back off by",
                       fabs(told_before(b, " dB of reduction where the voice is loud") - 9.0), 1.5, "dB", "ours");
    }
    spoken_free(&take);
    if (!there)
        skip();
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_curve_is_tones),           cmocka_unit_test(what_was_done_is_found_back),
        cmocka_unit_test(a_level_is_no_matter),       cmocka_unit_test(nothing_wanted_nothing_moved),
        cmocka_unit_test(moves_keep_to_their_ranges), cmocka_unit_test(draws_are_fitted),
        cmocka_unit_test(what_is_left_is_told),       cmocka_unit_test(a_portrait_hears_the_voice_alone),
        cmocka_unit_test(a_spread_is_what_it_says),   BENCH_TEST(what_cannot_be_is_refused),
        BENCH_TEST(what_was_fitted_is_kept),          BENCH_TEST(a_mono_file_is_as_loud),
        BENCH_TEST(a_take_without_a_voice_is_mixed),  BENCH_TEST(recorded_voices_come_near),
        BENCH_TEST(a_large_reduction_is_found_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
