#include "processor.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Lies right before an allocated struct. C11's aligned_alloc() is not everywhere. */
typedef struct {
    void *memory; /* what calloc() returned */
} Before;

void *processor_alloc(const Processor *p)
{
    void *memory = calloc(1, p->size + sizeof(Before) + PROCESSOR_LINE);
    if (!memory)
        return NULL;
    char *dsp = (char *)memory + sizeof(Before);
    dsp += (PROCESSOR_LINE - (uintptr_t)dsp % PROCESSOR_LINE) % PROCESSOR_LINE;
    ((Before *)(void *)dsp)[-1].memory = memory;
    return dsp;
}

void processor_free(void *dsp)
{
    if (dsp)
        free(((Before *)dsp)[-1].memory);
}

bool processor_init(const Processor *p, void *dsp, double rate, uint32_t channels)
{
    memset(dsp, 0, p->size);
    return dsp_rate_ok(rate) && channels >= 1 && channels <= DSP_CHANNELS && p->init(dsp, rate, channels);
}

static uint32_t count_at(const void *dsp, size_t at)
{
    return *(const uint32_t *)(const void *)((const char *)dsp + at);
}

void processor_report(const Processor *p, const void *dsp, void *report)
{
    if (p->report)
        p->report(dsp, report);
    else
        memcpy(report, (const char *)dsp + p->told.at, p->told.size);
}

uint32_t processor_latency(const Processor *p, const void *dsp)
{
    return p->latency ? count_at(dsp, p->latency) : 0;
}

Delay *processor_lines(const Processor *p, void *dsp)
{
    return p->line ? (void *)((char *)dsp + p->line) : NULL;
}

uint32_t processor_news(const Processor *p, const void *dsp)
{
    return count_at(dsp, p->news);
}

uint32_t processor_version(const Processor *p, const void *dsp)
{
    return count_at(dsp, p->learned.version);
}

void processor_renew(const Processor *p, const void *dsp, Learned *to)
{
    learned_renew(p->learned.schema, (const char *)dsp + p->learned.memory, to);
}

void processor_put(const Processor *p, void *dsp, const Learned *from)
{
    learned_put(p->learned.schema, (char *)dsp + p->learned.memory, from);
    ++*(uint32_t *)(void *)((char *)dsp + p->learned.version);
    if (p->learned.restored)
        p->learned.restored(dsp);
}
