/* Unrolling and inlining for loops that work in registers, which compilers do only when told to. */
#ifndef LINCTUS_INLINED_H
#define LINCTUS_INLINED_H

/* UNROLLED goes before a loop of at most eight rounds, so that the array it walks can stay in registers; gcc's -O2
 * would leave the loop rolled and the array in memory. INLINED takes the place of `inline`: the function is compiled
 * into its caller however large it is, so that the caller's constants are constants inside it. */
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
