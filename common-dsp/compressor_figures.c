#include "compressor_figures.h"

#include "dsp.h"

#include <math.h>
#include <string.h>

/* THRESHOLD_LOWEST is the port's limit; the rest chosen, not searched. */
#define THRESHOLD_LOWEST (-60.0) /* dB: the control's lowest value */
#define MOST_MAKEUP      40.0    /* dB: more would lift the noise of a room to the voice */
#define FIRST_OVER_VOICE 3.0     /* dB: loudest level over the voice, assumed until anything is known */

/* Stages of a round: the levels of four speeds, the gains of the curve, the energies of four speeds, the makeup. */
enum { NEIGHBOURS = 4, GAINS = NEIGHBOURS, MAKEUP = GAINS + 1 + NEIGHBOURS };

_Static_assert(MAKEUP + 1 == COMPRESSOR_FIGURES_STEPS, "the stages are the steps");

/* dB: the threshold that gives the wanted reduction for a voice this loud. */
static double threshold_for(const CompressorWish *wish, double loud)
{
    return dsp_clamp(loud - curve_over(&wish->curve, wish->reduction), THRESHOLD_LOWEST, LEVELS_HIGH);
}

double compressor_figures_threshold(const CompressorFigures *f, const CompressorWish *wish)
{
    if (wish->wanted && f->known)
        return threshold_for(wish, f->loud);
    return wish->wanted ? LEVELS_HIGH : wish->curve.threshold;
}

Curve compressor_figures_curve_ahead(const CompressorFigures *f, const CompressorWish *wish, double loudest)
{
    Curve curve = wish->curve;
    if (wish->wanted)
        curve.threshold = threshold_for(wish, f->known ? f->loud_target : loudest - FIRST_OVER_VOICE);
    return curve;
}

/* ---- A round ---- */

static void begin_round(CompressorFigures *f, const CompressorWish *wish)
{
    f->mix = levels_mix(wish->attack, wish->release);
    f->loud_sum = 0.0;
    memset(&f->sums, 0, sizeof f->sums);
}

/* Nothing was turned down so far. `loud` starts at a value whose threshold lies above the voice, with the whole knee,
 * so that the reduction comes in slowly. */
static void become_known(CompressorFigures *f, const CompressorWish *wish)
{
    const double over = curve_over(&wish->curve, wish->reduction);
    const double start = f->loud_target + FIRST_OVER_VOICE + 0.5 * wish->curve.knee;
    f->known = true;
    f->loud = isfinite(over) ? start + over : f->loud_target;
}

static void take_loud(CompressorFigures *f, const CompressorWish *wish)
{
    f->loud_target = f->loud_sum + wish->raised;
    if (!f->known)
        become_known(f, wish);
    if (f->at_once)
        f->loud = f->loud_target;
    f->at_once = false;
}

/* The gains are those of the threshold aimed at, so that the makeup moves before the threshold does. */
static void work_out_gains(CompressorFigures *f, const CompressorWish *wish)
{
    Curve curve = wish->curve;
    curve.threshold = compressor_figures_threshold(f, wish) - wish->raised;
    levels_gains(&curve, f->gain);
}

void compressor_figures_step(CompressorFigures *f, const Levels *memory, const CompressorWish *wish)
{
    if (!memory) {
        f->stage = 0;
        return;
    }
    if (f->stage == 0)
        begin_round(f, wish);
    if (f->stage < GAINS) {
        const double weight = f->mix.weight[f->stage];
        f->loud_sum += weight > 0.0 ? weight * levels_loud(memory, f->mix.speed[f->stage]) : 0.0;
    } else if (f->stage == GAINS) {
        take_loud(f, wish);
        work_out_gains(f, wish);
    } else if (f->stage < MAKEUP) {
        const uint32_t i = f->stage - GAINS - 1;
        levels_sum(memory, f->mix.speed[i], f->mix.weight[i], f->gain, &f->sums);
    } else {
        f->found = fmin(levels_makeup(memory, &f->sums, wish->blend), MOST_MAKEUP);
    }
    f->stage = (f->stage + 1) % COMPRESSOR_FIGURES_STEPS;
}

/* ---- Moving ---- */

static double makeup_wished(const CompressorFigures *f, const CompressorWish *wish)
{
    return wish->even_loudness && f->known ? f->found : 0.0;
}

void compressor_figures_start(CompressorFigures *f, const Levels *memory, const CompressorWish *wish)
{
    f->stage = 0;
    f->found = 0.0;
    f->at_once = true;
    do
        compressor_figures_step(f, memory, wish);
    while (f->stage);
    f->makeup = makeup_wished(f, wish);
    f->at_once = false;
}

void compressor_figures_replaced(CompressorFigures *f, bool enough)
{
    f->stage = 0; /* the round under way read the old memory */
    f->at_once = true;
    f->known = f->known && enough;
    if (!f->known)
        f->found = 0.0;
}

/* The loudness moves slowly where the threshold follows it; where that is set by hand, it jumps unheard. */
void compressor_figures_move(CompressorFigures *f, const CompressorWish *wish, double most)
{
    f->loud = wish->wanted ? f->loud + dsp_clamp(f->loud_target - f->loud, -most, most) : f->loud_target;
    f->makeup = even_move(f->makeup, makeup_wished(f, wish), most);
}
