/* Ends what avx2_from_here.h began. */
#if WIDE_AVX2 && defined __clang__
#pragma clang attribute pop
#endif
