/* sibilance_ears.h for vectors of FLOATS (floats.h), under the name SIBILANCE_EARS; with SIBILANCE_ONE for one channel,
 * whose filters fill a vector of eight. No include guard: it is the body of the files that include it. */
#include "floats_svf.h"
#include "sibilance_ears.h"

enum {
    LOW = 0,  /* the low band's lane in the vector of lower flanks */
    HIGH = 2, /* the high band's lane in it */
};

#ifdef SIBILANCE_ONE

/* One channel: both halves of a vector hold the four lower flanks; the next vector holds the eight upper filters. */
void SIBILANCE_EARS(Sibilance *s, const float *const *in, uint32_t n)
{
    const size_t next_sections = sizeof s->upper[0], next_states = sizeof s->state[0].upper[0];
    const FloatsSvf flank = floats_svf_load(&s->flank, 0), upper = floats_svf_load(s->upper, next_sections);
    FloatsSvfState low = floats_states_load(&s->state[0].flank, 0),
                   high = floats_states_load(s->state[0].upper, next_states);
    const Floats keep = floats_load(s->keep);
    Floats gathered = floats_load(s->gathered);
    float steady = s->steady;
    for (uint32_t t = 0; t < n; ++t) {
        const Floats over = floats_svf_step(&flank, &low, floats_all(in[0][t]));
        const Floats y = floats_svf_step(&upper, &high, floats_spread_upper(over, HIGH)), power = floats_mul(y, y);
        gathered = floats_add(floats_mul(keep, gathered), power);
        steady = s->steady_keep * steady + floats_lane(power, LOW);
    }
    floats_states_store(&s->state[0].flank, 0, &low);
    floats_states_store(s->state[0].upper, next_states, &high);
    floats_store(s->gathered, gathered);
    s->steady = steady;
}

#else

enum {
    ABREAST = FLOATS / FOUR,                /* channels in a vector, a four each */
    ROWS = SIBILANCE_FOURS * FOUR / FLOATS, /* vectors that hold the powers of all lanes */
};

/* Filter states of the channels in a vector, in registers. */
typedef struct {
    FloatsSvfState flank, upper[SIBILANCE_FOURS];
} Ear;

static INLINED Ear load_ear(const SibilanceState *s)
{
    return (Ear){floats_states_load(&s->flank, sizeof *s),
                 {floats_states_load(&s->upper[0], sizeof *s), floats_states_load(&s->upper[1], sizeof *s)}};
}

static INLINED void store_ear(SibilanceState *to, const Ear *ear)
{
    floats_states_store(&to->flank, sizeof *to, &ear->flank);
    floats_states_store(&to->upper[0], sizeof *to, &ear->upper[0]);
    floats_states_store(&to->upper[1], sizeof *to, &ear->upper[1]);
}

/* The power in each lane. */
typedef struct {
    Floats row[ROWS];
} Powers;

/* first and rest: of the first four lanes, and of the others, each for all channels of the vector. */
static INLINED Powers powers_of(Floats first, Floats rest)
{
#if FLOATS == 8
    return (Powers){{floats_fold_two(first, rest)}};
#else
    return (Powers){{first, rest}};
#endif
}

/* The power of this sample that each lane lets through, summed over the vector's channels. */
static INLINED Powers hear(const FloatsSvf *flank, const FloatsSvf *upper, Ear *ear, Floats x)
{
    const Floats over = floats_svf_step(flank, &ear->flank, x);
    const Floats first = floats_svf_step(&upper[0], &ear->upper[0], over);
    const Floats rest = floats_svf_step(&upper[1], &ear->upper[1], floats_spread(over, HIGH));
    return powers_of(floats_mul(first, first), floats_mul(rest, rest));
}

static INLINED void hear_all(Sibilance *s, const float *const *in, uint32_t channels, uint32_t n)
{
    const FloatsSvf flank = floats_svf_load(&s->flank, 0);
    const FloatsSvf upper[SIBILANCE_FOURS] = {floats_svf_load(&s->upper[0], 0), floats_svf_load(&s->upper[1], 0)};
    Floats keep[ROWS], gathered[ROWS];
    UNROLLED
    for (size_t r = 0; r < ROWS; ++r) {
        keep[r] = floats_load(s->keep + r * FLOATS);
        gathered[r] = floats_load(s->gathered + r * FLOATS);
    }
    Ear ear[DSP_CHANNELS];
    float steady = s->steady;
    UNROLLED
    for (uint32_t c = 0; c < channels; c += ABREAST)
        ear[c] = load_ear(&s->state[c]);
    for (uint32_t t = 0; t < n; ++t) {
        Powers power = hear(&flank, upper, &ear[0], floats_sample(in, t));
        if (channels > ABREAST) {
            const Powers more = hear(&flank, upper, &ear[1], floats_sample(in + 1, t));
            UNROLLED
            for (size_t r = 0; r < ROWS; ++r)
                power.row[r] = floats_add(power.row[r], more.row[r]);
        }
        UNROLLED
        for (size_t r = 0; r < ROWS; ++r)
            gathered[r] = floats_add(floats_mul(keep[r], gathered[r]), power.row[r]);
        steady = s->steady_keep * steady + floats_lane(power.row[0], LOW);
    }
    UNROLLED
    for (uint32_t c = 0; c < channels; c += ABREAST)
        store_ear(&s->state[c], &ear[c]);
    UNROLLED
    for (size_t r = 0; r < ROWS; ++r)
        floats_store(s->gathered + r * FLOATS, gathered[r]);
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

#endif
