#include "fall_line.h"

#include "units.h"

#include <math.h>
#include <stdbool.h>

void fall_line_add(FallLine *l, double seconds, double power)
{
    if (power <= 0.0)
        return;
    const double db = power_to_db(power);
    l->points += 1.0;
    l->sum_t += seconds;
    l->sum_y += db;
    l->sum_tt += seconds * seconds;
    l->sum_ty += seconds * db;
    l->sum_yy += db * db;
}

/* Variance of the times, and covariance of times and levels; both times the number of points squared. */
static double spread_of(const FallLine *l)
{
    return l->points * l->sum_tt - l->sum_t * l->sum_t;
}

static double along_of(const FallLine *l)
{
    return l->points * l->sum_ty - l->sum_t * l->sum_y;
}

static bool falls(const FallLine *l)
{
    return l->points >= FALL_LINE_LEAST && spread_of(l) > 0.0 && along_of(l) < 0.0;
}

double fall_line_time(const FallLine *l)
{
    return falls(l) ? -60.0 * spread_of(l) / along_of(l) : 0.0;
}

double fall_line_off(const FallLine *l)
{
    if (!falls(l))
        return 0.0;
    const double squares = l->points * l->sum_yy - l->sum_y * l->sum_y - along_of(l) * along_of(l) / spread_of(l);
    return sqrt(fmax(squares, 0.0)) / l->points;
}
