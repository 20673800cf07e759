/* A delay line that is written a cell at a time and read in place, in runs of a cell. */
#ifndef LINCTUS_PLATE_RING_H
#define LINCTUS_PLATE_RING_H

#include "dsp.h"

#include <string.h>

/* slots is a multiple of DSP_CELL, so no cell that is written crosses the end; behind it lies the first cell once more,
 * so no run that is read does. No two rings of a Plate are equally long, and none a power of two, but by chance: what
 * is written at once does not crowd into the same places of the processor's cache. */
typedef struct {
    float *slot;
    uint32_t slots, at; /* at: where the next cell goes */
} PlateRing;

/* Slots for runs up to `longest` samples ago; ring_floats() is the memory they take. */
static inline uint32_t ring_slots(uint32_t longest)
{
    return (longest + 2 * DSP_CELL - 1) / DSP_CELL * DSP_CELL;
}

static inline size_t ring_floats(const PlateRing *r)
{
    return (size_t)r->slots + DSP_CELL;
}

/* Where the next cell is to be written: DSP_CELL floats. */
static inline float *ring_next(const PlateRing *r)
{
    return r->slot + r->at;
}

/* After that: the cell is the newest. */
static inline void ring_advance(PlateRing *r)
{
    if (r->at == 0)
        memcpy(r->slot + r->slots, r->slot, DSP_CELL * sizeof *r->slot);
    r->at += DSP_CELL;
    if (r->at == r->slots)
        r->at = 0;
}

static inline void ring_put(PlateRing *r, const float *cell)
{
    memcpy(ring_next(r), cell, DSP_CELL * sizeof *cell);
    ring_advance(r);
}

/* DSP_CELL samples, the first of them the one written `ago` (DSP_CELL..slots) before the next. */
static inline const float *ring_run(const PlateRing *r, uint32_t ago)
{
    return r->slot + (r->at >= ago ? r->at - ago : r->at + r->slots - ago);
}

#endif
