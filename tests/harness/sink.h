/* Where audio goes in one pass over a take. Whoever has audio writes it, in pieces of any length, to every sink behind
 * it: a plug-in that listens (listen.h), one that mixes and has sinks of its own (mix.h), a working copy (spool.h), a
 * file (soundfile.h). So what can be passed on at once is written to no file. */
#ifndef LINCTUS_HARNESS_SINK_H
#define LINCTUS_HARNESS_SINK_H

#include "dsp.h"
#include "error.h"

enum {
    STAGE_BLOCK = 512, /* frames that a plug-in gets in one run */
    SINKS = 4,         /* most sinks behind one source of audio */
};

/* A sink has this struct as its first member. */
typedef struct Sink Sink;
struct Sink {
    bool (*write)(Sink *s, const float *const *in, uint32_t n, Error *e); /* n frames, channel by channel */
    bool (*end)(Sink *s, Error *e);                                       /* that was all; called once */
};

/* Zero it, then add to it. */
typedef struct {
    Sink *sink[SINKS];
    uint32_t used;
} Sinks;

/* They are written to, and end, in the order in which they were added; at most SINKS of them. */
void sinks_add(Sinks *all, Sink *s);

/* To every sink; false as soon as one fails. */
bool sinks_write(const Sinks *all, const float *const *in, uint32_t n, Error *e);
bool sinks_end(const Sinks *all, Error *e);

/* Gathers pieces until there is a whole block. Zero it, then call block_init(). */
typedef struct {
    float memory[DSP_CHANNELS][STAGE_BLOCK];
    float *channel[DSP_CHANNELS];
    uint32_t channels, filled;
} Block;

/* channels: 1 or 2. */
void block_init(Block *b, uint32_t channels);

/* Takes in up to n frames, from frame `from` on, as many as there is room for, and returns how many. The block is full
 * when b->filled is STAGE_BLOCK; whoever has used it sets b->filled to 0. */
uint32_t block_fill(Block *b, const float *const *in, uint32_t from, uint32_t n);

/* Silence in what is not filled. b->filled stays. */
void block_pad(Block *b);

/* Takes in all n frames and calls full(of) whenever the block is, which has to empty it; false as soon as that gives
 * false. */
bool block_write(Block *b, const float *const *in, uint32_t n, bool (*full)(void *), void *of);

/* The block as what is only read. */
const float *const *block_audio(const Block *b);

#endif
