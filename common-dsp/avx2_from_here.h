/* Begins code for CPUs with AVX2, which avx2_to_here.h ends: vectors (floats.h) of 8 floats, unless FLOATS is set
 * before. A file includes each of the two once, after the standard headers. On other CPUs the same code compiles to
 * plain C, which only tests call. */
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
