#include "flat_tops.h"

#include "four_math.h"

#include <math.h>

/* Settled on the tuning voices and the invented singer, as they are, at Trim's ceiling, and clipped by 1 to 12 dB,
 * resampled and coded. Unclipped, at most 4 tops of a take are flat, and at most one in fifty of those near its
 * highest; clipped by 3 dB, one in twenty or more. */
#define WITHIN  0.02f /* of the top: the depth in which it is measured, and again that under it */
#define BRIEF   2.5f  /* samples: within the first depth, a flat top lasts longer */
#define SLOPING 0.15f /* times as long within the second depth: a flat top has less */
#define FROM    0.7f  /* of the highest top: a swing begins and ends here, which is under both depths */
#define RISE    1.12f /* 1 dB: most that the highest top goes up by in a swing */
#define FALL    0.99f /* what it keeps each time it falls: 1 dB less a second at 48 kHz */

enum { FALLS_EVERY = 4096 }; /* samples: whole cells, so that it does not depend on how the host cuts its blocks */

/* Samples from the top at `at` to where the swing passes `level`, on one side of it (step: 1 or -1). */
static float way_to(const float *swing, uint32_t at, int step, float level)
{
    uint32_t i = at;
    while (swing[i] >= level)
        i = (uint32_t)((int)i + step);
    const float outside = swing[i], inside = swing[(int)i - step];
    return fabsf((float)i - (float)at) - (level - outside) / (inside - outside);
}

static float width(const float *swing, uint32_t at, float level)
{
    return way_to(swing, at, 1, level) + way_to(swing, at, -1, level);
}

/* The swing is over, and its samples stand between two that lie under it. */
static void judge(FlatTops *f)
{
    uint32_t at = 1;
    for (uint32_t i = 2; i + 1 < f->n; ++i)
        at = f->swing[i] > f->swing[at] ? i : at;
    const float top = f->swing[at];
    if (top < FLAT_TOPS_NEAR * fmaxf(f->highest[f->down], FLAT_TOPS_LEAST) || f->tops == FLAT_TOPS_KEPT)
        return;
    const float first = width(f->swing, at, (1.f - WITHIN) * top),
                second = width(f->swing, at, (1.f - 2.f * WITHIN) * top) - first;
    f->top[f->tops++] = (FlatTop){top, first > BRIEF && second < SLOPING * first};
}

static float least(const FlatTops *f, bool down)
{
    return FROM * fmaxf(f->highest[down], FLAT_TOPS_LEAST);
}

static void begin(FlatTops *f, float x)
{
    f->down = x < 0.f;
    if (fabsf(x) < least(f, f->down))
        return;
    f->swing[0] = f->down ? -f->last : f->last;
    f->swing[1] = f->most = fabsf(x);
    f->n = 2;
}

/* One stray peak hides no others: what goes far over all before is not yet the highest of most. */
static void rise(float *highest, float most)
{
    *highest = fmaxf(*highest, *highest > 0.f ? fminf(most, RISE * fmaxf(*highest, FLAT_TOPS_LEAST)) : most);
}

static void go_on(FlatTops *f, float x)
{
    const float up = f->down ? -x : x;
    if (f->n < FLAT_TOPS_LONGEST)
        f->swing[f->n++] = up;
    f->most = fmaxf(f->most, up);
    if (up >= least(f, f->down))
        return;
    rise(&f->highest[f->down], f->most);
    if (f->n < FLAT_TOPS_LONGEST)
        judge(f);
    f->n = 0;
}

static void fall(FlatTops *f, uint32_t n)
{
    if (f->since >= FALLS_EVERY) {
        f->highest[0] *= FALL;
        f->highest[1] *= FALL;
        f->since = 0;
    }
    f->since += n;
}

void flat_tops_hear(FlatTops *f, const float *in, uint32_t n)
{
    fall(f, n);
    if (n && !f->n && four_largest(in, n) < fminf(least(f, false), least(f, true))) {
        f->last = in[n - 1];
        return;
    }
    for (uint32_t i = 0; i < n; ++i) {
        if (f->n)
            go_on(f, in[i]);
        if (!f->n)
            begin(f, in[i]);
        f->last = in[i];
    }
}
