#include "levels.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

const double levels_attack[LEVELS_ATTACKS] = {0.001, 0.025, 0.1};
const double levels_release[LEVELS_RELEASES] = {0.01, 0.1, 1.0};

#define MOST_UNITS ((uint32_t)LEVELS_MOST * 256u)
#define ABSOLUTE   1.17e-7 /* mean square at the gate of -70 LUFS: 10^((-70 + 0.691)/10) */
#define RELATIVE   0.1     /* the gate 10 LU below the mean */

void levels_clear(Levels *l)
{
    memset(l, 0, sizeof *l);
}

void levels_count_frames(Levels *l)
{
    l->frames = 0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        l->frames += l->count[0][b];
}

static void halve_all(uint32_t *count, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        count[i] = (count[i] + 1) / 2;
}

/* Proportions stay; what was heard so far weighs half from here on. */
static void halve(Levels *l)
{
    halve_all(l->blocks, LEVELS_FINE);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        halve_all(l->count[s], LEVELS_BINS);
        for (uint32_t row = 0; row < LEVELS_ROWS; ++row)
            halve_all(l->energy[s][row], LEVELS_OVERS);
    }
    levels_count_frames(l);
}

static uint32_t bin_of(double level)
{
    return (uint32_t)((dsp_clamp(level, LEVELS_LOW, LEVELS_HIGH) - LEVELS_LOW) * 2.0 + 0.5);
}

void levels_add_voice(Levels *l, const LevelsFrame *frame)
{
    bool full = false;
    ++l->frames;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        full |= ++l->count[s][bin_of(frame->level[s])] >= LEVELS_MOST;
    if (full)
        halve(l);
}

static double row_level(uint32_t row)
{
    return LEVELS_ROW_LOW + (double)(row * LEVELS_STEP);
}

/* Which 1 dB of all rows: LEVELS_STEP of them make a row. */
static uint32_t fine_of(double level)
{
    const double at = level - LEVELS_ROW_LOW + 0.5 * LEVELS_STEP;
    return (uint32_t)dsp_clamp(at, 0.0, LEVELS_FINE - 1);
}

/* Shared out over the two nearest, so that the mean level is kept. */
static bool add_energy(uint32_t *over, double level, double units)
{
    const double at = dsp_clamp((level - LEVELS_OVER_LOW) / LEVELS_STEP, 0.0, LEVELS_OVERS - 1);
    const uint32_t low = (uint32_t)fmin(at, LEVELS_OVERS - 2);
    const double all = floor(units + 0.5), above = floor(all * (at - low) + 0.5);
    over[low] += (uint32_t)(all - above);
    over[low + 1] += (uint32_t)above;
    return over[low] > MOST_UNITS / 2 || over[low + 1] > MOST_UNITS / 2;
}

void levels_add_block(Levels *l, const LevelsFrame *const frame[LEVELS_BLOCK])
{
    double energy = 0.0;
    for (uint32_t i = 0; i < LEVELS_BLOCK; ++i)
        energy += frame[i]->energy / LEVELS_BLOCK;
    if (energy < ABSOLUTE)
        return;
    const uint32_t fine = fine_of(power_to_db(energy)), row = fine / LEVELS_STEP;
    const double unit = db_to_power(row_level(row)) * LEVELS_BLOCK / LEVELS_UNITS;
    bool full = ++l->blocks[fine] >= LEVELS_MOST;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        for (uint32_t i = 0; i < LEVELS_BLOCK; ++i) {
            const double over = frame[i]->weighed[s] - row_level(row);
            full |= add_energy(l->energy[s][row], over, fmin(frame[i]->energy / unit, MOST_UNITS / 32.0));
        }
    if (full)
        halve(l);
}

/* Which of n times, in order, is the last one that does not lie above `time`, or the last but one. */
static uint32_t below(const double *times, uint32_t n, double time)
{
    uint32_t low = 0;
    while (low + 2 < n && time >= times[low + 1])
        ++low;
    return low;
}

LevelsMix levels_mix(double attack, double release)
{
    const uint32_t a = below(levels_attack, LEVELS_ATTACKS, attack);
    const uint32_t r = below(levels_release, LEVELS_RELEASES, release);
    const double *from = &levels_attack[a], *ratio = &levels_release[r];
    const double up = dsp_clamp((attack - from[0]) / (from[1] - from[0]), 0.0, 1.0);
    const double down = dsp_clamp(log(release / ratio[0]) / log(ratio[1] / ratio[0]), 0.0, 1.0);
    const uint32_t s = a * LEVELS_RELEASES + r;
    return (LevelsMix){.speed = {s, s + 1, s + LEVELS_RELEASES, s + LEVELS_RELEASES + 1},
                       .weight = {(1.0 - up) * (1.0 - down), (1.0 - up) * down, up * (1.0 - down), up * down}};
}

double levels_loud(const Levels *l, uint32_t speed)
{
    const uint32_t *count = l->count[speed];
    double all = 0.0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        all += count[b];
    double left = all / 8.0;
    uint32_t b = LEVELS_BINS - 1;
    while (b > 0 && count[b] < left)
        left -= count[b--];
    const double into = count[b] ? left / count[b] : 0.5;
    return LEVELS_LOW + (b + 0.5 - into) * 0.5;
}

void levels_gains(const Curve *curve, double gain[LEVELS_GAINS])
{
    for (uint32_t i = 0; i < LEVELS_GAINS; ++i)
        gain[i] = db_to_gain(-curve_reduction(curve, (double)(i * LEVELS_STEP) + LEVELS_ROW_LOW + LEVELS_OVER_LOW));
}

void levels_sum(const Levels *l, uint32_t speed, double weight, const double gain[LEVELS_GAINS], LevelsSums *sums)
{
    for (uint32_t row = 0; row < LEVELS_ROWS; ++row) {
        const double unit = weight * db_to_power(row_level(row)) / LEVELS_UNITS;
        for (uint32_t o = 0; o < LEVELS_OVERS; ++o) {
            const double e = unit * l->energy[speed][row][o];
            const double g = gain[row + o];
            sums->in[row] += e;
            sums->cross[row] += e * g;
            sums->out[row] += e * g * g;
        }
    }
}

/* Means over the rows that pass the gate. */
typedef struct {
    double in, cross, out;
} Means;

static double mixed(double in, double cross, double out, double dry, double wet)
{
    return dry * dry * in + 2.0 * dry * wet * cross + wet * wet * out;
}

/* The share of 1 dB of blocks above the gate, if they lie evenly over it: from half a dB below it to half a dB above.
 */
static double passing(double energy, double least)
{
    const double over = energy / least, edge = 1.1220184543019633;
    if (over >= edge)
        return 1.0;
    return over * edge <= 1.0 ? 0.0 : 10.0 * log10(over) + 0.5;
}

/* The powers of the 1 dB steps of a row. */
static const double step_power[LEVELS_STEP] = {1.0, 1.2589254117941673, 1.5848931924611136};

/* Adds what of a row passes the gate. A row's energy is shared out over its blocks by their level. */
static double add_passing(const Levels *l, const LevelsSums *s, uint32_t row, double mixed_energy, double least,
                          Means *m)
{
    const uint32_t *count = &l->blocks[(size_t)row * LEVELS_STEP];
    double weight[LEVELS_STEP], sum = 0.0, blocks = 0.0;
    for (uint32_t i = 0; i < LEVELS_STEP; ++i) {
        weight[i] = count[i] * step_power[i];
        sum += weight[i];
    }
    for (uint32_t i = 0; i < LEVELS_STEP; ++i) {
        if (!count[i])
            continue;
        const double part = weight[i] / sum;
        const double share = passing(mixed_energy * part / count[i], least);
        blocks += share * count[i];
        m->in += share * part * s->in[row];
        m->cross += share * part * s->cross[row];
        m->out += share * part * s->out[row];
    }
    return blocks;
}

/* Gated by what comes out when `dry` of the input and `wet` of the compressed signal are mixed. */
static Means gated(const Levels *l, const LevelsSums *s, double dry, double wet)
{
    double all[LEVELS_ROWS], energy = 0.0, blocks = 0.0;
    for (uint32_t row = 0; row < LEVELS_ROWS; ++row) {
        all[row] = mixed(s->in[row], s->cross[row], s->out[row], dry, wet);
        energy += all[row];
    }
    for (uint32_t i = 0; i < LEVELS_FINE; ++i)
        blocks += l->blocks[i];
    const double least = blocks > 0.0 ? RELATIVE * energy / blocks : 0.0;
    Means m = {0};
    blocks = 0.0;
    for (uint32_t row = 0; row < LEVELS_ROWS && least > 0.0; ++row)
        blocks += add_passing(l, s, row, all[row], least, &m);
    return blocks > 0.0 ? (Means){m.in / blocks, m.cross / blocks, m.out / blocks} : (Means){0};
}

/* The gain on the compressed signal for which the mix has the energy of what went in. */
static double balance(double went_in, const Means *m, double blend)
{
    const double dry = 1.0 - blend;
    if (dry <= 0.0 || blend <= 0.0)
        return sqrt(went_in / m->out);
    const double a = blend * blend * m->out, b = blend * dry * m->cross, c = dry * dry * m->in - went_in;
    return (sqrt(fmax(b * b - a * c, 0.0)) - b) / a;
}

double levels_makeup(const Levels *l, const LevelsSums *sums, double blend)
{
    enum { ROUNDS = 3 }; /* what passes the gate depends on the gain: it has settled by then */
    const double went_in = gated(l, sums, 1.0, 0.0).in;
    double gain = 1.0;
    for (int i = 0; i < ROUNDS && went_in > 0.0; ++i) {
        const Means m = gated(l, sums, 1.0 - blend, blend * gain);
        gain = balance(went_in, &m, blend);
    }
    return fmax(0.0, gain_to_db(gain));
}
