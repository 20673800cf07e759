/* svf_block.h in plain C, without vectors. */
#ifndef PLAIN_SVF_BLOCK_H
#define PLAIN_SVF_BLOCK_H

#include "svf_block.h"

void plain_svf_block_of(SvfBlock *b, const Svf *section);
void plain_svf_block_run(const SvfBlock *b, SvfState *s, SvfBegun *begun, const float *in, float *out, uint32_t n);

#endif
