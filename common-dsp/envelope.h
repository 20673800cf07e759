/* Level detectors and envelope followers: a peak hold, and a follower with separate speeds up and down. */
#ifndef LINCTUS_ENVELOPE_H
#define LINCTUS_ENVELOPE_H

#include "dsp.h"

/* Peak hold: the exact maximum of the last `length` samples, by a tree of pairwise maxima, so that a sample costs at
 * most log2(length) comparisons. With a window longer than half a period a steady sine reads its peak, no ripple. */
typedef struct {
    float *node;     /* node[1] is the largest of all; node[i] is the larger of node[2i] and node[2i + 1] */
    uint32_t leaves; /* power of two */
    uint32_t length; /* samples in the window */
    uint32_t at;     /* leaf of the next sample */
} PeakHold;

/* Holds a peak for `samples` samples after it came; the window is one longer. Allocates; false: no memory. */
bool peak_hold_init(PeakHold *p, uint32_t samples);

/* Safe on a zeroed struct. */
void peak_hold_done(PeakHold *p);

/* As if zeros had gone before. */
void peak_hold_reset(PeakHold *p);

/* Takes x, 0 or more, and returns the largest in the window. */
static inline float peak_hold_step(PeakHold *p, float x)
{
    float *const node = p->node;
    uint32_t i = p->leaves + p->at;
    p->at = p->at + 1 < p->length ? p->at + 1 : 0;
    node[i] = x;
    while (i > 1) {
        const float here = node[i], beside = node[i ^ 1], larger = here > beside ? here : beside;
        i /= 2;
        if (node[i] == larger)
            break;
        node[i] = larger;
    }
    return node[1];
}

/* The same peak hold for runs of samples, cell by cell, at a handful of comparisons a sample whatever the window. Its
 * maximum is that of three parts: the cell under way so far, the whole cells before it, and the end of the cell that
 * the window cuts (after M. van Herk, 1992, and J. Gil, M. Werman, 1993; from memory). */
typedef struct {
    float *largest;         /* a ring of cells; for each sample the largest of it and those after it in its cell */
    uint32_t samples;       /* how long a peak is held */
    uint32_t cells, at;     /* cells in the ring; place of the cell under way */
    uint32_t into;          /* samples of that cell that have come */
    float so_far;           /* the largest of them */
    float before[DSP_CELL]; /* by sample of that cell: the largest in the window before the cell */
} CellHold;

/* Holds a peak for `samples` samples, DSP_CELL or more. Allocates; false: no memory. */
bool cell_hold_init(CellHold *h, uint32_t samples);

/* Safe on a zeroed struct. */
void cell_hold_done(CellHold *h);

/* As if zeros had gone before; the next sample is the first of a cell. */
void cell_hold_reset(CellHold *h);

/* Takes n samples of one cell, each 0 or more, and gives for each the largest in the window. held may be x. */
void cell_hold_run(CellHold *h, const float *x, float *held, uint32_t n);

/* Follower: two equal one-poles in series, each with its own speed up and down (the branching smoother of Giannoulis,
 * Massberg, Reiss, JAES 60(6), 2012, twice over). Unlike that of one pole, its slope never jumps, so a gain that
 * follows it has no kinks. Attack and release are independent: the release does not grow by the attack, as it does in a
 * decoupled pair. Zero it to reset. */
typedef struct {
    double first, value;
} Follower;

/* Coefficient of each pole, 0..1, with which the follower covers 1 - 1/e (63 %) of a jump in `seconds`, counted from
 * the last sample before the jump (as exp(-1/(tau rate)) does for one pole). rate: Hz. 0 seconds: 0. */
double follower_keep(double seconds, double rate);

/* Takes x and returns the follower's value. rise, fall: follower_keep() of the time up and the time down. */
static inline double follower_step(Follower *f, double rise, double fall, double x)
{
    f->first = x + (x > f->first ? rise : fall) * (f->first - x);
    f->value = f->first + (f->first > f->value ? rise : fall) * (f->value - f->first);
    return f->value;
}

/* The same for n samples, but for rounding: it adds a share of x to a share of the old value, which takes a CPU fewer
 * operations in sequence. Where all is 0 it stays 0. value may be x. */
void follower_run(Follower *f, double rise, double fall, const float *x, float *value, uint32_t n);

#endif
