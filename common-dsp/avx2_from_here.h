/* Vectors of 8 floats (floats.h), where FLOATS is not set before, for a processor that has AVX2, up to where
 * avx2_to_here.h is included; a file includes both once. Standard headers come before. Where there is no such
 * processor, plain C that only tests call. */
#ifndef FLOATS
#define FLOATS 8
#endif
#if !WIDE_AVX2
#define FLOATS_PLAIN
#elif defined __clang__
#pragma clang attribute push(__attribute__((target("avx2"))), apply_to = function)
#else
#pragma GCC target("avx2")
#endif
