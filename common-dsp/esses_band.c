#include "esses_band.h"

#include <math.h>

#define TOP       0.45 /* of the rate: a bell above has nothing left to turn down */
#define HALF_BAND 0.25 /* octaves: the five bands are half an octave wide */

enum { CELLS_A_STEP = 32, STEPS = 3 };

static void find_faintest(EssesBand *b, const EssesMemory *m)
{
    if (m->count >= ESSES_ENOUGH)
        b->faintest = esses_figures_faintest(m);
}

static void find_upper(EssesBand *b, const EssesMemory *m)
{
    b->known = m->count >= ESSES_ENOUGH;
    if (b->known)
        b->upper = esses_figures_upper(m, b->weight);
}

static void place(EssesBand *b)
{
    const double half = 0.5 * b->width;
    b->middle = b->listening && b->found > 0.0 ? b->found : log2(b->centre);
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double at = log2(sibilance_hz[k]);
        const double from = fmax(at - HALF_BAND, b->middle - half), to = fmin(at + HALF_BAND, b->middle + half);
        b->weight[k] = fmax(to - from, 0.0) / (2.0 * HALF_BAND);
    }
    b->in_reach = exp2(b->middle - half) < TOP * b->rate;
}

void esses_band_set(EssesBand *b, const EssesMemory *m, double centre, double width, bool listening)
{
    b->centre = centre;
    b->width = width;
    b->listening = listening;
    place(b);
    find_upper(b, m);
}

void esses_band_renew(EssesBand *b, const EssesMemory *m)
{
    find_faintest(b, m);
    b->found = esses_figures_centre(m, b->faintest);
    place(b);
    find_upper(b, m);
    b->due = 0;
}

void esses_band_added(EssesBand *b, const EssesMemory *m)
{
    find_upper(b, m);
    b->due = STEPS * CELLS_A_STEP;
}

void esses_band_step(EssesBand *b, const EssesMemory *m)
{
    if (b->due == 0)
        return;
    --b->due;
    if (b->due == 2 * CELLS_A_STEP)
        find_faintest(b, m);
    if (b->due == CELLS_A_STEP)
        b->found = esses_figures_centre(m, b->faintest);
    if (b->due == 0 && b->listening) {
        place(b);
        find_upper(b, m);
    }
}
