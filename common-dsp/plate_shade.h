/* The shades: the damping that the taps miss, as they lie before the losses at the lines' ends. A tap's gain stands for
 * the loss up to its place at low frequencies only. The loss at high ones comes from two filters, the shades: one for
 * all taps, and one more for the far taps before that. */
#ifndef LINCTUS_PLATE_SHADE_H
#define LINCTUS_PLATE_SHADE_H

#include "plate_tank.h"

typedef struct {
    PlateLossState state;            /* lanes: far taps left, right; all taps left, right */
    float far[PLATE_OUTS][DSP_CELL]; /* the shaded far taps of the next cell */
} PlateShade;

void plate_shade_reset(PlateShade *shade); /* silence */

/* Tunes the four filters. per_sample, warped: as plate_tank_tune(). */
void plate_shade_tune(const PlateTank *tank, double per_sample, double warped, PlateLoss *tune);

/* Shades a cell. taps: two rows (left, right) of far taps for the next cell, then two of near taps for this cell with
 * the shaded far ones (shade->far) added. out: this cell of both outputs. from, goal: as plate_tank_feed(). */
void plate_shade_run(PlateShade *shade, const PlateLoss *from, const PlateLoss *goal,
                     float taps[2 * PLATE_OUTS][DSP_CELL], float out[PLATE_OUTS][DSP_CELL]);

#endif
