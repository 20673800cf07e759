#include "chain_points.h"

#include "low_cut.h"
#include "units.h"

#include <string.h>

#define VOICE_SOUNDS_UNDER 20.0 /* dB under the middle of the loudest quarter: down to here a voice sounds. Chosen */

enum { COMPRESSOR_FROM, ESSES_FROM };

/* ---- What is told from stage to stage ---- */

/* dB: the gain before a processor that its learned levels refer to. If it is not known yet, it is worked out from
 * `goal`, which the gain before the processor is bound for. */
static double counted_from(Chain *c, uint32_t which, double goal, double raised)
{
    if (c->from[which] == CHAIN_FROM_NONE)
        c->from[which] = learned_round(goal - raised);
    return c->from[which];
}

/* dB: the makeup that Tone is bound for. */
static double makeup_of_tone(const Chain *c)
{
    return c->tone.params.even_loudness ? c->tone.even.found : 0.0;
}

/* Whether a voice sounds; false until Compressor knows how loud it is. level: dB, of the detector. */
static bool sounds(const Chain *c, double level)
{
    const CompressorFigures *f = &c->compressor.figures;
    return f->known && level > f->loud_target - VOICE_SOUNDS_UNDER;
}

/* Sets `aims` once a round of Tone's loudness: what a round finds stands until the next round. */
static void note_tone(Chain *c, ChainPoint *p)
{
    const ToneEven *even = &c->tone.even;
    p->tone = even->now;
    p->tone_goal = makeup_of_tone(c);
    p->aims = c->learning && even->known && even->stage == 0 && !(c->aimed && c->rounds == even->rounds);
    if (!p->aims)
        return;
    c->aimed = true;
    c->rounds = even->rounds;
    p->curve = even->curve;
    memcpy(p->power, even->power, sizeof p->power);
}

/* The first curve is Tone's before it has found anything. */
static void set_peaks(Chain *c, const ChainPoint *p)
{
    ToneCurve plain = p->curve;
    if (c->tone.params.cut_listening)
        plain.low_cut = LOW_CUT_UNKNOWN;
    peaks_set(&c->peaks, &plain, p->power, c->compressor.params.detector_low_cut);
}

static void tell_compressor(Chain *c, const ChainPoint *p)
{
    const double to_come = p->tone_goal - p->tone, level = compressor_gain_level(&c->compressor.gain);
    peaks_tick(&c->peaks, level + to_come, p->trim, sounds(c, level));
    if (p->aims)
        set_peaks(c, p);
    const double raised = peaks_raised(&c->peaks);
    const double now = p->trim + raised - to_come, goal = p->trim_goal + raised;
    const double from = counted_from(c, COMPRESSOR_FROM, goal, c->compressor.memory.raised);
    compressor_hear_through(&c->compressor, now - from, goal - from);
    compressor_hear_voice(&c->compressor, p->voice);
}

/* dB: the makeup that Compressor is bound for. */
static double makeup_of_compressor(const Chain *c)
{
    const Compressor *comp = &c->compressor;
    return comp->params.makeup + (comp->params.even_loudness ? comp->figures.found : 0.0);
}

static double makeup_to_come(const Chain *c)
{
    return makeup_of_tone(c) - c->tone.even.now + makeup_of_compressor(c) - c->compressor.gain.makeup.value;
}

/* The curve that Compressor is bound for, on the scale of its learned levels. */
static Curve counted_curve(const Compressor *comp)
{
    Curve curve = comp->wish.curve;
    curve.threshold = compressor_figures_threshold(&comp->figures, &comp->wish) - comp->memory.raised;
    return curve;
}

/* Records what Esses has to be told. */
static void note_gains(const Chain *c, ChainPoint *p)
{
    const Compressor *comp = &c->compressor;
    const CompressorGain *g = &comp->gain;
    p->gain = p->trim + p->tone + g->makeup.value;
    p->goal = p->trim_goal + p->tone_goal + makeup_of_compressor(c);
    p->read = compressor_gain_level(g) - comp->before;
    p->in_force = (Curve){g->threshold.value - comp->before, g->slope.value, g->knee.value};
    p->ahead = counted_curve(comp);
    p->known = comp->figures.known;
}

static void tell_esses(Chain *c, const ChainPoint *p)
{
    const double from = counted_from(c, ESSES_FROM, p->goal, c->esses.memory.raised);
    esses_hear_through(&c->esses, p->gain - from, p->goal - from);
}

/* ---- A grid point ---- */

/* Until Compressor has found a makeup: follows the power into and out of its gain, over some seconds. */
static void follow_compressor(Chain *c)
{
    const double power = db_to_power(compressor_gain_level(&c->compressor.gain));
    const double left = power * db_to_power(-c->compressor.gain.reduction_out);
    c->went = power + c->keep * (c->went - power);
    c->passed = left + c->keep * (c->passed - left);
}

void chain_tick_trim(Chain *c, ChainPoint *p)
{
    trim.tick(&c->trim);
    p->trim = gain_move_db(&c->trim.gain);
    p->trim_goal = gain_move_goal(&c->trim.gain);
    c->voice = c->voice << 1 | voice_sounding(&c->trim.listening.voice);
    p->voice = c->voice >> c->voice_late & 1;
}

void chain_tick_tone(Chain *c, ChainPoint *p)
{
    const uint32_t before = c->tone.memory.version;
    tone_hear_through(&c->tone, p->trim);
    tone.tick(&c->tone);
    if (c->tone.memory.version != before)
        chain_round_piece(&c->tone.memory.notes);
    note_tone(c, p);
}

void chain_tick_compressor(Chain *c, ChainPoint *p)
{
    if (c->learning)
        tell_compressor(c, p);
    compressor.tick(&c->compressor);
    if (c->learning)
        note_gains(c, p);
    if (!c->compressor.figures.known)
        follow_compressor(c);
}

void chain_tick_esses(Chain *c, const ChainPoint *p)
{
    if (c->learning)
        tell_esses(c, p);
    esses.tick(&c->esses);
    if (c->learning)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): note_gains() has filled it in, on learn as here */
        sibilants_tick(&c->sibilants, &c->esses, p->read, &p->in_force, &p->ahead, p->known);
}

double chain_louder(const Chain *c)
{
    if (c->compressor.figures.known)
        return c->ambience - makeup_to_come(c);
    return c->ambience + (c->went > 0.0 ? power_to_db(c->passed / c->went) : 0.0);
}
