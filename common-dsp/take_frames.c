#include "take_frames.h"

#include <string.h>

bool take_frames_init(TakeFrames *t, double rate, uint32_t channels)
{
    memset(t, 0, sizeof *t);
    if (!listening_init(&t->listening, rate, channels, listening_hops(rate), LISTENING_WEIGHTED))
        return false;
    rest_bands_init(&t->bands, rate, channels);
    return true;
}

void take_frames_done(TakeFrames *t)
{
    listening_done(&t->listening);
}

static void add(float *mean, double value, uint32_t n)
{
    *mean += (float)((value - (double)*mean) / n);
}

/* The cell that has ended belongs to the frame in which it ends. */
static void fill_frame(TakeFrames *t)
{
    TakeFrame *f = &t->ring[t->filling % LISTENING_FRAMES];
    ++t->cells;
    add(&f->weighted, listening_cell_energy(&t->listening) / DSP_CELL, t->cells);
    for (int b = 0; b < REST_BANDS; ++b)
        add(&f->band[b], t->bands.cell[b], t->cells);
    if (t->filling == t->listening.filling)
        return;
    t->filling = t->listening.filling;
    t->ring[t->filling % LISTENING_FRAMES] = (TakeFrame){.hz = 0.f};
    t->cells = 0;
}

bool take_frames_next(TakeFrames *t, TakeFrame *frame)
{
    rest_bands_tick(&t->bands);
    if (!listening_heard(&t->listening))
        return false;
    fill_frame(t);
    const ListeningFrame *answered = listening_frame(&t->listening);
    if (!answered)
        return false;
    *frame = t->ring[(t->listening.waiting - 1) % LISTENING_FRAMES];
    frame->hz = (float)answered->hz;
    return true;
}

void take_frames_process(TakeFrames *t, const float *const *in, uint32_t n)
{
    rest_bands_process(&t->bands, listening_process(&t->listening, in, n), n);
}
