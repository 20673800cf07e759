#include "voice.h"

#include <math.h>
#include <string.h>

enum {
    WINDOW = VOICE_AHEAD + 1, /* a hum is heard in */
    REPEAT_FRAMES = 13, /* 100 ms and half a pitch window on either side: until then `repeat` looks out of the window */
    SURE = 30,          /* windows: a hum heard that often is not forgotten at once */
    SHORTEST = 5,       /* frames of a stretch of pitch, */
    STRONG_FRAMES = 3,  /* of which are clearly periodic */
};

#define STRONG_CLARITY 0.8 /* clarity */

/* A window of hum. Set by trial over hums of 50, 60, 100 and 120 Hz in noise and breath, and over sung and spoken
 * takes. */
#define SAME_FAMILY     0.0112 /* public supply is 50 Hz +-1 % */
#define HIGHEST_HUM     310.0  /* Hz, of a multiple a hum's pitch is found at */
#define VOICED_SHARE    0.7    /* of the window's frames */
#define STILL_CLEAN     0.0008 /* mean distance of pitch from its mean, as a share, */
#define STILL_NOISY     0.018  /* and what noise adds to it */
#define REPEATS_CLARITY 0.8    /* of its clarity */
#define MIXED_TIMES     1.08   /* so much more alike after 100 ms than at any pitch */
#define MIXED_CLARITY   0.6

/* What noise adds to any frame's distance, where there is more of it than 16 dB below the hum. */
#define STRAYS_NOISY 0.07
#define STRAYS_FROM  0.15

/* A frame of a hum that is known. */
#define SAME_MAINS 0.008
#define OVER_HUM   4.0 /* 6 dB */

/* How fast the memory of a hum fades, dB per second. */
#define DOUBT_FADE 1.0
#define FADE_QUICK 22.0 /* until it is sure */

bool voice_init(Voice *v, double rate)
{
    *v = (Voice){0};
    if (!pitch_init(&v->pitch, rate))
        return false;
    const double hop = pitch_hop(&v->pitch) / rate;
    v->fade = pow(10.0, -0.1 * DOUBT_FADE * hop);
    v->fade_quick = pow(10.0, -0.1 * FADE_QUICK * hop);
    return true;
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
    v->hum = (VoiceHum){0};
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

/* ---- Hum ---- */

/* How far a pitch lies from the nearest multiple, as a share of it. */
static double deviation(double hz, double mains)
{
    return hz / (mains * fmax(1, round(hz / mains))) - 1;
}

/* Noise in a periodic sound, as a share of its amplitude. */
static double noisiness(double clarity)
{
    return sqrt(1 / fmax(clarity, 0.1) - 1);
}

/* How much further a frame's pitch may stray for the noise in it. */
static double noise_allowance(double clarity)
{
    return STRAYS_NOISY * fmax(0, noisiness(clarity) - STRAYS_FROM);
}

static bool on_family(const PitchFrame *f, double mains)
{
    return f->hz > 0 && f->hz < HIGHEST_HUM &&
           fabs(deviation(f->hz, mains)) <= SAME_FAMILY + noise_allowance(f->clarity);
}

static double median(double *x, uint32_t n)
{
    for (uint32_t i = 1; i < n; i++) {
        const double y = x[i];
        uint32_t at = i;
        for (; at > 0 && x[at - 1] > y; at--)
            x[at] = x[at - 1];
        x[at] = y;
    }
    return x[n / 2];
}

/* Means over the window's frames whose `repeat` looks at the window alone. */
static void mean_likeness(const Voice *v, double *clarity, double *repeat)
{
    *clarity = *repeat = 0;
    const double each = 1.0 / (WINDOW - REPEAT_FRAMES);
    for (int i = REPEAT_FRAMES; i < WINDOW; i++) {
        *clarity += each * frame_at(v, i)->clarity;
        *repeat += each * frame_at(v, i)->repeat;
    }
}

/* Learns from the window that begins with the frame in question. */
static void hear_hum(Voice *v, double mains, double clarity)
{
    double power[WINDOW], sum = 0, stray = 0;
    uint32_t n = 0;
    for (int i = 0; i < WINDOW; i++) {
        const PitchFrame *f = frame_at(v, i);
        if (!on_family(f, mains))
            continue;
        power[n++] = f->level * f->clarity;
        sum += deviation(f->hz, mains);
    }
    if (n < VOICED_SHARE * WINDOW)
        return;
    const double mean = sum / n;
    for (int i = 0; i < WINDOW; i++) {
        const PitchFrame *f = frame_at(v, i);
        if (on_family(f, mains))
            stray += fabs(deviation(f->hz, mains) - mean);
    }
    if (stray <= n * (STILL_CLEAN + STILL_NOISY * noisiness(clarity) + 0.5 * noise_allowance(clarity))) {
        const bool same = mains == v->hum.mains && fabs(mean - v->hum.deviation) <= SAME_MAINS;
        v->hum.heard = same ? v->hum.heard + 1 : 1;
        v->hum.mains = mains;
        v->hum.deviation = mean;
        v->hum.power = median(power, n);
    }
}

static void hear_mixture(Voice *v)
{
    double power[WINDOW];
    for (int i = 0; i < WINDOW; i++)
        power[i] = frame_at(v, i)->level * frame_at(v, i)->clarity;
    v->hum.mixed_power = median(power, WINDOW);
}

static void follow_hum(Voice *v)
{
    v->hum.power = dsp_hush(v->hum.power * (v->hum.heard < SURE ? v->fade_quick : v->fade));
    v->hum.mixed_power = dsp_hush(v->hum.mixed_power * v->fade);
    double clarity, repeat;
    mean_likeness(v, &clarity, &repeat);
    if (repeat > REPEATS_CLARITY * clarity) {
        hear_hum(v, 50, clarity);
        hear_hum(v, 60, clarity);
    }
    if (repeat > MIXED_TIMES * clarity && repeat > MIXED_CLARITY)
        hear_mixture(v);
}

static bool is_hum(const Voice *v, const PitchFrame *f)
{
    const VoiceHum *h = &v->hum;
    const double power = f->level * f->clarity;
    if (power <= OVER_HUM * h->mixed_power)
        return true;
    return power <= OVER_HUM * h->power &&
           fabs(deviation(f->hz, h->mains) - h->deviation) <= SAME_MAINS + noise_allowance(f->clarity);
}

/* ---- Voice ---- */

/* Counts on from the frame in question, one way, as long as the pitch lasts. */
static void count_stretch(const Voice *v, int way, int *pitched, int *strong)
{
    for (int i = 1; i <= VOICE_BACK && in_range(frame_at(v, i * way)); i++) {
        ++*pitched;
        *strong += frame_at(v, i * way)->clarity >= STRONG_CLARITY;
    }
}

static bool lasts(const Voice *v)
{
    int pitched = 1, strong = frame_at(v, 0)->clarity >= STRONG_CLARITY;
    count_stretch(v, -1, &pitched, &strong);
    count_stretch(v, 1, &pitched, &strong);
    return pitched >= SHORTEST && strong >= STRONG_FRAMES;
}

static void decide(Voice *v)
{
    const PitchFrame *f = frame_at(v, 0);
    follow_hum(v);
    v->sounding = in_range(f) && lasts(v) && !is_hum(v, f);
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
