#include "plate_level.h"

#include "units.h"

#include <math.h>

#define LN_1000 6.907755278982137 /* 60 dB as the natural logarithm of an amplitude ratio */

/* x rounded to three digits, so that the sound does not depend on the last bits of a machine's pow(). */
static double three_digits(double x)
{
    double scale = 1.0;
    while (x * scale < 100.0)
        scale *= 10.0;
    return round(x * scale) / scale;
}

void plate_level_init(PlateLevel *level, double rate)
{
    const double seventy_db = db_to_power(70.0), men_and_women = 2.0;
    level->rate = rate;
    for (int b = 0; b < AVERAGE_VOICE_BANDS; ++b)
        level->power[b] = three_digits(average_voice_power(b) / (men_and_women * seventy_db));
}

static double fourth(double x)
{
    return x * x * x * x;
}

double plate_level_seconds(const PlateLevel *level, double decay, double damping, double low_cut)
{
    double heard = 0.0, spoken = 0.0;
    for (int b = 0; b < AVERAGE_VOICE_BANDS && average_voice_hz(b) < 0.5 * level->rate; ++b) {
        const double hz = average_voice_hz(b), damp = fourth(hz / damping);
        const double sooner = 1.0 + 2.0 * damp / (1.0 + damp); /* 2 at the damping, 3 far above */
        spoken += level->power[b];
        heard += level->power[b] / ((1.0 + fourth(low_cut / hz)) * sooner);
    }
    return heard / spoken * decay / (2.0 * LN_1000);
}
