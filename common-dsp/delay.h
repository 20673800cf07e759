/* A delay line of one channel, a sample at a time or in runs. */
#ifndef LINCTUS_DELAY_H
#define LINCTUS_DELAY_H

#include "dsp.h"

typedef struct {
    float *line;
    uint32_t length; /* whole cells, so that a whole cell is written in one piece */
    uint32_t at;     /* where the next sample goes */
    bool raw;        /* whoever reads it looks for damage (damage.h); a reset clears it, nothing here sets it */
} Delay;

/* Makes a silent line for taps of 0..longest samples, after a run of DSP_CELL too. Allocates; false: no memory. */
bool delay_init(Delay *d, uint32_t longest);

/* Safe on a zeroed struct. */
void delay_done(Delay *d);

/* All samples silent. */
void delay_reset(Delay *d);

/* The place `by` samples before that of the next one. by: at most the length. */
static inline uint32_t delay_back(const Delay *d, uint32_t by)
{
    return by <= d->at ? d->at - by : d->at + d->length - by;
}

/* The sample written `ago` samples before the last one: 0 is the last. ago: 0..longest, and less than DSP_CELL more. */
static inline float delay_tap(const Delay *d, uint32_t ago)
{
    return d->line[delay_back(d, ago + 1)];
}

/* Writes the next n samples, at most DSP_CELL. */
void delay_write(Delay *d, const float *in, uint32_t n);

/* Writes the last n samples anew, at most DSP_CELL. */
void delay_rewrite(Delay *d, const float *in, uint32_t n);

/* Reads the n samples up to delay_tap(d, ago), oldest first. ago: 0..longest; n: at most DSP_CELL more than longest -
 * ago. */
void delay_read(const Delay *d, uint32_t ago, float *out, uint32_t n);

/* out = in, `by` samples later, 0..longest; 0 copies. n: any number. out may be in. */
void delay_process(Delay *d, uint32_t by, const float *in, float *out, uint32_t n);

/* The same for the lines of several channels: init and reset of `channels` of them, done of DSP_CHANNELS. */
bool delays_init(Delay *d, uint32_t channels, uint32_t longest);
void delays_done(Delay *d);
void delays_reset(Delay *d, uint32_t channels);

/* delay_process() and delay_write() for the lines of several channels at once. The lines have to be equally long and
 * always written together. n: at most DSP_CELL. */
void delays_process(Delay *d, uint32_t channels, uint32_t by, const float *const *in, float *const *out, uint32_t n);
void delays_write(Delay *d, uint32_t channels, const float *const *in, uint32_t n);

#endif
