/* The sibilants that a row of processors has heard since learning began, each with what Compressor read of it, so that
 * Esses knows them as they come out with the threshold of now, whatever it was when they sounded: at first it is not
 * known at all, and it moves most while little was heard. The first SIBILANTS_MOST are kept; those that follow are
 * noted as they come, and what moves from then on is left alone. */
#ifndef LINCTUS_CHAIN_SIBILANTS_H
#define LINCTUS_CHAIN_SIBILANTS_H

#include "curve.h"
#include "esses.h"

enum { SIBILANTS_MOST = 64 };

typedef struct {
    double level[SIBILANCE_BANDS]; /* dB, as Esses counts them */
    double read, reduced;          /* dB: what the detector read on average, as Compressor counts it; what the curve of
                                      then takes off that */
} ChainSibilant;

typedef struct {
    bool all;       /* the list holds all that Esses knows */
    uint32_t count; /* in the list */
    ChainSibilant heard[SIBILANTS_MOST];

    double read; /* summed over the cells of the sibilant under way */
    uint32_t cells;
    bool began;

    bool building; /* a memory for Esses, one sibilant a cell: */
    uint32_t at;   /* so many are in it, */
    Curve curve;   /* as this one lets them come out; the last one it was built for */
    EssesMemory built;
} ChainSibilants;

/* None is known: all: nor is Esses told of any. */
void sibilants_clear(ChainSibilants *s, bool all);

/* The audio begins anew. */
void sibilants_reset(ChainSibilants *s);

/* At a grid point on learn, after Esses' own: hears of a sibilant that Esses passed over, and tells Esses what it has
 * to know. read: dB, of the detector; now: the curve in force; ahead: the one that Compressor is bound for, once that
 * is known. Both and `read` as Compressor counts levels. */
void sibilants_tick(ChainSibilants *s, Esses *to, double read, const Curve *now, const Curve *ahead, bool known);

#endif
