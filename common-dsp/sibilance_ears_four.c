#define FLOATS         4
#define SIBILANCE_EARS sibilance_ears_four

#include "sibilance_ears_kernel.h"
