#include "resample.h"

#include <math.h>
#include <soxr.h>

uint64_t resample_frames(uint64_t frames, double from, double rate)
{
    return (uint64_t)llrint((double)frames * rate / from);
}

/* Passes on what came out, but never more than there may be in all. */
static bool pass_on(Resample *r, const float *const *out, size_t n, uint64_t all, Error *e)
{
    const uint64_t left = all > r->went ? all - r->went : 0;
    const uint32_t m = n < left ? (uint32_t)n : (uint32_t)left;
    r->went += m;
    return r->to->write(r->to, out, m, e);
}

/* in NULL: that was all, and what libsoxr still holds comes out. */
static bool work(Resample *r, const float *const *in, uint32_t n, uint64_t all, Error *e)
{
    float memory[DSP_CHANNELS][STAGE_BLOCK];
    const float *const out[DSP_CHANNELS] = {memory[0], memory[1]};
    for (size_t used = 0, got = STAGE_BLOCK; used < n || got == STAGE_BLOCK;) {
        const void *const from[DSP_CHANNELS] = {in ? in[0] + used : NULL, in && r->channels > 1 ? in[1] + used : NULL};
        void *const to[DSP_CHANNELS] = {memory[0], memory[1]};
        size_t took = 0;
        const char *wrong =
            soxr_process(r->soxr, in ? (soxr_in_t)from : NULL, n - used, &took, (soxr_out_t)to, STAGE_BLOCK, &got);
        if (wrong)
            return error_set(e, ERROR_INSIDE, "libsoxr: %s", wrong);
        used += took;
        if (!pass_on(r, out, got, all, e))
            return false;
    }
    return true;
}

static bool resample_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Resample *r = (Resample *)s;
    if (!r->soxr)
        return r->to->write(r->to, in, n, e);
    r->came += n;
    return !n || work(r, in, n, UINT64_MAX, e);
}

/* As much silence as is missing of the frames that there should be. */
static bool fill_up(Resample *r, uint64_t all, Error *e)
{
    static const float silence[STAGE_BLOCK];
    static const float *const quiet[DSP_CHANNELS] = {silence, silence};
    while (r->went < all)
        if (!pass_on(r, quiet, STAGE_BLOCK, all, e))
            return false;
    return true;
}

static bool resample_end(Sink *s, Error *e)
{
    Resample *r = (Resample *)s;
    const uint64_t all = resample_frames(r->came, r->from, r->rate);
    return (!r->soxr || (work(r, NULL, 0, all, e) && fill_up(r, all, e))) && r->to->end(r->to, e);
}

bool resample_start(Resample *r, Sink *to, double from, double rate, uint32_t channels, Error *e)
{
    *r = (Resample){.sink = {resample_write, resample_end}, .to = to, .from = from, .rate = rate, .channels = channels};
    if (from == rate)
        return true;
    const soxr_io_spec_t split = soxr_io_spec(SOXR_FLOAT32_S, SOXR_FLOAT32_S);
    const soxr_quality_spec_t flat = soxr_quality_spec(SOXR_VHQ, SOXR_ROLLOFF_NONE);
    soxr_error_t wrong = NULL;
    r->soxr = soxr_create(from, rate, channels, &wrong, &split, &flat, NULL);
    return r->soxr || error_set(e, ERROR_INSIDE, "libsoxr: %s", wrong ? wrong : "out of memory");
}

void resample_free(Resample *r)
{
    if (r->soxr)
        soxr_delete(r->soxr);
    r->soxr = NULL;
}
