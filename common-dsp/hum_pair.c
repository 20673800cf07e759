#include "hum_pair.h"

double pair_best_turn(const Pair *row, uint32_t harmonics, double most, int steps, double *greatest)
{
    double best = 0.0;
    *greatest = -HUGE_VAL;
    for (int i = -steps; i <= steps; ++i) {
        const Pair step = pair_turn(-most * i / steps);
        Pair by = step;
        double sum = 0.0;
        for (uint32_t k = 0; k < harmonics; ++k, by = pair_times(by, step))
            sum += row[k].re * by.re - row[k].im * by.im;
        if (sum > *greatest) {
            *greatest = sum;
            best = most * i / steps;
        }
    }
    return best;
}

void pair_harmonics(double angle, FollowerRows *to)
{
    const Pair step = pair_turn(angle);
    Pair by = step;
    for (uint32_t k = 0; k < FOLLOWER_HARMONICS; ++k, by = pair_times(by, step))
        pair_put(to, k, by);
}
