#include "noise_memory.h"

#include "dsp.h"

#include <math.h>

#define TOP_HZ     24000.0 /* Hz, end of the last band */
#define MEL_CORNER 700.0   /* Hz, where the mel scale turns logarithmic (O'Shaughnessy 1987, from memory) */
#define MOST_COUNT 65535   /* highest level in steps of NOISE_STEP: +36 dB a Hz */

enum { LEVEL, TIMES, FIELDS };

const LearnedSchema noise_schema = {
    .fields = FIELDS,
    .field =
        {
            [LEVEL] = {"floor_levels", NOISE_BANDS, 0.f, 256.f, LEARNED_IN(NoiseMemory, level, LEARNED_ROW),
                       .unit = NOISE_STEP, .group = 1},
            [TIMES] = {"floor_times", NOISE_BANDS, 0.f, NOISE_TIMES, LEARNED_IN(NoiseMemory, times, LEARNED_ROW),
                       .group = 1},
        },
};

double noise_band_end(uint32_t b)
{
    return MEL_CORNER * (pow(1.0 + TOP_HZ / MEL_CORNER, (b + 1.0) / NOISE_BANDS) - 1.0);
}

void noise_memory_add(NoiseMemory *m, uint32_t band, double db)
{
    const double count = dsp_clamp((db - NOISE_LOWEST) / NOISE_STEP, 1.0, MOST_COUNT);
    if (m->times[band] < NOISE_TIMES)
        ++m->times[band];
    const double before = m->level[band];
    m->level[band] = (uint32_t)lround(before + (count - before) / m->times[band]);
}

double noise_memory_level(const NoiseMemory *m, uint32_t band)
{
    return m->level[band] * NOISE_STEP + NOISE_LOWEST;
}
