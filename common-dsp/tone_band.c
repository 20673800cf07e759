#include "tone_band.h"

#define NOWHERE 8.0     /* log2 of Hz (256 Hz): where a dip waits for its first finding */
#define FADED   (-0.02) /* dB: a dip above this has faded out */

#define LEAST_TAKEN_SHARE 0.6 /* share of a resonance's height that its dip takes out when it is just sure enough */
#define MOST_TAKEN_SHARE  0.8 /* the same when its log odds are SURER_BY higher. Settled in resonance.md, "Dips" */
#define SURER_BY          1.5 /* nepers */

void tone_band_init(ToneBand *band, double rate, double tau)
{
    smooth_init(&band->octave, rate / DSP_CELL, tau);
    smooth_init(&band->db, rate / DSP_CELL, tau);
    smooth_init(&band->width, rate / DSP_CELL, tau);
}

void tone_band_restart(ToneBand *band)
{
    smooth_restart_at_target(&band->octave);
    smooth_restart_at_target(&band->db);
    smooth_restart_at_target(&band->width);
}

void tone_band_to(ToneBand *band, double octave, double db, double width)
{
    smooth_to(&band->octave, octave);
    smooth_to(&band->db, db);
    smooth_to(&band->width, width);
}

bool tone_band_settled(const ToneBand *band)
{
    return smooth_settled(&band->octave) && smooth_settled(&band->db) && smooth_settled(&band->width);
}

/* The surer a finding is, the more of it is taken out: on average heights are right, but places and widths are not. */
double tone_band_depth(const Resonance *found, double take_out)
{
    const double share = LEAST_TAKEN_SHARE + (MOST_TAKEN_SHARE - LEAST_TAKEN_SHARE) *
                                                 dsp_clamp((found->sure - RESONANCE_SURE) / SURER_BY, 0.0, 1.0);
    return -fmin(share * found->height, take_out);
}

void tone_band_follow(ToneBand *goal, const Resonance *found, double take_out)
{
    const bool any = found->hz > 0.0;
    if (!any && goal->octave.holds && tone_band_settled(goal) && goal->db.target == 0.0)
        return; /* nothing was found, and the dip of the last finding is gone */
    const double octave = any ? log2(found->hz) : goal->octave.holds ? goal->octave.target : NOWHERE;
    const double width = any ? found->width : goal->octave.holds ? goal->width.target : 1.0;
    const double depth = tone_band_depth(found, take_out);
    if (!goal->octave.holds || goal->db.value > FADED) {
        smooth_jump(&goal->octave, octave);
        smooth_jump(&goal->width, width);
    }
    if (fabs(octave - goal->octave.target) > TONE_FAR)
        smooth_to(&goal->db, 0.0);
    else
        tone_band_to(goal, octave, depth, width);
    smooth_step(&goal->octave);
    smooth_step(&goal->db);
    smooth_step(&goal->width);
}
