/* Cascades of second-order sections that can be modulated without clicks, and that cost nothing where they do nothing.
 *
 * Within a cell a section moves along a straight line between two sets of coefficients (svf.h). While it is the
 * identity, and goes to none but the identity, it returns its input to the bit: it is left out, with its state cleared.
 * It comes back by a glide: while what it does is still as good as nothing, its state warms up. */
#ifndef LINCTUS_SOS_H
#define LINCTUS_SOS_H

#include "lanes.h"

enum { SOS_SECTIONS = LANES_SECTIONS };

/* The sections that work, in a row. */
typedef struct {
    uint32_t sections, of[SOS_SECTIONS];
    Svf now[SOS_SECTIONS], goal[SOS_SECTIONS];
    double way[SOS_SECTIONS]; /* at the next sample */
    uint32_t glide;           /* samples until the first of them arrives; 0: none moves */
} SosRow;

/* A cascade over up to DSP_CHANNELS channels. */
typedef struct {
    uint32_t sections, channels;
    bool rowed; /* `row` stands for what follows */
    SosRow row;
    Svf now[SOS_SECTIONS], goal[SOS_SECTIONS]; /* `now` stays where a glide set out until it has arrived */
    uint32_t glide[SOS_SECTIONS];              /* samples left of it */
    SvfState state[DSP_CHANNELS][SOS_SECTIONS];
} Sos;

/* All sections start as the identity. sections: 1..SOS_SECTIONS. */
void sos_init(Sos *s, uint32_t sections, uint32_t channels);

/* Clears the states; a glide under way ends at its goal. */
void sos_reset(Sos *s);

/* The section is this from the next sample on (for the first setting, or a section that is faded out). */
void sos_jump(Sos *s, uint32_t section, const Biquad *b);
void sos_jump_to(Sos *s, uint32_t section, const Svf *to);

/* The section becomes this over the next DSP_CELL samples, in equal steps of its coefficients. Call it at grid points,
 * with a design whose parameters are smoothed. */
void sos_glide(Sos *s, uint32_t section, const Biquad *b);
void sos_glide_to(Sos *s, uint32_t section, const Svf *to);

/* Once a cell: silences what has died away. */
void sos_hush(Sos *s);

/* Every section rests as the identity: sos_run() would change nothing. */
bool sos_rests(const Sos *s);

/* n samples of every channel, in place; any n. A sample of -0 may become 0 where not every section rests. */
void sos_run(Sos *s, double *const *x, uint32_t n);

/* The same with floats; out may be in. */
void sos_process(Sos *s, const float *const *in, float *const *out, uint32_t n);

#endif
