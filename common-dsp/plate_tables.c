#include "plate_tables.h"

#include <math.h>

enum { LINES = PLATE_LINES, STEPS = PLATE_STEPS };

/* ---- Seeds ---- */

static const struct {
    double rate;
    uint32_t seed;
} chosen[] = {{16000, 8}, {44100, 178}, {48000, 209}, {88200, 41}, {96000, 276}, {176400, 5033}, {192000, 59}};

uint32_t plate_tables_seed(double rate)
{
    uint32_t nearest = 0;
    for (uint32_t k = 1; k < sizeof chosen / sizeof *chosen; ++k)
        if (fabs(rate - chosen[k].rate) < fabs(rate - chosen[nearest].rate))
            nearest = k;
    return chosen[nearest].seed;
}

/* ---- Drawing: by sums and products only, so that the result is the same on every machine ---- */

/* A random number in 0..1 of 24 bits: a counter, its bits mixed (Steele, Lea, Flood, "Fast splittable pseudorandom
 * number generators", 2014; from memory). */
static double uniform(uint64_t *state)
{
    *state += 0x9e3779b97f4a7c15u;
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 40) / 16777216.0;
}

/* Draws one number from each of n equal parts of 0..1, in random order. */
static void draw_strata(double *x, uint32_t n, uint64_t *state)
{
    for (uint32_t i = 0; i < n; ++i) {
        const uint32_t k = (uint32_t)(uniform(state) * (i + 1));
        x[i] = x[k];
        x[k] = (i + uniform(state)) / n;
    }
}

/* Draws the lines' delays over an octave, evenly in 1 / delay. */
static void draw_lines(double *seconds, uint64_t *state)
{
    draw_strata(seconds, LINES, state);
    for (uint32_t l = 0; l < LINES; ++l)
        seconds[l] = 0.15 / (2.0 - seconds[l]);
}

/* Draws the delay of each step from a range of its own: the first begins at `shortest` seconds, and each next range is
 * longer by `ratio`. */
static void draw_steps(double *seconds, double shortest, double ratio, uint64_t *state)
{
    for (uint32_t s = 0; s < STEPS; ++s, shortest *= ratio)
        seconds[s] = shortest * (1.0 + uniform(state) * (ratio - 1.0));
}

static void draw_signs(float *sign, uint64_t *state)
{
    for (uint32_t l = 0; l < LINES; ++l)
        sign[l] = uniform(state) < 0.5 ? -1.f : 1.f;
}

void plate_tables_draw(PlateTables *tables, uint32_t seed)
{
    uint64_t state = seed;
    draw_lines(tables->line, &state);
    draw_steps(tables->into, 0.0007, 1.6, &state);
    draw_steps(tables->out, 0.0006, 1.5, &state);
    for (uint32_t o = 0; o < PLATE_OUTS; ++o) {
        draw_strata(tables->place[o], LINES, &state);
        draw_signs(tables->sign[o], &state);
    }
    draw_signs(tables->feed_sign, &state);
}
