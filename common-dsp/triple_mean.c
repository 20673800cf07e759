#include "triple_mean.h"

#include <stdlib.h>

bool triple_mean_init(TripleMean *m, uint32_t length)
{
    *m = (TripleMean){.step = calloc(length, sizeof *m->step), .length = length};
    return m->step;
}

void triple_mean_done(TripleMean *m)
{
    free(m->step);
    *m = (TripleMean){0};
}

void triple_mean_rest(TripleMean *m, int32_t value)
{
    const int64_t n = m->length;
    m->once = n * value;
    m->twice = n * m->once;
    m->sum = n * m->twice;
    for (uint32_t i = 0; i < m->length; ++i)
        m->step[i] = (TripleMeanStep){.once = m->once, .twice = m->twice, .in = value};
}
