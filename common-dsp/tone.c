#include "tone.h"

#include "design.h"

#include <string.h>

static const double BAND_TAU = 0.02;  /* s, each of the smoother's two poles, stepped once a cell */
static const double SLOPE_TAU = 0.01; /* s, stepped once a sample */

static const ToneParams off = {
    .low_cut = 100.0,
    .dip = {{250.0, 0.0, 1.0}, {400.0, 0.0, 1.0}, {800.0, 0.0, 1.0}},
    .air_freq = 12000.0,
};

static uint32_t cut_order(ToneSlope slope)
{
    return slope + 1; /* 12, 18, 24 dB per octave */
}

bool tone_init(Tone *t, double rate, uint32_t channels)
{
    memset(t, 0, sizeof *t);
    if (!dsp_rate_ok(rate) || channels < 1 || channels > DSP_CHANNELS)
        return false;
    t->rate = rate;
    t->channels = channels;
    smooth_init(&t->low_cut, rate / DSP_CELL, BAND_TAU);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_init(&t->share[i], rate, SLOPE_TAU);
    for (uint32_t i = 0; i < TONE_BANDS; ++i) {
        smooth_init(&t->band[i].octave, rate / DSP_CELL, BAND_TAU);
        smooth_init(&t->band[i].db, rate / DSP_CELL, BAND_TAU);
        smooth_init(&t->band[i].width, rate / DSP_CELL, BAND_TAU);
    }
    for (ToneSlope slope = TONE_CUT_12; slope < TONE_SLOPES; ++slope)
        sos_init(&t->cut[slope - 1], (cut_order(slope) + 1) / 2, channels);
    sos_init(&t->bands, TONE_BANDS, channels);
    tone_set(t, &off);
    tone_reset(t);
    return true;
}

void tone_done(Tone *t)
{
    (void)t; /* owns nothing */
}

/* The last target holds at once, and so will the next. */
static void restart(Smooth *s)
{
    smooth_jump(s, s->target);
    smooth_restart(s);
}

void tone_reset(Tone *t)
{
    t->cell = (Cell){0};
    t->fresh = true;
    restart(&t->low_cut);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        restart(&t->share[i]);
    for (uint32_t i = 0; i < TONE_BANDS; ++i) {
        restart(&t->band[i].octave);
        restart(&t->band[i].db);
        restart(&t->band[i].width);
    }
    for (uint32_t i = 0; i < TONE_SLOPES - 1; ++i)
        sos_reset(&t->cut[i]);
    sos_reset(&t->bands);
}

static void band_to(ToneBand *band, double hz, double db, double width)
{
    smooth_to(&band->octave, log2(hz));
    smooth_to(&band->db, db);
    smooth_to(&band->width, width);
}

void tone_set(Tone *t, const ToneParams *p)
{
    smooth_to(&t->low_cut, log2(p->low_cut));
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_to(&t->share[i], p->slope == i ? 1.0 : 0.0);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        band_to(&t->band[i], p->dip[i].freq, p->dip[i].depth, p->dip[i].width);
    band_to(&t->band[TONE_AIR], p->air_freq, p->air_lift, 1.0);
}

/* After a reset there is nothing to glide from. */
static void section_to(const Tone *t, Sos *s, uint32_t section, const Biquad *b)
{
    if (t->fresh)
        sos_jump(s, section, b);
    else
        sos_glide(s, section, b);
}

static void tick_low_cut(Tone *t)
{
    if (!t->fresh && smooth_settled(&t->low_cut))
        return;
    const double hz = exp2(smooth_step(&t->low_cut));
    for (ToneSlope slope = TONE_CUT_12; slope < TONE_SLOPES; ++slope) {
        Biquad section[DESIGN_BUTTERWORTH_MAX];
        const uint32_t sections = design_butterworth_high_pass(cut_order(slope), hz, t->rate, section);
        for (uint32_t i = 0; i < sections; ++i)
            section_to(t, &t->cut[slope - 1], i, &section[i]);
    }
}

static bool band_settled(const ToneBand *band)
{
    return smooth_settled(&band->octave) && smooth_settled(&band->db) && smooth_settled(&band->width);
}

static void tick_band(Tone *t, uint32_t i)
{
    ToneBand *band = &t->band[i];
    if (!t->fresh && band_settled(band))
        return;
    const double hz = exp2(smooth_step(&band->octave));
    const double db = smooth_step(&band->db);
    const double q = design_q(smooth_step(&band->width));
    const Biquad b = i == TONE_AIR ? design_high_shelf(hz, db, t->rate) : design_bell(hz, db, q, t->rate);
    section_to(t, &t->bands, i, &b);
}

static void tick(Tone *t)
{
    tick_low_cut(t);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tick_band(t, i);
    t->fresh = false;
    for (uint32_t i = 0; i < TONE_SLOPES - 1; ++i)
        sos_hush(&t->cut[i]);
    sos_hush(&t->bands);
}

/* x becomes the low cut's output: the input and the three filters in their shares. Where one has the whole share, its
 * output alone. */
static void cut_frame(Tone *t, double *x)
{
    double from[TONE_SLOPES][DSP_CHANNELS];
    for (uint32_t i = 0; i < TONE_SLOPES; ++i) {
        memcpy(from[i], x, sizeof from[i]);
        if (i != TONE_CUT_OFF)
            sos_frame(&t->cut[i - 1], from[i]);
    }
    double mix[DSP_CHANNELS] = {0};
    bool fading = false;
    for (uint32_t i = 0; i < TONE_SLOPES; ++i) {
        const double share = smooth_step(&t->share[i]);
        fading = fading || !smooth_settled(&t->share[i]);
        if (share == 1.0)
            memcpy(x, from[i], sizeof from[i]);
        for (uint32_t c = 0; c < t->channels; ++c)
            mix[c] += share * from[i][c];
    }
    if (fading)
        memcpy(x, mix, sizeof mix);
}

static void run(Tone *t, const float *const *in, float *const *out, uint32_t from, uint32_t to)
{
    for (uint32_t i = from; i < to; ++i) {
        double x[DSP_CHANNELS] = {0};
        for (uint32_t c = 0; c < t->channels; ++c)
            x[c] = in[c][i];
        cut_frame(t, x);
        sos_frame(&t->bands, x);
        for (uint32_t c = 0; c < t->channels; ++c)
            out[c][i] = (float)x[c];
    }
}

void tone_process(Tone *t, const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t done = 0; done < n;) {
        if (cell_starts(&t->cell))
            tick(t);
        const uint32_t m = cell_fit(&t->cell, n - done);
        run(t, in, out, done, done + m);
        cell_advance(&t->cell, m);
        done += m;
    }
}

uint32_t tone_latency(const Tone *t)
{
    (void)t;
    return 0;
}
