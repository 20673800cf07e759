/* sibilance_ears.h for vectors of FLOATS (floats.h), under the name SIBILANCE_EARS. No guard: it is the body of the
 * files that include it. */
#include "floats.h"
#include "sibilance_ears.h"

enum {
    ABREAST = FLOATS / FOUR, /* channels in a vector, a four each */
    LOW = 0,                 /* lanes of the four that hears flanks: the low band's, */
    HIGH = 2,                /* and the high one's */
};

/* ---- four_svf.h's step, as wide as the vectors ---- */

typedef struct {
    Floats direct, by_first, by_second, keep, lift, rise;
} Sections;

typedef struct {
    Floats first, second;
} States;

/* The same sections for each channel. */
static INLINED Sections load_sections(const FourSections *c)
{
    return (Sections){floats_load_fours(c->direct, 0),    floats_load_fours(c->by_first, 0),
                      floats_load_fours(c->by_second, 0), floats_load_fours(c->keep, 0),
                      floats_load_fours(c->lift, 0),      floats_load_fours(c->rise, 0)};
}

static INLINED States load_states(const FourStates *s)
{
    return (States){floats_load_fours(s->first, sizeof(SibilanceState)),
                    floats_load_fours(s->second, sizeof(SibilanceState))};
}

static INLINED void store_states(FourStates *to, const States *s)
{
    floats_store_fours(to->first, sizeof(SibilanceState), s->first);
    floats_store_fours(to->second, sizeof(SibilanceState), s->second);
}

static INLINED Floats step(const Sections *c, States *s, Floats x)
{
    const Floats v = floats_sub(x, s->second);
    const Floats held = floats_add(floats_mul(c->by_first, s->first), floats_mul(c->by_second, s->second));
    const Floats rising = floats_add(s->second, floats_mul(c->lift, s->first));
    s->first = floats_add(floats_mul(c->keep, s->first), floats_mul(c->lift, v));
    s->second = floats_add(rising, floats_mul(c->rise, v));
    return floats_add(floats_mul(c->direct, x), held);
}

/* ---- Ears ---- */

/* Of the channels of a vector, in registers. */
typedef struct {
    States flank, upper[SIBILANCE_FOURS];
} Ear;

static INLINED Ear load_ear(const SibilanceState *s)
{
    return (Ear){load_states(&s->flank), {load_states(&s->upper[0]), load_states(&s->upper[1])}};
}

static INLINED void store_ear(SibilanceState *to, const Ear *ear)
{
    store_states(&to->flank, &ear->flank);
    store_states(&to->upper[0], &ear->upper[0]);
    store_states(&to->upper[1], &ear->upper[1]);
}

/* Adds the power that each lane lets through of this sample. */
static INLINED void hear(const Sections *flank, const Sections *upper, Ear *ear, Floats x, Floats *power)
{
    const Floats over = step(flank, &ear->flank, x);
    const Floats first = step(&upper[0], &ear->upper[0], over);
    const Floats rest = step(&upper[1], &ear->upper[1], floats_spread(over, HIGH));
    power[0] = floats_add(power[0], floats_mul(first, first));
    power[1] = floats_add(power[1], floats_mul(rest, rest));
}

static INLINED Four blend(Four power, Four keep, Four now)
{
    return four_add(now, four_mul(keep, four_sub(power, now)));
}

static INLINED void hear_all(Sibilance *s, const float *const *in, uint32_t channels, uint32_t n)
{
    const Sections flank = load_sections(&s->flank);
    const Sections upper[SIBILANCE_FOURS] = {load_sections(&s->upper[0]), load_sections(&s->upper[1])};
    const Four keep[] = {four_load(s->keep), four_load(s->keep + FOUR)};
    Four power[] = {four_load(s->power), four_load(s->power + FOUR)};
    Ear ear[DSP_CHANNELS];
    float steady = s->steady;
    UNROLLED
    for (uint32_t c = 0; c < channels; c += ABREAST)
        ear[c] = load_ear(&s->state[c]);
    for (uint32_t t = 0; t < n; ++t) {
        Floats now[SIBILANCE_FOURS] = {floats_all(0.f), floats_all(0.f)};
        UNROLLED
        for (uint32_t c = 0; c < channels; c += ABREAST)
            hear(&flank, upper, &ear[c], floats_sample(in + c, t), now);
        const Four first = floats_fold(now[0]), rest = floats_fold(now[1]);
        power[0] = blend(power[0], keep[0], first);
        power[1] = blend(power[1], keep[1], rest);
        const float low = four_lane(first, LOW);
        steady = low + s->steady_keep * (steady - low);
    }
    UNROLLED
    for (uint32_t c = 0; c < channels; c += ABREAST)
        store_ear(&s->state[c], &ear[c]);
    four_store(s->power, power[0]);
    four_store(s->power + FOUR, power[1]);
    s->steady = steady;
}

/* The number of channels is spelt out, so that their states stay in registers. */
void SIBILANCE_EARS(Sibilance *s, const float *const *in, uint32_t n)
{
    if (FLOATS == FOUR && s->channels == 1)
        hear_all(s, in, 1, n);
    else
        hear_all(s, in, 2, n);
}
