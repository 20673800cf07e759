/* Cascades of second-order sections on vectors of two lanes. With one channel, a vector holds two sections, each one
 * sample behind the one before it, so that no lane waits for another. With two channels, a vector holds one section,
 * one channel in each lane. The arithmetic and its order are those of svf_step() section by section, so the bits are
 * the same for any division into calls, and in plain C (two.h). tests/unit/test_lanes.c checks that. */
#ifndef LINCTUS_LANES_H
#define LINCTUS_LANES_H

#include "svf.h"

enum { LANES_SECTIONS = 6 }; /* most sections in a cascade */

/* Runs n samples through 1..LANES_SECTIONS sections in series, in place. Any n; vectors pay off from a dozen samples
 * on. */
void lanes_run(const Svf *section, SvfState *state, uint32_t sections, double *x, uint32_t n);

/* The same with gliding sections, svf_between(from, goal, way). way[i]: section i's position (0..1) at the first
 * sample, a multiple of 1 / DSP_CELL; it grows by 1 / DSP_CELL with each sample. n: 0..DSP_CELL. */
void lanes_glide(const Svf *from, const Svf *goal, const double *way, SvfState *state, uint32_t sections, double *x,
                 uint32_t n);

/* The same two for two channels at once: state[c] and x[c] belong to channel c. Vectors pay off for any n. */
void lanes_run_both(const Svf *section, SvfState *const *state, uint32_t sections, double *const *x, uint32_t n);
void lanes_glide_both(const Svf *from, const Svf *goal, const double *way, SvfState *const *state, uint32_t sections,
                      double *const *x, uint32_t n);

#endif
