#include "rest_bands.h"

#include "design.h"
#include "units.h"

#include <string.h>

#define FLOATS          4
#define REST_BANDS_WALK rest_bands_walk_four

#include "rest_bands_walk_kernel.h"

/* Chosen, not searched. */
#define TOP_OF_RATE  0.35  /* of the rate: no band lies higher */
#define SILENT_STATE 1e-15 /* -300 dB: far above a float's denormals */

/* Middles of the three band-passes and corner of the high-pass, Hz; and their Q. Chosen, not searched. */
static const double hz[REST_BANDS] = {180.0, 700.0, 2200.0, 4500.0}, q[REST_BANDS] = {0.7, 0.67, 1.0, 0.71};

/* A breath's spectrum. Set on the voices for tuning: of the takes that Phrase evens as a whole, 100 % then have their
 * phrases within 2 dB, with MOST_SLANT doubled 86 %, with LOW_MOST doubled 93 %. Half of each does as well there, as do
 * 0.4 and 0.7 for BREATH_SHARE. */
#define BREATH_SHARE 0.55 /* of the power above the lowest band lies in the two bands of the middle, at least */
#define MOST_SLANT   5.0  /* times: one of those two is at most this much stronger than the other */
#define LOW_MOST     0.5  /* times the power of both: the lowest band has at most this */

static Four of_lanes(const float x[FOUR])
{
    Four v;
    memcpy(&v, x, sizeof v);
    return v;
}

void rest_bands_init(RestBands *r, double rate, uint32_t channels)
{
    float c[5][FOUR];
    memset(r, 0, sizeof *r);
    r->channels = channels;
    r->rate = rate;
    r->keep = one_pole(REST_BANDS_FAST, rate / DSP_CELL);
    r->every = voicing_every(rate);
    for (int b = 0; b < REST_BANDS; ++b) {
        const double at = fmin(hz[b], TOP_OF_RATE * rate);
        const Biquad s = b + 1 < REST_BANDS ? design_band_pass(at, q[b], rate) : design_high_pass(at, q[b], rate);
        c[0][b] = (float)s.b0;
        c[1][b] = (float)s.b1;
        c[2][b] = (float)s.b2;
        c[3][b] = (float)s.a1;
        c[4][b] = (float)s.a2;
    }
    r->b0 = of_lanes(c[0]);
    r->b1 = of_lanes(c[1]);
    r->b2 = of_lanes(c[2]);
    r->a1 = of_lanes(c[3]);
    r->a2 = of_lanes(c[4]);
    rest_bands_reset(r);
}

void rest_bands_reset(RestBands *r)
{
    memset(r->s1, 0, sizeof r->s1);
    memset(r->s2, 0, sizeof r->s2);
    r->energy[0] = r->energy[1] = four_all(0.f);
    r->n = 0;
    r->until = r->every;
    r->signs = (Voicing){{0}};
    memset(r->cell, 0, sizeof r->cell);
    memset(r->power, 0, sizeof r->power);
}

static Four walk_all(RestBands *r, const float *const *in, uint32_t at, uint32_t n)
{
    return r->channels == 2 && wide_avx2() ? rest_bands_walk_avx2(r, in, at, n) : rest_bands_walk_four(r, in, at, n);
}

/* Cut in pieces that end where a sign is taken. */
void rest_bands_process(RestBands *r, const float *const *in, uint32_t n)
{
    for (uint32_t t = 0, m; t < n; t += m) {
        m = n - t < r->until ? n - t : r->until;
        const Four last = walk_all(r, in, t, m);
        r->until -= m;
        if (r->until)
            continue;
        float lane[FOUR];
        memcpy(lane, &last, sizeof lane);
        voicing_push(&r->signs, lane[1] > 0.f);
        r->until = r->every;
    }
    r->n += n;
}

bool rest_bands_voiced(const RestBands *r)
{
    return voicing_agreement(&r->signs, r->rate / r->every) > VOICING_CHANCE;
}

bool rest_bands_breath(const double power[REST_BANDS])
{
    const double low = power[0], dull = power[1], bright = power[2], high = power[3], both = dull + bright;
    return both >= BREATH_SHARE * (both + high) && dull <= MOST_SLANT * bright && bright <= MOST_SLANT * dull &&
           low <= LOW_MOST * both;
}

static void hush(Four *v)
{
    float lane[FOUR];
    memcpy(lane, v, sizeof lane);
    for (int i = 0; i < FOUR; ++i)
        if (lane[i] > -SILENT_STATE && lane[i] < SILENT_STATE)
            lane[i] = 0.f;
    memcpy(v, lane, sizeof lane);
}

void rest_bands_tick(RestBands *r)
{
    float energy[FOUR];
    const Four all = r->channels > 1 ? four_add(r->energy[0], r->energy[1]) : r->energy[0];
    memcpy(energy, &all, sizeof energy);
    for (int b = 0; r->n && b < REST_BANDS; ++b) {
        r->cell[b] = (double)energy[b] / (r->n * r->channels);
        r->power[b] = dsp_hush(r->cell[b] + r->keep * (r->power[b] - r->cell[b]));
    }
    for (uint32_t c = 0; c < r->channels; ++c) {
        hush(&r->s1[c]);
        hush(&r->s2[c]);
        r->energy[c] = four_all(0.f);
    }
    r->n = 0;
}
