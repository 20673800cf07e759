/* The few points of a take that a hum up to 1 kHz is heard in: about 6000 a second, each the mean of the samples round
 * it, weighed by how near they are (a triangle that reaches to the points before and after it). */
#ifndef LINCTUS_HUM_POINTS_H
#define LINCTUS_HUM_POINTS_H

#include "dsp.h"

/* Samples from one point to the next at this rate: a power of 2, 1..DSP_CELL. */
uint32_t hum_points_stride(double rate);

/* What such a mean leaves of a sine of hz, 0..1. */
double hum_points_heard_at(double rate, uint32_t stride, double hz);

/* Point number p lies in the middle between the samples p * stride - 1 and p * stride. Zero it to begin with, then set
 * the stride. */
typedef struct {
    uint32_t stride;
    float rising; /* what the samples before the next point are of its mean */
} HumPoints;

/* Of n samples, a whole number of strides, the n / stride points that lie before them. */
void hum_points_process(HumPoints *p, const float *in, float *point, uint32_t n);

#endif
