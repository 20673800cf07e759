#include "levels.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

const double levels_attack[LEVELS_ATTACKS] = {0.001, 0.025, 0.1};
const double levels_release[LEVELS_RELEASES] = {0.01, 0.1, 1.0};

#define MOST_PARTS ((uint32_t)LEVELS_MOST * LEVELS_PARTS) /* parts of frames: at these all is halved */

void levels_clear(Levels *l)
{
    memset(l, 0, sizeof *l);
}

/* Halves all counts and energies: proportions stay, and what was heard so far weighs half from here on. */
static void halve(Levels *l)
{
    even_halve(l->blocks, LEVELS_FINE);
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        even_halve(l->count[s], LEVELS_BINS);
        for (uint32_t row = 0; row < LEVELS_ROWS; ++row)
            even_halve(l->energy[s][row], LEVELS_OVERS);
    }
    l->frames = levels_frames(l);
}

uint32_t levels_frames(const Levels *l)
{
    uint32_t parts = 0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        parts += l->count[0][b];
    return parts / LEVELS_PARTS;
}

/* Shares a frame between the two nearest bins, so that the mean level is kept. true: a bin is full. */
static bool add_level(uint32_t count[LEVELS_BINS], double level)
{
    const double at = (dsp_clamp(level, LEVELS_LOW, LEVELS_HIGH) - LEVELS_LOW) * 2.0;
    const uint32_t low = (uint32_t)fmin(at, LEVELS_BINS - 2), above = (uint32_t)((at - low) * LEVELS_PARTS + 0.5);
    count[low] += LEVELS_PARTS - above;
    count[low + 1] += above;
    return count[low] >= MOST_PARTS || count[low + 1] >= MOST_PARTS;
}

void levels_add_voice(Levels *l, const LevelsFrame *frame)
{
    bool full = false;
    ++l->frames;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        full |= add_level(l->count[s], frame->level[s]);
    if (full)
        halve(l);
}

void levels_add_block(Levels *l, const LevelsFrame *const frame[LEVELS_BLOCK])
{
    double energy = 0.0;
    for (uint32_t i = 0; i < LEVELS_BLOCK; ++i)
        energy += frame[i]->energy / LEVELS_BLOCK;
    if (energy < EVEN_ABSOLUTE)
        return;
    const uint32_t fine = even_fine(power_to_db(energy)), row = fine / LEVELS_STEP;
    const double unit = even_row_power(row) * LEVELS_BLOCK / LEVELS_UNITS;
    bool full = ++l->blocks[fine] >= LEVELS_MOST;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s)
        for (uint32_t i = 0; i < LEVELS_BLOCK; ++i) {
            const double over = (frame[i]->weighed[s] - even_row_level(row) - LEVELS_OVER_LOW) / LEVELS_STEP;
            full |= even_share(l->energy[s][row], LEVELS_OVERS, over,
                               fmin(frame[i]->energy / unit, EVEN_MOST_UNITS / 32.0));
        }
    if (full)
        halve(l);
}

/* Index of the last of n ascending times that is not above `time`; 0..n - 2, so that another time follows it. */
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

static double take(double *from, double wanted)
{
    const double taken = fmin(*from, wanted);
    *from -= taken;
    return taken;
}

/* Counted from the loudest frame down: the first sixteenth of all frames is skipped, and the next two sixteenths are
 * the middle half of the loudest quarter. */
double levels_loud(const Levels *l, uint32_t speed)
{
    double all = 0.0, sum = 0.0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        all += l->count[speed][b];
    double over = all / 16.0, wanted = all / 8.0;
    for (uint32_t b = LEVELS_BINS; b > 0 && wanted > 0.0; --b) {
        double here = l->count[speed][b - 1];
        over -= take(&here, over);
        const double taken = take(&here, wanted);
        wanted -= taken;
        sum += taken * (LEVELS_LOW + 0.5 * (b - 1));
    }
    return sum / (all / 8.0);
}

/* Most levels lie under the threshold. */
static double gain_at(const Curve *curve, double level)
{
    const double reduction = curve_reduction(curve, level);
    return reduction != 0.0 ? db_to_gain(-reduction) : 1.0;
}

void levels_gains(const Curve *curve, double gain[LEVELS_GAINS])
{
    for (uint32_t i = 0; i < LEVELS_GAINS; ++i)
        gain[i] = gain_at(curve, (double)(i * LEVELS_STEP) + LEVELS_ROW_LOW + LEVELS_OVER_LOW);
}

/* A row of energies in which nothing was counted adds nothing. */
static bool is_empty(const uint32_t energy[LEVELS_OVERS])
{
    uint32_t any = 0;
    for (uint32_t o = 0; o < LEVELS_OVERS; ++o)
        any |= energy[o];
    return !any;
}

void levels_sum(const Levels *l, uint32_t speed, double weight, const double gain[LEVELS_GAINS], LevelsSums *sums)
{
    for (uint32_t row = 0; row < LEVELS_ROWS; ++row) {
        const uint32_t *energy = l->energy[speed][row];
        if (is_empty(energy))
            continue;
        const double unit = weight * even_row_power(row) / LEVELS_UNITS;
        double in = sums->in[row], cross = sums->cross[row], out = sums->out[row];
        for (uint32_t o = 0; o < LEVELS_OVERS; ++o) {
            const double e = unit * energy[o], g = gain[row + o];
            in += e;
            cross += e * g;
            out += e * g * g;
        }
        sums->in[row] = in;
        sums->cross[row] = cross;
        sums->out[row] = out;
    }
}

double levels_makeup(const Levels *l, const LevelsSums *sums, double blend)
{
    return fmax(0.0, even_gain(l->blocks, sums, blend));
}
