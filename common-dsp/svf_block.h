/* Runs a single section with fixed coefficients four samples at a time. Sample by sample it would wait for its own last
 * state, with nothing else to do meanwhile. A block's outputs and the state after it are sums of products of the state
 * before it and the block's inputs. States and sound are those of svf_step(), but for rounding of doubles.
 *
 * Blocks are counted from a grid point, whatever pieces the samples come in. Until a block is full, its inputs and the
 * state before it are kept, so that any division into pieces gives the same bits. */
#ifndef LINCTUS_SVF_BLOCK_H
#define LINCTUS_SVF_BLOCK_H

#include "svf.h"

enum { SVF_BLOCK = 4 };

/* What the state before the block (s1, s2) and each of its samples add to its outputs and to the state after it. */
typedef struct {
    double first[SVF_BLOCK], second[SVF_BLOCK]; /* from s1, from s2: to the outputs */
    double echo[SVF_BLOCK];                     /* from a sample: to the outputs from its own on */
    double by_first[2], by_second[2];           /* from s1, from s2: to the state after */
    double into[SVF_BLOCK][2];                  /* from each sample by its place: to the state after */
} SvfBlock;

/* The block under way; zero it for none. */
typedef struct {
    double x[SVF_BLOCK];
    uint32_t filled;
} SvfBegun;

/* Works the factors out for a section. */
void svf_block_of(SvfBlock *b, const Svf *section);

/* n samples that lie within one cell; out may be in. */
void svf_block_run(const SvfBlock *b, SvfState *s, SvfBegun *begun, const float *in, float *out, uint32_t n);

#endif
