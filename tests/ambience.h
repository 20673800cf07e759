/* Figures of an ambience's impulse response, as the tests in tests/published and the program that chooses the plate's
 * tables measure them. Every figure is of the worse of both channels, but for what is between them. */
#ifndef LINCTUS_AMBIENCE_H
#define LINCTUS_AMBIENCE_H

#include "response.h"

/* Seconds after the first arrival from which on density and levels are judged: until then the ambience builds up. */
#define AMBIENCE_BEGUN 0.06

/* Echo density around sample `centre` of h[from..n), 1 for Gaussian noise: the share of samples beyond the local
 * standard deviation, in a Hann window of `width` seconds cut where the sound begins (Abel and Huang 2006). */
double ambience_density(const float *h, uint32_t n, uint32_t from, uint32_t centre, double width, double rate);

/* Milliseconds after the first arrival until the density reaches 0.9, in windows of 20 and of 30 ms. */
double ambience_dense_after(const Response *r);

/* The lowest density in those windows, from 60 ms after the first arrival until `until` seconds. */
double ambience_least_density(const Response *r, double until);

/* Seconds in which the octave around hz dies by 60 dB: T30 of ISO 3382-1 in each channel. */
void ambience_t30(const Response *r, double hz, double t30[2]);

/* How far the worst bin of 200 Hz to 5 kHz stands over the mean of its third octave, dB, in the second from `start`
 * seconds. Fixed: the bands of the series 1000 x 10^(n/10) Hz; else the third octave around each bin. */
double ambience_ring(const Response *r, double start, bool fixed);

/* The largest correlation of left and right, of either sign, in thirds of an octave from 315 Hz to 16 kHz. */
double ambience_correlation(const Response *r);

/* The levels of a band in windows after the first arrival, beside the curve that fits them best: how far the worst
 * lies off it, dB. */
typedef struct {
    double low, high;   /* Hz, 4th-order Butterworth edges; low 0: the low cut's own */
    double window;      /* seconds */
    double from, until; /* seconds after the first arrival */
    uint32_t order;     /* 1: a straight line, 2: a parabola */
    bool over;          /* only what sticks out */
} AmbienceLevels;
double ambience_levels_off(const Response *r, const AmbienceLevels *of);

#endif
