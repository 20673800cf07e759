/* Cascades of second-order sections in the lanes of vectors. Of one channel two sections a vector, each section a
 * sample behind the one before it, so that no lane waits for another; of two channels one section a vector, a lane a
 * channel. The same arithmetic in the same order as svf_step() section by section, hence the same bits for any division
 * into calls, and in plain C where a compiler has no vectors (two.h); tests/unit/test_lanes.c holds it to that. */
#ifndef LINCTUS_LANES_H
#define LINCTUS_LANES_H

#include "svf.h"

enum { LANES_SECTIONS = 6 };

/* n samples through so many sections (1..LANES_SECTIONS) in a row, in place. Any n; the vectors pay from a dozen on. */
void lanes_run(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n);

/* The same with sections that move: svf_between(from, goal, way), where way[i] is section i's at the first sample, a
 * multiple of 1 / DSP_CELL, and 1 / DSP_CELL more at each that follows. n: 0..DSP_CELL. */
void lanes_glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections, double *x,
                 uint32_t n);

/* Both for two channels at once: the states of each, the samples of each. Any n pays. */
void lanes_run_both(const Svf *section, SvfState *const *state, uint32_t sections, double *const *x, uint32_t n);
void lanes_glide_both(const Svf *from, const Svf *goal, const double *way, SvfState *const *state, uint32_t sections,
                      double *const *x, uint32_t n);

#endif
