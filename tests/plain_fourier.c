#include "plain_fourier.h"

#define FLOATS 4
#define FLOATS_PLAIN
#define FOUR_PLAIN
#define FOURIER_PASS  plain_fourier_pass
#define FOURIER_JOIN  plain_fourier_join
#define FOURIER_SPLIT plain_fourier_split
#define FOURIER_MERGE plain_fourier_merge

#include "fourier_kernel.h"
