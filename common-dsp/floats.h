/* FLOATS floats side by side, 4 or 8, for a file that is made once a width (wide.h) and says before which it is. gcc
 * and clang make vector instructions of them; any other compiler, or FLOATS_PLAIN defined, gets loops that do the same
 * arithmetic in the same order, with the same bits. four.h is for what is made once. */
#ifndef LINCTUS_FLOATS_H
#define LINCTUS_FLOATS_H

#include "inlined.h"

#include <string.h>

#if FLOATS != 4 && FLOATS != 8
#error "FLOATS has to be 4 or 8"
#endif

#if defined __GNUC__ && !defined FLOATS_PLAIN

typedef float Floats __attribute__((vector_size(4 * FLOATS)));

static INLINED Floats floats_add(Floats a, Floats b)
{
    return a + b;
}

static INLINED Floats floats_mul(Floats a, Floats b)
{
    return a * b;
}

static INLINED Floats floats_all(float x)
{
#if FLOATS == 8
    return (Floats){x, x, x, x, x, x, x, x};
#else
    return (Floats){x, x, x, x};
#endif
}

#else

typedef struct {
    float lane[FLOATS];
} Floats;

static INLINED Floats floats_add(Floats a, Floats b)
{
    for (int i = 0; i < FLOATS; ++i)
        a.lane[i] += b.lane[i];
    return a;
}

static INLINED Floats floats_mul(Floats a, Floats b)
{
    for (int i = 0; i < FLOATS; ++i)
        a.lane[i] *= b.lane[i];
    return a;
}

static INLINED Floats floats_all(float x)
{
    Floats all;
    for (int i = 0; i < FLOATS; ++i)
        all.lane[i] = x;
    return all;
}

#endif

/* x may lie anywhere. */
static INLINED Floats floats_load(const float *x)
{
    Floats v;
    memcpy(&v, x, sizeof v);
    return v;
}

static INLINED void floats_store(float *x, Floats v)
{
    memcpy(x, &v, sizeof v);
}

#endif
