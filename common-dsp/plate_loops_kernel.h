/* plate_loops.h for vectors of FLOATS (floats.h), under the name PLATE_LOOPS. No guard: it is the body of the files
 * that include it. */
#include "floats.h"
#include "plate_chain.h"
#include "plate_loops.h"

enum {
    HALF = PLATE_HALF,
    LINES = 2 * HALF,
    GROUPS = HALF / FLOATS,      /* vectors that hold a sample of each of eight lines */
    ROWS = LINES / FLOATS,       /* vectors that hold a sample of each line */
    FOURS = FLOATS / FOUR,       /* groups of four lines in a vector */
    VECTORS = DSP_CELL / FLOATS, /* vectors in a cell */
};

/* Steps of a glide that are done at each sample of a cell. */
static const float way[DSP_CELL] = {1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13, 14, 15, 16,
                                    17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32};

/* ---- Losses: four_svf.h's step, as wide as the vectors ---- */

typedef struct {
    Floats direct, by_first, by_second, keep, lift, rise;
} Losses;

typedef struct {
    Floats first, second;
} LossesState;

static INLINED Losses load_losses(const PlateLoss *loss)
{
    const size_t apart = sizeof *loss;
    return (Losses){floats_load_fours(loss->direct, apart),    floats_load_fours(loss->by_first, apart),
                    floats_load_fours(loss->by_second, apart), floats_load_fours(loss->keep, apart),
                    floats_load_fours(loss->lift, apart),      floats_load_fours(loss->rise, apart)};
}

static INLINED Floats part_of_way(Floats from, Floats goal)
{
    return floats_mul(floats_all(1.f / DSP_CELL), floats_sub(goal, from));
}

/* The change of each coefficient in a sample. */
static INLINED Losses losses_step(const Losses *from, const Losses *goal)
{
    return (Losses){part_of_way(from->direct, goal->direct),       part_of_way(from->by_first, goal->by_first),
                    part_of_way(from->by_second, goal->by_second), part_of_way(from->keep, goal->keep),
                    part_of_way(from->lift, goal->lift),           part_of_way(from->rise, goal->rise)};
}

static INLINED void glide_losses(Losses *now, const Losses *step)
{
    now->direct = floats_add(now->direct, step->direct);
    now->by_first = floats_add(now->by_first, step->by_first);
    now->by_second = floats_add(now->by_second, step->by_second);
    now->keep = floats_add(now->keep, step->keep);
    now->lift = floats_add(now->lift, step->lift);
    now->rise = floats_add(now->rise, step->rise);
}

static INLINED Floats lose_one(const Losses *c, LossesState *s, Floats x)
{
    const Floats v = floats_sub(x, s->second);
    const Floats held = floats_add(floats_mul(c->by_first, s->first), floats_mul(c->by_second, s->second));
    const Floats rising = floats_add(s->second, floats_mul(c->lift, s->first));
    s->first = floats_add(floats_mul(c->keep, s->first), floats_mul(c->lift, v));
    s->second = floats_add(rising, floats_mul(c->rise, v));
    return floats_add(floats_mul(c->direct, x), held);
}

/* ---- Lines ---- */

static INLINED void add_and_subtract(Floats *a, Floats *b)
{
    const Floats sum = floats_add(*a, *b);
    *b = floats_sub(*a, *b);
    *a = sum;
}

/* Hadamard's matrix of eight, in stages of stride 1, 2 and 4. */
static INLINED void mix_eight(Floats *x)
{
    UNROLLED
    for (int i = 0; i < 8; i += 2)
        add_and_subtract(&x[i], &x[i + 1]);
    UNROLLED
    for (int i = 0; i < 4; ++i)
        add_and_subtract(&x[i / 2 * 4 + i % 2], &x[i / 2 * 4 + i % 2 + 2]);
    UNROLLED
    for (int i = 0; i < 4; ++i)
        add_and_subtract(&x[i], &x[i + 4]);
}

/* A cell of all lines: for each sample, a row with all lines side by side. */
typedef Floats Lines[DSP_CELL][ROWS];

static INLINED void gather_lines(const PlateRound *round, Lines x)
{
    for (uint32_t t = 0; t < DSP_CELL; t += FLOATS)
        for (uint32_t v = 0; v < ROWS; ++v) {
            const float *slot = round->slot + t;
            Floats square[FLOATS];
            UNROLLED
            for (uint32_t k = 0; k < FLOATS; ++k)
                square[k] = floats_load(slot + round->late[v * FLOATS + k]);
            floats_turn(square);
            UNROLLED
            for (uint32_t k = 0; k < FLOATS; ++k)
                x[t + k][v] = square[k];
        }
}

/* Runs all lines through their losses at once, so that the recursions fill each other's waiting times. */
static INLINED void lose(const PlateLoss *from, const PlateLoss *goal, bool moving, PlateLossState *state, Lines x)
{
    Losses now[ROWS], step[ROWS];
    LossesState states[ROWS];
    UNROLLED
    for (size_t v = 0; v < ROWS; ++v) {
        now[v] = load_losses(from + v * FOURS);
        if (moving) {
            const Losses end = load_losses(goal + v * FOURS);
            step[v] = losses_step(&now[v], &end);
        }
        states[v].first = floats_load_fours(state[v * FOURS].first, sizeof *state);
        states[v].second = floats_load_fours(state[v * FOURS].second, sizeof *state);
    }
    for (uint32_t t = 0; t < DSP_CELL; ++t) {
        UNROLLED
        for (size_t v = 0; v < ROWS; ++v) {
            if (moving)
                glide_losses(&now[v], &step[v]);
            x[t][v] = lose_one(&now[v], &states[v], x[t][v]);
        }
    }
    UNROLLED
    for (size_t v = 0; v < ROWS; ++v) {
        floats_store_fours(state[v * FOURS].first, sizeof *state, states[v].first);
        floats_store_fours(state[v * FOURS].second, sizeof *state, states[v].second);
    }
}

/* Mixes eight lines among themselves, FLOATS samples at a time. line: a vector for each line. */
static INLINED void mix_half(Lines x, uint32_t t, uint32_t half, Floats *line)
{
    UNROLLED
    for (uint32_t g = 0; g < GROUPS; ++g) {
        UNROLLED
        for (uint32_t k = 0; k < FLOATS; ++k)
            line[g * FLOATS + k] = x[t + k][half * GROUPS + g];
        floats_turn(line + (size_t)g * FLOATS);
    }
    mix_eight(line);
}

static INLINED void prepare_feed(const float *const in[2], float *fed)
{
    UNROLLED
    for (uint32_t k = 0; k < 2; ++k) {
        float *to = fed + (size_t)2 * k * DSP_CELL;
        UNROLLED
        for (uint32_t t = 0; t < DSP_CELL; t += FLOATS) {
            const Floats x = floats_load(in[k] + t);
            floats_store(to + t, x);
            floats_store(to + DSP_CELL + t, floats_sub(floats_all(-0.f), x));
        }
    }
}

/* Does the matrix's last stage, adds the input, and stores the lines' next samples. */
static INLINED FloatsBits mix_and_store(const PlateRound *round, const float *fed, Lines x, uint32_t t, FloatsBits bits)
{
    const uint32_t *next = round->next, *feed = round->feed;
    float *slot = round->slot + t;
    Floats low[HALF], high[HALF];
    mix_half(x, t, 0, low);
    mix_half(x, t, 1, high);
    UNROLLED
    for (uint32_t l = 0; l < HALF; ++l) {
        add_and_subtract(&low[l], &high[l]);
        const Floats a = floats_add(low[l], floats_load(fed + feed[l] + t));
        const Floats b = floats_add(high[l], floats_load(fed + feed[l + HALF] + t));
        bits = floats_gather(floats_gather(bits, a), b);
        floats_store(slot + next[l], a);
        floats_store(slot + next[l + HALF], b);
    }
    return bits;
}

/* Lines are transposed into rows for the recursions in separate passes, so that the transposition does not wait for the
 * recursions. */
static uint32_t circulate(const PlateRound *round, const PlateLoss *from, const PlateLoss *goal, PlateLossState *state)
{
    const PlateRound own = *round; /* a copy, or the compiler would have to assume that the stores change it */
    Lines x;
    float fed[PLATE_FEEDS * DSP_CELL];
    FloatsBits bits = {0};
    gather_lines(&own, x);
    if (from == goal)
        lose(goal, goal, false, state, x);
    else
        lose(from, goal, true, state, x);
    prepare_feed(own.fed, fed);
    for (uint32_t t = 0; t < DSP_CELL; t += FLOATS)
        bits = mix_and_store(&own, fed, x, t, bits);
    return floats_bits(bits);
}

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
