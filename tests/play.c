#include "play.h"

bool play_init(Player *p, const Processor *kind, double rate, uint32_t channels)
{
    *p = (Player){.kind = kind, .dsp = processor_alloc(kind), .ins = channels};
    p->outs = kind->outs ? kind->outs : channels;
    return p->dsp && processor_init(kind, p->dsp, rate, channels);
}

void play_done(Player *p)
{
    if (p->dsp)
        p->kind->done(p->dsp);
    processor_free(p->dsp);
    p->dsp = NULL;
}

void play_reset(Player *p)
{
    p->kind->reset(p->dsp);
    p->grid = (Grid){0};
}

void play_set(Player *p, const void *params)
{
    p->kind->set(p->dsp, params);
}

/* ---- A block ---- */

typedef struct {
    Player *player;
    const float *const *in;
    float *const *out;
} Block;

static void point(void *with)
{
    const Player *p = ((Block *)with)->player;
    p->kind->tick(p->dsp);
}

typedef struct {
    const float *in[DSP_CHANNELS];
    float *out[DSP_CHANNELS];
} Channels;

static Channels channels_at(const Block *b, uint32_t from)
{
    Channels c = {{0}, {0}};
    for (uint32_t k = 0; k < b->player->ins; ++k)
        c.in[k] = b->in[k] + from;
    for (uint32_t k = 0; k < b->player->outs; ++k)
        c.out[k] = b->out[k] + from;
    return c;
}

static void piece(void *with, uint32_t from, uint32_t n)
{
    const Block *b = with;
    const Channels c = channels_at(b, from);
    b->player->kind->cell(b->player->dsp, c.in, c.out, n);
}

static uint32_t cells(void *with, uint32_t from, uint32_t most)
{
    const Block *b = with;
    const Channels c = channels_at(b, from);
    if (!b->player->kind->cells)
        return 0;
    b->player->kind->cells(b->player->dsp, c.in, c.out, most);
    return most;
}

void play(Player *p, const float *const *in, float *const *out, uint32_t n)
{
    static const GridSteps steps = {point, piece, cells};
    grid_walk(&p->grid, n, &steps, &(Block){p, in, out});
}

/* ---- What it says ---- */

void play_report(const Player *p, void *report)
{
    processor_report(p->kind, p->dsp, report);
}

uint32_t play_latency(const Player *p)
{
    return processor_latency(p->kind, p->dsp);
}

uint32_t play_version(const Player *p)
{
    return processor_version(p->kind, p->dsp);
}

void play_get(const Player *p, Learned *to)
{
    to->dated = false;
    processor_renew(p->kind, p->dsp, to);
}

void play_put(Player *p, const Learned *from)
{
    processor_put(p->kind, p->dsp, from);
}
