#include "notes.h"

#include "units.h"

#define HELD_WITHIN   1.5 /* semitones */
#define STEADY_WITHIN 1.6
#define LOUD_KEEPS    0.9977 /* a frame: 1 dB a second */
#define NEAR_LOUD     0.01   /* -20 dB */

/* Over the last frames: how far the pitch strays, and its mean. */
static double spread(const Notes *n, uint32_t frames, double *mean)
{
    double lo = HUGE_VAL, hi = -HUGE_VAL, sum = 0.0;
    for (uint32_t i = 1; i <= frames; ++i) {
        const double note = n->note[(n->sounding - i) % NOTES_STEADY];
        lo = fmin(lo, note);
        hi = fmax(hi, note);
        sum += note;
    }
    *mean = sum / frames;
    return hi - lo;
}

NoteFound notes_hear(Notes *n, const HearingFrame *frame)
{
    n->loud = fmax(frame->power, n->loud * LOUD_KEEPS);
    NoteFound found = {.voiced = frame->hz > 0.0 && frame->power >= NEAR_LOUD * n->loud};
    if (!found.voiced) {
        n->sounding = 0;
        return found;
    }
    n->note[n->sounding++ % NOTES_STEADY] = hz_to_note(frame->hz);
    double mean;
    found.held = n->sounding >= NOTES_HELD && spread(n, NOTES_HELD, &found.note) <= HELD_WITHIN;
    found.steady = n->sounding >= NOTES_STEADY && spread(n, NOTES_STEADY, &mean) <= STEADY_WITHIN;
    return found;
}
