/* The voice's source: flow pulses, differentiated (that is the radiation at the lips), their corners band-limited. */
#ifndef LINCTUS_SINGER_GLOTTIS_H
#define LINCTUS_SINGER_GLOTTIS_H

#include "random.h"

#include <stddef.h>
#include <stdint.h>

enum {
    CORNER_HALF = 12,  /* samples to each side that a band-limited corner touches */
    CORNER_STEPS = 32, /* table points a sample */
    CORNER_POINTS = 2 * CORNER_HALF * CORNER_STEPS + 2,
};

/* A band-limited step, and its integral. */
typedef struct {
    double step[CORNER_POINTS];
    double ramp[CORNER_POINTS];
} Corners;

void corners_make(Corners *corners);

/* One value a tick of `tick` samples; ticks cover the phrase. */
typedef struct {
    const float *hz;       /* above 0 wherever it sounds */
    const float *loudness; /* excitation, 0..1 */
    const float *breath;   /* added noise, linear */
    size_t ticks;
    uint32_t tick;
} GlottisTracks;

typedef struct {
    double open;        /* share of the period in which it is open */
    double breathiness; /* linear, noise that goes with the voice */
    double wobble;      /* jitter and shimmer: 1 as people have it, 0 as machines do */
} Glottis;

/* Fills `out` with n samples. */
void glottis_sing(const Glottis *glottis, const Corners *corners, const GlottisTracks *tracks, double rate,
                  Random *random, float *out, size_t n);

#endif
