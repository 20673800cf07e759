/* A processor as a test plays it: its struct, and where it stands on the grid. It is called as the shell calls it, in
 * the same walk, with controls that move between two blocks. */
#ifndef LINCTUS_PLAY_H
#define LINCTUS_PLAY_H

#include "grid.h"
#include "processor.h"

typedef struct {
    const Processor *kind;
    void *dsp; /* a test that looks inside reads it into the processor's own type */
    uint32_t ins, outs;
    Grid grid;
} Player;

/* What init() says; false too where there is no memory. play_done() after it, whatever it says. */
bool play_init(Player *p, const Processor *kind, double rate, uint32_t channels);
void play_done(Player *p);
void play_reset(Player *p);
void play_set(Player *p, const void *params);

/* Any n, 0 too: a grid point before each cell that begins; what can do several cells at once does, as in the shell. */
void play(Player *p, const float *const *in, float *const *out, uint32_t n);

void play_report(const Player *p, void *report);
uint32_t play_latency(const Player *p); /* 0 where the processor has none */

uint32_t play_version(const Player *p);
void play_get(const Player *p, Learned *to);
void play_put(Player *p, const Learned *from);

#endif
