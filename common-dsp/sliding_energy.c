#include "sliding_energy.h"

#include "two.h"

#include <stddef.h>

/* Sum of the squares of n samples, a multiple of four; in four partial sums, so that no addition waits for another. */
static double energy_of(const float *x, uint32_t n)
{
    Two a = two_of(0, 0), b = a;
    for (size_t i = 0; i < n; i += 4) {
        const Two early = two_of((double)x[i], (double)x[i + 1]), late = two_of((double)x[i + 2], (double)x[i + 3]);
        a = two_add(a, two_mul(early, early));
        b = two_add(b, two_mul(late, late));
    }
    const Two all = two_add(a, b);
    return two_lane(all, 0) + two_lane(all, 1);
}

/* Change of a window's energy when it moves on by the sample x[0], and then by x[1]. */
static Two changes(const float *x, uint32_t window)
{
    const Two out = two_of((double)x[0], (double)x[1]);
    const Two in = two_of((double)x[window], (double)x[window + 1]);
    return two_sub(two_mul(in, in), two_mul(out, out));
}

/* Four at a time, so that only one addition in four waits for another. */
void sliding_energy(const float *x, uint32_t window, uint32_t count, double *energy)
{
    double now = energy_of(x, window);
    for (size_t i = 0; i < count; i += 4, x += 4) {
        const Two early = changes(x, window), late = changes(x + 2, window);
        const double a = two_lane(early, 0), ab = a + two_lane(early, 1);
        const double c = two_lane(late, 0), cd = c + two_lane(late, 1);
        energy[i] = now;
        energy[i + 1] = now + a;
        energy[i + 2] = now + ab;
        energy[i + 3] = now + (ab + c);
        now += ab + cd;
    }
}
