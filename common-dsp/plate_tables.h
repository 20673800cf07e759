/* The delays and signs that make the plate's sound: drawn at random, in equal strata, from a seed for each sample rate.
 * The program in tests/plate_tables/ chose the seeds: it drew thousands and measured their sound. */
#ifndef LINCTUS_PLATE_TABLES_H
#define LINCTUS_PLATE_TABLES_H

#include "plate_chain.h"

enum {
    PLATE_LINES = 16, /* lines of the tank */
    PLATE_OUTS = 2,   /* output channels */
};

typedef struct {
    double line[PLATE_LINES];                   /* delays of the lines, s */
    double into[PLATE_STEPS], out[PLATE_STEPS]; /* delays of the chains before and after the tank, s */
    double place[PLATE_OUTS][PLATE_LINES];      /* positions of the taps along their lines, 0..1 */
    float feed_sign[PLATE_LINES];               /* sign of each line's input, -1 or 1 */
    float sign[PLATE_OUTS][PLATE_LINES];        /* sign of each tap, -1 or 1 */
} PlateTables;

/* The seed for a sample rate: the one chosen for the nearest rate. */
uint32_t plate_tables_seed(double rate);

/* Draws the tables of any seed; the same on every machine, to the bit. */
void plate_tables_draw(PlateTables *tables, uint32_t seed);

#endif
