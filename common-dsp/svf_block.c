#include "svf_block.h"

#include "two.h"

/* What svf_step() makes of a starting state and an impulse of x: SVF_BLOCK outputs, and the states after each. */
static void answer(const Svf *section, SvfState s, double x, double out[SVF_BLOCK], double after[SVF_BLOCK][2])
{
    for (uint32_t k = 0; k < SVF_BLOCK; ++k) {
        out[k] = svf_step(section, &s, k ? 0.0 : x);
        after[k][0] = s.s1;
        after[k][1] = s.s2;
    }
}

void svf_block_of(SvfBlock *b, const Svf *section)
{
    double after[SVF_BLOCK][2];
    answer(section, (SvfState){1.0, 0.0}, 0.0, b->first, after);
    memcpy(b->by_first, after[SVF_BLOCK - 1], sizeof b->by_first);
    answer(section, (SvfState){0.0, 1.0}, 0.0, b->second, after);
    memcpy(b->by_second, after[SVF_BLOCK - 1], sizeof b->by_second);
    answer(section, (SvfState){0.0, 0.0}, 1.0, b->echo, after);
    for (uint32_t k = 0; k < SVF_BLOCK; ++k)
        memcpy(b->into[k], after[SVF_BLOCK - 1 - k], sizeof b->into[k]);
}

/* An SvfBlock, kept in registers as far as they go. */
typedef struct {
    Two first[2], second[2]; /* for outputs 0 and 1, for 2 and 3 */
    Two own, one, two;       /* echoes 0 and 1 of a sample; nothing and echo 0; echoes 1 and 2 */
    Two three;               /* echoes 2 and 3 */
    Two by_first, by_second, into[SVF_BLOCK];
} Block;

static INLINED Two pair_at(const double *x)
{
    return two_of(x[0], x[1]);
}

static INLINED Block load(const SvfBlock *b)
{
    return (Block){.first = {pair_at(b->first), pair_at(b->first + 2)},
                   .second = {pair_at(b->second), pair_at(b->second + 2)},
                   .own = pair_at(b->echo),
                   .one = two_of(0.0, b->echo[0]),
                   .two = pair_at(b->echo + 1),
                   .three = pair_at(b->echo + 2),
                   .by_first = pair_at(b->by_first),
                   .by_second = pair_at(b->by_second),
                   .into = {pair_at(b->into[0]), pair_at(b->into[1]), pair_at(b->into[2]), pair_at(b->into[3])}};
}

/* The state is the last to be added, so that only two additions and a product wait for it. */
static INLINED Two block(const Block *b, Two state, const double *x, float *out)
{
    const Two x0 = two_of(x[0], x[0]), x1 = two_of(x[1], x[1]), x2 = two_of(x[2], x[2]), x3 = two_of(x[3], x[3]);
    const Two s1 = two_of(two_lane(state, 0), two_lane(state, 0)), s2 = two_of(two_lane(state, 1), two_lane(state, 1));
    const Two fed = two_add(two_mul(b->own, x0), two_mul(b->one, x1));
    const Two early = two_add(two_mul(b->three, x0), two_mul(b->two, x1));
    const Two late = two_add(two_mul(b->own, x2), two_mul(b->one, x3));
    const Two y = two_add(fed, two_add(two_mul(b->first[0], s1), two_mul(b->second[0], s2)));
    const Two z = two_add(two_add(early, late), two_add(two_mul(b->first[1], s1), two_mul(b->second[1], s2)));
    const Two into = two_add(two_add(two_mul(b->into[0], x0), two_mul(b->into[1], x1)),
                             two_add(two_mul(b->into[2], x2), two_mul(b->into[3], x3)));
    out[0] = (float)two_lane(y, 0);
    out[1] = (float)two_lane(y, 1);
    out[2] = (float)two_lane(z, 0);
    out[3] = (float)two_lane(z, 1);
    return two_add(into, two_add(two_mul(b->by_first, s1), two_mul(b->by_second, s2)));
}

/* Runs a block that is not full yet. Samples still to come count as 0: no output depends on a later sample. */
static Two fill(const Block *b, Two state, SvfBegun *begun, const float *in, float *out, uint32_t n)
{
    float y[SVF_BLOCK];
    const uint32_t from = begun->filled;
    for (uint32_t k = from; k < SVF_BLOCK; ++k)
        begun->x[k] = k - from < n ? (double)in[k - from] : 0.0;
    const Two after = block(b, state, begun->x, y);
    memcpy(out, y + from, n * sizeof *out);
    begun->filled = (from + n) % SVF_BLOCK;
    return begun->filled ? state : after;
}

void svf_block_run(const SvfBlock *b, SvfState *s, SvfBegun *begun, const float *in, float *out, uint32_t n)
{
    const Block own = load(b);
    Two state = two_of(s->s1, s->s2);
    for (uint32_t t = 0, m; t < n; t += m) {
        const uint32_t left = SVF_BLOCK - begun->filled;
        m = n - t < left ? n - t : left;
        if (m == SVF_BLOCK) {
            const double x[SVF_BLOCK] = {(double)in[t], (double)in[t + 1], (double)in[t + 2], (double)in[t + 3]};
            state = block(&own, state, x, out + t);
        } else {
            state = fill(&own, state, begun, in + t, out + t, m);
        }
    }
    *s = (SvfState){two_lane(state, 0), two_lane(state, 1)};
}
