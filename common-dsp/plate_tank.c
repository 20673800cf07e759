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

/* A delay of about `samples`: a prime that none of the `before` earlier lines has, so that all are mutually prime. */
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

/* Places the taps. Each is at least a cell late, so that its sound is known when the cell begins. */
static void choose_taps(PlateTank *tank, const PlateTables *tables)
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

/* The line of an output's tap number `tap`; near taps come first. */
static uint32_t line_of_tap(const PlateTank *tank, uint32_t out, uint32_t tap)
{
    const uint32_t near = tank->fields[out][0];
    return tap < near ? tank->field[out][0][tap] : tank->field[out][1][tap - near];
}

static void place_tap(PlateTank *tank, uint32_t out, uint32_t tap)
{
    const uint32_t l = line_of_tap(tank, out, tap), cells = tap < tank->fields[out][0] ? 1 : 2;
    tank->tap[out][tap] = tank->next[l] + cells * DSP_CELL - tank->place[out][l];
}

void plate_tank_place(PlateTank *tank, PlateRing *ring, const PlateTables *tables, double rate)
{
    *tank = (PlateTank){0};
    for (uint32_t l = 0; l < LINES; ++l) {
        tank->delay[l] = next_prime(tables->line[l] * rate, tank->delay, l);
        tank->next[l] = ring_add(ring, tank->delay[l]);
        tank->late[l] = tank->next[l] - tank->delay[l];
        tank->feed[l] = (2 * (l % 2) + (tables->feed_sign[l] < 0.f)) * DSP_CELL;
    }
    choose_taps(tank, tables);
    for (uint32_t o = 0; o < PLATE_OUTS; ++o)
        for (uint32_t k = 0; k < LINES; ++k)
            place_tap(tank, o, k);
}

double plate_tank_seconds(const PlateTank *tank, double rate)
{
    double samples = 0.0;
    for (uint32_t l = 0; l < LINES; ++l)
        samples += tank->delay[l];
    return samples / rate;
}

/* ---- Tuning ---- */

/* The lines' losses include the matrix's factor 1/4. A tap's gain is that of its place, so that the level falls
 * exponentially from the start; it includes 1/sqrt 2 for each step of the chain after the taps. */
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

/* Rarely needed: clears the lines' new cells where they are silent, else holds their samples to DSP_BROKEN. */
static void tame(const PlateRing *ring, const uint32_t *next, bool silent)
{
    for (uint32_t l = 0; l < LINES; ++l) {
        float *x = ring->slot + next[l];
        if (silent)
            memset(x, 0, DSP_CELL * sizeof *x);
        for (uint32_t t = 0; t < DSP_CELL && !silent; ++t)
            x[t] = fminf(fmaxf(x[t], -DSP_BROKEN), DSP_BROKEN);
    }
}

/* Every line's cell is the sum of the same sixteen with different signs, so all are about equally loud and are checked
 * together, by their or-ed bits: if all are below 2 the highest bit of the exponent is clear, and if all are below
 * 2^-63 the next one is too. */
void plate_tank_feed(PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     const float *a, const float *b)
{
    uint32_t late[LINES], next[LINES];
    ring_places(ring, tank->late, late, LINES);
    ring_places(ring, tank->next, next, LINES);
    const PlateRound round = {ring->slot, late, next, {a, b}, tank->feed};
    const uint32_t magnitude = plate_loops()->circulate(&round, from->loss, goal->loss, tank->state) & 0x7fffffff;
    const uint32_t exponent = magnitude >> 23;
    if (magnitude && (exponent & 0x80 || exponent < 0x40))
        tame(ring, next, exponent < 0x40);
    ring_close(ring);
}

void plate_tank_hear(const PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     float more[PLATE_OUTS][DSP_CELL], float sum[2 * PLATE_OUTS][DSP_CELL])
{
    const PlateLoops *loops = plate_loops();
    uint32_t run[PLATE_OUTS][LINES];
    ring_places(ring, tank->tap[0], run[0], PLATE_OUTS * LINES);
    for (uint32_t o = 0; o < PLATE_OUTS; ++o) {
        const float *const begin = from->gain[o], *const end = goal->gain[o];
        const uint32_t near = tank->fields[o][0], far = LINES - near;
        loops->taps(ring->slot, run[o] + near, begin + near, end + near, far, NULL, sum[o]);
        loops->taps(ring->slot, run[o], begin, end, near, more[o], sum[PLATE_OUTS + o]);
    }
}
