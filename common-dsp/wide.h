/* Wider vectors, where the machine has them: rows.h, plate_loops.h and sibilance_ears.h are compiled twice from one
 * source, for vectors of four floats and of eight (floats.h). Which one runs depends on the processor found when the
 * program was loaded. Both give the same bits, and so does plain C.
 *
 * Cascades (lanes.h) are not among them: with four doubles a vector they took fewer instructions but no less time (six
 * sections 7.2 ns a sample against 6.3), because they wait for their own results, which a wider vector has to shift
 * farther. */
#ifndef LINCTUS_WIDE_H
#define LINCTUS_WIDE_H

#include <stdbool.h>

/* WIDE_OFF leaves them out, to see what a machine without them gets. On Windows gcc does not align the stack for them
 * (its bug 54412, from memory). */
#if defined __GNUC__ && (defined __x86_64__ || defined __i386__) && !defined _WIN32 && !defined WIDE_OFF

#define WIDE_AVX2 1

/* Does this machine have them? */
static inline bool wide_avx2(void)
{
    return __builtin_cpu_supports("avx2");
}

#else

#define WIDE_AVX2 0

static inline bool wide_avx2(void)
{
    return false;
}

#endif

#endif
