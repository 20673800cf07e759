/* The static curve of a compressor: Giannoulis, Massberg, Reiss, "Digital Dynamic Range Compressor Design", JAES 60(6),
 * 2012, as a reduction (input minus output). All levels in dB. */
#ifndef LINCTUS_CURVE_H
#define LINCTUS_CURVE_H

#include <math.h>

typedef struct {
    double threshold;
    double slope; /* dB taken away for each dB over the threshold: 1 - 1/ratio, 0..1 */
    double knee;  /* dB over which the curve bends, half of them below the threshold; 0 or more */
} Curve;

/* ratio >= 1 */
static inline double curve_slope(double ratio)
{
    return 1.0 - 1.0 / ratio;
}

/* dB, 0 or more: what a steady level is turned down by. */
static inline double curve_reduction(const Curve *c, double level)
{
    const double over = level - c->threshold;
    if (2.0 * over <= -c->knee)
        return 0.0;
    if (2.0 * over >= c->knee)
        return c->slope * over;
    const double into = over + 0.5 * c->knee;
    return c->slope * into * into / (2.0 * c->knee);
}

/* dB over the threshold at which a level is turned down by `reduction`, 0 or more. A reduction of 0 gives the lower end
 * of the knee; a slope of 0 gives INFINITY. */
static inline double curve_over(const Curve *c, double reduction)
{
    if (!(c->slope > 0.0))
        return INFINITY;
    const double straight = reduction / c->slope;
    return 2.0 * straight >= c->knee ? straight : sqrt(2.0 * c->knee * straight) - 0.5 * c->knee;
}

#endif
