/* Delay lines that are written a cell at a time and read in place, in runs of a cell. All of a plate's lie in one ring,
 * each in slots of its own, and go round in it together: so one place that moves tells where each cell and each run is,
 * and what lies where as seen from there never changes. */
#ifndef LINCTUS_PLATE_RING_H
#define LINCTUS_PLATE_RING_H

#include "dsp.h"
#include "four_math.h"

#include <string.h>

/* slots is a multiple of DSP_CELL, so no cell that is written crosses the end; behind it lies the first cell once more,
 * so no run that is read does. */
typedef struct {
    float *slot;
    uint32_t slots, at; /* of all lines; how far they have gone round, 0..slots - DSP_CELL */
} PlateRing;

/* A line more, for runs up to `longest` samples ago; only while there is no memory. Returns the place, as seen from
 * `at`, where the line's next cell is to be written; that of a run lies as far before it as it is long ago. */
static inline uint32_t ring_add(PlateRing *r, uint32_t longest)
{
    r->slots += (longest + 2 * DSP_CELL - 1) / DSP_CELL * DSP_CELL;
    return r->slots - DSP_CELL;
}

/* The memory it takes. */
static inline size_t ring_floats(const PlateRing *r)
{
    return (size_t)r->slots + DSP_CELL;
}

/* Where that place is now: DSP_CELL floats from there on, but to be written only where it is a line's next cell. */
static inline float *ring_place(const PlateRing *r, uint32_t place)
{
    const uint32_t slot = r->at + place;
    return r->slot + (slot < r->slots ? slot : slot - r->slots);
}

/* Where so many places are, counted in slots; n: a multiple of FOUR. A difference below 0 has its highest bit set. */
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

/* After a cell was written and before a run is read: the first cell may be the one. */
static inline void ring_close(const PlateRing *r)
{
    memcpy(r->slot + r->slots, r->slot, DSP_CELL * sizeof *r->slot);
}

/* After a cell of every line. */
static inline void ring_advance(PlateRing *r)
{
    r->at = r->at + DSP_CELL < r->slots ? r->at + DSP_CELL : 0;
}

#endif
