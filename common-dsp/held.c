#include "held.h"

#include <math.h>

HeldFound held_hear(Held *h, double note)
{
    double lo = HUGE_VAL, hi = -HUGE_VAL;
    HeldFound found = {0};
    h->note[h->sounding++ % HELD_FRAMES] = note;
    if (h->sounding < HELD_FRAMES)
        return found;
    for (uint32_t i = 0; i < HELD_FRAMES; ++i) {
        lo = fmin(lo, h->note[i]);
        hi = fmax(hi, h->note[i]);
    }
    if (hi - lo > HELD_WITHIN)
        return found;
    const uint32_t from = h->sounding - HELD_FRAMES > h->told ? h->sounding - HELD_FRAMES : h->told;
    found.frames = h->sounding - from;
    for (uint32_t i = 0; i < found.frames; ++i)
        found.note[i] = h->note[(h->sounding - 1 - i) % HELD_FRAMES];
    h->told = h->sounding;
    return found;
}

void held_rest(Held *h)
{
    h->sounding = h->told = 0;
}

double held_under(const Tally *notes, const TallyScale *scale, double share)
{
    const uint32_t frames = tally_total(notes, scale);
    return frames >= HELD_FRAMES ? tally_below(notes, scale, share * frames) : 0.0;
}

double held_spared(const Tally *notes, const TallyScale *scale)
{
    double place = 0.0, near = 0.0;
    for (uint32_t b = 0; b + 2 < scale->bins; ++b) {
        const uint16_t *count = notes->count + b;
        const double sum = (double)count[0] + count[1] + count[2];
        const double mean = (count[1] + 2.0 * count[2]) / fmax(sum, 1.0);
        place += (1.0 - near) * (b + 0.5 + mean - place);
        if (sum >= HELD_FRAMES)
            return scale->low + scale->step * place;
        near = sum / HELD_FRAMES;
    }
    return 0.0;
}
