/* Filter design: second-order sections for the analog prototypes of the W3C "Audio EQ Cookbook" (Note, 2021) and for
 * Butterworth filters. Frequencies and rates in Hz, gains in dB; hz above 0.
 *
 * The magnitude follows the analog prototype up to the top of the band, without the bilinear transform's cramping; the
 * method stands in design.c. Largest errors from 20 Hz to 18 kHz, at 44.1 kHz and above (tests/unit/test_design.c):
 *
 *     bells of 100..4000 Hz and 0.2..3 octaves, shelves of 6..16 kHz   0.1 dB for moves up to 6 dB, 0.2 dB up to 12
 *     bells up to 0.36 rate, Q 1                                       0.4 dB for moves of 6 dB
 *     high-pass up to 300 Hz, and its skirt at any frequency           0.001 dB
 *     others up to 0.25 rate, Q 0.5..4, down to -60 dB                 high-pass 1 dB, low-pass 0.5, band-pass 0.3
 *     first order up to 8 kHz                                          0.3 dB
 *
 * A filter above 0.45 rate keeps the analog curve it has in the band; near there narrow bells err most, by up to a
 * fifth of their dB. Magnitude alone is matched: the phase is that of a minimum-phase section, so sums of a section and
 * its input are not what they are in the analog world. Cost: six tangents and some square roots; no iteration. */
#ifndef LINCTUS_DESIGN_H
#define LINCTUS_DESIGN_H

#include "sos.h"

enum { DESIGN_BUTTERWORTH_MAX = 8 }; /* highest order */

/* Q of a bell that is `octaves` wide between its half-gain points: 1/Q = 2 sinh(ln 2 / 2 octaves). */
double design_q(double octaves);

/* (s^2 + s A/Q + 1) / (s^2 + s/(A Q) + 1), A = 10^(db/40). db 0 does nothing: b equals a, to the bit. */
Biquad design_bell(double hz, double db, double q, double rate);

/* A (A s^2 + sqrt(A)/Q s + 1) / (s^2 + sqrt(A)/Q s + A), Q = 1/sqrt 2 (slope S = 1). db 0 does nothing: b equals a, to
 * the bit. */
Biquad design_high_shelf(double hz, double db, double rate);

/* s^2 / (s^2 + s/Q + 1) */
Biquad design_high_pass(double hz, double q, double rate);

/* 1 / (s^2 + s/Q + 1) */
Biquad design_low_pass(double hz, double q, double rate);

/* (s/Q) / (s^2 + s/Q + 1): 0 dB at hz. */
Biquad design_band_pass(double hz, double q, double rate);

/* First order, s / (s + 1), as a section with b2 = a2 = 0; so is the one below. */
Biquad design_high_pass_1(double hz, double rate);

/* 1 / (s + 1) */
Biquad design_low_pass_1(double hz, double rate);

/* Sections of a Butterworth filter of order 1..DESIGN_BUTTERWORTH_MAX; returns how many were written, (order + 1) / 2.
 */
uint32_t design_butterworth_high_pass(uint32_t order, double hz, double rate, Biquad *section);

/* The same of a low-pass. */
uint32_t design_butterworth_low_pass(uint32_t order, double hz, double rate, Biquad *section);

#endif
