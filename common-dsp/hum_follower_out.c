#include "hum_follower_out.h"

#include "hum_follower_inside.h"
#include "units.h"

#include <string.h>

/* Set by trial over the voices for tuning, as all of hum_follower.c. */
#define OUTPUT_FADE   0.1   /* s: how it comes and goes; chosen, not searched */
#define SILENT_AMOUNT 1e-4f /* -80 dB: what is left of a fade becomes 0 */

static bool sure_of(const HumFollower *f, uint32_t k)
{
    return f->channel[0].sure[k] || (f->channels > 1 && f->channel[1].sure[k]);
}

static void fade_amounts(HumFollower *f)
{
    const float keep = (float)one_pole(OUTPUT_FADE, f->rate / (f->cells * DSP_CELL));
    f->puts_out = false;
    for (uint32_t k = 0; k < f->harmonics; ++k) {
        const float wanted = f->sure && sure_of(f, k) ? f->wanted[k] : 0.f,
                    to = wanted + keep * (f->amount[k] - wanted);
        f->amount[k] = wanted == 0.f && to < SILENT_AMOUNT ? 0.f : to;
        f->puts_out |= f->amount[k] > 0.f;
    }
}

/* From what is put out now in a straight line to what is wanted at the block's end. */
static void aim(HumFollower *f, FollowerChannel *c)
{
    const uint32_t whole = f->cells * DSP_CELL / f->stride;
    const float points = (float)whole;
    for (uint32_t k = 0; k < f->harmonics; ++k) {
        c->glide.re[k] = (f->amount[k] * c->hum.re[k] - c->put.re[k]) / points;
        c->glide.im[k] = (f->amount[k] * c->hum.im[k] - c->put.im[k]) / points;
        f->put_energy += 0.5 * (double)(c->put.re[k] * c->put.re[k] + c->put.im[k] * c->put.im[k]);
    }
}

/* It is faded out, and comes back from nothing. */
static void clear_out(HumFollower *f)
{
    for (uint32_t c = 0; c < f->channels; ++c) {
        FollowerChannel *const ch = &f->channel[c];
        memset(ch->out, 0, sizeof ch->out);
        memset(&ch->put, 0, sizeof ch->put);
        ch->here = ch->ahead = ch->slope = ch->slope_here = 0.f;
    }
}

void follower_fade(HumFollower *f)
{
    fade_amounts(f);
    if (!f->puts_out)
        clear_out(f);
}

void follower_aim(HumFollower *f)
{
    for (uint32_t c = 0; c < f->channels; ++c)
        aim(f, &f->channel[c]);
}
