/* The loop of sibilance_ears.h once more, without vectors: what a compiler gets that has none. */
#include "plain_sibilance_ears.h"

#define FLOATS 4
#define FLOATS_PLAIN
#define SIBILANCE_EARS plain_sibilance_ears

#include "sibilance_ears_kernel.h"
