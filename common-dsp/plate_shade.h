/* The shades: what the damping takes from the taps on their way along a line. A tap's gain makes up for the loss of its
 * place at low frequencies alone; the losses at high ones come from two shades, of all taps and of the far ones before.
 */
#ifndef LINCTUS_PLATE_SHADE_H
#define LINCTUS_PLATE_SHADE_H

#include "plate_tank.h"

typedef struct {
    PlateLossState state;            /* far left, far right, all left, all right */
    float far[PLATE_OUTS][DSP_CELL]; /* the far taps, shaded, for the next cell */
} PlateShade;

void plate_shade_reset(PlateShade *shade); /* silent */

/* The four filters, for the damping and decay of plate_tank_tune(). */
void plate_shade_tune(const PlateTank *tank, double per_sample, double warped, PlateLoss *tune);

/* taps: rows of the far ones of the next cell, left and right, then of the near ones of this and the far ones that
 * waited for it (shade->far). out: this cell of both outputs. from, goal: as plate_tank_feed(). */
void plate_shade_run(PlateShade *shade, const PlateLoss *from, const PlateLoss *goal,
                     float taps[2 * PLATE_OUTS][DSP_CELL], float out[PLATE_OUTS][DSP_CELL]);

#endif
