#include "rests.h"

#include "units.h"

#define LOUD_KEEPS 0.9977 /* factor of power a frame: falls by 1 dB a second */
#define TAIL_POWER 0.01   /* times the loudest frame: in a room's tail, fainter than that, a pitch is still found */

enum {                  /* frames of 10 ms */
       AFTER = 5,       /* from a voice to the first block, at least */
       BLOCK = 8,       /* in a block */
       BEFORE = 9,      /* from a block to the next voice, at least */
       BLOCK_EVERY = 4, /* from one block to the next */
       SECOND = 100,    /* in a second */
};

/* dB, of the block that ended BEFORE frames ago. */
static double block_level(const Rests *r)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < BLOCK; ++i)
        sum += r->power[(r->length + i) % REST_FRAMES] / BLOCK;
    return power_to_db(sum);
}

static void find_block(Rests *r, const HearingFrame *frame, RestFound *found)
{
    if (frame->hz > 0.0)
        r->length = 0;
    if (frame->hz > 0.0 || frame->silent)
        return;
    r->power[r->length++ % REST_FRAMES] = frame->power;
    found->block = r->length >= AFTER + BLOCK + BEFORE && (r->length - AFTER) % BLOCK_EVERY == 0;
    found->first = found->block && r->length < AFTER + BLOCK + BEFORE + BLOCK_EVERY;
    if (found->block)
        found->block_db = block_level(r);
}

static void find_window(Rests *r, const HearingFrame *frame, RestFound *found)
{
    r->loud = fmax(frame->power, r->loud * LOUD_KEEPS);
    if (frame->silent || (frame->hz > 0.0 && frame->power > TAIL_POWER * r->loud)) {
        r->unbroken = 0;
        return;
    }
    double sum = 0.0;
    r->window[r->unbroken++ % REST_WINDOW] = frame->power;
    for (uint32_t i = 0; i < REST_WINDOW; ++i)
        sum += r->window[i] / REST_WINDOW;
    found->window = r->unbroken >= REST_WINDOW;
    found->window_db = power_to_db(sum);
}

RestFound rests_hear(Rests *r, const HearingFrame *frame)
{
    RestFound found = {0};
    find_block(r, frame, &found);
    find_window(r, frame, &found);
    r->silent = frame->silent ? r->silent + 1 : 0;
    found.silent = frame->silent && r->silent <= SECOND;
    return found;
}
