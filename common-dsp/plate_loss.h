/* The loss of a delay line: gain y at low frequencies, y^2 at the damping, y^3 far above. Four such filters side by
 * side.
 *
 * It is the high shelf of the Audio EQ Cookbook with S = 1 and its midpoint at the damping, times a broadband gain. In
 * dB the loss is nearly in proportion to the line's length, so that all modes near one frequency decay alike (Jot and
 * Chaigne 1991, from memory). As a trapezoidal state-variable filter with its loop solved, its recursion is half as
 * long, and at 0 Hz the gain is exact in float at every rate: plate.md. */
#ifndef LINCTUS_PLATE_LOSS_H
#define LINCTUS_PLATE_LOSS_H

#include "four_svf.h"

typedef FourSections PlateLoss;
typedef FourStates PlateLossState;

/* Tunes filter `lane` (0..3). y: 0..1; scale: factor on the whole output; warped: tan(pi damping / rate). */
void plate_loss_tune(PlateLoss *loss, uint32_t lane, double y, double warped, double scale);

/* States too small to be heard become 0, so that none gets denormal. */
void plate_loss_hush(PlateLossState *state);

/* ---- For the loops: the same in registers ---- */

typedef FourSvf Loss;
typedef FourSvfState LossState;

static inline Four loss_part(const float *from, const float *goal, Four part)
{
    return four_mul(part, four_sub(four_load(goal), four_load(from)));
}

/* The change of each coefficient in a sample, from one tuning to the other. part: 1 / number of samples. */
static inline Loss loss_step(const PlateLoss *from, const PlateLoss *goal, float part)
{
    const Four all = four_all(part);
    return (Loss){loss_part(from->direct, goal->direct, all),       loss_part(from->by_first, goal->by_first, all),
                  loss_part(from->by_second, goal->by_second, all), loss_part(from->keep, goal->keep, all),
                  loss_part(from->lift, goal->lift, all),           loss_part(from->rise, goal->rise, all)};
}

static inline void loss_glide(Loss *now, const Loss *step)
{
    now->direct = four_add(now->direct, step->direct);
    now->by_first = four_add(now->by_first, step->by_first);
    now->by_second = four_add(now->by_second, step->by_second);
    now->keep = four_add(now->keep, step->keep);
    now->lift = four_add(now->lift, step->lift);
    now->rise = four_add(now->rise, step->rise);
}

#endif
