/* rest_bands_walk.h for vectors of FLOATS (floats.h), under the name REST_BANDS_WALK. No guard: it is the body of the
 * files that include it. */
#include "floats.h"
#include "rest_bands_walk.h"

enum { ABREAST = FLOATS / FOUR }; /* channels in a vector, a four each */

/* One four, repeated for each channel of the vector. */
static INLINED Floats load_all(const Four *four)
{
    return floats_load_fours((const float *)(const void *)four, 0);
}

/* One four for each channel of the vector, from the first on. */
static INLINED Floats load(const Four *four)
{
    return floats_load_fours((const float *)(const void *)four, sizeof *four);
}

static INLINED void store(Four *four, Floats v)
{
    floats_store_fours((float *)(void *)four, sizeof *four, v);
}

/* As many channels as a vector holds, from channel c on. */
static INLINED Four walk(RestBands *r, uint32_t c, const float *const *in, uint32_t at, uint32_t n)
{
    const Floats b0 = load_all(&r->b0), b1 = load_all(&r->b1), b2 = load_all(&r->b2);
    const Floats a1 = load_all(&r->a1), a2 = load_all(&r->a2);
    Floats energy = load(&r->energy[c]), s1 = load(&r->s1[c]), s2 = load(&r->s2[c]), y = s1;
    for (uint32_t t = at; t < at + n; ++t) {
        const Floats x = floats_sample(in + c, t);
        y = floats_add(floats_mul(b0, x), s1);
        s1 = floats_add(floats_sub(floats_mul(b1, x), floats_mul(a1, y)), s2);
        s2 = floats_sub(floats_mul(b2, x), floats_mul(a2, y));
        energy = floats_add(energy, floats_mul(y, y));
    }
    store(&r->s1[c], s1);
    store(&r->s2[c], s2);
    store(&r->energy[c], energy);
    return floats_fold(y);
}

Four REST_BANDS_WALK(RestBands *r, const float *const *in, uint32_t at, uint32_t n)
{
    Four last = walk(r, 0, in, at, n);
    if (ABREAST < r->channels)
        last = four_add(last, walk(r, DSP_CHANNELS - ABREAST, in, at, n));
    return last;
}
