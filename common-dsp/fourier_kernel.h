/* The steps of fourier.h for vectors of FLOATS (floats.h), under the names FOURIER_PASS, FOURIER_JOIN, FOURIER_SPLIT
 * and FOURIER_MERGE. No include guard: it is the body of the files that include it. */
#include "floats.h"
#include "fourier_inside.h"

enum { ABREAST = FLOATS / FOUR }; /* fours in a vector */

typedef struct {
    Floats re, im;
} Complexes;

/* ---- Complex numbers ---- */

/* Fours from `at` on, the second of a wide vector `apart` floats further. */
static INLINED Complexes load(const float *re, const float *im, uint32_t at, uint32_t apart)
{
    const size_t bytes = apart * sizeof(float);
    return (Complexes){floats_load_fours(re + at, bytes), floats_load_fours(im + at, bytes)};
}

static INLINED void store(float *re, float *im, uint32_t at, uint32_t apart, Complexes x)
{
    const size_t bytes = apart * sizeof(float);
    floats_store_fours(re + at, bytes, x.re);
    floats_store_fours(im + at, bytes, x.im);
}

/* A four of a table, repeated. */
static INLINED Complexes load_turns(const float *table, uint32_t apart)
{
    return load(table, table + FOUR, 0, apart);
}

static INLINED Complexes add(Complexes a, Complexes b)
{
    return (Complexes){floats_add(a.re, b.re), floats_add(a.im, b.im)};
}

static INLINED Complexes sub(Complexes a, Complexes b)
{
    return (Complexes){floats_sub(a.re, b.re), floats_sub(a.im, b.im)};
}

static INLINED Complexes times(Complexes a, Complexes b)
{
    return (Complexes){floats_sub(floats_mul(a.re, b.re), floats_mul(a.im, b.im)),
                       floats_add(floats_mul(a.re, b.im), floats_mul(a.im, b.re))};
}

static INLINED Complexes scaled(Complexes x, float by)
{
    return (Complexes){floats_mul(x.re, floats_all(by)), floats_mul(x.im, floats_all(by))};
}

static INLINED Complexes conjugate(Complexes x)
{
    return (Complexes){x.re, floats_sub(floats_all(0.f), x.im)};
}

/* a - i b, and a + i b. */
static INLINED Complexes add_back(Complexes a, Complexes b)
{
    return (Complexes){floats_add(a.re, b.im), floats_sub(a.im, b.re)};
}

static INLINED Complexes add_on(Complexes a, Complexes b)
{
    return (Complexes){floats_sub(a.re, b.im), floats_add(a.im, b.re)};
}

/* e^(-2 pi i k / (2 quarter)) in a vector's first four, and for k + apart in its second. */
static INLINED Complexes turns_at(const Fourier *f, uint32_t k, uint32_t apart)
{
    const float *re = f->turn + k, *im = re + f->turns;
    return (Complexes){floats_all_fours(re[0], re[apart]), floats_all_fours(im[0], im[apart])};
}

/* ---- Passes: parts of `length` become transforms of as many equal parts as the factor says ---- */

/* How a wide vector is filled: by the same number of two parts, or in the first pass, where there is but one, by two
 * numbers of it. */
typedef struct {
    uint32_t numbers, parts; /* from one vector to the next: numbers, and floats */
    uint32_t apart, turns;   /* from a vector's first four to its second: floats, and entries of the table, times j */
} Filled;

static INLINED Filled filled(const Fourier *f, uint32_t length)
{
    const uint32_t part = length * FOUR;
    if (length == f->quarter)
        return (Filled){ABREAST, part, FOUR, ABREAST - 1};
    return (Filled){1, ABREAST * part, part, 0};
}

static void pass_of_four(const Fourier *f, float *re, float *im, uint32_t length)
{
    const uint32_t n = length / 4, next = n * FOUR, step = 2 * f->quarter / length;
    const Filled by = filled(f, length);
    for (uint32_t j = 0, k = 0; j < n; j += by.numbers, k += by.numbers * step) {
        const Complexes once = turns_at(f, k, by.turns * step), twice = turns_at(f, 2 * k, 2 * by.turns * step),
                        thrice = turns_at(f, 3 * k, 3 * by.turns * step);
        for (uint32_t at = j * FOUR; at < f->half; at += by.parts) {
            const Complexes x = load(re, im, at, by.apart), y = load(re, im, at + next, by.apart);
            const Complexes v = load(re, im, at + 2 * next, by.apart), w = load(re, im, at + 3 * next, by.apart);
            const Complexes a = add(x, v), b = sub(x, v), c = add(y, w), d = sub(y, w);
            store(re, im, at, by.apart, add(a, c));
            store(re, im, at + next, by.apart, times(add_back(b, d), once));
            store(re, im, at + 2 * next, by.apart, times(sub(a, c), twice));
            store(re, im, at + 3 * next, by.apart, times(add_on(b, d), thrice));
        }
    }
}

static void pass_of_two(const Fourier *f, float *re, float *im, uint32_t length)
{
    const uint32_t n = length / 2, next = n * FOUR, step = 2 * f->quarter / length;
    const Filled by = filled(f, length);
    for (uint32_t j = 0; j < n; j += by.numbers) {
        const Complexes once = turns_at(f, j * step, by.turns * step);
        for (uint32_t at = j * FOUR; at < f->half; at += by.parts) {
            const Complexes x = load(re, im, at, by.apart), y = load(re, im, at + next, by.apart);
            store(re, im, at, by.apart, add(x, y));
            store(re, im, at + next, by.apart, times(sub(x, y), once));
        }
    }
}

/* The transform of three numbers. */
typedef struct {
    Complexes none, once, twice;
} Thirds;

static INLINED Thirds thirds_of(const float *re, const float *im, uint32_t at, uint32_t next, uint32_t apart)
{
    const float high = 0.866025404f; /* sin(2 pi / 3) */
    const Complexes x = load(re, im, at, apart), y = load(re, im, at + next, apart),
                    v = load(re, im, at + 2 * next, apart);
    const Complexes sum = add(y, v), off = scaled(sub(y, v), high), middle = sub(x, scaled(sum, 0.5f));
    return (Thirds){add(x, sum), add_back(middle, off), add_on(middle, off)};
}

static INLINED void store_thirds(float *re, float *im, uint32_t at, uint32_t next, uint32_t apart, Thirds x)
{
    store(re, im, at, apart, x.none);
    store(re, im, at + next, apart, x.once);
    store(re, im, at + 2 * next, apart, x.twice);
}

static void pass_of_three(const Fourier *f, float *re, float *im, uint32_t length)
{
    const uint32_t n = length / 3, next = n * FOUR, step = 2 * f->quarter / length;
    const Filled by = filled(f, length);
    for (uint32_t j = 0; j < n; j += by.numbers) {
        const Complexes once = turns_at(f, j * step, by.turns * step);
        const Complexes twice = turns_at(f, 2 * j * step, 2 * by.turns * step);
        for (uint32_t at = j * FOUR; at < f->half; at += by.parts) {
            const Thirds x = thirds_of(re, im, at, next, by.apart);
            store_thirds(re, im, at, next, by.apart, (Thirds){x.none, times(x.once, once), times(x.twice, twice)});
        }
    }
}

/* All turns are 1 here. */
static void last_of_three(const Fourier *f, float *re, float *im)
{
    const Filled by = filled(f, 3);
    for (uint32_t at = 0; at < f->half; at += by.parts)
        store_thirds(re, im, at, FOUR, by.apart, thirds_of(re, im, at, FOUR, by.apart));
}

void FOURIER_PASS(const Fourier *f, uint32_t step, float *re, float *im)
{
    uint32_t length = f->quarter;
    for (uint32_t p = 0; p < (step + 1) * f->passes / FOURIER_STEPS; length /= f->by[p++]) {
        if (p < step * f->passes / FOURIER_STEPS)
            continue;
        if (f->by[p] == 4)
            pass_of_four(f, re, im, length);
        else if (f->by[p] == 2)
            pass_of_two(f, re, im, length);
        else if (length > 3)
            pass_of_three(f, re, im, length);
        else
            last_of_three(f, re, im);
    }
}

/* ---- Joining the lanes ---- */

/* Numbers k of the lanes' transforms, in a wide vector k + 4 too. */
static INLINED Complexes lanes_of(const Fourier *f, const float *re, const float *im, uint32_t k)
{
    Four x[ABREAST], y[ABREAST];
    UNROLLED
    for (uint32_t i = 0; i < ABREAST; ++i) {
        x[i] = four_load(re + (size_t)f->place[k + FOUR * i] * FOUR);
        y[i] = four_load(im + (size_t)f->place[k + FOUR * i] * FOUR);
    }
    return (Complexes){floats_join(x), floats_join(y)};
}

static INLINED void join(const Fourier *f, Floats *x, Floats *y, uint32_t k, float *re, float *im)
{
    floats_turn_fours(x);
    floats_turn_fours(y);
    const Complexes z[] = {{x[0], y[0]}, {x[1], y[1]}, {x[2], y[2]}, {x[3], y[3]}};
    const Complexes a = add(z[0], z[2]), b = sub(z[0], z[2]), c = add(z[1], z[3]), d = sub(z[1], z[3]);
    store(re, im, k, FOUR, add(a, c));
    store(re, im, f->quarter + k, FOUR, add_back(b, d));
    store(re, im, 2 * f->quarter + k, FOUR, sub(a, c));
    store(re, im, 3 * f->quarter + k, FOUR, add_on(b, d));
}

void FOURIER_JOIN(const Fourier *f, const float *re, const float *im, float *to_re, float *to_im)
{
    for (uint32_t k = 0; k < f->quarter; k += FLOATS) {
        const Complexes coarse = load_turns(f->coarse + (size_t)(k / FOURIER_FINE) * FOURIER_TURN, 0);
        const float *fine = f->fine + (size_t)(k % FOURIER_FINE) * FOURIER_TURN;
        Floats x[FOUR], y[FOUR];
        UNROLLED
        for (uint32_t i = 0; i < FOUR; ++i) {
            const Complexes turn = times(coarse, load_turns(fine + (size_t)i * FOURIER_TURN, FOUR * FOURIER_TURN));
            const Complexes z = times(lanes_of(f, re, im, k + i), turn);
            x[i] = z.re;
            y[i] = z.im;
        }
        join(f, x, y, k, to_re, to_im);
    }
}

/* ---- Pairs of samples ---- */

/* Numbers k, k - 1, k - 2 and so on. */
static INLINED Complexes load_mirrored(const float *re, const float *im, uint32_t k)
{
    const Complexes x = load(re, im, k - (FLOATS - 1), FOUR);
    return (Complexes){floats_backwards(x.re), floats_backwards(x.im)};
}

static INLINED void store_mirrored(float *re, float *im, uint32_t k, Complexes x)
{
    store(re, im, k - (FLOATS - 1), FOUR, (Complexes){floats_backwards(x.re), floats_backwards(x.im)});
}

/* e^(-2 pi i k / size) for numbers from k on. */
static INLINED Complexes turns_from(const Fourier *f, Complexes first, uint32_t k)
{
    return times(turns_at(f, k / FOUR, ABREAST - 1), first);
}

void FOURIER_SPLIT(const Fourier *f, uint32_t step, float *re, float *im)
{
    const uint32_t half = f->half, from = step * (half / 4);
    const Complexes first = load_turns(f->first, 0);
    if (step == 0) {
        re[half] = re[0];
        im[half] = im[0];
    } else {
        im[half / 2] = -im[half / 2];
    }
    for (uint32_t k = from; k < from + half / 4; k += FLOATS) {
        const Complexes z = load(re, im, k, FOUR), y = conjugate(load_mirrored(re, im, half - k));
        const Complexes even = scaled(add(z, y), 0.5f), odd = times(scaled(sub(z, y), 0.5f), turns_from(f, first, k));
        store(re, im, k, FOUR, add_back(even, odd));
        store_mirrored(re, im, half - k, conjugate(add_on(even, odd)));
    }
}

void FOURIER_MERGE(const Fourier *f, uint32_t step, float *re, float *im)
{
    const uint32_t half = f->half, from = step * (half / 4);
    const Complexes first = load_turns(f->first, 0);
    if (step == 1) {
        re[half / 2] *= 2.f;
        im[half / 2] *= 2.f;
    }
    for (uint32_t k = from; k < from + half / 4; k += FLOATS) {
        const Complexes x = load(re, im, k, FOUR), y = conjugate(load_mirrored(re, im, half - k));
        const Complexes even = add(x, y), odd = times(sub(x, y), conjugate(turns_from(f, first, k)));
        store(re, im, k, FOUR, conjugate(add_on(even, odd)));
        store_mirrored(re, im, half - k, add_back(even, odd));
    }
}
