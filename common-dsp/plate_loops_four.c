#define FLOATS      4
#define PLATE_LOOPS plate_loops_four

#include "plate_loops_kernel.h"
