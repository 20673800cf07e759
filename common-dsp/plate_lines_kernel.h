/* PlateLoops.circulate (plate_loops.h) for vectors of FLOATS (floats.h). No include guard: it is a part of
 * plate_loops_kernel.h. */
#include "floats_svf.h"
#include "plate_loops.h"

enum {
    HALF = PLATE_HALF,
    LINES = 2 * HALF,
    GROUPS = HALF / FLOATS, /* vectors that hold a sample of each of eight lines */
    ROWS = LINES / FLOATS,  /* vectors that hold a sample of each line */
    FOURS = FLOATS / FOUR,  /* groups of four lines in a vector */
};

/* ---- Losses that glide ---- */

static INLINED Floats part_of_way(Floats from, Floats goal)
{
    return floats_mul(floats_all(1.f / DSP_CELL), floats_sub(goal, from));
}

/* The change of each coefficient in a sample. */
static INLINED FloatsSvf losses_step(const FloatsSvf *from, const FloatsSvf *goal)
{
    return (FloatsSvf){part_of_way(from->direct, goal->direct),       part_of_way(from->by_first, goal->by_first),
                       part_of_way(from->by_second, goal->by_second), part_of_way(from->keep, goal->keep),
                       part_of_way(from->lift, goal->lift),           part_of_way(from->rise, goal->rise)};
}

static INLINED void glide_losses(FloatsSvf *now, const FloatsSvf *step)
{
    now->direct = floats_add(now->direct, step->direct);
    now->by_first = floats_add(now->by_first, step->by_first);
    now->by_second = floats_add(now->by_second, step->by_second);
    now->keep = floats_add(now->keep, step->keep);
    now->lift = floats_add(now->lift, step->lift);
    now->rise = floats_add(now->rise, step->rise);
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
    FloatsSvf now[ROWS], step[ROWS];
    FloatsSvfState states[ROWS];
    UNROLLED
    for (size_t v = 0; v < ROWS; ++v) {
        now[v] = floats_svf_load(from + v * FOURS, sizeof *from);
        if (moving) {
            const FloatsSvf end = floats_svf_load(goal + v * FOURS, sizeof *goal);
            step[v] = losses_step(&now[v], &end);
        }
        states[v] = floats_states_load(state + v * FOURS, sizeof *state);
    }
    for (uint32_t t = 0; t < DSP_CELL; ++t) {
        UNROLLED
        for (size_t v = 0; v < ROWS; ++v) {
            if (moving)
                glide_losses(&now[v], &step[v]);
            x[t][v] = floats_svf_step(&now[v], &states[v], x[t][v]);
        }
    }
    UNROLLED
    for (size_t v = 0; v < ROWS; ++v)
        floats_states_store(state + v * FOURS, sizeof *state, &states[v]);
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
