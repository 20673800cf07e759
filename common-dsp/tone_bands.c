#include "tone_bands.h"

#include "design.h"
#include "units.h"

#include <math.h>

/* ---- Where the bands go ---- */

static double when_it_builds_up(Tone *t, uint32_t i, bool wanted)
{
    const ToneBand *band = &t->band[i];
    if (wanted && !t->watched[i])
        build_up_reset(&t->build_up[i]);
    t->watched[i] = wanted;
    return wanted ? build_up_tick(&t->build_up[i], exp2(band->octave.target), design_q(band->width.target)) : 1.0;
}

static void aim_dip(Tone *t, uint32_t i)
{
    const ToneParams *p = &t->params;
    const ToneDip *hand = &p->dip[i];
    ToneBand *goal = &t->goal[i];
    tone_band_follow(goal, &t->memory.found[i], p->take_out);
    const bool found = p->listening;
    double depth = found ? goal->db.value : hand->depth;
    const double octave = found ? goal->octave.value : t->hand_octave[i];
    const double width = found ? goal->width.value : hand->width;
    if (p->point_out == (TonePoint)(i + 1)) {
        smooth_to(&t->whole, depth - TONE_POINT_DB);
        depth = TONE_POINT_DB;
    }
    smooth_to(&t->band[i].octave, octave);
    smooth_to(&t->band[i].width, width);
    const double share = when_it_builds_up(t, i, hand->build_up);
    smooth_to(&t->band[i].db, depth > 0.0 ? depth : depth * share);
}

static void aim(Tone *t)
{
    if (t->params.point_out == TONE_POINT_NONE)
        smooth_to(&t->whole, 0.0);
    tone_cut_aim(&t->cut, t->memory.lowest_note, t->params.cut_listening, t->fresh);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        aim_dip(t, i);
    const bool air = t->params.point_out == TONE_POINT_AIR;
    if (air)
        smooth_to(&t->whole, -TONE_POINT_DB);
    tone_band_to(&t->band[TONE_AIR], t->hand_octave[TONE_AIR], air ? TONE_POINT_DB : t->params.air_lift, 1.0);
}

/* ---- Their filters ---- */

/* After a reset there is nothing to glide from. */
static void section_to(Tone *t, uint32_t section, const Svf *to)
{
    if (t->fresh)
        sos_jump_to(&t->filter, section, to);
    else
        sos_glide_to(&t->filter, section, to);
}

static void tick_low_cut(Tone *t)
{
    if (!t->fresh && tone_cut_settled(&t->cut))
        return;
    Svf mix[TONE_CUT_SECTIONS];
    tone_cut_step(&t->cut, mix);
    for (uint32_t i = 0; i < TONE_CUT_SECTIONS; ++i)
        section_to(t, i, &mix[i]);
}

/* Hz; worked out again only where `octave` has moved. */
static double hz_of(ToneHz *known, double octave)
{
    if (!(known->hz > 0.0) || known->octave != octave)
        *known = (ToneHz){octave, exp2(octave)};
    return known->hz;
}

/* Two things are left out: a dip that works only when it builds up, as it rests most of the time, and pointing out, as
 * the whole is lowered for it already. */
static ToneCurve curve_of(Tone *t)
{
    const ToneParams *p = &t->params;
    ToneCurve c = {.order = p->slope == TONE_CUT_OFF ? 0.0 : tone_cut_order(p->slope),
                   .low_cut = hz_of(&t->cut_hz, t->cut.octave.target),
                   .air_hz = p->air_freq,
                   .air_db = p->air_lift};
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        const ToneBand *goal = &t->goal[i];
        const ToneDip *hand = &p->dip[i];
        c.dip_hz[i] = p->listening ? hz_of(&t->goal_hz[i], goal->octave.value) : hand->freq;
        c.dip_octaves[i] = p->listening ? goal->width.value : hand->width;
        c.dip_db[i] = hand->build_up ? 0.0 : p->listening ? goal->db.value : hand->depth;
    }
    return c;
}

static void tick_even(Tone *t)
{
    const ToneMemory *m = &t->memory;
    const ToneCurve curve = curve_of(t);
    const bool on = t->params.even_loudness;
    if (t->fresh)
        tone_even_start(&t->even, &m->spectrum, m->spectrum_version, &curve, on);
    tone_even_tick(&t->even, &m->spectrum, m->spectrum_version, &curve, on);
    if (t->even_gain.holds && t->even.now == t->even_db)
        return;
    t->even_db = t->even.now;
    smooth_to(&t->even_gain, db_to_gain(t->even_db));
}

static void tick_band(Tone *t, uint32_t i)
{
    ToneBand *band = &t->band[i];
    if (!t->fresh && tone_band_settled(band))
        return;
    const double hz = exp2(smooth_step(&band->octave));
    const double db = smooth_step(&band->db);
    const double q = design_q(smooth_step(&band->width));
    const Biquad b = i == TONE_AIR ? design_high_shelf(hz, db, t->rate) : design_bell(hz, db, q, t->rate);
    const Svf section = svf_from_biquad(&b);
    section_to(t, TONE_CUT_SECTIONS + i, &section);
}

void tone_bands_tick(Tone *t)
{
    aim(t);
    tick_low_cut(t);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tick_band(t, i);
    tick_even(t);
}

bool tone_bands_rest(Tone *t)
{
    bool rest = !t->fresh && !t->params.learn && !t->listened && tone_cut_settled(&t->cut) &&
                smooth_settled(&t->whole) && smooth_settled(&t->even_gain);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        rest = rest && tone_band_settled(&t->band[i]);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        rest = rest && !t->watched[i] && tone_band_settled(&t->goal[i]);
    if (!rest || t->cut.goal != t->cut.note.octave)
        return false;
    const ToneCurve curve = curve_of(t);
    return tone_even_rests(&t->even, t->memory.spectrum_version, &curve, t->params.even_loudness);
}
