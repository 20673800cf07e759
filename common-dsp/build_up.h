/* Build-up: how far a band stands out from the voice now, so that a dip can rest while it does not.
 *
 * The figure is the ratio of the band's power to that of all the rest, in dB over the same ratio in the average voice
 * (average_voice.h: D. Byrne et al., "An international comparison of long-term average speech spectra", JASA 96, 1994,
 * Table II, men and women together, seen second-hand). The level of the take does not matter. Up to 3 dB over the
 * average a band does not stand out (0), from 6 dB on it does (1), and in between it does in proportion. Both powers
 * are means over about a tenth of a second, and the answer moves as slowly: it follows notes and vowels, but neither
 * periods nor vibrato. Silence (under -90 dBFS) does not stand out. */
#ifndef LINCTUS_BUILD_UP_H
#define LINCTUS_BUILD_UP_H

#include "average_voice.h"
#include "smooth.h"
#include "sos.h"

typedef struct {
    double rate, keep;
    double average_hz[AVERAGE_VOICE_BANDS], average[AVERAGE_VOICE_BANDS]; /* power of the average voice */
    double hz, q, usual; /* the band that is watched; its ratio in the average voice, dB */
    Svf filter;
    SvfState state;
    double band[2], whole[2]; /* mean squares: two poles each */
    Smooth share;             /* 0..1: the answer */
} BuildUp;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Allocates nothing. */
void build_up_init(BuildUp *b, double rate);

/* At rest, as if silence had gone before. */
void build_up_reset(BuildUp *b);

/* At a grid point: sets the band watched from now on, hz and Q, and returns how far it stands out: 0..1, exactly 0 at
 * rest. */
double build_up_tick(BuildUp *b, double hz, double q);

/* Hears the next n samples, any n. */
void build_up_process(BuildUp *b, const float *in, uint32_t n);

#endif
