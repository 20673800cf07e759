#include "plate_loss.h"

#include "dsp.h"
#include "four_math.h"

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

/* Without their signs, the bits of floats stand in the order of their magnitudes. */
static void hush_four(float *x)
{
    const FourBits least = four_as_bits(four_all((float)DSP_SILENCE));
    const FourBits own = four_as_bits(four_load(x)), magnitude = four_as_bits(four_abs(four_load(x)));
    const FourBits below = four_bits_down(four_bits_sub(magnitude, least), 31);
    four_store(x, four_from_bits(four_bits_and(own, four_bits_sub(below, four_bits_all(1)))));
}

void plate_loss_hush(PlateLossState *state)
{
    hush_four(state->first);
    hush_four(state->second);
}
