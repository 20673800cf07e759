#include "voice.h"

#include <math.h>
#include <string.h>

#define FAMILY        0.013 /* public supply is 50 Hz +-1 % */
#define STILL         0.006 /* how far a hum's pitch strays in a quarter of a second */
#define REPEATS       0.93  /* of its clarity */
#define MIXED         0.10  /* by how much a mixture of hums is more alike after 100 ms than at any pitch */
#define SHORTEST      5     /* frames of a stretch of pitch */
#define REPEAT_FRAMES 13    /* 100 ms and half a window on either side */

bool voice_init(Voice *v, double rate)
{
    *v = (Voice){0};
    return pitch_init(&v->pitch, rate);
}

void voice_done(Voice *v)
{
    pitch_done(&v->pitch);
    *v = (Voice){0};
}

void voice_reset(Voice *v)
{
    pitch_reset(&v->pitch);
    memset(v->frame, 0, sizeof v->frame);
    v->oldest = 0;
    v->sounding = false;
    v->hz = 0;
}

uint32_t voice_lag(const Voice *v)
{
    return pitch_lag(&v->pitch) + VOICE_AHEAD * pitch_hop(&v->pitch);
}

/* The frame that many frames after (or before) the one in question. */
static const PitchFrame *frame_at(const Voice *v, int away)
{
    return &v->frame[(v->oldest + (uint32_t)(VOICE_BACK + away)) % VOICE_FRAMES];
}

static bool in_range(const PitchFrame *f)
{
    return f->hz >= PITCH_LOWEST && f->hz <= PITCH_HIGHEST;
}

static bool near_multiple(double hz, double mains)
{
    const double k = fmax(1, round(hz / mains));
    return fabs(hz - k * mains) <= FAMILY * k * mains;
}

/* Like the sound 100 ms before: as much as it is periodic at all, or, for a mixture of hums, more. */
static bool repeats(const PitchFrame *f)
{
    return f->repeat > REPEATS * f->clarity && f->repeat > 0.4;
}

static bool of_mains(const PitchFrame *f)
{
    if (f->repeat > f->clarity + MIXED)
        return true;
    return f->hz > 0 && (near_multiple(f->hz, 50) || near_multiple(f->hz, 60));
}

/* Whether the frames from..to are mains hum: one pitch of the families, that repeats within them. */
static bool hums(const Voice *v, int from, int to)
{
    double lo = HUGE_VAL, hi = 0;
    for (int i = from; i <= to; i++) {
        const PitchFrame *f = frame_at(v, i);
        if (!of_mains(f) || (i >= from + REPEAT_FRAMES && !repeats(f)))
            return false;
        lo = fmin(lo, f->hz);
        hi = fmax(hi, f->hz);
    }
    return hi - lo <= STILL * hi;
}

static bool long_enough(const Voice *v)
{
    int before = 0, after = 0;
    while (before < SHORTEST && in_range(frame_at(v, -before - 1)))
        before++;
    while (after < SHORTEST && in_range(frame_at(v, after + 1)))
        after++;
    return before + 1 + after >= SHORTEST;
}

static void decide(Voice *v)
{
    const PitchFrame *f = frame_at(v, 0);
    v->sounding = in_range(f) && long_enough(v) && !hums(v, -VOICE_BACK, 0) && !hums(v, 0, VOICE_AHEAD);
    v->hz = v->sounding ? f->hz : 0;
}

void voice_process(Voice *v, const float *in, uint32_t n)
{
    while (n) {
        bool ready;
        const uint32_t used = pitch_process(&v->pitch, in, n, &ready);
        in += used;
        n -= used;
        if (!ready)
            continue;
        v->frame[v->oldest] = *pitch_frame(&v->pitch);
        v->oldest = (v->oldest + 1) % VOICE_FRAMES;
        decide(v);
    }
}

bool voice_sounding(const Voice *v)
{
    return v->sounding;
}

double voice_pitch(const Voice *v)
{
    return v->hz;
}
