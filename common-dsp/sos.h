/* Cascades of second-order sections that can be modulated without clicks; a section that does nothing costs nothing.
 *
 * Within a cell a section moves in a straight line between two sets of coefficients (svf.h). A section that is the
 * identity, and is not gliding to anything else, would return its input to the bit: it is left out, with its state
 * cleared. It comes back by a glide, so that its state warms up while it still does next to nothing. */
#ifndef LINCTUS_SOS_H
#define LINCTUS_SOS_H

#include "lanes.h"

enum { SOS_SECTIONS = LANES_SECTIONS };

/* The sections that work, packed in a row without those that are left out. */
typedef struct {
    uint32_t sections, of[SOS_SECTIONS]; /* how many; each one's number in the cascade */
    Svf now[SOS_SECTIONS], goal[SOS_SECTIONS];
    double way[SOS_SECTIONS]; /* share of its glide that a section has gone at the next sample, 0..1 */
    uint32_t glide;           /* samples until the first of them arrives; 0: none glides */
} SosRow;

/* A cascade over up to DSP_CHANNELS channels. */
typedef struct {
    uint32_t sections, channels;
    bool rowed; /* `row` is up to date */
    SosRow row;
    Svf now[SOS_SECTIONS], goal[SOS_SECTIONS]; /* `now` stays where its glide set out until it arrives */
    uint32_t glide[SOS_SECTIONS];              /* samples left of each glide; 0: none */
    SvfState state[DSP_CHANNELS][SOS_SECTIONS];
} Sos;

/* All sections start as the identity. sections: 1..SOS_SECTIONS; channels: 1..DSP_CHANNELS. */
void sos_init(Sos *s, uint32_t sections, uint32_t channels);

/* Clears the states; a glide under way ends at its goal. */
void sos_reset(Sos *s);

/* The section is `b` (or `to`) from the next sample on: for the first setting, or a section that is faded out. section:
 * 0..sections - 1. */
void sos_jump(Sos *s, uint32_t section, const Biquad *b);
void sos_jump_to(Sos *s, uint32_t section, const Svf *to);

/* The section becomes `b` (or `to`) over the next DSP_CELL samples, in equal steps of its coefficients. Call it at grid
 * points, with a design whose parameters are smoothed. */
void sos_glide(Sos *s, uint32_t section, const Biquad *b);
void sos_glide_to(Sos *s, uint32_t section, const Svf *to);

/* Call once a cell: sets states that have died away to 0 (dsp_hush). */
void sos_hush(Sos *s);

/* n samples of every channel, in place; any n. A sample of -0 may become 0 where not every section rests. */
void sos_run(Sos *s, double *const *x, uint32_t n);

/* The same with floats; out may be in. */
void sos_process(Sos *s, const float *const *in, float *const *out, uint32_t n);

#endif
