#include "rest_bands_walk.h"

#include <stddef.h>
#include <string.h>

#define REST_BANDS_WALK rest_bands_walk_avx2

#include "avx2_from_here.h"
#include "rest_bands_walk_kernel.h"
#include "avx2_to_here.h"
