/* The loops of the plate once more, without vectors: what a compiler gets that has none. Its name is declared as
 * plain_plate.c has it. */
#define FLOATS 4
#define FLOATS_PLAIN
#define PLATE_LOOPS plain_plate_loops

#include "plain_plate.h"

#include "plate_loops_kernel.h"
