#include "tone_cut.h"

#include "design.h"
#include "low_cut.h"

#define GLIDE_TAU 0.02   /* s, of each of the smoother's two poles; stepped once a cell */
#define SLOPE_TAU 0.0225 /* s, the same for a change of slope */
#define SLEW      0.25   /* octaves/s: a cut set by listening moves no faster, so that nobody hears it move */

void tone_cut_init(ToneCut *c, double rate)
{
    c->rate = rate;
    smooth_init(&c->octave, rate / DSP_CELL, GLIDE_TAU);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_init(&c->share[i], rate / DSP_CELL, SLOPE_TAU);
}

void tone_cut_restart(ToneCut *c)
{
    smooth_restart_at_target(&c->octave);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_restart_at_target(&c->share[i]);
}

uint32_t tone_cut_order(ToneSlope slope)
{
    return slope + 1; /* 12, 18, 24 dB per octave */
}

static uint32_t order_in_force(ToneSlope slope)
{
    return tone_cut_order(slope == TONE_CUT_OFF ? TONE_CUT_12 : slope);
}

double tone_cut_found(double lowest_note, ToneSlope slope)
{
    return low_cut_for(lowest_note, order_in_force(slope));
}

/* ---- Where it goes ---- */

void tone_cut_set(ToneCut *c, ToneSlope slope, double hz)
{
    c->slope = slope;
    c->hand = log2(hz);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_to(&c->share[i], slope == i ? 1.0 : 0.0);
}

/* log2 of Hz. Worked out again only where the order or the lowest note has changed. */
static double goal_for(ToneCut *c, double lowest_note)
{
    const uint32_t order = order_in_force(c->slope);
    if (c->note.order != order || c->note.lowest != lowest_note) {
        const double found = low_cut_for(lowest_note, order);
        c->note = (ToneNote){lowest_note, order, log2(found > 0.0 ? found : LOW_CUT_UNKNOWN)};
    }
    return c->note.octave;
}

void tone_cut_aim(ToneCut *c, double lowest_note, bool listening, bool fresh)
{
    const double goal = goal_for(c, lowest_note);
    const double most = SLEW * DSP_CELL / c->rate;
    c->goal = fresh ? goal : c->goal + dsp_clamp(goal - c->goal, -most, most);
    smooth_to(&c->octave, listening ? c->goal : c->hand);
}

bool tone_cut_settled(const ToneCut *c)
{
    bool settled = smooth_settled(&c->octave);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        settled = settled && smooth_settled(&c->share[i]);
    return settled;
}

/* ---- Its sections ---- */

/* If there is a first-order section, the second-order one comes before it. A section that does nothing has the poles of
 * the other one. The more alike the sections of two slopes are, the less moves in a cross-fade. */
static void sections_of(ToneSlope slope, double hz, double rate, Svf *section)
{
    Biquad b[DESIGN_BUTTERWORTH_MAX];
    const uint32_t order = order_in_force(slope);
    const uint32_t sections = design_butterworth_high_pass(order, hz, rate, b);
    const bool swap = order % 2;
    for (uint32_t i = 0; i < TONE_CUT_SECTIONS; ++i) {
        section[i] = svf_from_biquad(&b[i < sections ? (swap ? sections - 1 - i : i) : 0]);
        if (slope == TONE_CUT_OFF || i >= sections)
            section[i] = svf_flat(&section[i]);
    }
}

/* A mix of two slopes' sections is as stable as they are (svf.h). */
static void mix_slopes(const ToneCut *c, double hz, Svf *mix)
{
    double share = 0.0;
    for (ToneSlope slope = TONE_CUT_OFF; slope < TONE_SLOPES; ++slope) {
        Svf own[TONE_CUT_SECTIONS];
        if (c->share[slope].value == 0.0)
            continue;
        sections_of(slope, hz, c->rate, own);
        share += c->share[slope].value;
        for (uint32_t i = 0; i < TONE_CUT_SECTIONS; ++i)
            mix[i] =
                share == c->share[slope].value ? own[i] : svf_between(&mix[i], &own[i], c->share[slope].value / share);
    }
}

void tone_cut_step(ToneCut *c, Svf section[TONE_CUT_SECTIONS])
{
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_step(&c->share[i]);
    mix_slopes(c, exp2(smooth_step(&c->octave)), section);
}
