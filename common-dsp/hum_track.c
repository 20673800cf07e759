#include "hum_track.h"

#include "hum_points.h"
#include "hum_track_curve.h"
#include "hum_track_inside.h"
#include "hum_track_links.h"
#include "hum_track_rests.h"
#include "hum_track_shape.h"
#include "hum_track_windows.h"
#include "units.h"

#include <stdlib.h>
#include <string.h>

static const double mains[FOLLOWER_FAMILIES] = {50.0, 60.0};

static bool settle(HumTrack *t, double db)
{
    track_find_quiet(t, db_to_power(db));
    track_hear(t);
    track_find_rests(t);
    if (!t->rests)
        return false;
    track_link_rests(t);
    track_draw_curve(t);
    track_follow(t);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k)
            track_wander(t, c, k);
    return track_explains(t) && track_tells(t);
}

bool hum_track_find(HumTrack *t, const HumTrackTake *take, uint32_t family, double db)
{
    const double points = take->rate / take->stride;
    *t = (HumTrack){.take = *take, .nominal = 2.0 * DSP_PI * mains[family]};
    t->length = (uint32_t)(points / mains[family] + 0.5);
    t->seconds = t->length / points;
    t->harmonics = (uint32_t)(FOLLOWER_HIGHEST / mains[family]);
    if (take->points < 2 * TRACK_SPAN * t->length)
        return true;
    t->blocks = (take->points - TRACK_SPAN * t->length) / t->length + 1;
    for (uint32_t k = 0; k < t->harmonics; ++k)
        t->scale[k] = (float)(2.0 / hum_points_heard_at(take->rate, take->stride, mains[family] * (k + 1)));
    t->block = calloc(t->blocks, sizeof *t->block);
    t->rest = calloc(t->blocks / TRACK_REST + 1, sizeof *t->rest);
    t->work = calloc((size_t)TRACK_ROWS * t->blocks + (size_t)TRACK_SPAN * t->length, sizeof *t->work);
    if (!t->block || !t->rest || !t->work)
        return false;
    t->settled = settle(t, db);
    return true;
}

void hum_track_done(HumTrack *t)
{
    free(t->block);
    free(t->rest);
    free(t->work);
    *t = (HumTrack){.settled = false};
}

/* The phase of the fundamental, what is put out of every harmonic, and how far that is known, at a place in blocks. */
static double stand(const HumTrack *t, double place, FollowerRows now[DSP_CHANNELS], float *told)
{
    const double last = t->blocks - 1.0, inside = dsp_clamp(place, 0.0, last);
    const uint32_t b = (uint32_t)fmin(inside, last - 1.0);
    const HumTrackBlock *const from = &t->block[b], *const to = from + 1;
    const float u = (float)(inside - b);
    *told = (from->told ? 1.f - u : 0.f) + (to->told ? u : 0.f);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        for (uint32_t k = 0; k < t->harmonics; ++k) {
            now[c].re[k] = from->hum[c].re[k] + u * (to->hum[c].re[k] - from->hum[c].re[k]);
            now[c].im[k] = from->hum[c].im[k] + u * (to->hum[c].im[k] - from->hum[c].im[k]);
        }
    return from->phase + (place - b) * (to->phase - from->phase);
}

static float value_of(const FollowerRows *now, const FollowerRows *reference, uint32_t harmonics)
{
    float sum = 0.f;
    for (uint32_t k = 0; k < harmonics; ++k)
        sum += now->re[k] * reference->re[k] - now->im[k] * reference->im[k];
    return sum;
}

void hum_track_play(const HumTrack *t, uint64_t at_sample, double up_to, float *const *hum, float *told, uint32_t n)
{
    FollowerRows now[DSP_CHANNELS], reference;
    const uint32_t wanted = (uint32_t)(up_to / (t->nominal / (2.0 * DSP_PI)) + 1e-9);
    for (uint32_t c = 0; c < t->take.channels; ++c)
        memset(hum[c], 0, n * sizeof(float));
    memset(told, 0, n * sizeof(float));
    for (uint32_t i = 0; t->settled && i < n; ++i) {
        const double point = ((double)(at_sample + i) + 0.5) / t->take.stride;
        const double phase = stand(t, (point - track_middle(t, 0)) / t->length, now, &told[i]);
        pair_harmonics(fmod(phase + t->nominal * point * t->take.stride / t->take.rate, 2.0 * DSP_PI), &reference);
        for (uint32_t c = 0; c < t->take.channels; ++c)
            hum[c][i] = value_of(&now[c], &reference, wanted < t->harmonics ? wanted : t->harmonics);
    }
}
