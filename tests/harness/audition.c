#include "audition.h"

#include "level.h"
#include "ours.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define HIGHEST_PEAK (-1.0)  /* dBFS */
#define FULL         32768.0 /* steps */

AuditionGains audition_gains(const Figures *before, const Figures *after)
{
    const double room_before = HIGHEST_PEAK - before->peak, room_after = HIGHEST_PEAK - after->peak;
    if (before->loudness <= LOUDNESS_LOW || after->loudness <= LOUDNESS_LOW)
        return (AuditionGains){fmin(room_before, 0.0), fmin(room_after, 0.0), false};
    const double most = fmin(before->loudness + room_before, after->loudness + room_after),
                 loudness = fmin(most, after->loudness);
    return (AuditionGains){loudness - before->loudness, loudness - after->loudness, true};
}

/* ---- Samples ---- */

/* -0.5..0.5, evenly spread; Numerical Recipes' quick generator (from memory). */
static double noise(Audition *a)
{
    a->dither = 1664525u * a->dither + 1013904223u;
    return (double)(a->dither >> 8) / 16777216.0 - 0.5;
}

/* Triangular dither of two steps' width: what rounding loses becomes even noise. Digital silence stays silent. */
static short step(Audition *a, double x)
{
    const double dither = x == 0.0 ? 0.0 : noise(a) + noise(a);
    return (short)dsp_clamp(rint(x * FULL + dither), -FULL, FULL - 1.0);
}

static bool cannot_write(const Audition *a, const char *why, Error *e)
{
    return error_set(e, ERROR_WRITE, "%s: cannot write: %s", a->name, why);
}

static bool put(Audition *a, const float *const *in, uint32_t n, Error *e)
{
    short block[STAGE_BLOCK * 2];
    for (uint32_t i = 0; i < n; ++i)
        for (uint32_t c = 0; c < 2; ++c)
            block[2 * i + c] = step(a, a->gain * (double)in[c < a->channels ? c : 0][i]);
    errno = 0;
    a->frames += n;
    return sf_writef_short(a->file, block, n) == (sf_count_t)n ||
           cannot_write(a, errno ? strerror(errno) : sf_strerror(a->file), e);
}

static bool audition_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Audition *a = (Audition *)s;
    for (uint32_t done = 0; done < n; done += STAGE_BLOCK) {
        const float *const from[2] = {in[0] + done, a->channels == 2 ? in[1] + done : NULL};
        if (!put(a, from, n - done < STAGE_BLOCK ? n - done : STAGE_BLOCK, e))
            return false;
    }
    return true;
}

static bool audition_end(Sink *s, Error *e)
{
    static const float silence[STAGE_BLOCK];
    Audition *a = (Audition *)s;
    while (a->frames < a->all) {
        const uint64_t left = a->all - a->frames;
        if (!put(a, (const float *const[]){silence, silence}, left < STAGE_BLOCK ? (uint32_t)left : STAGE_BLOCK, e))
            return false;
    }
    errno = 0;
    const int failed = sf_close(a->file);
    a->file = NULL;
    return !failed || cannot_write(a, errno ? strerror(errno) : sf_error_number(failed), e);
}

bool audition_start(Audition *a, int handle, const char *name, double rate, uint32_t channels, double gain_db,
                    uint64_t frames, Error *e)
{
    SF_INFO info = {.samplerate = (int)lrint(rate), .channels = 2, .format = SF_FORMAT_FLAC | SF_FORMAT_PCM_16};
    *a = (Audition){.sink = {audition_write, audition_end},
                    .name = name,
                    .channels = channels,
                    .gain = db_to_gain(gain_db),
                    .all = frames,
                    .dither = 1};
    a->file = sf_open_fd(handle, SFM_WRITE, &info, SF_TRUE);
    if (!a->file)
        return cannot_write(a, sf_strerror(NULL), e);
    ours_mark(a->file);
    return true;
}

void audition_free(Audition *a)
{
    if (a->file)
        sf_close(a->file);
    a->file = NULL;
}
