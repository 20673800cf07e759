/* Does a change click? The check: a 220 Hz sine goes through a processor, a control is changed, and what comes out goes
 * through a 4th-order 4 kHz high-pass. What is left within 100 ms of the change shall stay 60 dB under the sine. */
#ifndef LINCTUS_CLICK_H
#define LINCTUS_CLICK_H

#include <stdint.h>

/* Sample i of the sine: 220 Hz, this amplitude. */
float click_sine(uint32_t i, double rate, double amplitude);

/* The peak of what is left in `out` from sample `change` on, for 100 ms or to the end, in dB under the sine's
 * amplitude (negative: under). Rates of 16 kHz and up. */
double click_level(const float *out, uint32_t n, uint32_t change, double rate, double amplitude);

#endif
