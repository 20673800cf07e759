#include "even_loudness.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <stddef.h>

#define RELATIVE_GATE 0.1 /* of the mean energy, -10 LU (BS.1770) */

uint32_t even_fine(double level)
{
    const double at = level - EVEN_ROW_LOW + 0.5 * EVEN_STEP;
    return (uint32_t)dsp_clamp(at, 0.0, EVEN_FINE - 1);
}

double even_row_level(uint32_t row)
{
    return EVEN_ROW_LOW + (double)(row * EVEN_STEP);
}

double even_row_power(uint32_t row)
{
    static const double power[EVEN_ROWS] = {7.943282347242822e-09,  1.5848931924611143e-08,
                                            3.1622776601683792e-08, 6.3095734448019296e-08,
                                            1.2589254117941662e-07, 2.5118864315095823e-07,
                                            5.011872336272725e-07,  9.9999999999999995e-07,
                                            1.9952623149688787e-06, 3.9810717055349691e-06,
                                            7.9432823472428217e-06, 1.5848931924611141e-05,
                                            3.1622776601683795e-05, 6.3095734448019293e-05,
                                            0.00012589254117941674, 0.00025118864315095795,
                                            0.00050118723362727253, 0.001,
                                            0.0019952623149688789,  0.0039810717055349734,
                                            0.0079432823472428138,  0.015848931924611134,
                                            0.031622776601683791,   0.063095734448019331,
                                            0.12589254117941673,    0.25118864315095801,
                                            0.50118723362727224,    1.0,
                                            1.9952623149688795,     3.9810717055349722,
                                            7.9432823472428158,     15.848931924611133,
                                            31.622776601683793};
    return power[row];
}

void even_halve(uint32_t *units, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        units[i] = (units[i] + 1) / 2;
}

bool even_share(uint32_t *column, uint32_t columns, double at, double units)
{
    const double place = dsp_clamp(at, 0.0, columns - 1);
    const uint32_t low = (uint32_t)fmin(place, columns - 2);
    const double all = floor(units + 0.5), above = floor(all * (place - low) + 0.5);
    column[low] += (uint32_t)(all - above);
    column[low + 1] += (uint32_t)above;
    return column[low] > EVEN_MOST_UNITS / 2 || column[low + 1] > EVEN_MOST_UNITS / 2;
}

/* Means over the rows that pass the gate. */
typedef struct {
    double in, cross, out;
} Means;

static double mixed(double in, double cross, double out, double dry, double wet)
{
    return dry * dry * in + 2.0 * dry * wet * cross + wet * wet * out;
}

/* Share of the blocks of a 1 dB count that pass the gate, taken to spread evenly over half a dB to either side of
 * `energy`. */
static double passing(double energy, double least)
{
    const double over = energy / least, edge = 1.1220184543019633;
    if (over >= edge)
        return 1.0;
    return over * edge <= 1.0 ? 0.0 : 10.0 * log10(over) + 0.5;
}

/* Power of each 1 dB step of a row, over that of the first. */
static const double step_power[EVEN_STEP] = {1.0, 1.2589254117941673, 1.5848931924611136};

/* Adds the part of a row that passes the gate and returns how many blocks that is. count: the row's own counts; its
 * energy is shared out over them by level. */
static double add_passing(const uint32_t *count, const EvenSums *s, uint32_t row, double mixed_energy, double least,
                          Means *m)
{
    double weight[EVEN_STEP], sum = 0.0, blocks = 0.0;
    for (uint32_t i = 0; i < EVEN_STEP; ++i) {
        weight[i] = count[i] * step_power[i];
        sum += weight[i];
    }
    for (uint32_t i = 0; i < EVEN_STEP; ++i) {
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

/* Mean energies of those of the `counted` blocks that pass the gate of the mix of `dry` of the input and `wet` of the
 * processed signal. */
static Means gated(const uint32_t count[EVEN_FINE], double counted, const EvenSums *s, double dry, double wet)
{
    double all[EVEN_ROWS], energy = 0.0, blocks = 0.0;
    for (uint32_t row = 0; row < EVEN_ROWS; ++row) {
        all[row] = mixed(s->in[row], s->cross[row], s->out[row], dry, wet);
        energy += all[row];
    }
    const double least = counted > 0.0 ? RELATIVE_GATE * energy / counted : 0.0;
    Means m = {0};
    for (uint32_t row = 0; row < EVEN_ROWS && least > 0.0; ++row)
        if (all[row] > 0.0) /* in most rows nothing was heard */
            blocks += add_passing(&count[(size_t)row * EVEN_STEP], s, row, all[row], least, &m);
    return blocks > 0.0 ? (Means){m.in / blocks, m.cross / blocks, m.out / blocks} : (Means){0};
}

/* The linear gain on the processed signal with which the mix has the energy of the input. */
static double balance(double went_in, const Means *m, double blend)
{
    const double dry = 1.0 - blend;
    if (dry <= 0.0 || blend <= 0.0)
        return sqrt(went_in / m->out);
    const double a = blend * blend * m->out, b = blend * dry * m->cross, c = dry * dry * m->in - went_in;
    return (sqrt(fmax(b * b - a * c, 0.0)) - b) / a;
}

double even_gain(const uint32_t blocks[EVEN_FINE], const EvenSums *sums, double blend)
{
    enum { ROUNDS = 3 }; /* what passes the gate depends on the gain, which has settled after these */
    uint32_t counted = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        counted += blocks[i];
    const double went_in = gated(blocks, counted, sums, 1.0, 0.0).in;
    double gain = 1.0;
    for (int i = 0; i < ROUNDS && went_in > 0.0; ++i) {
        const Means m = gated(blocks, counted, sums, 1.0 - blend, blend * gain);
        gain = balance(went_in, &m, blend);
    }
    return gain_to_db(gain);
}

double even_move(double now, double wished, double most)
{
    return fmin(wished, now + most);
}
