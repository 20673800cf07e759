#include "plate_loops.h"

#include <stddef.h>
#include <string.h>

#define PLATE_LOOPS plate_loops_avx2

#include "avx2_from_here.h"
#include "plate_loops_kernel.h"
#include "avx2_to_here.h"
