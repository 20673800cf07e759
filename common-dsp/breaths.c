#include "breaths.h"

#include "units.h"

/* Settled by trial on recorded voices (breaths.h). */
#define BREATH_SHARE      0.6      /* least share of the power over 350 Hz: with less it is an s or sh, or hiss */
#define MOST_SLANT        4.0      /* power ratio: most between the band's duller and its brighter half */
#define BREATH_OVER_FLOOR 6.0      /* dB: least over the noise of the rest */
#define FLOOR_RISE        0.05     /* dB a frame: rise of that noise's estimate */
#define LOUD_KEEPS        0.9977   /* factor a frame on the loudest power: it falls by 1 dB a second */
#define NEAR_LOUD         0.001    /* least power of a breath over the loudest, -30 dB: fainter ones disturb nobody */
#define SILENT_DB         (-140.0) /* dB: lower levels count as this */

enum { SHORTEST = 15, LONGEST = 120, GAP = 2 }; /* frames: a breath's length; a gap within one */

static bool is_breath(const Breaths *b, const HearingFrame *f)
{
    const double bright = f->air - f->dull;
    return f->hz == 0.0 && f->air >= NEAR_LOUD * b->loud && f->air >= BREATH_SHARE * f->above &&
           f->dull <= MOST_SLANT * bright && bright <= MOST_SLANT * f->dull &&
           power_to_db(f->air) >= b->floor_db + BREATH_OVER_FLOOR;
}

static void follow(Breaths *b, const HearingFrame *f)
{
    const double db = fmax(power_to_db(f->air), SILENT_DB);
    b->floor_db = b->known ? fmin(b->floor_db + FLOOR_RISE, db) : db;
    b->loud = fmax(f->power, b->loud * LOUD_KEEPS);
    b->known = true;
}

bool breaths_hear(Breaths *b, const HearingFrame *frame, double *db)
{
    follow(b, frame);
    if (is_breath(b, frame)) {
        b->power += frame->air;
        ++b->frames;
        b->gap = 0;
        return false;
    }
    if (b->frames && frame->hz == 0.0 && ++b->gap <= GAP)
        return false;
    const bool found = b->frames >= SHORTEST && b->frames <= LONGEST;
    *db = found ? power_to_db(b->power / b->frames) : UNITS_DB_FLOOR;
    b->frames = b->gap = 0;
    b->power = 0.0;
    return found;
}
