/* The loop of rest_bands_walk.h once more, without vectors: what a compiler gets that has none. */
#include "plain_rest_bands.h"

#define FLOATS 4
#define FLOATS_PLAIN
#define REST_BANDS_WALK plain_rest_bands_walk

#include "rest_bands_walk_kernel.h"
