#include "delay.h"

#include <stdlib.h>
#include <string.h>

bool delay_init(Delay *d, uint32_t longest)
{
    uint32_t length = 1;
    while (length < longest + DSP_CELL)
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

void delay_write(Delay *d, const float *in, uint32_t n)
{
    const uint32_t room = d->mask + 1 - d->at, first = n < room ? n : room;
    dsp_copy(d->line + d->at, in, first);
    if (first < n)
        memcpy(d->line, in + first, (n - first) * sizeof *in);
    d->at = (d->at + n) & d->mask;
}

void delay_read(const Delay *d, uint32_t ago, float *out, uint32_t n)
{
    const uint32_t from = (d->at - ago - n) & d->mask, room = d->mask + 1 - from, first = n < room ? n : room;
    dsp_copy(out, d->line + from, first);
    if (first < n)
        memcpy(out + first, d->line, (n - first) * sizeof *out);
}

void delay_process(Delay *d, uint32_t by, const float *in, float *out, uint32_t n)
{
    for (uint32_t at = 0, m; at < n; at += m) {
        m = n - at < DSP_CELL ? n - at : DSP_CELL;
        delay_write(d, in + at, m);
        delay_read(d, by, out + at, m);
    }
}
