#include "sibilance_ears.h"

#include <stddef.h>
#include <string.h>

#define SIBILANCE_ONE
#define SIBILANCE_EARS sibilance_ears_one_avx2

#include "avx2_from_here.h"
#include "sibilance_ears_kernel.h"
#include "avx2_to_here.h"
