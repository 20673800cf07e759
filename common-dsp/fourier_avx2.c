#include "fourier_inside.h"

#include <stddef.h>
#include <string.h>

#define FOURIER_PASS  fourier_pass_avx2
#define FOURIER_JOIN  fourier_join_avx2
#define FOURIER_SPLIT fourier_split_avx2
#define FOURIER_MERGE fourier_merge_avx2

#include "avx2_from_here.h"
#include "fourier_kernel.h"
#include "avx2_to_here.h"
