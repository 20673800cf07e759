#include "deliver.h"

#include "units.h"

#include <math.h>

#define NEXT_TO_NOTHING 1e-30f

/* As a meter reads the file: what rings beside missing samples counts, which true_peak.h leaves out, so no sample is
 * quite 0. */
static void measure_peak(Deliver *d, uint32_t channel, const float *in, uint32_t n)
{
    float x[STAGE_BLOCK];
    for (uint32_t at = 0, m; at < n; at += m) {
        m = n - at < STAGE_BLOCK ? n - at : STAGE_BLOCK;
        for (uint32_t i = 0; i < m; ++i)
            x[i] = in[at + i] != 0.f ? in[at + i] : NEXT_TO_NOTHING;
        d->highest = true_peak_above(&d->peak, channel, x, d->highest, m);
    }
}

static void measure(Deliver *d, const float *const *in, uint32_t n)
{
    level_process(&d->level, in, n);
    for (uint32_t c = 0; c < d->channels; ++c)
        measure_peak(d, c, in[c], n);
}

static bool deliver_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Deliver *d = (Deliver *)s;
    measure(d, in, n);
    return d->spool ? spool_write(d->spool, in, n, e) : d->to->sink.write(&d->to->sink, in, n, e);
}

/* The last samples show their peaks late. */
static void flush_peak(Deliver *d)
{
    static const float silence[TRUE_PEAK_LAG];
    for (uint32_t c = 0; c < d->channels; ++c)
        measure_peak(d, c, silence, TRUE_PEAK_LAG);
}

/* LUFS of a file as BS.1770 reads it, which has to read so much for the loudness that is asked for. */
static double wanted_loudness(const Deliver *d)
{
    return d->wish.loudness - (d->wish.as_heard && d->channels == 1 ? LEVEL_BOTH : 0.0);
}

/* dB. What has no loudness gets no gain, unless it is over the peak. */
static void settle_gain(Deliver *d)
{
    Delivered *g = &d->got;
    const double room = d->wish.peak - g->true_peak;
    if (d->wish.by_loudness) {
        const bool known = d->wish.loudness > LOUDNESS_LOW && g->loudness > LOUDNESS_LOW;
        const double wanted = known ? wanted_loudness(d) - g->loudness : 0.0;
        g->held = wanted > room;
        g->gain = fmin(wanted, room);
    } else if (!d->wish.by_loudness && d->wish.by_peak && d->highest > 2.f * NEXT_TO_NOTHING) {
        g->gain = room;
    }
}

static bool write_all(Deliver *d, Error *e)
{
    float memory[DSP_CHANNELS][STAGE_BLOCK];
    float *const into[DSP_CHANNELS] = {memory[0], memory[1]};
    const float *const out[DSP_CHANNELS] = {memory[0], memory[1]};
    const double gain = db_to_gain(d->got.gain);
    if (!spool_rewind(d->spool, e))
        return false;
    for (uint32_t n = STAGE_BLOCK; n == STAGE_BLOCK;) {
        if (!spool_read(d->spool, into, STAGE_BLOCK, &n, e))
            return false;
        for (uint32_t c = 0; c < d->channels; ++c)
            for (uint32_t i = 0; i < n; ++i)
                memory[c][i] = (float)(gain * (double)memory[c][i]);
        if (!d->to->sink.write(&d->to->sink, out, n, e))
            return false;
    }
    return true;
}

/* What has no level or no loudness gets none by a gain. */
static void add_gain(Delivered *g)
{
    g->true_peak += g->gain;
    g->peak += g->gain;
    if (g->level > LEVEL_SILENT)
        g->level += g->gain;
    if (g->loudness > LOUDNESS_LOW)
        g->loudness += g->gain;
}

static bool deliver_end(Sink *s, Error *e)
{
    Deliver *d = (Deliver *)s;
    flush_peak(d);
    d->got = (Delivered){.level = level_rms(&d->level),
                         .peak = level_peak(&d->level),
                         .loudness = loudness_integrated(&d->level.loudness),
                         .true_peak = gain_to_db((double)d->highest)};
    settle_gain(d);
    add_gain(&d->got);
    return (!d->spool || write_all(d, e)) && d->to->sink.end(&d->to->sink, e);
}

bool deliver_start(Deliver *d, Delivery wish, Writer *to, const char *folder, double rate, uint32_t channels, Error *e)
{
    *d = (Deliver){.sink = {deliver_write, deliver_end}, .wish = wish, .to = to, .channels = channels};
    level_init(&d->level, rate, channels);
    true_peak_init(&d->peak, rate);
    if (!wish.by_loudness && !wish.by_peak)
        return true;
    d->spool = spool_new(folder, rate, channels, e);
    return d->spool != NULL;
}

void deliver_free(Deliver *d)
{
    level_done(&d->level);
    spool_free(d->spool);
    d->spool = NULL;
}
