/* The plate once more, its vectors in plain C (four.h): to be compared with the one of the library to the bit. */
#ifndef LINCTUS_PLAIN_PLATE_H
#define LINCTUS_PLAIN_PLATE_H

#include "plate_loops.h"
#include "processor.h"

extern const Processor plain_plate;
extern const PlateLoops plain_plate_loops;

#endif
