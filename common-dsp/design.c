#include "design.h"

#include <math.h>

/* Squared magnitudes are ratios of two quadratics: of an analog section in X = (f0/f)^2, of a digital one in
 * y = cot^2(w/2), w = 2 pi f / rate. A straight line X(y) turns one into the other. Why, and which: design.md. */

/* c[0] + c[1] u + c[2] u^2 */
typedef struct {
    double c[3];
} Quad;

static double quad_at(const Quad *q, double u)
{
    return q->c[0] + u * (q->c[1] + u * q->c[2]);
}

/* A squared magnitude. */
typedef struct {
    Quad num, den;
} Power;

static double power_at(const Power *p, double u)
{
    return quad_at(&p->num, u) / quad_at(&p->den, u);
}

/* y of a frequency given as a share of the rate. */
static double y_of(double share)
{
    const double t = tan(DSP_PI * share);
    return 1.0 / (t * t);
}

/* X = slope y + offset */
typedef struct {
    double slope, offset;
} Line;

/* The line that is exact at the frequencies a and b, a != b. f0, a and b are shares of the rate. */
static Line line_through(double f0, double a, double b)
{
    const double ya = y_of(a), yb = y_of(b);
    const double xa = (f0 / a) * (f0 / a), xb = (f0 / b) * (f0 / b);
    const double slope = (xa - xb) / (ya - yb);
    return (Line){.slope = slope, .offset = xb - slope * yb};
}

/* The line that is exact at a and, in the limit, towards 0 Hz: for filters whose skirt goes down to there. */
static Line line_from_dc(double f0, double a)
{
    const double slope = (DSP_PI * f0) * (DSP_PI * f0);
    return (Line){.slope = slope, .offset = (f0 / a) * (f0 / a) - slope * y_of(a)};
}

/* q(X) as a quadratic in y. */
static Quad quad_on(const Quad *q, Line line)
{
    const double p = line.slope, o = line.offset;
    return (Quad){{quad_at(q, o), p * (q->c[1] + 2.0 * o * q->c[2]), p * p * q->c[2]}};
}

static Power power_on(const Power *p, Line line)
{
    return (Power){.num = quad_on(&p->num, line), .den = quad_on(&p->den, line)};
}

/* Makes `digital` (in y) agree with `analog` (in X) at a and b, keeping its value at 0 Hz. Changes nothing where the
 * numerator would become negative somewhere. */
static void match_numerator(Power *digital, const Power *analog, double f0, double a, double b)
{
    const double share[2] = {a, b};
    double y[2], want[2];
    for (int i = 0; i < 2; ++i) {
        const double x = f0 / share[i];
        y[i] = y_of(share[i]);
        want[i] = power_at(analog, x * x) * quad_at(&digital->den, y[i]) - digital->num.c[2] * y[i] * y[i];
    }
    const double c1 = (want[0] - want[1]) / (y[0] - y[1]);
    const double c0 = want[1] - c1 * y[1];
    if (c0 <= 0.0 || c1 + 2.0 * sqrt(c0 * digital->num.c[2]) <= 0.0)
        return;
    digital->num.c[0] = c0;
    digital->num.c[1] = c1;
}

/* Finds h s^2 + b s + l, s = (1 - 1/z)/(1 + 1/z), with the squared magnitude q, as three coefficients of a section. */
static void factor(const Quad *q, double c[3])
{
    const double h = sqrt(q->c[0]), l = sqrt(q->c[2]);
    const double b = sqrt(fmax(0.0, q->c[1] + 2.0 * h * l));
    c[0] = h + b + l;
    c[1] = 2.0 * (l - h);
    c[2] = h - b + l;
}

static Biquad to_biquad(const Power *p)
{
    double b[3], a[3];
    factor(&p->num, b);
    factor(&p->den, a);
    return (Biquad){.b0 = b[0] / a[0], .b1 = b[1] / a[0], .b2 = b[2] / a[0], .a1 = a[1] / a[0], .a2 = a[2] / a[0]};
}

static Power inverse(Power p)
{
    return (Power){.num = p.den, .den = p.num};
}

/* A section that does nothing, with the poles of b, so that a glide from or to it moves no pole. */
static Biquad at_rest(Biquad b)
{
    return (Biquad){.b0 = 1.0, .b1 = b.a1, .b2 = b.a2, .a1 = b.a1, .a2 = b.a2};
}

/* The digital section of a boost; a cut is its inverse. */
static Biquad finish(Power boost, double db)
{
    if (db < 0.0)
        boost = inverse(boost);
    const Biquad b = to_biquad(&boost);
    return db == 0.0 ? at_rest(b) : b;
}

/* The curves are exact at the filter's own frequency and at a second point. These are shares of the rate, found by
 * search for the least error up to 18 kHz at 44.1 kHz. */
static const double LINE_TOP = 0.42, LINE_MIDDLE = 0.35; /* highest and lowest second point of the line */
static const double MATCH_TOP = 0.39, MATCH_LOW = 0.2;   /* second point of the numerator: above or below the filter */
static const double HIGH = 0.3;                          /* filters above this have it at MATCH_LOW */
static const double EDGE = 0.45;                         /* filters above this are made exact here instead */

/* The second point of the line: near the filter's own frequency, never at it. */
static double beside(double own)
{
    return own > 0.4 ? own - 0.05 : dsp_clamp(own + 0.05, LINE_MIDDLE, LINE_TOP);
}

/* The second point of the numerator. */
static double aside(double own)
{
    return own > HIGH ? MATCH_LOW : MATCH_TOP;
}

/* The digital squared magnitude of a filter that does most of its work at its own frequency. */
static Power follow(const Power *analog, double f0)
{
    const double own = fmin(f0, EDGE);
    Power digital = power_on(analog, line_through(f0, own, beside(own)));
    match_numerator(&digital, analog, f0, own, aside(own));
    return digital;
}

double design_q(double octaves)
{
    return 1.0 / (2.0 * sinh(log(2.0) / 2.0 * octaves));
}

Biquad design_bell(double hz, double db, double q, double rate)
{
    const double a = pow(10.0, fabs(db) / 40.0);
    const double wide = a / q, narrow = 1.0 / (a * q);
    const Power analog = {.num = {{1.0, wide * wide - 2.0, 1.0}}, .den = {{1.0, narrow * narrow - 2.0, 1.0}}};
    return finish(follow(&analog, hz / rate), db);
}

Biquad design_high_shelf(double hz, double db, double rate)
{
    const double a = pow(10.0, fabs(db) / 40.0), a2 = a * a;
    const Power analog = {.num = {{a2 * a2, 0.0, a2}}, .den = {{1.0, 0.0, a2}}};
    const double f0 = hz / rate, own = fmin(f0, HIGH);
    Power digital = power_on(&analog, line_through(f0, own, LINE_TOP));
    match_numerator(&digital, &analog, f0, own, MATCH_TOP);
    return finish(digital, db);
}

Biquad design_high_pass(double hz, double q, double rate)
{
    const Power analog = {.num = {{1.0, 0.0, 0.0}}, .den = {{1.0, 1.0 / (q * q) - 2.0, 1.0}}};
    const double f0 = hz / rate;
    const Power digital = power_on(&analog, line_from_dc(f0, fmin(f0, EDGE)));
    return to_biquad(&digital);
}

Biquad design_low_pass(double hz, double q, double rate)
{
    const Power analog = {.num = {{0.0, 0.0, 1.0}}, .den = {{1.0, 1.0 / (q * q) - 2.0, 1.0}}};
    const Power digital = follow(&analog, hz / rate);
    return to_biquad(&digital);
}

Biquad design_band_pass(double hz, double q, double rate)
{
    const double w = 1.0 / (q * q);
    const Power analog = {.num = {{0.0, w, 0.0}}, .den = {{1.0, w - 2.0, 1.0}}};
    const Power digital = follow(&analog, hz / rate);
    return to_biquad(&digital);
}

/* sqrt(h^2 + l^2 y) = |h s + l| / |s|: num and den are linear in y. */
static Biquad to_biquad_1(double num_0, double num_1, double den_0, double den_1)
{
    const double bh = sqrt(num_0), bl = sqrt(num_1), ah = sqrt(den_0), al = sqrt(den_1);
    const double a0 = ah + al;
    return (Biquad){.b0 = (bh + bl) / a0, .b1 = (bl - bh) / a0, .a1 = (al - ah) / a0};
}

Biquad design_high_pass_1(double hz, double rate)
{
    const double f0 = hz / rate;
    const Line line = line_from_dc(f0, fmin(f0, EDGE));
    return to_biquad_1(1.0, 0.0, 1.0 + line.offset, line.slope);
}

Biquad design_low_pass_1(double hz, double rate)
{
    const double f0 = hz / rate, own = fmin(f0, EDGE);
    const Line line = line_through(f0, own, aside(own));
    return to_biquad_1(line.offset, line.slope, 1.0 + line.offset, line.slope);
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
