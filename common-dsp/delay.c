#include "delay.h"

#include <stdlib.h>
#include <string.h>

bool delay_init(Delay *d, uint32_t longest)
{
    const uint32_t cells = 1 + (longest + DSP_CELL - 1) / DSP_CELL, length = cells * DSP_CELL;
    *d = (Delay){.line = calloc(length, sizeof *d->line), .length = length};
    return d->line;
}

void delay_done(Delay *d)
{
    free(d->line);
    *d = (Delay){0};
}

void delay_reset(Delay *d)
{
    memset(d->line, 0, d->length * sizeof *d->line);
    d->at = 0;
    d->raw = false;
}

/* Writes `first` of n samples up to the end of the line, the others from its beginning on; read_on() reads so. */
static void write_on(float *line, uint32_t at, const float *in, uint32_t n, uint32_t first)
{
    memcpy(line + at, in, first * sizeof *in);
    memcpy(line, in + first, (n - first) * sizeof *in);
}

static void read_on(const float *line, uint32_t from, float *out, uint32_t n, uint32_t first)
{
    memcpy(out, line + from, first * sizeof *out);
    memcpy(out + first, line, (n - first) * sizeof *out);
}

void delay_write(Delay *d, const float *in, uint32_t n)
{
    const uint32_t at = d->at, end = at + n;
    d->at = end < d->length ? end : end - d->length;
    if (end <= d->length)
        dsp_copy(d->line + at, in, n);
    else
        write_on(d->line, at, in, n, n - d->at);
}

void delay_rewrite(Delay *d, const float *in, uint32_t n)
{
    d->at = delay_back(d, n);
    delay_write(d, in, n);
}

void delay_read(const Delay *d, uint32_t ago, float *out, uint32_t n)
{
    const uint32_t from = delay_back(d, ago + n), end = from + n;
    if (end <= d->length)
        dsp_copy(out, d->line + from, n);
    else
        read_on(d->line, from, out, n, d->length - from);
}

void delay_process(Delay *d, uint32_t by, const float *in, float *out, uint32_t n)
{
    for (uint32_t at = 0, m; at < n; at += m) {
        m = n - at < DSP_CELL ? n - at : DSP_CELL;
        delay_write(d, in + at, m);
        delay_read(d, by, out + at, m);
    }
}

/* Whether this is a whole cell that wraps neither where it is written nor where it is read, as is nearly always so. */
static bool is_plain(const Delay *d, uint32_t from, uint32_t n)
{
    return n == DSP_CELL && d->at + DSP_CELL < d->length && from + DSP_CELL <= d->length;
}

bool delays_init(Delay *d, uint32_t channels, uint32_t longest)
{
    bool made = true;
    for (uint32_t c = 0; c < channels; ++c)
        made = delay_init(&d[c], longest) && made;
    return made;
}

void delays_done(Delay *d)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&d[c]);
}

void delays_reset(Delay *d, uint32_t channels)
{
    for (uint32_t c = 0; c < channels; ++c)
        delay_reset(&d[c]);
}

void delays_process(Delay *d, uint32_t channels, uint32_t by, const float *const *in, float *const *out, uint32_t n)
{
    const uint32_t at = d->at, from = at >= by ? at - by : at + d->length - by;
    const bool plain = is_plain(d, from, n);
    for (uint32_t c = 0; c < channels && plain; ++c) {
        memcpy(d[c].line + at, in[c], DSP_CELL * sizeof(float));
        memcpy(out[c], d[c].line + from, DSP_CELL * sizeof(float));
        d[c].at = at + DSP_CELL;
    }
    for (uint32_t c = 0; c < channels && !plain; ++c)
        delay_process(&d[c], by, in[c], out[c], n);
}

void delays_write(Delay *d, uint32_t channels, const float *const *in, uint32_t n)
{
    const uint32_t at = d->at;
    const bool plain = is_plain(d, at, n);
    for (uint32_t c = 0; c < channels && plain; ++c) {
        memcpy(d[c].line + at, in[c], DSP_CELL * sizeof(float));
        d[c].at = at + DSP_CELL;
    }
    for (uint32_t c = 0; c < channels && !plain; ++c)
        delay_write(&d[c], in[c], n);
}
