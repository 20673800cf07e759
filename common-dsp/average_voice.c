#include "average_voice.h"

#include "units.h"

#include <math.h>

enum { FIRST_BAND = -12 /* centre of band 0, in thirds of an octave from 1 kHz: 62.5 Hz */ };

static const double table[][AVERAGE_VOICE_BANDS] = {
    [AVERAGE_MEN] = {38.6, 43.5, 54.4, 57.7, 56.8, 58.2, 59.7, 60.0, 62.4, 62.6, 60.6, 55.7, 53.1,
                     53.7, 52.3, 48.7, 48.9, 47.0, 46.0, 44.4, 43.3, 42.4, 41.9, 39.8, 40.4},
    [AVERAGE_WOMEN] = {37.0, 36.0, 37.5, 40.1, 53.4, 62.2, 60.9, 58.1, 61.7, 61.7, 60.4, 58.0, 54.3,
                       52.3, 51.7, 48.8, 47.3, 46.7, 45.3, 44.6, 45.2, 44.9, 45.0, 42.8, 41.1},
};

double average_voice_hz(int band)
{
    return 1000.0 * exp2((band + FIRST_BAND) / 3.0);
}

double average_voice_db(AverageVoice who, int band)
{
    return table[who][band];
}

double average_voice_power(int band)
{
    return db_to_power(table[AVERAGE_MEN][band]) + db_to_power(table[AVERAGE_WOMEN][band]);
}
