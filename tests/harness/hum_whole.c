#include "hum_whole.h"

#include "units.h"

#include <stdlib.h>

void hum_whole_free(HumWhole *w)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        free(w->point[c]);
    hum_track_done(&w->track);
    *w = (HumWhole){.points = 0};
}

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* ---- Hearing ---- */

static bool make_room(HumWhole *w, size_t more)
{
    if (w->points + more <= w->room)
        return true;
    const size_t room = 2 * (w->room + more);
    for (uint32_t c = 0; c < w->channels; ++c) {
        float *larger = realloc(w->point[c], room * sizeof *larger);
        if (!larger)
            return false;
        w->point[c] = larger;
    }
    w->room = room;
    return true;
}

static bool hear_block(void *hearing)
{
    HumWholeHearing *const h = hearing;
    HumWhole *const w = h->whole;
    const uint32_t more = STAGE_BLOCK / h->points[0].stride;
    if (!make_room(w, more))
        return false;
    for (uint32_t c = 0; c < w->channels; ++c)
        hum_points_process(&h->points[c], h->block.channel[c], w->point[c] + w->points, STAGE_BLOCK);
    w->points += more;
    h->block.filled = 0;
    return true;
}

static bool hear_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    HumWholeHearing *const h = (HumWholeHearing *)s;
    return block_write(&h->block, in, n, hear_block, h) || no_memory(e);
}

/* Without the points of the silence behind the take. */
static bool hear_end(Sink *s, Error *e)
{
    HumWholeHearing *const h = (HumWholeHearing *)s;
    const size_t points = h->whole->points + h->block.filled / h->points[0].stride;
    block_pad(&h->block);
    if (!hear_block(h))
        return no_memory(e);
    h->whole->points = points;
    return true;
}

void hum_whole_hear(HumWholeHearing *h, HumWhole *whole, uint32_t channels, double rate)
{
    *h = (HumWholeHearing){.sink = {hear_write, hear_end}, .whole = whole};
    whole->channels = channels;
    whole->rate = rate;
    block_init(&h->block, channels);
    for (uint32_t c = 0; c < channels; ++c)
        h->points[c].stride = hum_points_stride(rate);
}

/* ---- Settling ---- */

static double last_of(const Readings *hum, const char *symbol)
{
    const Port *port;
    const Reading *reading = readings_of(hum, symbol, &port);
    return reading ? (double)reading->last : 0.0;
}

bool hum_whole_settle(HumWhole *whole, uint32_t takes, const Readings *hum, Error *e)
{
    const double found = last_of(hum, "found_mains"), level = last_of(hum, "found_level");
    for (HumWhole *w = whole; w < whole + takes && found > 0.0; ++w) {
        const HumTrackTake take = {.rate = w->rate,
                                   .channels = w->channels,
                                   .stride = hum_points_stride(w->rate),
                                   .points = (uint32_t)w->points,
                                   .point = {w->point[0], w->point[1]}};
        hum_track_done(&w->track);
        if (!hum_track_find(&w->track, &take, found > 55.0, level))
            return no_memory(e);
    }
    return true;
}

/* ---- Playing ---- */

void hum_whole_play(const HumWhole *w, const HumWholeAsked *asked, uint64_t at, const float *const *in,
                    float *const *out, uint32_t n)
{
    float hum[DSP_CHANNELS][DSP_CELL], told[DSP_CELL], *const to[DSP_CHANNELS] = {hum[0], hum[1]};
    const float depth = asked->hum_down > 0.0 ? (float)(1.0 - db_to_gain(-asked->hum_down)) : 0.f;
    for (uint32_t from = 0; w->track.settled && from < n; from += DSP_CELL) {
        hum_track_play(&w->track, at + from, asked->up_to, to, told, DSP_CELL);
        for (uint32_t c = 0; c < w->channels; ++c)
            for (uint32_t i = 0; i < DSP_CELL; ++i) {
                const float gone = depth * hum[c][i];
                const float mine = asked->hear_removed ? gone : in[c][from + i] - gone;
                out[c][from + i] = told[i] * mine + (1.f - told[i]) * out[c][from + i];
            }
    }
}

/* ---- What went ---- */

void hum_whole_count(HumWholeTaken *t, bool hear_removed, uint32_t channels, const float *const *in,
                     const float *const *out, uint32_t n)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t i = 0; i < n; ++i) {
            const double came = (double)in[c][i], went = (double)out[c][i];
            const double gone = hear_removed ? went : came - went;
            t->in += came * came;
            t->gone += gone * gone;
        }
}

double hum_whole_taken(const HumWholeTaken *t)
{
    return t->gone > 0.0 ? power_to_db(t->gone / t->in) : UNITS_DB_FLOOR;
}
