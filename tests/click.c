#include "click.h"

#include <math.h>

static const double PI = 3.14159265358979323846;

float click_sine(uint32_t i, double rate, double amplitude)
{
    return (float)(amplitude * sin(2.0 * PI * 220.0 * i / rate));
}

/* One section of the measuring filter: the cookbook's bilinear high-pass, direct form. Not the library's own, so that a
 * fault there cannot hide itself. */
typedef struct {
    double b0, b1, b2, a1, a2, s1, s2;
} Section;

static Section high_pass(double hz, double q, double rate)
{
    const double w = 2.0 * PI * hz / rate, alpha = sin(w) / (2.0 * q), a0 = 1.0 + alpha;
    const double b = (1.0 + cos(w)) / 2.0 / a0;
    return (Section){.b0 = b, .b1 = -2.0 * b, .b2 = b, .a1 = -2.0 * cos(w) / a0, .a2 = (1.0 - alpha) / a0};
}

static double step(Section *s, double x)
{
    const double y = s->b0 * x + s->s1;
    s->s1 = s->b1 * x - s->a1 * y + s->s2;
    s->s2 = s->b2 * x - s->a2 * y;
    return y;
}

double click_level(const float *out, uint32_t n, uint32_t change, double rate, double amplitude)
{
    Section first = high_pass(4000.0, 0.54119610, rate), second = high_pass(4000.0, 1.30656296, rate);
    const uint32_t end = change + (uint32_t)(0.1 * rate);
    double peak = 0.0;
    for (uint32_t i = 0; i < n && i < end; ++i) {
        const double left = fabs(step(&second, step(&first, out[i])));
        if (i >= change)
            peak = fmax(peak, left);
    }
    return 20.0 * log10(fmax(peak, 1e-12) / amplitude);
}
