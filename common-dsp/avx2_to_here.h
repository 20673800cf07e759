/* See avx2_from_here.h. */
#if WIDE_AVX2 && defined __clang__
#pragma clang attribute pop
#endif
