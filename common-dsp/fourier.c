#include "fourier.h"

#include "dsp.h"
#include "four.h"

#include <kiss_fft.h>

#include <math.h>
#include <stdlib.h>

bool fourier_init(Fourier *f, uint32_t size)
{
    *f = (Fourier){.half = size / 2, .quarter = size / 2 / FOURIER_QUARTERS};
    f->sine = calloc((size_t)f->half + 1, sizeof *f->sine);
    f->kiss = kiss_fft_alloc((int)f->quarter, 0, NULL, NULL);
    if (!f->sine || !f->kiss)
        return false;
    for (uint32_t k = 0; k <= f->half; ++k)
        f->sine[k] = (float)sin(DSP_PI * k / size);
    return true;
}

void fourier_done(Fourier *f)
{
    free(f->sine);
    kiss_fft_free(f->kiss);
    *f = (Fourier){0};
}

void fourier_quarter(const Fourier *f, uint32_t p, const float *from, float *to)
{
    kiss_fft_stride(f->kiss, (const kiss_fft_cpx *)(const void *)from + p,
                    (kiss_fft_cpx *)(void *)to + (size_t)p * f->quarter, FOURIER_QUARTERS);
}

/* ---- Four complex numbers side by side ---- */

typedef struct {
    Four re, im;
} Complexes;

static INLINED Complexes load(const float *re, const float *im, uint32_t k)
{
    return (Complexes){four_load(re + k), four_load(im + k)};
}

static INLINED void store(float *re, float *im, uint32_t k, Complexes x)
{
    four_store(re + k, x.re);
    four_store(im + k, x.im);
}

/* From an array whose real and imaginary parts are interleaved. */
static INLINED Complexes load_turns(const float *x)
{
    const Four a = four_load(x), b = four_load(x + FOUR);
    return (Complexes){four_evens(a, b), four_odds(a, b)};
}

static INLINED void store_in_turn(float *to, Complexes x)
{
    four_store(to, four_mix_first(x.re, x.im));
    four_store(to + FOUR, four_mix_last(x.re, x.im));
}

static INLINED Complexes backwards(Complexes x)
{
    return (Complexes){four_backwards(x.re), four_backwards(x.im)};
}

static INLINED Complexes add(Complexes a, Complexes b)
{
    return (Complexes){four_add(a.re, b.re), four_add(a.im, b.im)};
}

static INLINED Complexes sub(Complexes a, Complexes b)
{
    return (Complexes){four_sub(a.re, b.re), four_sub(a.im, b.im)};
}

static INLINED Complexes times(Complexes a, Complexes b)
{
    return (Complexes){four_sub(four_mul(a.re, b.re), four_mul(a.im, b.im)),
                       four_add(four_mul(a.re, b.im), four_mul(a.im, b.re))};
}

/* a times the conjugate of b. */
static INLINED Complexes times_conjugate(Complexes a, Complexes b)
{
    return (Complexes){four_add(four_mul(a.re, b.re), four_mul(a.im, b.im)),
                       four_sub(four_mul(a.im, b.re), four_mul(a.re, b.im))};
}

/* e^(2 pi i k / size) of four k from this one on, below half / 2. */
static INLINED Complexes turn_by(const Fourier *f, uint32_t k)
{
    const float *up = f->sine + 2 * (size_t)k, *down = f->sine + f->half - 2 * (size_t)k - (2 * FOUR - 1);
    return (Complexes){four_backwards(four_odds(four_load(down), four_load(down + FOUR))),
                       four_evens(four_load(up), four_load(up + FOUR))};
}

/* ---- The quarters ---- */

/* Number k of each quarter makes numbers k, quarter + k, 2 quarter + k and 3 quarter + k of the whole transform. Works
 * on four k side by side. */
static INLINED void join(const Fourier *f, const float *quarters, uint32_t k, Complexes turn, float *re, float *im)
{
    const float *x = quarters + 2 * (size_t)k;
    const uint32_t quarter = f->quarter;
    const Complexes twice = times(turn, turn);
    const Complexes p = load_turns(x), q = times_conjugate(load_turns(x + 2 * (size_t)quarter), turn);
    const Complexes r = times_conjugate(load_turns(x + 4 * (size_t)quarter), twice);
    const Complexes s = times_conjugate(load_turns(x + 6 * (size_t)quarter), times(turn, twice));
    const Complexes a = add(p, r), b = sub(p, r), c = add(q, s), d = {four_sub(q.im, s.im), four_sub(s.re, q.re)};
    store(re, im, k, add(a, c));
    store(re, im, quarter + k, add(b, d)); /* d: (q - s) times -i */
    store(re, im, 2 * quarter + k, sub(a, c));
    store(re, im, 3 * quarter + k, sub(b, d));
}

void fourier_join(const Fourier *f, const float *quarters, float *re, float *im)
{
    for (uint32_t k = 0; k < f->quarter; k += FOUR) {
        const Complexes first = turn_by(f, 2 * k), last = turn_by(f, 2 * k + FOUR);
        const Complexes turn = {four_evens(first.re, last.re), four_evens(first.im, last.im)};
        join(f, quarters, k, turn, re, im);
    }
    re[f->half] = re[0];
    im[f->half] = im[0];
}

/* ---- Even and odd samples ---- */

/* z is the transform of the even samples plus i times that of the odd samples. Each of these two is at half - k the
 * conjugate of what it is at k. */
void fourier_split(const Fourier *f, const float *z_re, const float *z_im, float *re, float *im)
{
    const uint32_t half = f->half, middle = half / 2;
    const Four by = four_all(0.5f);
    for (uint32_t k = 0; k < middle; k += FOUR) {
        const uint32_t mirror = half - k - (FOUR - 1);
        const Complexes z = load(z_re, z_im, k), y = backwards(load(z_re, z_im, mirror));
        const Complexes even = {four_mul(by, four_add(z.re, y.re)), four_mul(by, four_sub(z.im, y.im))};
        const Complexes half_odd = {four_mul(by, four_add(z.im, y.im)), four_mul(by, four_sub(y.re, z.re))};
        const Complexes odd = times_conjugate(half_odd, turn_by(f, k));
        const Complexes other = {four_sub(even.re, odd.re), four_sub(odd.im, even.im)};
        store(re, im, k, add(even, odd));
        store(re, im, mirror, backwards(other));
    }
    re[middle] = z_re[middle];
    im[middle] = -z_im[middle];
}

/* The numbers are twice as large and conjugate. So the forward transform serves as the inverse, and its result is
 * conjugate too. */
void fourier_merge(const Fourier *f, const float *re, const float *im, float *to)
{
    const uint32_t half = f->half, middle = half / 2;
    for (uint32_t k = 0; k < middle; k += FOUR) {
        const uint32_t mirror = half - k - (FOUR - 1);
        const Complexes x = load(re, im, k), y = backwards(load(re, im, mirror));
        const Complexes even = {four_add(x.re, y.re), four_sub(x.im, y.im)};
        const Complexes apart = {four_sub(x.re, y.re), four_add(x.im, y.im)};
        const Complexes odd = times(apart, turn_by(f, k));
        const Four below = four_sub(four_all(0.f), four_add(even.im, odd.re));
        store_in_turn(to + 2 * (size_t)k, (Complexes){four_sub(even.re, odd.im), below});
        const Complexes other = {four_add(even.re, odd.im), four_sub(even.im, odd.re)};
        store_in_turn(to + 2 * (size_t)mirror, backwards(other));
    }
    to[2 * (size_t)middle] = 2.f * re[middle];
    to[2 * (size_t)middle + 1] = 2.f * im[middle];
}
