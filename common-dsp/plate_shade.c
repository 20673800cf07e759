#include "plate_shade.h"

#include "dsp.h"

void plate_shade_reset(PlateShade *shade)
{
    *shade = (PlateShade){0};
}

/* Of the near taps on average, and of the far ones from there. */
void plate_shade_tune(const PlateTank *tank, double per_sample, double warped, PlateLoss *tune)
{
    const double near = plate_tank_mean_loss(tank, per_sample, 0);
    const double far = plate_tank_mean_loss(tank, per_sample, 1) / near;
    for (uint32_t lane = 0; lane < FOUR; ++lane) {
        const double y = lane < PLATE_OUTS ? far : near;
        plate_loss_tune(tune, lane, y, warped, 1.0 / y);
    }
}

/* Four filters side by side: four samples of each row are turned, so that a lane is a filter. */
static inline void darken(PlateShade *shade, const PlateLoss *from, const PlateLoss *goal, bool moving,
                          float row[FOUR][DSP_CELL])
{
    Loss now = four_svf_load(from);
    const Loss step = loss_step(from, goal, 1.f / DSP_CELL);
    LossState state = four_states_load(&shade->state);
    for (uint32_t t = 0; t < DSP_CELL; t += FOUR) {
        Four x[FOUR];
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k)
            x[k] = four_load(row[k] + t);
        four_turn(x);
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k) {
            if (moving)
                loss_glide(&now, &step);
            x[k] = four_svf_step(&now, &state, x[k]);
        }
        four_turn(x);
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k)
            four_store(row[k] + t, x[k]);
    }
    four_states_store(&shade->state, &state);
}

/* The far taps run a cell ahead and wait, so that no lane waits for another. */
void plate_shade_run(PlateShade *shade, const PlateLoss *from, const PlateLoss *goal,
                     float taps[2 * PLATE_OUTS][DSP_CELL], float out[PLATE_OUTS][DSP_CELL])
{
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t t = 0; t < DSP_CELL; t += FOUR)
            four_store(taps[PLATE_OUTS + o] + t,
                       four_add(four_load(taps[PLATE_OUTS + o] + t), four_load(shade->far[o] + t)));
    if (from == goal)
        darken(shade, goal, goal, false, taps);
    else
        darken(shade, from, goal, true, taps);
    memcpy(shade->far, taps, sizeof shade->far);
    memcpy(out, taps + PLATE_OUTS, PLATE_OUTS * sizeof *out);
    plate_loss_hush(&shade->state);
}
