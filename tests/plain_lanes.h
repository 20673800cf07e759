/* lanes.h once more, without vectors: what a compiler gets that has none. */
#ifndef LINCTUS_PLAIN_LANES_H
#define LINCTUS_PLAIN_LANES_H

#include "lanes.h"

void plain_lanes_run(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n);
void plain_lanes_glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections,
                       double *x, uint32_t n);

void plain_lanes_run_both(const Svf *section, SvfState *const *state, uint32_t sections, double *const *x, uint32_t n);
void plain_lanes_glide_both(const Svf *from, const Svf *goal, const double *way, SvfState *const *state,
                            uint32_t sections, double *const *x, uint32_t n);

#endif
