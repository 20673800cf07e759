#include "notes.h"

#include "units.h"

/* Set on the voices for tuning, speech and song: what they tell apart, notes.h. */
#define STEADY_WITHIN 1.6    /* semitones from lowest to highest pitch */
#define SUNG_WITHIN   0.4    /* semitones from lowest to highest mean over NOTES_TURN */
#define LOUD_KEEPS    0.9977 /* ratio of power a frame: the loudest frame fades by 1 dB a second */
#define NEAR_LOUD     6.3e-4 /* ratio of power, -32 dB: fainter frames hold no note */

/* Distance from the lowest to the highest of the last frames of a ring, semitones; *mean: their mean. */
static double spread(const Notes *n, const double *ring, uint32_t frames, double *mean)
{
    double lo = HUGE_VAL, hi = -HUGE_VAL, sum = 0.0;
    for (uint32_t i = 1; i <= frames; ++i) {
        const double note = ring[(n->sounding - i) % NOTES_RING];
        lo = fmin(lo, note);
        hi = fmax(hi, note);
        sum += note;
    }
    *mean = sum / frames;
    return hi - lo;
}

/* Whether the pitch, or its mean over `turn` frames, stayed within `within` semitones for `frames` frames. */
static bool stays(const Notes *n, uint32_t frames, uint32_t turn, double within, double *mean)
{
    return n->sounding >= frames && spread(n, turn > 1 ? n->mean : n->note, frames - turn + 1, mean) <= within;
}

/* How many of the last `frames` were not reported yet; *told: frames reported, brought up to date. */
static uint32_t tell(const Notes *n, uint32_t frames, uint32_t *told)
{
    const uint32_t from = n->sounding - frames > *told ? n->sounding - frames : *told;
    *told = n->sounding;
    return n->sounding - from;
}

static void keep(Notes *n, double note)
{
    double mean = note;
    n->note[n->sounding++ % NOTES_RING] = note;
    if (n->sounding >= NOTES_TURN)
        spread(n, n->note, NOTES_TURN, &mean);
    n->mean[(n->sounding - 1) % NOTES_RING] = mean;
}

/* Mean square under 1400 Hz, where the lower harmonics of a voice lie. */
static double without_highs(const HearingFrame *frame)
{
    return fmax(frame->power - frame->above, 0.0) + frame->room;
}

NoteFound notes_hear(Notes *n, const HearingFrame *frame)
{
    const double power = without_highs(frame);
    n->loud = fmax(power, n->loud * LOUD_KEEPS);
    NoteFound found = {.voiced = frame->hz > 0.0 && power >= NEAR_LOUD * n->loud};
    if (!found.voiced) {
        n->sounding = n->told_sung = n->told_lasting = 0;
        held_rest(&n->held);
        return found;
    }
    keep(n, hz_to_note(frame->hz));
    double mean;
    found.held = held_hear(&n->held, n->note[(n->sounding - 1) % NOTES_RING]);
    found.steady = stays(n, NOTES_STEADY, 1, STEADY_WITHIN, &mean);
    if (stays(n, NOTES_SUNG, NOTES_TURN, SUNG_WITHIN, &found.centre))
        found.sung = tell(n, NOTES_SUNG, &n->told_sung);
    if (stays(n, NOTES_LASTING, NOTES_TURN, SUNG_WITHIN, &mean))
        found.lasting = tell(n, NOTES_LASTING, &n->told_lasting);
    return found;
}
