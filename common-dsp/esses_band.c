#include "esses_band.h"

#include <math.h>

#define TOP_OF_RATE 0.45 /* share of the rate, as required: a bell that starts above has nothing left to turn down */
#define HALF_BAND   0.25 /* octaves: half the width of each of the five bands (sibilance.h) */

#define STEPS_A_CELL (1.0 / 32.0) /* steps in a cell: one every 32 cells; chosen for its cost */

enum { PLACE, CENTRE, FAINTEST, STEPS }; /* the steps, last one first: each is the number of those left after it */

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
    b->sure = !b->listening || b->found > 0.0;
    b->middle = b->listening && b->sure ? b->found : log2(b->centre);
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double at = log2(sibilance_hz[k]);
        const double from = fmax(at - HALF_BAND, b->middle - half), to = fmin(at + HALF_BAND, b->middle + half);
        b->weight[k] = fmax(to - from, 0.0) / (2.0 * HALF_BAND);
    }
    b->in_reach = exp2(b->middle - half) < TOP_OF_RATE * b->rate;
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
    b->left = 0;
}

void esses_band_added(EssesBand *b, const EssesMemory *m)
{
    find_upper(b, m);
    b->left = STEPS;
    b->pace = (Work){.due = STEPS_A_CELL - 1.0}; /* find_upper() counts as this cell's step */
}

static void step(EssesBand *b, const EssesMemory *m, uint32_t left)
{
    if (left == FAINTEST)
        find_faintest(b, m);
    else if (left == CENTRE)
        b->found = esses_figures_centre(m, b->faintest);
    else if (b->listening) {
        place(b);
        find_upper(b, m);
    }
}

void esses_band_step(EssesBand *b, const EssesMemory *m)
{
    for (work_grant(&b->pace, STEPS_A_CELL); b->left && work_next(&b->pace); work_did(&b->pace, 1.0))
        step(b, m, --b->left);
}
