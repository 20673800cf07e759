/* Whether the clicks of a take come regularly, as those of a click track do that leaks from the headphones. Clicks are
 * those that Check finds (clicks.h), whatever their level. They are regular where within two minutes a rate of 40 to
 * 210 a minute leaves three in four of them, and twelve or more, within 12 ms of its beats; of the rates that do, the
 * slowest is told.
 * Random clicks leave so many on the beats of no rate, and a singer's consonants keep time less exactly. Method ours.
 */
#ifndef LINCTUS_HARNESS_REGULAR_H
#define LINCTUS_HARNESS_REGULAR_H

#include "clicks.h"

enum { REGULAR_MOST = 256 }; /* clicks of a take that count, the first ones; chosen */

typedef struct {
    Clicks clicks;
    double rate;
    uint64_t heard; /* samples */
    uint32_t times;
    double time[REGULAR_MOST]; /* s */
} Regular;

bool regular_start(Regular *r, double rate, uint32_t channels); /* false: no memory */
void regular_free(Regular *r);                                  /* safe on a zeroed one */

void regular_hear(Regular *r, const float *const *in, uint32_t channels, uint32_t n);

/* Clicks a minute; 0: they are not regular. */
double regular_rate(const Regular *r);

#endif
