/* plate_loops.h for vectors of FLOATS (floats.h), under the name PLATE_LOOPS. No guard: it is the body of the files
 * that include it. */
#include "floats.h"
#include "plate_loops.h"

enum {
    HALF = PLATE_HALF,
    HALVES = FLOATS / FOUR, /* of the lines, that go through their losses together: two vectors of them, so that
                               neither recursion waits for itself alone */
    GROUPS = HALF / FLOATS, /* vectors that hold a sample of each of eight lines */
    VECTORS_OF_LINES = HALVES * GROUPS,
    VECTORS = DSP_CELL / FLOATS, /* in a run */
};

/* How much of the way lies behind at each sample of a cell, in steps. */
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

/* What each coefficient moves by in a sample. */
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

/* Hadamard's matrix of eight: strides 1, 2 and 4. */
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

static INLINED void turn(Floats *x)
{
    UNROLLED
    for (size_t g = 0; g < GROUPS; ++g)
        floats_turn(x + g * FLOATS);
}

/* As many samples of each line as a vector holds. */
static INLINED void lose_some(const float *const *run, uint32_t t, Losses *now, const Losses *step, LossesState *state,
                              float row[][DSP_CELL])
{
    Floats x[HALVES][HALF];
    UNROLLED
    for (uint32_t h = 0; h < HALVES; ++h) {
        UNROLLED
        for (uint32_t k = 0; k < HALF; ++k)
            x[h][k] = floats_load(run[h * HALF + k] + t);
        turn(x[h]);
    }
    UNROLLED
    for (size_t k = 0; k < FLOATS; ++k) {
        UNROLLED
        for (size_t v = 0; v < VECTORS_OF_LINES; ++v) {
            Floats *own = &x[v / GROUPS][v % GROUPS * FLOATS + k];
            if (step)
                glide_losses(&now[v], &step[v]);
            *own = lose_one(&now[v], &state[v], *own);
        }
    }
    UNROLLED
    for (uint32_t h = 0; h < HALVES; ++h) {
        turn(x[h]);
        mix_eight(x[h]);
        UNROLLED
        for (uint32_t k = 0; k < HALF; ++k)
            floats_store(row[h * HALF + k] + t, x[h][k]);
    }
}

/* Rows of time are turned into rows of lines for the recursions. */
static INLINED void lose_cell(const float *const *run, const PlateLoss *from, const PlateLoss *goal, bool moving,
                              PlateLossState *state, float row[][DSP_CELL])
{
    enum { FOURS = FLOATS / FOUR }; /* groups of four lines in a vector */
    Losses now[VECTORS_OF_LINES], step[VECTORS_OF_LINES];
    LossesState states[VECTORS_OF_LINES];
    UNROLLED
    for (size_t v = 0; v < VECTORS_OF_LINES; ++v) {
        now[v] = load_losses(from + v * FOURS);
        if (moving) {
            const Losses end = load_losses(goal + v * FOURS);
            step[v] = losses_step(&now[v], &end);
        }
        states[v].first = floats_load_fours(state[v * FOURS].first, sizeof *state);
        states[v].second = floats_load_fours(state[v * FOURS].second, sizeof *state);
    }
    for (uint32_t t = 0; t < DSP_CELL; t += FLOATS)
        lose_some(run, t, now, moving ? step : NULL, states, row);
    UNROLLED
    for (size_t v = 0; v < VECTORS_OF_LINES; ++v) {
        floats_store_fours(state[v * FOURS].first, sizeof *state, states[v].first);
        floats_store_fours(state[v * FOURS].second, sizeof *state, states[v].second);
    }
}

static void lose(const float *const run[2 * HALF], const PlateLoss *from, const PlateLoss *goal, PlateLossState *state,
                 float row[2 * HALF][DSP_CELL])
{
    for (size_t h = 0; h < 2; h += HALVES) {
        const size_t l = h * HALF, g = l / FOUR;
        if (from == goal)
            lose_cell(run + l, goal + g, goal + g, false, state + g, row + l);
        else
            lose_cell(run + l, from + g, goal + g, true, state + g, row + l);
    }
}

static uint32_t store(float row[2 * HALF][DSP_CELL], const float *const fed[2 * HALF], float *const to[2 * HALF])
{
    FloatsBits bits = {0};
    for (size_t l = 0; l < HALF; ++l) {
        float *restrict low = to[l], *restrict high = to[l + HALF];
        const float *fed_low = fed[l], *fed_high = fed[l + HALF];
        UNROLLED
        for (uint32_t t = 0; t < DSP_CELL; t += FLOATS) {
            Floats a = floats_load(row[l] + t), b = floats_load(row[l + HALF] + t);
            add_and_subtract(&a, &b);
            a = floats_add(a, floats_load(fed_low + t));
            b = floats_add(b, floats_load(fed_high + t));
            bits = floats_gather(floats_gather(bits, a), b);
            floats_store(low + t, a);
            floats_store(high + t, b);
        }
    }
    return floats_bits(bits);
}

/* ---- Taps and chains ---- */

/* A value that is `from` before the cell, and moves by `one` a sample. */
static INLINED Floats gliding(float from, float one, size_t t)
{
    return floats_add(floats_all(from), floats_mul(floats_all(one), floats_load(way + t)));
}

static INLINED void add_taps(const float *const *run, const float *from, const float *goal, bool moving, uint32_t taps,
                             float *to)
{
    Floats sum[VECTORS];
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v)
        sum[v] = floats_all(0.f);
    for (uint32_t k = 0; k < taps; ++k) {
        const float one = (goal[k] - from[k]) / DSP_CELL;
        const Floats still = floats_all(goal[k]);
        UNROLLED
        for (size_t v = 0; v < VECTORS; ++v) {
            const Floats gain = moving ? gliding(from[k], one, v * FLOATS) : still;
            sum[v] = floats_add(sum[v], floats_mul(gain, floats_load(run[k] + v * FLOATS)));
        }
    }
    UNROLLED
    for (size_t v = 0; v < VECTORS; ++v)
        floats_store(to + v * FLOATS, sum[v]);
}

static void add_up_taps(const float *const *run, const float *from, const float *goal, uint32_t taps, float *sum)
{
    if (from == goal)
        add_taps(run, goal, goal, false, taps, sum);
    else
        add_taps(run, from, goal, true, taps, sum);
}

static INLINED void double_echoes(const float *restrict late, float from, float goal, bool moving, float *restrict a,
                                  float *restrict b)
{
    const float one = (goal - from) / DSP_CELL;
    UNROLLED
    for (uint32_t t = 0; t < DSP_CELL; t += FLOATS) {
        const Floats y = moving ? gliding(from, one, t) : floats_all(goal);
        const Floats w = floats_mul(y, floats_load(late + t)), x = floats_load(a + t);
        floats_store(a + t, floats_add(x, w));
        floats_store(b + t, floats_sub(x, w));
    }
}

static void echo(const float *late, float from, float goal, float *a, float *b)
{
    if (from == goal)
        double_echoes(late, goal, goal, false, a, b);
    else
        double_echoes(late, from, goal, true, a, b);
}

const PlateLoops PLATE_LOOPS = {.lose = lose, .store = store, .taps = add_up_taps, .echoes = echo};
