/* For loops that work in registers: what compilers leave alone unless they are told by name. */
#ifndef LINCTUS_INLINED_H
#define LINCTUS_INLINED_H

/* UNROLLED before a loop of at most eight rounds, so that an array that it walks can lie in registers: gcc's -O2 leaves
 * it rolled, in memory. INLINED in place of `inline`: the function becomes part of its caller however large it is, so
 * that what is constant there is constant in it. */
#if defined __clang__
#define UNROLLED _Pragma("unroll")
#define INLINED  inline __attribute__((always_inline))
#elif defined __GNUC__
#define UNROLLED _Pragma("GCC unroll 8")
#define INLINED  inline __attribute__((always_inline))
#else
#define UNROLLED
#define INLINED inline
#endif

#endif
