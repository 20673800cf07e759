#include "hum_follower_rests.h"

#include "hum_follower_inside.h"
#include "units.h"

#include <math.h>

/* Set by trial over the voices for tuning, as all of hum_follower.c. */
#define WEAKEST_RISE      1.0  /* dB a second: how the weakest window is forgotten */
#define REST_OVER_WEAKEST 3.0  /* times the weakest window's power: up to here a window lies in a rest */
#define STILLER_TIMES     2.0f /* times less power than in the rests so far: those were none */

/* The rests prove quieter than what was taken for rests so far: what was learned in those counts little. */
static void learn_anew(HumFollower *f)
{
    f->learned_at = f->weakest;
    for (uint32_t c = 0; c < f->channels; ++c)
        for (uint32_t k = 0; k < f->harmonics; ++k) {
            FollowerChannel *const ch = &f->channel[c];
            ch->doubt[k] = (float)fmax((double)ch->doubt[k], (double)ch->usual[k]);
            ch->usual[k] /= STILLER_TIMES;
        }
}

static double window_mean(double *ring, uint32_t block, double newest)
{
    double sum = 0.0;
    ring[block % FOLLOWER_SPAN] = newest;
    for (uint32_t i = 0; i < FOLLOWER_SPAN; ++i)
        sum += ring[i] / FOLLOWER_SPAN;
    return sum;
}

/* The weakest lately. */
static double weakest(const HumFollower *f, double before, double power)
{
    return fmax(fmin(power, before * db_to_power(WEAKEST_RISE * follower_block_seconds(f))), 1e-16);
}

void follower_hear_rest(HumFollower *f)
{
    const double samples = f->cells * DSP_CELL * f->channels;
    const double left = window_mean(f->power, f->block, f->left / samples);
    if (f->block + 1 < FOLLOWER_SPAN)
        return;
    f->weakest = weakest(f, f->weakest, left);
    f->quiet = left <= REST_OVER_WEAKEST * f->weakest;
    if (f->quiet && !f->known && f->weakest * STILLER_TIMES < f->learned_at)
        learn_anew(f);
    f->begins = f->begins ? f->begins : f->quiet ? f->block : 0;
}
