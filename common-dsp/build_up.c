#include "build_up.h"

#include "design.h"
#include "units.h"

/* Chosen, not searched; what for: build_up.h. */
#define POWER_TAU        0.03 /* s: each of the two poles of a mean square */
#define ANSWER_TAU       0.04 /* s: each of the two poles of the answer */
#define STARTS_OVER      3.0  /* dB over the average voice: up to here the answer is 0 */
#define FULL_OVER        6.0  /* dB over the average voice: from here on it is 1 */
#define SILENT_POWER     1e-9 /* mean square, -90 dBFS: less is silence */
#define LEAST_REST_SHARE 1e-3 /* of the whole power: least that counts as the rest, so that the ratio stays finite */

static double ratio_db(double band, double whole)
{
    return 10.0 * log10((band + 1e-30) / fmax(whole - band, LEAST_REST_SHARE * whole + 1e-30));
}

/* dB: what the band-pass lets through of the average voice, over the rest of it. */
static double usual_db(const BuildUp *b, double hz, double q)
{
    double band = 0.0, whole = 0.0;
    for (int i = 0; i < AVERAGE_VOICE_BANDS; ++i) {
        const double x = b->average_hz[i] / hz, off = q * (x - 1.0 / x);
        band += b->average[i] / (1.0 + off * off);
        whole += b->average[i];
    }
    return ratio_db(band, whole);
}

void build_up_init(BuildUp *b, double rate)
{
    *b = (BuildUp){.rate = rate, .keep = one_pole(POWER_TAU, rate)};
    for (int i = 0; i < AVERAGE_VOICE_BANDS; ++i) {
        b->average_hz[i] = average_voice_hz(i);
        b->average[i] = average_voice_power(i);
    }
    smooth_init(&b->share, rate / DSP_CELL, ANSWER_TAU);
    build_up_reset(b);
}

void build_up_reset(BuildUp *b)
{
    b->state = (SvfState){0};
    b->band[0] = b->band[1] = b->whole[0] = b->whole[1] = 0.0;
    smooth_jump(&b->share, 0.0);
}

static void watch(BuildUp *b, double hz, double q)
{
    if (hz == b->hz && q == b->q)
        return;
    const Biquad band = design_band_pass(hz, q, b->rate);
    b->filter = svf_from_biquad(&band);
    b->usual = usual_db(b, hz, q);
    b->hz = hz;
    b->q = q;
}

double build_up_tick(BuildUp *b, double hz, double q)
{
    watch(b, hz, q);
    svf_hush(&b->state);
    for (int i = 0; i < 2; ++i) {
        b->band[i] = dsp_hush(b->band[i]);
        b->whole[i] = dsp_hush(b->whole[i]);
    }
    const double over = b->whole[1] > SILENT_POWER ? ratio_db(b->band[1], b->whole[1]) - b->usual : 0.0;
    smooth_to(&b->share, dsp_clamp((over - STARTS_OVER) / (FULL_OVER - STARTS_OVER), 0.0, 1.0));
    return smooth_step(&b->share);
}

static void follow(double mean[2], double keep, double x)
{
    mean[0] = x * x + keep * (mean[0] - x * x);
    mean[1] = mean[0] + keep * (mean[1] - mean[0]);
}

void build_up_process(BuildUp *b, const float *in, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const double x = (double)in[i];
        follow(b->band, b->keep, svf_step(&b->filter, &b->state, x));
        follow(b->whole, b->keep, x);
    }
}
