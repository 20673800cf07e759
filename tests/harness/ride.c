#include "ride.h"

#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SILENCE     1.0  /* s, after the take: it brings the last frames */
#define MAKEUP_MOST 12.0 /* dB, either way */

void ride_free(Ride *r)
{
    free(r->frame);
    free(r->span);
    *r = (Ride){0};
}

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* ---- Hearing ---- */

static bool keep(Ride *r, const TakeFrame *frame)
{
    if (r->frames == r->room) {
        const size_t room = r->room ? 2 * r->room : 4096;
        TakeFrame *larger = realloc(r->frame, room * sizeof *larger);
        if (!larger)
            return false;
        r->frame = larger;
        r->room = room;
    }
    r->frame[r->frames++] = *frame;
    return true;
}

static bool hear_block(void *hearing)
{
    RideHearing *const h = hearing;
    TakeFrame frame;
    for (uint32_t at = 0; at < STAGE_BLOCK; at += DSP_CELL) {
        const float *in[DSP_CHANNELS] = {h->block.channel[0] + at, h->block.channel[1] + at};
        if (take_frames_next(&h->frames, &frame) && !keep(h->ride, &frame))
            return false;
        take_frames_process(&h->frames, in, DSP_CELL);
    }
    h->block.filled = 0;
    return true;
}

static bool hear_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    RideHearing *h = (RideHearing *)s;
    h->taken += n;
    return block_write(&h->block, in, n, hear_block, h) || no_memory(e);
}

/* Without the frames of the silence. */
static bool hear_end(Sink *s, Error *e)
{
    RideHearing *h = (RideHearing *)s;
    for (double done = 0.0; done < SILENCE * h->rate; done += STAGE_BLOCK) {
        block_pad(&h->block);
        if (!hear_block(h))
            return no_memory(e);
    }
    const size_t frames = (size_t)ceil((double)h->taken / (TAKE_FRAME * h->rate));
    h->ride->frames = h->ride->frames < frames ? h->ride->frames : frames;
    return true;
}

bool ride_hear(RideHearing *h, Ride *ride, uint32_t channels, double rate, Error *e)
{
    *h = (RideHearing){.sink = {hear_write, hear_end}, .ride = ride, .rate = rate};
    block_init(&h->block, channels);
    return take_frames_init(&h->frames, rate, channels) || no_memory(e);
}

void ride_hearing_free(RideHearing *h)
{
    if (h->sink.write)
        take_frames_done(&h->frames);
    *h = (RideHearing){0};
}

/* ---- Settling ---- */

static double asked(const Readings *phrase, const char *symbol)
{
    const Port *port;
    const Reading *reading = readings_of(phrase, symbol, &port);
    return reading ? (double)reading->last : 0.0;
}

static bool find_phrases(Ride *r, Error *e)
{
    const uint32_t n = (uint32_t)r->frames, most = phrase_spans_most(n);
    free(r->span);
    r->span = calloc(most, sizeof *r->span);
    if (!r->span)
        return no_memory(e);
    r->plan = (PhraseRide){.span = r->span, .spans = phrase_spans(r->frame, n, r->span, most)};
    return true;
}

/* The phrases of all takes behind each other; NULL: out of memory. */
static PhraseSpan *all_phrases(const Ride *ride, uint32_t takes, uint32_t *n)
{
    *n = 0;
    for (uint32_t t = 0; t < takes; ++t)
        *n += ride[t].plan.spans;
    PhraseSpan *all = calloc((size_t)*n + 1, sizeof *all), *to = all;
    for (uint32_t t = 0; all && t < takes; to += ride[t++].plan.spans)
        memcpy(to, ride[t].span, ride[t].plan.spans * sizeof *to);
    return all;
}

static void keep_loudness(Ride *ride, uint32_t takes)
{
    uint32_t blocks[EVEN_FINE] = {0};
    EvenSums sums = {{0}, {0}, {0}};
    for (uint32_t t = 0; t < takes; ++t)
        phrase_ride_sum(&ride[t].plan, ride[t].frame, (uint32_t)ride[t].frames, blocks, &sums);
    const double makeup = dsp_clamp(even_gain(blocks, &sums, 1.0), -MAKEUP_MOST, MAKEUP_MOST);
    for (uint32_t t = 0; t < takes; ++t)
        ride[t].plan.makeup = makeup;
}

bool ride_settle(Ride *ride, uint32_t takes, const Readings *phrase, Error *e)
{
    uint32_t n;
    PhraseEvening evening = {.within = asked(phrase, "within"),
                             .most_up = asked(phrase, "most_up"),
                             .most_down = asked(phrase, "most_down")};
    for (uint32_t t = 0; t < takes; ++t)
        if (!find_phrases(&ride[t], e))
            return false;
    PhraseSpan *all = all_phrases(ride, takes, &n);
    if (!all)
        return no_memory(e);
    evening.usual = phrase_ride_level(all, n, &evening);
    free(all);
    for (uint32_t t = 0; t < takes; ++t)
        ride[t].plan.evening = evening;
    if (asked(phrase, "even_loudness") > 0.0)
        keep_loudness(ride, takes);
    return true;
}

/* ---- Playing ---- */

void ride_play(const Ride *r, uint64_t at, double rate, const float *const *in, float *const *out, uint32_t channels,
               uint32_t n)
{
    double gain = db_to_gain(phrase_ride_at(&r->plan, (double)at / rate));
    for (uint32_t from = 0; from < n; from += DSP_CELL) {
        const uint32_t to = from + DSP_CELL < n ? from + DSP_CELL : n;
        const double next = db_to_gain(phrase_ride_at(&r->plan, (double)(at + from + DSP_CELL) / rate));
        const double step = (next - gain) / DSP_CELL;
        for (uint32_t k = from; k < to; ++k)
            for (uint32_t c = 0; c < channels; ++c)
                out[c][k] = in[c][k] * (float)(gain + (k - from) * step);
        gain = next;
    }
}

RideDid ride_did(const Ride *r)
{
    RideDid did = {.makeup = r->plan.makeup};
    double least[2] = {INFINITY, INFINITY}, most[2] = {-INFINITY, -INFINITY};
    for (uint32_t i = 0; i < r->plan.spans; ++i) {
        const double gain = phrase_ride_gain(&r->plan, i) - did.makeup, level = r->span[i].level;
        did.down = i ? fmin(did.down, gain) : gain;
        did.up = i ? fmax(did.up, gain) : gain;
        if (r->span[i].voiced < PHRASE_BRIEF)
            continue;
        ++did.phrases;
        least[0] = fmin(least[0], level);
        most[0] = fmax(most[0], level);
        least[1] = fmin(least[1], level + gain);
        most[1] = fmax(most[1], level + gain);
    }
    if (did.phrases > 1) {
        did.before = most[0] - least[0];
        did.after = most[1] - least[1];
    }
    return did;
}
