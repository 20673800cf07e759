/* The delays and signs that make the plate's sound: drawn at random in even strata from a seed, a seed a sample rate.
 * tests/plate_tables/ holds the program that drew thousands, measured what they sound like and chose these seeds. */
#ifndef LINCTUS_PLATE_TABLES_H
#define LINCTUS_PLATE_TABLES_H

#include "plate_chain.h"

enum {
    PLATE_LINES = 16, /* of the tank */
    PLATE_OUTS = 2,
};

typedef struct {
    double line[PLATE_LINES];                   /* seconds */
    double into[PLATE_STEPS], out[PLATE_STEPS]; /* seconds: the chains before and after the tank */
    double place[PLATE_OUTS][PLATE_LINES];      /* of the taps, 0..1 of their line */
    float feed_sign[PLATE_LINES];               /* -1 or 1 */
    float sign[PLATE_OUTS][PLATE_LINES];        /* of the taps, likewise */
} PlateTables;

/* The seed that was chosen for the rate that lies nearest. */
uint32_t plate_tables_seed(double rate);

/* The same seed draws the same tables, to the bit, on any machine. */
void plate_tables_draw(PlateTables *tables, uint32_t seed);

#endif
