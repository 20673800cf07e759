#include "voice_range.h"

#define SPOKEN_HIGHEST 52.0 /* MIDI note E3: a spoken voice whose middle note is higher is a high one */

static const struct {
    VoiceRange range;
    double lowest, highest;
} sung[] = {
    {RANGE_BASS, 40, 64}, {RANGE_BARITONE, 45, 69},      {RANGE_TENOR, 48, 72},
    {RANGE_ALTO, 53, 77}, {RANGE_MEZZO_SOPRANO, 57, 81}, {RANGE_SOPRANO, 60, 84},
};

static double square(double x)
{
    return x * x;
}

VoiceRange voice_range_of(double lowest, double highest, double middle, bool is_sung)
{
    if (!is_sung)
        return middle > SPOKEN_HIGHEST ? RANGE_SPOKEN_HIGH : RANGE_SPOKEN_LOW;
    VoiceRange nearest = RANGE_UNKNOWN;
    double least = 1e9;
    for (unsigned i = 0; i < sizeof sung / sizeof *sung; ++i) {
        const double off = square(lowest - sung[i].lowest) + square(highest - sung[i].highest);
        if (off < least) {
            least = off;
            nearest = sung[i].range;
        }
    }
    return nearest;
}
