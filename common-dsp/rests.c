#include "rests.h"

#include "units.h"

enum { /* frames */
       AFTER = 5,
       BLOCK = 8,
       BEFORE = 9,
       BLOCK_EVERY = 4,
       WINDOW_AFTER = 3,
       WINDOW = 25, /* HUM_SECONDS */
       WINDOW_EVERY = 9,
};

/* The block that ended BEFORE frames ago. */
static double block_level(const Rests *r)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < BLOCK; ++i)
        sum += r->power[(r->length + i) % REST_FRAMES] / BLOCK;
    return power_to_db(sum);
}

RestFound rests_hear(Rests *r, const HearingFrame *frame)
{
    RestFound found = {0};
    if (frame->hz > 0.0)
        r->length = 0;
    if (frame->hz > 0.0 || frame->silent) {
        r->unbroken = 0;
        return found;
    }
    ++r->unbroken;
    r->power[r->length++ % REST_FRAMES] = frame->power;
    found.block = r->length >= AFTER + BLOCK + BEFORE && (r->length - AFTER) % BLOCK_EVERY == 0;
    if (found.block)
        found.block_db = block_level(r);
    found.window = r->unbroken >= WINDOW_AFTER + WINDOW && (r->unbroken - WINDOW_AFTER - WINDOW) % WINDOW_EVERY == 0;
    return found;
}
