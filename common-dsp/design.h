/* Filter design: second-order sections for the analog prototypes of the W3C "Audio EQ Cookbook" (Note, 2021) and for
 * Butterworth filters. Frequencies and rates in Hz, gains in dB. Frequencies above 0.45 rate are designed as what the
 * analog curve leaves in the band. */
#ifndef LINCTUS_DESIGN_H
#define LINCTUS_DESIGN_H

#include "sos.h"

enum { DESIGN_BUTTERWORTH_MAX = 8 }; /* highest order */

/* Q of a bell that is `octaves` wide between its half-gain points: 1/Q = 2 sinh(ln 2 / 2 octaves). */
double design_q(double octaves);

/* (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1), A = 10^(db/40). db 0 is the identity, to the bit. */
Biquad design_bell(double hz, double db, double q, double rate);

/* A (A s^2 + sqrt(A)/Q s + 1) / (s^2 + sqrt(A)/Q s + A), Q = 1/sqrt 2 (slope S = 1). db 0 is the identity, to the bit.
 */
Biquad design_high_shelf(double hz, double db, double rate);

/* s^2 / (s^2 + s/Q + 1) */
Biquad design_high_pass(double hz, double q, double rate);

/* 1 / (s^2 + s/Q + 1) */
Biquad design_low_pass(double hz, double q, double rate);

/* (s/Q) / (s^2 + s/Q + 1): 0 dB at hz. */
Biquad design_band_pass(double hz, double q, double rate);

/* First order, s / (s + 1) and 1 / (s + 1), as a section with b2 = a2 = 0. */
Biquad design_high_pass_1(double hz, double rate);
Biquad design_low_pass_1(double hz, double rate);

/* Sections of a Butterworth filter of order 1..DESIGN_BUTTERWORTH_MAX; returns how many were written, (order + 1) / 2.
 */
uint32_t design_butterworth_high_pass(uint32_t order, double hz, double rate, Biquad *section);
uint32_t design_butterworth_low_pass(uint32_t order, double hz, double rate, Biquad *section);

#endif
