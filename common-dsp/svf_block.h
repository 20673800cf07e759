/* A section at rest, four samples at a time, for a section alone: sample by sample it waits for its own last state, and
 * there is nothing beside it to do meanwhile. A block's outputs and the state after it follow from the state before it
 * and the block's inputs, as sums of products. The states are svf_step()'s own, and so is the sound but for rounding of
 * doubles.
 *
 * Blocks are counted from a grid point, whatever pieces the samples come in: until a block is full the state before it
 * is kept, with what came in, so that every division gives the same bits. */
#ifndef LINCTUS_SVF_BLOCK_H
#define LINCTUS_SVF_BLOCK_H

#include "svf.h"

enum { SVF_BLOCK = 4 };

/* What each makes of the block: of its outputs, and of the state after it (s1, s2). */
typedef struct {
    double first[SVF_BLOCK], second[SVF_BLOCK]; /* the state before, s1 and s2: outputs */
    double echo[SVF_BLOCK];                     /* a sample: outputs from its own on */
    double by_first[2], by_second[2];           /* the state before: the state after */
    double into[SVF_BLOCK][2];                  /* a sample, by its place: the state after */
} SvfBlock;

/* The block under way; zero: none. */
typedef struct {
    double x[SVF_BLOCK];
    uint32_t filled;
} SvfBegun;

void svf_block_of(SvfBlock *b, const Svf *section);

/* n samples that lie within one cell; out may be in. */
void svf_block_run(const SvfBlock *b, SvfState *s, SvfBegun *begun, const float *in, float *out, uint32_t n);

#endif
