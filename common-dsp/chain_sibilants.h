/* The sibilants that Chain has heard since learning began, each with Compressor's reading of it. With that Esses can
 * know them as loud as they come out with Compressor's present threshold, whatever that was when they sounded: at first
 * the threshold is not known at all, and it moves most while little was heard. The first SIBILANTS_MOST are kept; later
 * ones are noted as they come, and from then on no move of the threshold changes what Esses knows. */
#ifndef LINCTUS_CHAIN_SIBILANTS_H
#define LINCTUS_CHAIN_SIBILANTS_H

#include "curve.h"
#include "esses.h"

enum { SIBILANTS_MOST = 64 };

typedef struct {
    double level[SIBILANCE_BANDS]; /* dB, on the scale of Esses */
    double read;                   /* dB: mean reading of Compressor's detector, on the scale of Compressor */
    double reduced;                /* dB: what the curve in force at the time takes off that */
} ChainSibilant;

typedef struct {
    bool all;       /* the list holds all that Esses knows */
    uint32_t count; /* in the list */
    ChainSibilant heard[SIBILANTS_MOST];

    double read;    /* dB, summed over the cells of the sibilant under way */
    uint32_t cells; /* of that sibilant */
    bool began;     /* it is still sounding */

    bool building;     /* `built` is being made, one sibilant a cell */
    uint32_t at;       /* sibilants in it so far */
    Curve curve;       /* the curve it is made for, or was made for last */
    EssesMemory built; /* a memory for Esses */
} ChainSibilants;

/* Empties the list. all: Esses knows no sibilant either. */
void sibilants_clear(ChainSibilants *s, bool all);

/* The audio begins anew; the list stays. */
void sibilants_reset(ChainSibilants *s);

/* At a grid point on learn, after that of Esses: takes a sibilant that Esses has passed over, and tells Esses what it
 * has to know. read: dB, of Compressor's detector; now: the curve in force; ahead: the one that Compressor is bound
 * for; known: there is such a one. Levels are on the scale of Compressor. */
void sibilants_tick(ChainSibilants *s, Esses *to, double read, const Curve *now, const Curve *ahead, bool known);

#endif
