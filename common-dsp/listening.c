#include "listening.h"

#include "two.h"

#include <math.h>
#include <string.h>

#define LEVEL_HOP 0.1 /* s: ten frames */

ListeningGrid listening_hops(double rate)
{
    return (ListeningGrid){.samples = (uint32_t)(rate * LEVEL_HOP + 0.5), .frames = 10};
}

/* How late answers come. One that is about a whole cell comes at the end of a cell. */
static void lay_answers(Listening *l)
{
    const uint32_t lag = voice_lag(&l->voice);
    l->late = l->grid.whole_cells ? ((lag + DSP_CELL / 2) / DSP_CELL + 1) * DSP_CELL : lag;
    l->ahead = l->grid.whole_cells ? DSP_CELL : 0;
}

uint64_t listening_frame_end(const Listening *l, uint64_t number)
{
    const ListeningGrid *g = &l->grid;
    return number / g->frames * g->samples + (number % g->frames + 1) * g->samples / g->frames;
}

bool listening_init(Listening *l, double rate, uint32_t channels, ListeningGrid grid, uint32_t parts)
{
    memset(l, 0, sizeof *l);
    if (channels < 1 || channels > DSP_CHANNELS || !voice_init(&l->voice, rate))
        return false;
    l->channels = channels;
    l->parts = parts;
    l->grid = grid;
    if (!grid.frames || grid.samples / grid.frames < DSP_CELL)
        return false;
    lay_answers(l);
    living_init(&l->living, rate, channels);
    kweight_init(&l->weight, rate);
    listening_reset(l);
    return l->late + DSP_CELL < listening_frame_end(l, LISTENING_FRAMES - 2);
}

void listening_done(Listening *l)
{
    voice_done(&l->voice);
}

void listening_reset(Listening *l)
{
    living_reset(&l->living);
    voice_reset(&l->voice);
    kweight_reset(&l->weight);
    l->cell = 0;
    l->cell_energy = 0.0;
    l->heard = l->filling = l->waiting = 0;
    l->filling_ends_at = l->waiting_ends_at = listening_frame_end(l, 0);
    memset(l->ring, 0, sizeof l->ring);
}

static ListeningFrame *frame_at(Listening *l, uint64_t number)
{
    return &l->ring[number % LISTENING_FRAMES];
}

/* ---- Samples ---- */

/* Sums are kept in registers: in memory each would wait for the one before it to be stored. */
static void add_power_of_one(ListeningFrame *frame, const float *x, uint32_t m)
{
    double power = frame->power;
    float sum = frame->sum[0];
    uint32_t t = 0;
    for (; t + 2 <= m; t += 2) {
        const Two both = two_of((double)x[t], (double)x[t + 1]), square = two_mul(both, both);
        power = power + two_lane(square, 0) + two_lane(square, 1);
        sum = sum + x[t] + x[t + 1];
    }
    if (t < m) {
        power += (double)x[t] * (double)x[t];
        sum += x[t];
    }
    frame->power = power;
    frame->sum[0] = frame->sum[1] = sum;
}

static void add_power_of_two(ListeningFrame *frame, const float *x, const float *y, uint32_t m)
{
    double power = frame->power;
    float sum_x = frame->sum[0], sum_y = frame->sum[1];
    for (uint32_t t = 0; t < m; ++t) {
        power += 0.5 * ((double)x[t] * (double)x[t] + (double)y[t] * (double)y[t]);
        sum_x += x[t];
        sum_y += y[t];
    }
    frame->power = power;
    frame->sum[0] = sum_x;
    frame->sum[1] = sum_y;
}

/* Adds m samples, all of one frame. */
static void add_power(Listening *l, uint32_t from, uint32_t m)
{
    ListeningFrame *frame = frame_at(l, l->filling);
    if (l->channels == 1)
        add_power_of_one(frame, l->sound[0] + from, m);
    else
        add_power_of_two(frame, l->sound[0] + from, l->sound[1] + from, m);
}

static void hear_voice(Listening *l, uint32_t n)
{
    float mean[DSP_CELL];
    if (l->channels == 1) {
        voice_process(&l->voice, l->sound[0], n);
        return;
    }
    for (uint32_t t = 0; t < n; ++t)
        mean[t] = 0.5f * (l->sound[0][t] + l->sound[1][t]);
    voice_process(&l->voice, mean, n);
}

static void begin_frame(Listening *l)
{
    *frame_at(l, ++l->filling) = (ListeningFrame){0};
    l->filling_ends_at = listening_frame_end(l, l->filling);
}

/* Takes in n samples, frame by frame. */
static void fill_frames(Listening *l, uint32_t n)
{
    for (uint32_t from = 0; from < n;) {
        const uint64_t left = l->filling_ends_at - l->heard;
        const uint32_t m = n - from < left ? n - from : (uint32_t)left;
        if (l->parts & LISTENING_POWER)
            add_power(l, from, m);
        l->heard += m;
        from += m;
        if (m == left)
            begin_frame(l);
    }
}

const float *const *listening_process(Listening *l, const float *const *in, uint32_t n)
{
    living_process(&l->living, in, l->sound, n);
    fill_frames(l, n);
    if (l->parts & LISTENING_WEIGHTED)
        kweight_add(&l->weight, l->sound, l->channels, n, &l->cell_energy);
    if (!l->told)
        hear_voice(l, n);
    l->cell += n;
    return l->sound;
}

/* ---- Grid points ---- */

bool listening_heard(const Listening *l)
{
    return l->cell > 0;
}

double listening_cell_energy(const Listening *l)
{
    return l->cell_energy;
}

void listening_peak(Listening *l, float peak)
{
    ListeningFrame *frame = frame_at(l, l->filling);
    frame->peak = fmaxf(frame->peak, peak);
}

void listening_told(Listening *l, bool sounding)
{
    l->told = true;
    l->told_sounding = sounding;
}

static bool sounds(const Listening *l)
{
    return l->told ? l->told_sounding : voice_sounding(&l->voice);
}

const ListeningFrame *listening_frame(Listening *l)
{
    if (l->parts & LISTENING_WEIGHTED)
        kweight_hush(&l->weight);
    l->cell = 0;
    l->cell_energy = 0.0;
    if (l->heard < l->late)
        return NULL;
    const uint64_t at = l->heard - l->late, end = l->waiting_ends_at;
    ListeningFrame *frame = frame_at(l, l->waiting);
    (at < end ? frame : frame_at(l, l->waiting + 1))->sounding += sounds(l);
    if (at + l->ahead < end)
        return NULL;
    l->waiting_ends_at = listening_frame_end(l, ++l->waiting);
    frame->hz = l->told ? 0.0 : voice_pitch(&l->voice);
    return frame;
}
