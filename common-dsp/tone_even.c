#include "tone_even.h"

#include "design.h"

#include <math.h>
#include <string.h>

#define STEPS_A_SECOND    3000.0 /* steps of work a second: a round of all stages takes 21 ms */
#define MOST_GAIN         24.0   /* dB, up or down */
#define POINTS_A_BAND     3      /* frequencies in a band over which the filters' power is averaged */
#define GAIN_STEPS_PER_DB 32.0   /* the gain is rounded to these, so that it rests while the voice changes it by less */

/* Stages of a round: design the filters; a band's power, each; a row's sums, each; the gain. */
enum { DESIGN, POWERS, SUMS = POWERS + SPECTRUM_BANDS, GAIN = SUMS + EVEN_ROWS };

static void design(ToneEven *e)
{
    const ToneCurve *const c = &e->curve;
    e->sections = 0;
    if (c->order > 0.0)
        e->sections = design_butterworth_high_pass((uint32_t)c->order, c->low_cut, e->rate, e->section);
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        if (c->dip_db[i] != 0.0)
            e->section[e->sections++] = design_bell(c->dip_hz[i], c->dip_db[i], design_q(c->dip_octaves[i]), e->rate);
    if (c->air_db != 0.0)
        e->section[e->sections++] = design_high_shelf(c->air_hz, c->air_db, e->rate);
}

static double power_at(const ToneEven *e, double hz)
{
    double gain = 1.0;
    for (uint32_t i = 0; i < e->sections; ++i)
        gain *= biquad_gain(&e->section[i], hz, e->rate);
    return gain * gain;
}

/* Mean power factor of the filters over a band; exactly 1 where there are none. */
static double power_of(const ToneEven *e, uint32_t band)
{
    double sum = 0.0;
    for (int i = 0; i < POINTS_A_BAND; ++i) {
        const double apart = (i - 0.5 * (POINTS_A_BAND - 1)) / (3.0 * POINTS_A_BAND);
        sum += power_at(e, fmin(spectrum_hz(band) * exp2(apart), 0.49 * e->rate));
    }
    return sum / POINTS_A_BAND;
}

static bool same(const ToneCurve *a, const ToneCurve *b)
{
    bool same = a->order == b->order && a->low_cut == b->low_cut && a->air_hz == b->air_hz && a->air_db == b->air_db;
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i)
        same = same && a->dip_hz[i] == b->dip_hz[i] && a->dip_db[i] == b->dip_db[i] &&
               a->dip_octaves[i] == b->dip_octaves[i];
    return same;
}

/* The powers stay where only the spectrum has changed. */
static void begin(ToneEven *e, uint32_t version, const ToneCurve *curve)
{
    if (!e->known || !same(curve, &e->curve)) {
        e->curve = *curve;
        e->powers = 0;
        design(e);
    }
    e->version = version;
    e->known = true;
    memset(&e->sums, 0, sizeof e->sums);
}

static void find_power(ToneEven *e, uint32_t band)
{
    if (band < e->powers)
        return;
    e->power[band] = power_of(e, band);
    e->powers = band + 1;
}

static void conclude(ToneEven *e, const VoiceSpectrum *heard)
{
    const double gain = heard->count >= SPECTRUM_ENOUGH ? even_gain(heard->blocks, &e->sums, 1.0) : 0.0;
    e->found = dsp_clamp(round(GAIN_STEPS_PER_DB * gain) / GAIN_STEPS_PER_DB, -MOST_GAIN, MOST_GAIN);
}

/* true: `found` belongs to this curve and spectrum. */
static bool stands(const ToneEven *e, uint32_t version, const ToneCurve *curve)
{
    return e->stage == DESIGN && e->known && version == e->version && same(curve, &e->curve);
}

static void step(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve)
{
    if (e->stage == DESIGN)
        begin(e, version, curve);
    else if (e->stage < SUMS)
        find_power(e, e->stage - POWERS);
    else if (e->stage < GAIN)
        spectrum_sum(heard, e->stage - SUMS, e->power, &e->sums);
    else
        conclude(e, heard);
    e->rounds += e->stage == GAIN;
    e->stage = e->stage == GAIN ? DESIGN : e->stage + 1;
}

void tone_even_start(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on)
{
    e->stage = DESIGN;
    do
        step(e, heard, version, curve);
    while (e->stage != DESIGN);
    e->now = on ? e->found : 0.0;
}

/* Learning moves the gain slowly, up or down; a control may make it fall at once. */
static void move(ToneEven *e, double wished, bool settled)
{
    const double most = EVEN_RISE * DSP_CELL / e->rate;
    const double fallen = e->hurries ? wished : fmax(wished, e->now - most);
    e->now = even_move(e->now, fallen, most);
    if (settled && e->now == wished)
        e->hurries = false;
}

void tone_even_tick(ToneEven *e, const VoiceSpectrum *heard, uint32_t version, const ToneCurve *curve, bool on)
{
    bool settled = stands(e, version, curve);
    for (work_grant(&e->pace, STEPS_A_SECOND * DSP_CELL / e->rate); work_next(&e->pace) && !settled;) {
        step(e, heard, version, curve);
        work_did(&e->pace, 1.0);
        settled = stands(e, version, curve);
    }
    move(e, on ? e->found : 0.0, settled);
}

bool tone_even_rests(const ToneEven *e, uint32_t version, const ToneCurve *curve, bool on)
{
    return stands(e, version, curve) && e->now == (on ? e->found : 0.0) && !e->hurries;
}

void tone_even_hurry(ToneEven *e)
{
    e->hurries = true;
}
