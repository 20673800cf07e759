#include "analog.h"

#include <complex.h>
#include <math.h>

typedef double complex Complex;

static double ratio_db(Complex num, Complex den)
{
    return 20.0 * log10(cabs(num) / cabs(den));
}

double analog_bell(double hz, double f0, double db, double q)
{
    const Complex s = I * hz / f0;
    const double a = pow(10.0, db / 40.0);
    return ratio_db(s * s + s * a / q + 1.0, s * s + s / (a * q) + 1.0);
}

double analog_high_shelf(double hz, double f0, double db)
{
    const Complex s = I * hz / f0;
    const double a = pow(10.0, db / 40.0), r = sqrt(a) * sqrt(2.0);
    return ratio_db(a * (a * s * s + r * s + 1.0), s * s + r * s + a);
}

double analog_high_pass(double hz, double f0, double q)
{
    const Complex s = I * hz / f0;
    return ratio_db(s * s, s * s + s / q + 1.0);
}

double analog_low_pass(double hz, double f0, double q)
{
    const Complex s = I * hz / f0;
    return ratio_db(1.0, s * s + s / q + 1.0);
}

double analog_band_pass(double hz, double f0, double q)
{
    const Complex s = I * hz / f0;
    return ratio_db(s / q, s * s + s / q + 1.0);
}

double analog_butterworth_high_pass(double hz, double fc, int order)
{
    return -10.0 * log10(1.0 + pow(fc / hz, 2.0 * order));
}

double analog_butterworth_low_pass(double hz, double fc, int order)
{
    return -10.0 * log10(1.0 + pow(hz / fc, 2.0 * order));
}

double analog_grid(int i, int points, double lo, double hi)
{
    return lo * pow(hi / lo, (double)i / (points - 1));
}
