#include "voice.h"

#include <math.h>
#include <string.h>

enum {
    WINDOW = VOICE_AHEAD + 1, /* frames in which a hum is looked for */
    REPEAT_FRAMES = 13, /* 100 ms and half a pitch window: in earlier frames of the window, `repeat` looks beyond it */
    SURE = 30,          /* windows in a row: a hum heard in that many is forgotten slowly */
    SHORTEST = 5,       /* frames that a stretch of pitch has, at least */
    STRONG_FRAMES = 3,  /* frames of it that are clearly periodic, at least */
};

#define STRONG_CLARITY 0.8 /* clarity (pitch.h) from which a frame is clearly periodic */

/* A window of hum. Settled by trial over hums of 50, 60, 100 and 120 Hz in noise and breath, and over sung and spoken
 * takes. */
#define SAME_FAMILY     0.0112 /* share that a hum may lie off a multiple: the public supply keeps to 50 Hz +-1 % */
#define HIGHEST_HUM     310.0  /* Hz: the pitch of a hum lies below this */
#define VOICED_SHARE    0.7    /* of the window's frames that lie near a multiple, at least */
#define STILL_CLEAN     0.0008 /* mean distance of the pitch from its mean, as a share, at most */
#define STILL_NOISY     0.018  /* added to that, times the noise's share of the amplitude */
#define REPEATS_CLARITY 0.8    /* times its clarity: a hum is at least this much alike after 100 ms */
#define MIXED_TIMES     1.08   /* times its clarity: a mixture of both mains is at least this much alike after 100 ms */
#define MIXED_CLARITY   0.6    /* likeness of a mixture after 100 ms, at least */

/* How much farther noise lets a frame's pitch stray, where it lies less than 16 dB below the hum. */
#define STRAYS_NOISY 0.07 /* of the pitch, per noise-to-hum amplitude above STRAYS_FROM */
#define STRAYS_FROM  0.15 /* amplitude of the noise against the hum's */

/* A frame belongs to a known hum: */
#define SAME_MAINS 0.008 /* its pitch lies within this share of the hum's */
#define OVER_HUM   4.0   /* its power is at most this many times the hum's (6 dB) */

/* How fast the memory of a hum fades, dB/s. */
#define DOUBT_FADE 1.0  /* once it was heard in SURE windows */
#define FADE_QUICK 22.0 /* before that */

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

/* The frame `away` frames after the one being judged, before it if negative. */
static const PitchFrame *frame_at(const Voice *v, int away)
{
    return &v->frame[(v->oldest + (uint32_t)(VOICE_BACK + away)) % VOICE_FRAMES];
}

static bool in_range(const PitchFrame *f)
{
    return f->hz >= PITCH_LOWEST && f->hz <= PITCH_HIGHEST;
}

/* ---- Hum ---- */

/* How far a pitch lies from the nearest multiple of the mains, as a share of that multiple. */
static double deviation(double hz, double mains)
{
    return hz / (mains * fmax(1, round(hz / mains))) - 1;
}

/* Amplitude of the noise in a periodic sound, as a share of the sound's. */
static double noisiness(double clarity)
{
    return sqrt(1 / fmax(clarity, 0.1) - 1);
}

/* How much farther a frame's pitch may stray because of the noise in it, as a share. */
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

/* Means over those frames of the window whose `repeat` does not look beyond it. */
static void mean_likeness(const Voice *v, double *clarity, double *repeat)
{
    *clarity = *repeat = 0;
    const double each = 1.0 / (WINDOW - REPEAT_FRAMES);
    for (int i = REPEAT_FRAMES; i < WINDOW; i++) {
        *clarity += each * frame_at(v, i)->clarity;
        *repeat += each * frame_at(v, i)->repeat;
    }
}

/* Median over the window: where a note ends in it, the clarity that the note had. */
static double usual_clarity(const Voice *v)
{
    double clarity[WINDOW];
    for (int i = 0; i < WINDOW; i++)
        clarity[i] = frame_at(v, i)->clarity;
    return median(clarity, WINDOW);
}

/* Learns a hum of these mains from the window that begins with the frame being judged. */
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
    const double clear = fmax(clarity, usual_clarity(v));
    if (repeat > REPEATS_CLARITY * clarity) {
        hear_hum(v, 50, clear);
        hear_hum(v, 60, clear);
    }
    if (repeat > MIXED_TIMES * clear && repeat > MIXED_CLARITY)
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

/* Counts frames from the one being judged in one direction (way: 1 or -1), for as long as the pitch lasts. */
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
