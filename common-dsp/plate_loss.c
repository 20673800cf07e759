#include "plate_loss.h"

#include "dsp.h"

#include <math.h>

/* H, B and L are the shelf's high-pass, band-pass and low-pass parts, c solves the loop of its two integrators. */
void plate_loss_tune(PlateLoss *loss, uint32_t lane, double y, double warped, double scale)
{
    const double k = sqrt(2.0), g = warped * sqrt(y), c = 1.0 / (1.0 + g * (g + k));
    const double high = scale * y * y * y, band = scale * y * y * k * (1.0 - y), low = scale * y * (1.0 - y * y);
    const double through = c * (band + low * g);
    loss->direct[lane] = (float)(high + g * through);
    loss->by_first[lane] = (float)through;
    loss->by_second[lane] = (float)(low - g * through);
    loss->keep[lane] = (float)(2.0 * c - 1.0);
    loss->lift[lane] = (float)(2.0 * c * g);
    loss->rise[lane] = (float)(2.0 * c * g * g);
}

void plate_loss_hush(PlateLossState *state)
{
    four_states_hush(state, (float)DSP_SILENCE);
}
