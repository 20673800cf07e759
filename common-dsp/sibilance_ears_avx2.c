#include "sibilance_ears.h"

#include <stddef.h>
#include <string.h>

#define FLOATS         8
#define SIBILANCE_EARS sibilance_ears_avx2

/* From here on for a processor that has it. Where there is none such, only tests call what is made here. */
#if !WIDE_AVX2
#define FLOATS_PLAIN
#elif defined __clang__
#pragma clang attribute push(__attribute__((target("avx2"))), apply_to = function)
#else
#pragma GCC target("avx2")
#endif

#include "sibilance_ears_kernel.h"

#if WIDE_AVX2 && defined __clang__
#pragma clang attribute pop
#endif
