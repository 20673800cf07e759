/* Filter design: second-order sections for the analog prototypes of the W3C "Audio EQ Cookbook" (Note, 2021) and for
 * Butterworth filters. Frequencies and rates in Hz, gains in dB; hz above 0.
 *
 * The magnitude follows the analog prototype up to the top of the band, without the cramping of the bilinear transform;
 * design.md has the largest errors and the method. Magnitude alone is matched: the phase is that of a minimum-phase
 * section, so sums of a section and its input are not what they are in the analog world. */
#ifndef LINCTUS_DESIGN_H
#define LINCTUS_DESIGN_H

#include "sos.h"

enum { DESIGN_BUTTERWORTH_MAX = 8 }; /* highest order */

/* Q of a bell that is `octaves` wide between its half-gain points: 1/Q = 2 sinh(ln 2 / 2 octaves). */
double design_q(double octaves);

/* Bell, (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1), A = 10^(db/40). With 0 dB it does nothing: b equals a, to the bit. */
Biquad design_bell(double hz, double db, double q, double rate);

/* High shelf, A (A s^2 + sqrt(A)/Q s + 1) / (s^2 + sqrt(A)/Q s + A), Q = 1/sqrt 2 (slope S = 1). With 0 dB it does
 * nothing: b equals a, to the bit. */
Biquad design_high_shelf(double hz, double db, double rate);

/* High-pass, s^2 / (s^2 + s/Q + 1). */
Biquad design_high_pass(double hz, double q, double rate);

/* Low-pass, 1 / (s^2 + s/Q + 1). */
Biquad design_low_pass(double hz, double q, double rate);

/* Band-pass, (s/Q) / (s^2 + s/Q + 1): 0 dB at hz. */
Biquad design_band_pass(double hz, double q, double rate);

/* First-order high-pass, s / (s + 1), as a section with b2 = a2 = 0. */
Biquad design_high_pass_1(double hz, double rate);

/* First-order low-pass, 1 / (s + 1), as a section with b2 = a2 = 0. */
Biquad design_low_pass_1(double hz, double rate);

/* Writes the sections of a Butterworth high-pass to `section` and returns how many: (order + 1) / 2. order:
 * 1..DESIGN_BUTTERWORTH_MAX. */
uint32_t design_butterworth_high_pass(uint32_t order, double hz, double rate, Biquad *section);

/* The same for a low-pass. */
uint32_t design_butterworth_low_pass(uint32_t order, double hz, double rate, Biquad *section);

#endif
