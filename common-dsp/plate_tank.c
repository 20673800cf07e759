#include "plate_tank.h"

#include "plate_loops.h"

#include <math.h>

enum { LINES = PLATE_LINES };

/* ---- Making ---- */

static bool is_prime(uint32_t n)
{
    for (uint32_t d = 3; d * d <= n; d += 2)
        if (n % d == 0)
            return false;
    return n % 2 == 1;
}

/* The delay in samples: a prime that none of the `before` earlier lines has, so that all are mutually prime. */
static uint32_t next_prime(double samples, const uint32_t *taken, uint32_t before)
{
    uint32_t n = (uint32_t)lround(samples);
    for (;; ++n) {
        bool free_to_use = is_prime(n);
        for (uint32_t i = 0; i < before; ++i)
            free_to_use = free_to_use && taken[i] != n;
        if (free_to_use)
            return n;
    }
}

/* A tap is at least a cell late: what it hears is known when its cell begins. */
static void place_taps(PlateTank *tank, const PlateTables *tables)
{
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t l = 0; l < LINES; ++l) {
            const uint32_t place = (uint32_t)fmax(DSP_CELL, round(tables->place[o][l] * tank->delay[l]));
            tank->place[o][l] = place;
            tank->latest = place > tank->latest ? place : tank->latest;
        }
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t l = 0; l < LINES; ++l) {
            const uint32_t field = tank->place[o][l] >= tank->latest / 2;
            tank->field[o][field][tank->fields[o][field]++] = (uint8_t)l;
        }
}

void plate_tank_place(PlateTank *tank, const PlateTables *tables, double rate)
{
    *tank = (PlateTank){0};
    for (uint32_t l = 0; l < LINES; ++l) {
        tank->delay[l] = next_prime(tables->line[l] * rate, tank->delay, l);
        tank->line[l] = (PlateRing){.slots = ring_slots(tank->delay[l])};
        tank->turned[l] = tables->feed_sign[l] < 0.f;
    }
    place_taps(tank, tables);
}

double plate_tank_seconds(const PlateTank *tank, double rate)
{
    double samples = 0.0;
    for (uint32_t l = 0; l < LINES; ++l)
        samples += tank->delay[l];
    return samples / rate;
}

/* ---- Tuning ---- */

/* An output's taps are counted from the near ones on. */
static uint32_t line_of_tap(const PlateTank *tank, uint32_t out, uint32_t tap)
{
    const uint32_t near = tank->fields[out][0];
    return tap < near ? tank->field[out][0][tap] : tank->field[out][1][tap - near];
}

/* The lines' losses hold the matrix's 1/4. A tap's gain is that of its place: so the level falls exponentially from the
 * first moment. The taps' gains hold the 1/sqrt 2 of each step of the chain after them. */
void plate_tank_tune(const PlateTank *tank, const PlateTables *tables, double per_sample, double warped,
                     PlateTankTune *tune)
{
    const double chain = pow(0.5, 0.5 * PLATE_STEPS);
    for (uint32_t l = 0; l < LINES; ++l) {
        plate_loss_tune(&tune->loss[l / FOUR], l % FOUR, exp(per_sample * tank->delay[l]), warped, 0.25);
    }
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t k = 0; k < LINES; ++k) {
            const uint32_t l = line_of_tap(tank, o, k);
            tune->gain[o][k] = (float)((double)tables->sign[o][l] * chain * exp(per_sample * tank->place[o][l]));
        }
}

double plate_tank_mean_loss(const PlateTank *tank, double per_sample, uint32_t field)
{
    double sum = 0.0, count = 0.0;
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t k = 0; k < tank->fields[o][field]; ++k, count += 1.0)
            sum += exp(4.0 * per_sample * tank->place[o][tank->field[o][field][k]]);
    return sqrt(sqrt(sum / count));
}

void plate_tank_hush(PlateTank *tank)
{
    for (uint32_t g = 0; g < PLATE_GROUPS; ++g)
        plate_loss_hush(&tank->state[g]);
}

/* ---- Sound ---- */

/* The lines out of their delays. */
static void lose(PlateTank *tank, const PlateTankTune *from, const PlateTankTune *goal, float row[LINES][DSP_CELL])
{
    const float *run[LINES];
    for (uint32_t l = 0; l < LINES; ++l)
        run[l] = ring_run(&tank->line[l], tank->delay[l]);
    plate_loops()->lose(run, from->loss, goal->loss, tank->state, row);
}

/* Rarely: some sample is so small that it might get denormal, or so large that it might have to be held. */
static void tame(PlateTank *tank, bool silent)
{
    for (uint32_t l = 0; l < LINES; ++l) {
        float *x = ring_next(&tank->line[l]);
        if (silent)
            memset(x, 0, DSP_CELL * sizeof *x);
        for (uint32_t t = 0; t < DSP_CELL && !silent; ++t)
            x[t] = fminf(fmaxf(x[t], -DSP_BROKEN), DSP_BROKEN);
    }
}

/* As every line's cell is the sum, with one sign or the other, of the same sixteen, all are about equally loud: they
 * are looked at together. Or-ed together, the bits of numbers below 2 have the highest bit of the exponent clear, and
 * those of numbers below 2^-63 the next one too. */
static void store_lines(PlateTank *tank, float row[LINES][DSP_CELL], const float *const fed[2][2])
{
    const float *feed[LINES];
    float *to[LINES];
    for (uint32_t l = 0; l < LINES; ++l) {
        feed[l] = fed[l % 2][tank->turned[l]];
        to[l] = ring_next(&tank->line[l]);
    }
    const uint32_t magnitude = plate_loops()->store(row, feed, to) & 0x7fffffff, exponent = magnitude >> 23;
    if (magnitude && (exponent & 0x80 || exponent < 0x40))
        tame(tank, exponent < 0x40);
}

void plate_tank_feed(PlateTank *tank, const PlateTankTune *from, const PlateTankTune *goal, const float *a,
                     const float *b)
{
    float row[LINES][DSP_CELL], minus[2][DSP_CELL];
    for (uint32_t t = 0; t < DSP_CELL; ++t) {
        minus[0][t] = -a[t];
        minus[1][t] = -b[t];
    }
    lose(tank, from, goal, row);
    const float *const fed[2][2] = {{a, minus[0]}, {b, minus[1]}};
    store_lines(tank, row, fed);
    for (uint32_t l = 0; l < LINES; ++l)
        ring_advance(&tank->line[l]);
}

void plate_tank_hear(const PlateTank *tank, const PlateTankTune *from, const PlateTankTune *goal, uint32_t out,
                     uint32_t field, float *sum)
{
    const uint32_t taps = tank->fields[out][field], first = field ? tank->fields[out][0] : 0;
    const float *run[LINES];
    for (uint32_t k = 0; k < taps; ++k) {
        const uint32_t l = tank->field[out][field][k];
        run[k] = ring_run(&tank->line[l], tank->place[out][l] - field * DSP_CELL);
    }
    plate_loops()->taps(run, from->gain[out] + first, goal->gain[out] + first, taps, sum);
}
