/* The loss of a delay: a gain y at low frequencies, y^2 at the damping, y^3 far above. Four such filters side by side.
 *
 * It is the high shelf of the Audio EQ Cookbook with S = 1, its midpoint at the damping, times the broadband gain, so
 * that every mode dies as long as the lines' lengths say (Jot and Chaigne 1991, from memory). In state-space form (the
 * trapezoidal state-variable filter with its loop solved) the recursion is half as long, and at 0 Hz the gain is exact
 * in float at every rate: plate.md. */
#ifndef LINCTUS_PLATE_LOSS_H
#define LINCTUS_PLATE_LOSS_H

#include "four_svf.h"

typedef FourSections PlateLoss;
typedef FourStates PlateLossState;

/* Filter `lane` of the four: y of 0..1, all of it times `scale`. warped: tan(pi damping / rate). */
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

/* What each coefficient moves by in a sample of a cell, from the one tuning to the other. */
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
