/* plate_loops.h for vectors of FLOATS (floats.h), under the name PLATE_LOOPS. No guard: it is the body of the files
 * that include it. */
#include "floats.h"
#include "plate_chain.h"
#include "plate_lines_kernel.h"
#include "plate_loops.h"

enum { VECTORS = DSP_CELL / FLOATS }; /* vectors in a cell */

/* Steps of a glide that are done at each sample of a cell. */
static const float way[DSP_CELL] = {1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13, 14, 15, 16,
                                    17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32};

/* ---- Shades ---- */

static INLINED void darken(const PlateLoss *from, const PlateLoss *goal, bool moving, PlateLossState *state,
                           float in[FOUR][DSP_CELL], float *const out[FOUR])
{
    Loss now = four_svf_load(from);
    const Loss step = loss_step(from, goal, 1.f / DSP_CELL);
    LossState own = four_states_load(state);
    for (uint32_t t = 0; t < DSP_CELL; t += FOUR) {
        Four x[FOUR];
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k)
            x[k] = four_load(in[k] + t);
        four_turn(x);
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k) {
            if (moving)
                loss_glide(&now, &step);
            x[k] = four_svf_step(&now, &own, x[k]);
        }
        four_turn(x);
        UNROLLED
        for (uint32_t k = 0; k < FOUR; ++k)
            four_store(out[k] + t, x[k]);
    }
    four_states_store(state, &own);
}

static void shades(const PlateLoss *from, const PlateLoss *goal, PlateLossState *state, float in[FOUR][DSP_CELL],
                   float *const out[FOUR])
{
    if (from == goal)
        darken(goal, goal, false, state, in, out);
    else
        darken(from, goal, true, state, in, out);
}

/* ---- Gains, taps and chains ---- */

/* FLOATS values from sample t on of a line that is at `from` before the cell and moves by `one` a sample. */
static INLINED Floats gliding(float from, float one, size_t t)
{
    return floats_add(floats_all(from), floats_mul(floats_all(one), floats_load(way + t)));
}

static INLINED float per_sample(float from, float goal)
{
    return (goal - from) * (1.f / DSP_CELL);
}

static INLINED void add_taps(const float *slot, const uint32_t *run, const float *from, const float *goal, bool moving,
                             uint32_t taps, const float *more, float *to)
{
    Floats sum[VECTORS];
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v)
        sum[v] = floats_all(0.f);
    for (uint32_t k = 0; k < taps; ++k) {
        const float one = per_sample(from[k], goal[k]);
        const Floats still = floats_all(goal[k]);
        UNROLLED
        for (size_t v = 0; v < VECTORS; ++v) {
            const Floats gain = moving ? gliding(from[k], one, v * FLOATS) : still;
            sum[v] = floats_add(sum[v], floats_mul(gain, floats_load(slot + run[k] + v * FLOATS)));
        }
    }
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v)
        floats_store(to + v * FLOATS, more ? floats_add(sum[v], floats_load(more + v * FLOATS)) : sum[v]);
}

static void add_up_taps(const float *slot, const uint32_t *run, const float *from, const float *goal, uint32_t taps,
                        const float *more, float *sum)
{
    if (from == goal)
        add_taps(slot, run, goal, goal, false, taps, more, sum);
    else
        add_taps(slot, run, from, goal, true, taps, more, sum);
}

/* Updates the copy behind the ring's end if this cell is the ring's first. */
static INLINED void close_ring(const PlateRing *ring, const float *cell)
{
    if (cell == ring->slot)
        ring_close(ring);
}

/* Runs a chain. Channel a stays in registers throughout; each step writes channel b to the next step's delay line. */
static INLINED void double_echoes(const PlateRing *ring, const uint32_t *next, const uint32_t *late, const float *from,
                                  const float *goal, bool moving, const float *const in[2], float *const out[2])
{
    float *own = ring->slot + next[0];
    Floats a[VECTORS];
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v) {
        a[v] = floats_load(in[0] + v * FLOATS);
        floats_store(own + v * FLOATS, floats_load(in[1] + v * FLOATS));
    }
    for (uint32_t s = 0; s < PLATE_STEPS; ++s) {
        close_ring(ring, own);
        const float *run = ring->slot + late[s];
        const float one = per_sample(from[s], goal[s]);
        const Floats still = floats_all(goal[s]);
        own = s + 1 < PLATE_STEPS ? ring->slot + next[s + 1] : out[1];
        UNROLLED
        for (size_t v = 0; v < VECTORS; ++v) {
            const Floats y = moving ? gliding(from[s], one, v * FLOATS) : still;
            const Floats w = floats_mul(y, floats_load(run + v * FLOATS));
            floats_store(own + v * FLOATS, floats_sub(a[v], w));
            a[v] = floats_add(a[v], w);
        }
    }
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v)
        floats_store(out[0] + v * FLOATS, a[v]);
}

static void echoes(const PlateRing *ring, const uint32_t *next, const uint32_t *late, const float *from,
                   const float *goal, const float *const in[2], float *const out[2])
{
    if (from == goal)
        double_echoes(ring, next, late, goal, goal, false, in, out);
    else
        double_echoes(ring, next, late, from, goal, true, in, out);
}

static uint32_t amplify(const float *in, float from, float goal, float *out)
{
    const float one = per_sample(from, goal);
    FloatsBits bits = {0};
    UNROLLED
    for (size_t t = 0; t < DSP_CELL; t += FLOATS) {
        const Floats y = floats_mul(gliding(from, one, t), floats_load(in + t));
        bits = floats_gather(bits, y);
        floats_store(out + t, y);
    }
    return floats_bits(bits);
}

static void blend(const float from[2], const float goal[2], float in[2][DSP_CELL], float out[2][DSP_CELL])
{
    const float own = per_sample(from[0], goal[0]), other = per_sample(from[1], goal[1]);
    UNROLLED
    for (size_t t = 0; t < DSP_CELL; t += FLOATS) {
        const Floats near = gliding(from[0], own, t), far = gliding(from[1], other, t);
        const Floats l = floats_load(in[0] + t), r = floats_load(in[1] + t);
        floats_store(out[0] + t, floats_add(floats_mul(near, l), floats_mul(far, r)));
        floats_store(out[1] + t, floats_add(floats_mul(near, r), floats_mul(far, l)));
    }
}

const PlateLoops PLATE_LOOPS = {.circulate = circulate,
                                .taps = add_up_taps,
                                .shades = shades,
                                .echoes = echoes,
                                .amplify = amplify,
                                .blend = blend};
