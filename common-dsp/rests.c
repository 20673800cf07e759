#include "rests.h"

#include "units.h"

enum {
    AFTER = 6, /* frames: the end of a voice */
    BLOCK_EVERY = 5,
    WINDOW = 25, /* HUM_SECONDS */
    WINDOW_EVERY = 16,
};

static double block_level(const Rests *r)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < REST_BLOCK; ++i)
        sum += r->power[i] / REST_BLOCK;
    return power_to_db(sum);
}

RestFound rests_hear(Rests *r, const HearingFrame *frame)
{
    RestFound found = {0};
    if (frame->hz > 0.0 || frame->broken || frame->silent) {
        r->length = 0;
        return found;
    }
    r->power[r->length++ % REST_BLOCK] = frame->power;
    if (r->length < AFTER + REST_BLOCK)
        return found;
    found.block = (r->length - AFTER) % BLOCK_EVERY == 0;
    found.block_db = block_level(r);
    found.window = r->length >= AFTER + WINDOW && (r->length - AFTER - WINDOW) % WINDOW_EVERY == 0;
    return found;
}
