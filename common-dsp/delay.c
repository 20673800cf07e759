#include "delay.h"

#include <stdlib.h>
#include <string.h>

bool delay_init(Delay *d, uint32_t longest)
{
    uint32_t length = 1;
    while (length <= longest)
        length *= 2;
    *d = (Delay){.line = calloc(length, sizeof *d->line), .mask = length - 1};
    return d->line;
}

void delay_done(Delay *d)
{
    free(d->line);
    *d = (Delay){0};
}

void delay_reset(Delay *d)
{
    memset(d->line, 0, ((size_t)d->mask + 1) * sizeof *d->line);
    d->at = 0;
}

void delay_process(Delay *d, uint32_t by, const float *in, float *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        delay_push(d, in[i]);
        out[i] = delay_tap(d, by);
    }
}
