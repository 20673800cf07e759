#include "ambience.h"

#include "two.h"

#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

static const double share_of_noise = 0.3173105; /* erfc(1/sqrt 2): of Gaussian noise beyond its standard deviation */
static const double windows[] = {0.02, 0.03};   /* seconds */

static double *room(size_t n)
{
    double *x = calloc(n, sizeof *x);
    assert_non_null(x);
    return x;
}

/* ---- Echo density ---- */

/* Half of a Hann window, from its middle outwards. */
static double *hann_half(uint32_t half)
{
    double *w = room(half + 1u);
    for (uint32_t k = 0; k <= half; ++k)
        w[k] = 0.5 + 0.5 * cos(DSP_PI * k / (half + 1.0));
    return w;
}

static double density_in(const float *h, uint32_t n, uint32_t from, uint32_t centre, const double *hann, uint32_t half)
{
    const uint32_t first = centre > from + half ? centre - half : from;
    const uint32_t end = centre + half + 1 < n ? centre + half + 1 : n;
    double weight = 0.0, power = 0.0, beyond = 0.0;
    for (uint32_t i = first; i < end; ++i) {
        const double w = hann[i < centre ? centre - i : i - centre];
        weight += w, power += w * (double)h[i] * (double)h[i];
    }
    const double sigma2 = power / weight;
    for (uint32_t i = first; i < end; ++i)
        if ((double)h[i] * (double)h[i] > sigma2)
            beyond += hann[i < centre ? centre - i : i - centre];
    return beyond / weight / share_of_noise;
}

double ambience_density(const float *h, uint32_t n, uint32_t from, uint32_t centre, double width, double rate)
{
    const uint32_t half = (uint32_t)(width * rate / 2.0);
    double *hann = hann_half(half);
    const double density = density_in(h, n, from, centre, hann, half);
    free(hann);
    return density;
}

double ambience_dense_after(const Response *r)
{
    const uint32_t hop = (uint32_t)(r->rate / 1000.0);
    uint32_t longest = 0;
    for (int w = 0; w < 2; ++w) {
        const uint32_t half = (uint32_t)(windows[w] * r->rate / 2.0);
        double *hann = hann_half(half);
        for (uint32_t c = 0; c < 2; ++c) {
            const uint32_t first = response_first(r, c);
            uint32_t ms = 0;
            while (ms < 500 && density_in(r->out[c], r->n, first, first + ms * hop, hann, half) < 0.9)
                ++ms;
            longest = ms > longest ? ms : longest;
        }
        free(hann);
    }
    return longest;
}

double ambience_least_density(const Response *r, double until)
{
    const uint32_t hop = (uint32_t)(r->rate / 1000.0);
    double least = 9.0;
    for (int w = 0; w < 2; ++w) {
        const uint32_t half = (uint32_t)(windows[w] * r->rate / 2.0);
        double *hann = hann_half(half);
        for (uint32_t c = 0; c < 2; ++c) {
            const uint32_t first = response_first(r, c);
            for (uint32_t at = first + 60 * hop; at < (uint32_t)(until * r->rate); at += 3 * hop)
                least = fmin(least, density_in(r->out[c], r->n, first, at, hann, half));
        }
        free(hann);
    }
    return least;
}

/* ---- Bands: the cookbook's bilinear sections, so that the meter shares no filter with the library ---- */

/* Left and right side by side. */
typedef struct {
    Two b0, b1, b2, a1, a2, s1, s2;
} Section;

static Two both(double x)
{
    return two_of(x, x);
}

static Section section(double hz, double q, double rate, bool low)
{
    const double w = 2.0 * DSP_PI * hz / rate, alpha = sin(w) / (2.0 * q), a0 = 1.0 + alpha, c = cos(w);
    const double b = (low ? 1.0 - c : 1.0 + c) / 2.0 / a0;
    return (Section){.b0 = both(b),
                     .b1 = both((low ? 2.0 : -2.0) * b),
                     .b2 = both(b),
                     .a1 = both(-2.0 * c / a0),
                     .a2 = both((1.0 - alpha) / a0),
                     .s1 = both(0.0),
                     .s2 = both(0.0)};
}

static Section no_section(void)
{
    const Two zero = both(0.0);
    return (Section){both(1.0), zero, zero, zero, zero, zero, zero};
}

static inline Two step(Section *s, Two x)
{
    const Two y = two_add(two_mul(s->b0, x), s->s1);
    s->s1 = two_add(two_sub(two_mul(s->b1, x), two_mul(s->a1, y)), s->s2);
    s->s2 = two_sub(two_mul(s->b2, x), two_mul(s->a2, y));
    return y;
}

static Two hushed(Two x)
{
    const double a = two_lane(x, 0), b = two_lane(x, 1);
    return two_of(fabs(a) < 1e-150 ? 0.0 : a, fabs(b) < 1e-150 ? 0.0 : b);
}

/* A tail that has died away costs a hundred times as much once it is denormal. */
static void settle(Section *s)
{
    s->s1 = hushed(s->s1);
    s->s2 = hushed(s->s2);
}

/* 4th-order Butterworth edges; those at 0 and beyond the band are left out. All four sections in one pass: each waits
 * for itself, and meanwhile the others work. Of both channels, the first n samples; to be freed. */
static void band(const Response *r, uint32_t n, double low, double high, double *y[2])
{
    static const double q[] = {0.54119610, 1.30656296};
    const bool has_low = low > 0.0, has_high = high < 0.45 * r->rate;
    Section a = has_low ? section(low, q[0], r->rate, false) : no_section();
    Section b = has_low ? section(low, q[1], r->rate, false) : no_section();
    Section c = has_high ? section(high, q[0], r->rate, true) : no_section();
    Section d = has_high ? section(high, q[1], r->rate, true) : no_section();
    y[0] = room(n);
    y[1] = room(n);
    for (uint32_t i = 0; i < n; ++i) {
        const Two x = two_of((double)r->out[0][i], (double)r->out[1][i]);
        const Two out = step(&d, step(&c, step(&b, step(&a, x))));
        y[0][i] = two_lane(out, 0);
        y[1][i] = two_lane(out, 1);
        if (i % 64 == 0)
            settle(&a), settle(&b), settle(&c), settle(&d);
    }
}

/* ---- Decay ---- */

/* A line fitted to Schroeder's backward integration E(t) = integral of h^2 from t on, from -5 to -35 dB, and drawn on
 * to -60 dB. */
static double decay_of(double *energy, uint32_t n, double rate)
{
    for (uint32_t i = 0; i < n; ++i)
        energy[i] *= energy[i];
    for (uint32_t i = n - 1; i > 0; --i)
        energy[i - 1] += energy[i];
    double count = 0, st = 0, sl = 0, stt = 0, stl = 0;
    for (uint32_t i = 0; i < n && energy[i] > energy[0] * pow(10.0, -3.5); ++i) {
        const double level = 10.0 * log10(energy[i] / energy[0]), t = i / rate;
        if (level > -5.0)
            continue;
        count += 1, st += t, sl += level, stt += t * t, stl += t * level;
    }
    return -60.0 / ((count * stl - st * sl) / (count * stt - st * st));
}

void ambience_t30(const Response *r, double hz, double t30[2])
{
    double *x[2];
    band(r, r->n, hz / sqrt(2.0), hz * sqrt(2.0), x);
    for (int c = 0; c < 2; ++c) {
        t30[c] = decay_of(x[c], r->n, r->rate);
        free(x[c]);
    }
}

/* ---- Levels ---- */

/* Solves the normal equations of a polynomial of degree `order` (1 or 2) by elimination: c[0..order]. */
static void fit(const double *y, uint32_t n, uint32_t order, double c[3])
{
    double m[3][4] = {{0}};
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t j = 0; j <= order; ++j) {
            for (uint32_t k = 0; k <= order; ++k)
                m[j][k] += pow(i, j + k);
            m[j][3] += pow(i, j) * y[i];
        }
    for (uint32_t j = 0; j <= order; ++j)
        for (uint32_t k = 0; k <= order; ++k) {
            const double f = m[k][j] / m[j][j];
            for (uint32_t l = 0; k != j && l < 4; ++l)
                m[k][l] -= f * m[j][l];
        }
    for (uint32_t j = 0; j <= order; ++j)
        c[j] = m[j][3] / m[j][j];
}

static double farthest(const double *level, uint32_t n, uint32_t order, bool over)
{
    double c[3] = {0}, worst = 0.0;
    fit(level, n, order, c);
    for (uint32_t i = 0; i < n; ++i) {
        const double off = level[i] - (c[0] + i * (c[1] + i * c[2]));
        worst = fmax(worst, over ? off : fabs(off));
    }
    return worst;
}

/* Of windows from a sample on, as many as lie in the first `until`, `most` at most: how many there are. */
static uint32_t levels_in(const double *x, uint32_t first, uint32_t width, uint32_t until, uint32_t most, double *level)
{
    uint32_t n = 0;
    for (; n < most && first + (n + 1) * width <= until; ++n) {
        double sum = 0.0;
        for (uint32_t i = first + n * width; i < first + (n + 1) * width; ++i)
            sum += x[i] * x[i];
        level[n] = 10.0 * log10(sum + 1e-300);
    }
    return n;
}

double ambience_levels_off(const Response *r, const AmbienceLevels *of)
{
    const uint32_t width = (uint32_t)(of->window * r->rate), start = (uint32_t)(of->from * r->rate),
                   count = (uint32_t)((of->until - of->from) / of->window + 0.5);
    const uint32_t first[] = {response_first(r, 0) + start, response_first(r, 1) + start};
    const uint32_t end = (first[0] > first[1] ? first[0] : first[1]) + count * width, n = end < r->n ? end : r->n;
    double *level = room(count), *x[2], worst = 0.0;
    band(r, n, of->low, of->high, x);
    for (uint32_t c = 0; c < 2; ++c)
        worst = fmax(worst, farthest(level, levels_in(x[c], first[c], width, n, count, level), of->order, of->over));
    free(x[0]);
    free(x[1]);
    free(level);
    return worst;
}

/* ---- Left and right ---- */

double ambience_correlation(const Response *r)
{
    const double half = pow(10.0, 0.05);
    double worst = 0.0;
    for (int b = -5; b <= 12; ++b) {
        const double hz = 1000.0 * pow(10.0, b / 10.0);
        if (hz * half > 0.45 * r->rate)
            break;
        double *x[2], xx = 0.0, yy = 0.0, xy = 0.0;
        band(r, r->n, hz / half, hz * half, x);
        for (uint32_t i = 0; i < r->n; ++i)
            xx += x[0][i] * x[0][i], yy += x[1][i] * x[1][i], xy += x[0][i] * x[1][i];
        free(x[0]);
        free(x[1]);
        worst = fmax(worst, fabs(xy) / sqrt(xx * yy));
    }
    return worst;
}

/* ---- Ring ---- */

/* Discrete Fourier transform of n of the x, `apart` apart, n a divisor of `whole`: split by the smallest factor. */
static void transform(const double complex *x, uint32_t n, uint32_t apart, const double complex *turn, uint32_t whole,
                      double complex *out, double complex *spare)
{
    if (n == 1) {
        out[0] = x[0];
        return;
    }
    uint32_t radix = 2;
    while (n % radix)
        ++radix;
    const uint32_t part = n / radix;
    for (size_t k = 0; k < radix; ++k)
        transform(x + k * apart, part, radix * apart, turn, whole, spare + k * part, out + k * part);
    for (uint32_t k = 0; k < n; ++k) {
        const double complex by = turn[(size_t)k * (whole / n)];
        double complex sum = 0.0;
        for (size_t j = radix; j-- > 0;)
            sum = sum * by + spare[j * part + k % part];
        out[k] = sum;
    }
}

/* Power of bins a hertz apart, 0..8 kHz, of the second from sample `start` under a Hann window, in both channels. */
static void spectra(const Response *r, uint32_t start, double *power[2])
{
    const uint32_t n = (uint32_t)r->rate;
    double complex *x = calloc(n, sizeof *x), *out = calloc(n, sizeof *out), *spare = calloc(n, sizeof *spare);
    double complex *turn = calloc(n, sizeof *turn);
    assert_true(x && out && spare && turn);
    assert_true(start + n <= r->n);
    for (uint32_t i = 0; i < n; ++i) {
        turn[i] = cexp(-2.0 * I * DSP_PI * i / n);
        x[i] = ((double)r->out[0][start + i] + I * (double)r->out[1][start + i]) * (0.5 - 0.5 * creal(turn[i]));
    }
    transform(x, n, 1, turn, n, out, spare);
    for (uint32_t k = 1; k < 8000; ++k) {
        const double complex left = 0.5 * (out[k] + conj(out[n - k])), right = 0.5 * (out[k] - conj(out[n - k]));
        power[0][k] = creal(left * conj(left));
        power[1][k] = creal(right * conj(right));
    }
    free(x);
    free(out);
    free(spare);
    free(turn);
}

static double mean_power(const double *sum, double from, double to)
{
    const uint32_t first = (uint32_t)ceil(from), last = (uint32_t)to;
    return (sum[last + 1] - sum[first]) / (last + 1 - first);
}

static double sharpest(const double *power, bool fixed)
{
    static double sum[8001];
    for (uint32_t k = 0; k < 8000; ++k)
        sum[k + 1] = sum[k] + power[k];
    double worst = 0.0;
    const double half = pow(10.0, 0.05);
    for (uint32_t k = 200; k <= 5000; ++k) {
        const double centre = fixed ? 1000.0 * pow(10.0, floor(10.0 * log10(k / 1000.0) + 0.5) / 10.0) : k;
        worst = fmax(worst, power[k] / mean_power(sum, centre / half, centre * half));
    }
    return 10.0 * log10(worst);
}

double ambience_ring(const Response *r, double start, bool fixed)
{
    double *power[2] = {room(8000), room(8000)};
    spectra(r, (uint32_t)(start * r->rate), power);
    const double worst = fmax(sharpest(power[0], fixed), sharpest(power[1], fixed));
    free(power[0]);
    free(power[1]);
    return worst;
}
