#include "plate_shade.h"

#include "plate_loops.h"

void plate_shade_reset(PlateShade *shade)
{
    *shade = (PlateShade){0};
}

/* The shade of all taps has the near ones' average loss; the far ones' shade adds the rest of theirs. */
void plate_shade_tune(const PlateTank *tank, double per_sample, double warped, PlateLoss *tune)
{
    const double near = plate_tank_mean_loss(tank, per_sample, 0);
    const double far = plate_tank_mean_loss(tank, per_sample, 1) / near;
    for (uint32_t lane = 0; lane < FOUR; ++lane) {
        const double y = lane < PLATE_OUTS ? far : near;
        plate_loss_tune(tune, lane, y, warped, 1.0 / y);
    }
}

/* The far taps are shaded a cell ahead and kept, so that all four lanes run at once. */
void plate_shade_run(PlateShade *shade, const PlateLoss *from, const PlateLoss *goal,
                     float taps[2 * PLATE_OUTS][DSP_CELL], float out[PLATE_OUTS][DSP_CELL])
{
    float *const to[2 * PLATE_OUTS] = {shade->far[0], shade->far[1], out[0], out[1]};
    plate_loops()->shades(from, goal, &shade->state, taps, to);
    plate_loss_hush(&shade->state);
}
