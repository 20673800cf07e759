/* Delay lines that are written a cell at a time and read in place, in runs of a cell. All lines of a plate lie in one
 * ring buffer, each in slots of its own, and go round in it together. So one moving position gives the place of every
 * cell and run: relative to it, all places are fixed. */
#ifndef LINCTUS_PLATE_RING_H
#define LINCTUS_PLATE_RING_H

#include "dsp.h"
#include "four_math.h"

#include <string.h>

/* slots is a multiple of DSP_CELL, so no cell that is written crosses the end. A copy of the first cell follows the
 * end, so no run that is read crosses it either. */
typedef struct {
    float *slot;        /* ring_floats() floats, given by the caller once all lines are added */
    uint32_t slots, at; /* floats of all lines; the moving position, 0..slots - DSP_CELL */
} PlateRing;

/* Adds a line for runs of up to `longest` samples ago; only before the memory is given. Returns the place, relative to
 * `at`, of the line's next cell; a run of d samples ago is d before that. */
static inline uint32_t ring_add(PlateRing *r, uint32_t longest)
{
    r->slots += (longest + 2 * DSP_CELL - 1) / DSP_CELL * DSP_CELL;
    return r->slots - DSP_CELL;
}

/* The memory the ring takes, floats. */
static inline size_t ring_floats(const PlateRing *r)
{
    return (size_t)r->slots + DSP_CELL;
}

/* Address of a place now: DSP_CELL floats can be read there, and written if it is that of a line's next cell. */
static inline float *ring_place(const PlateRing *r, uint32_t place)
{
    const uint32_t slot = r->at + place;
    return r->slot + (slot < r->slots ? slot : slot - r->slots);
}

/* The slots of n places now; n: a multiple of FOUR. Relies on differences below 0 having their highest bit set. */
static inline void ring_places(const PlateRing *r, const uint32_t *place, uint32_t *slot, uint32_t n)
{
    const FourBits slots = four_bits_all(r->slots), on = four_bits_all(r->at - r->slots);
    for (uint32_t k = 0; k < n; k += FOUR) {
        FourBits own;
        memcpy(&own, place + k, sizeof own);
        own = four_bits_add(own, on);
        const FourBits below = four_bits_sub(four_bits_all(0), four_bits_down(own, 31));
        own = four_bits_add(own, four_bits_and(slots, below));
        memcpy(slot + k, &own, sizeof own);
    }
}

/* Copies the first cell behind the end. To be called after a cell is written that may be the first, before a read. */
static inline void ring_close(const PlateRing *r)
{
    memcpy(r->slot + r->slots, r->slot, DSP_CELL * sizeof *r->slot);
}

/* Moves on by a cell; to be called when a cell of every line has been written. */
static inline void ring_advance(PlateRing *r)
{
    r->at = r->at + DSP_CELL < r->slots ? r->at + DSP_CELL : 0;
}

#endif
