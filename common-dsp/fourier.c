#define FLOATS        4
#define FOURIER_PASS  fourier_pass_four
#define FOURIER_JOIN  fourier_join_four
#define FOURIER_SPLIT fourier_split_four
#define FOURIER_MERGE fourier_merge_four

#include "fourier_kernel.h"

#include "dsp.h"
#include "wide.h"

#include <math.h>
#include <stdlib.h>

/* ---- Tables ---- */

/* Fours first, so that the last passes, which need no turns, are the short ones. */
static void find_passes(Fourier *f)
{
    static const uint8_t factors[] = {4, 2, 3};
    uint32_t rest = f->quarter;
    for (uint32_t i = 0; i < sizeof factors; ++i)
        for (; rest % factors[i] == 0; rest /= factors[i])
            f->by[f->passes++] = factors[i];
}

/* Each pass puts the numbers that leave the same rest, divided by its factor, one after the other. */
static void find_places(Fourier *f)
{
    for (uint32_t k = 0; k < f->quarter; ++k) {
        uint32_t rest = k, length = f->quarter, place = 0;
        for (uint32_t p = 0; p < f->passes; ++p) {
            length /= f->by[p];
            place += rest % f->by[p] * length;
            rest /= f->by[p];
        }
        f->place[k] = (uint16_t)place;
    }
}

/* Lane p: e^(-2 pi i p turn). */
static void find_lane_turns(float *to, double turn)
{
    for (uint32_t p = 0; p < FOUR; ++p) {
        const double angle = -2.0 * DSP_PI * p * turn;
        to[p] = (float)cos(angle);
        to[FOUR + p] = (float)sin(angle);
    }
}

static void make_tables(Fourier *f)
{
    for (uint32_t k = 0; k < f->turns; ++k) {
        const double angle = -DSP_PI * k / f->quarter;
        f->turn[k] = (float)cos(angle);
        f->turn[f->turns + k] = (float)sin(angle);
    }
    for (uint32_t k = 0; k < f->quarter; k += FOURIER_FINE)
        find_lane_turns(f->coarse + (size_t)(k / FOURIER_FINE) * FOURIER_TURN, (double)k / f->half);
    for (uint32_t k = 0; k < FOURIER_FINE; ++k)
        find_lane_turns(f->fine + (size_t)k * FOURIER_TURN, (double)k / f->half);
    find_lane_turns(f->first, 0.5 / f->half);
}

bool fourier_init(Fourier *f, uint32_t size)
{
    *f = (Fourier){.half = size / 2, .quarter = size / 2 / FOUR};
    f->turns = f->quarter / 2 * 3;
    f->wide = wide_avx2() && f->quarter % (2 * FOUR) == 0;
    const size_t coarse = (size_t)(f->quarter + FOURIER_FINE - 1) / FOURIER_FINE * FOURIER_TURN,
                 fine = (size_t)FOURIER_FINE * FOURIER_TURN;
    f->memory = calloc(2 * (size_t)f->turns + coarse + fine + FOURIER_TURN, sizeof *f->memory);
    f->place = calloc(f->quarter, sizeof *f->place);
    if (!f->memory || !f->place)
        return false;
    f->turn = f->memory;
    f->coarse = f->turn + 2 * (size_t)f->turns;
    f->fine = f->coarse + coarse;
    f->first = f->fine + fine;
    find_passes(f);
    find_places(f);
    make_tables(f);
    return true;
}

void fourier_done(Fourier *f)
{
    free(f->memory);
    free(f->place);
    *f = (Fourier){0};
}

/* ---- The steps, with the machine's widest vectors ---- */

void fourier_pass(const Fourier *f, uint32_t step, float *re, float *im)
{
    if (f->wide)
        fourier_pass_avx2(f, step, re, im);
    else
        fourier_pass_four(f, step, re, im);
}

void fourier_join(const Fourier *f, const float *re, const float *im, float *to_re, float *to_im)
{
    if (f->wide)
        fourier_join_avx2(f, re, im, to_re, to_im);
    else
        fourier_join_four(f, re, im, to_re, to_im);
}

void fourier_split(const Fourier *f, uint32_t step, float *re, float *im)
{
    if (f->wide)
        fourier_split_avx2(f, step, re, im);
    else
        fourier_split_four(f, step, re, im);
}

void fourier_merge(const Fourier *f, uint32_t step, float *re, float *im)
{
    if (f->wide)
        fourier_merge_avx2(f, step, re, im);
    else
        fourier_merge_four(f, step, re, im);
}
