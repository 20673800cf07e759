#include "check_notes.h"

#include "held.h"
#include "units.h"

#include <math.h>

#define OUT_OF_TUNE 0.3 /* semitones: a note further off is far out of tune */

enum { ENOUGH_SUNG = 100 }; /* sung frames, which make one second: with fewer no tuning is given */

static bool is_sung(const CheckMemory *m)
{
    const double voiced = m->counter[CHECK_COUNT_VOICED];
    return m->counter[CHECK_COUNT_STEADY] >= VOICE_RANGE_STEADY * voiced ||
           m->more[CHECK_MORE_SUNG] >= VOICE_RANGE_SUNG * voiced ||
           m->more[CHECK_MORE_LASTING] >= VOICE_RANGE_LASTING * voiced;
}

void check_notes_find(const CheckMemory *m, CheckReport *r)
{
    r->lowest = held_under(&m->tally[CHECK_NOTES], &check_scale[CHECK_NOTES], HELD_ENDS);
    r->highest = held_under(&m->tally[CHECK_NOTES], &check_scale[CHECK_NOTES], 1.0 - HELD_ENDS);
    const bool known = r->lowest > 0.0;
    r->lowest_hz = known ? note_to_hz(r->lowest) : 0.0;
    r->highest_hz = known ? note_to_hz(r->highest) : 0.0;
    r->range = RANGE_UNKNOWN;
    if (known && level_memory_has(&m->level, CHECK_ENOUGH))
        r->range =
            voice_range_of(r->lowest, r->highest,
                           check_memory_below(m, CHECK_NOTES, 0.5 * check_memory_total(m, CHECK_NOTES)), is_sung(m));
}

/* Semitones by which the middle of a bin is above the nearest note of a scale that is tuned `offset` semitones high:
 * -0.5..0.5. */
static double off_tune(uint32_t bin, double offset)
{
    const double off = (bin + 0.5) * check_scale[CHECK_CENTS].step - offset;
    return off - round(off);
}

/* Circular mean over a semitone, by unit vectors: -0.5..0.5 semitones. */
static double mean_offset(const Tally *t)
{
    double re = 0.0, im = 0.0;
    for (uint32_t b = 0; b < check_scale[CHECK_CENTS].bins; ++b) {
        const double turn = 2.0 * DSP_PI * off_tune(b, 0.0);
        re += t->count[b] * cos(turn);
        im += t->count[b] * sin(turn);
    }
    return atan2(im, re) / (2.0 * DSP_PI);
}

void check_notes_find_tuning(const CheckMemory *m, CheckReport *r)
{
    const Tally *t = &m->tally[CHECK_CENTS];
    const double frames = check_memory_total(m, CHECK_CENTS);
    r->tuning = r->far_out = 0.0;
    r->out_of_tune = -1.0;
    if (frames < ENOUGH_SUNG || r->range == RANGE_UNKNOWN || r->range >= RANGE_SPOKEN_LOW)
        return;
    const double offset = mean_offset(t);
    r->tuning = 100.0 * offset;
    r->out_of_tune = 0.0;
    for (uint32_t b = 0; b < check_scale[CHECK_CENTS].bins; ++b) {
        const double off = fabs(off_tune(b, offset));
        r->out_of_tune += 100.0 * off * t->count[b] / frames;
        r->far_out += off > OUT_OF_TUNE ? t->count[b] / frames : 0.0;
    }
}
