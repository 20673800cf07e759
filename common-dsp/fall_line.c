#include "fall_line.h"

#include "units.h"

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
}

double fall_line_time(const FallLine *l)
{
    const double spread = l->points * l->sum_tt - l->sum_t * l->sum_t;
    if (l->points < FALL_LINE_LEAST || !(spread > 0.0))
        return 0.0;
    const double slope = (l->points * l->sum_ty - l->sum_t * l->sum_y) / spread;
    return slope < 0.0 ? -60.0 / slope : 0.0;
}
