#include "design.h"

#include <math.h>

/* tan(w/2), w held below Nyquist. */
static double warp(double hz, double rate)
{
    return tan(DSP_PI * fmin(hz, 0.499 * rate) / rate);
}

/* (n2 s^2 + n1 s + n0) / (d2 s^2 + d1 s + d0), s normalised to hz, by the bilinear transform. */
static Biquad bilinear(double hz, double rate, const double n[3], const double d[3])
{
    const double t = warp(hz, rate), t2 = t * t;
    const double a0 = d[0] + d[1] * t + d[2] * t2;
    return (Biquad){
        .b0 = (n[0] + n[1] * t + n[2] * t2) / a0,
        .b1 = 2.0 * (n[2] * t2 - n[0]) / a0,
        .b2 = (n[0] - n[1] * t + n[2] * t2) / a0,
        .a1 = 2.0 * (d[2] * t2 - d[0]) / a0,
        .a2 = (d[0] - d[1] * t + d[2] * t2) / a0,
    };
}

double design_q(double octaves)
{
    return 1.0 / (2.0 * sinh(log(2.0) / 2.0 * octaves));
}

Biquad design_bell(double hz, double db, double q, double rate)
{
    const double a = pow(10.0, db / 40.0);
    return bilinear(hz, rate, (double[]){1, a / q, 1}, (double[]){1, 1 / (a * q), 1});
}

Biquad design_high_shelf(double hz, double db, double rate)
{
    const double a = pow(10.0, db / 40.0), r = sqrt(2.0 * a);
    return bilinear(hz, rate, (double[]){a * a, a * r, a}, (double[]){1, r, a});
}

Biquad design_high_pass(double hz, double q, double rate)
{
    return bilinear(hz, rate, (double[]){1, 0, 0}, (double[]){1, 1 / q, 1});
}

Biquad design_low_pass(double hz, double q, double rate)
{
    return bilinear(hz, rate, (double[]){0, 0, 1}, (double[]){1, 1 / q, 1});
}

Biquad design_band_pass(double hz, double q, double rate)
{
    return bilinear(hz, rate, (double[]){0, 1 / q, 0}, (double[]){1, 1 / q, 1});
}

Biquad design_high_pass_1(double hz, double rate)
{
    const double t = warp(hz, rate);
    return (Biquad){.b0 = 1 / (1 + t), .b1 = -1 / (1 + t), .a1 = (t - 1) / (1 + t)};
}

Biquad design_low_pass_1(double hz, double rate)
{
    const double t = warp(hz, rate);
    return (Biquad){.b0 = t / (1 + t), .b1 = t / (1 + t), .a1 = (t - 1) / (1 + t)};
}

typedef Biquad Second(double hz, double q, double rate);
typedef Biquad First(double hz, double rate);

static uint32_t butterworth(uint32_t order, double hz, double rate, Biquad *section, Second *second, First *first)
{
    uint32_t n = 0;
    if (order % 2)
        section[n++] = first(hz, rate);
    for (uint32_t pair = 0; pair < order / 2; ++pair)
        section[n++] = second(hz, 1.0 / (2.0 * sin(DSP_PI * (2 * pair + 1) / (2.0 * order))), rate);
    return n;
}

uint32_t design_butterworth_high_pass(uint32_t order, double hz, double rate, Biquad *section)
{
    return butterworth(order, hz, rate, section, design_high_pass, design_high_pass_1);
}

uint32_t design_butterworth_low_pass(uint32_t order, double hz, double rate, Biquad *section)
{
    return butterworth(order, hz, rate, section, design_low_pass, design_low_pass_1);
}
