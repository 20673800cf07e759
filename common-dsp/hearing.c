#include "hearing.h"

#include "design.h"

#include <math.h>
#include <string.h>

#define MIDDLE_LEAST  8000.0 /* Hz */
#define MIDDLE_CORNER 2000.0
#define SLOW_LEAST    3000.0
#define SLOW_CORNER   1000.0
#define SUBSONIC      20.0
#define BAND_LOW      350.0
#define BAND_HIGH     1400.0
#define BOTTOM        100.0
#define SMOOTH        0.70710678118654752 /* Q */

static Svf svf_of(Biquad b)
{
    return svf_from_biquad(&b);
}

bool hearing_init(Hearing *h, double rate, uint32_t channels)
{
    memset(h, 0, sizeof *h);
    if (!voice_level_init(&h->voice, rate, channels))
        return false;
    const Pitch *pitch = &h->voice.voice.pitch;
    h->channels = channels;
    h->hop = pitch_hop(pitch);
    h->late = (voice_lag(&h->voice.voice) + h->hop - 1) / h->hop;
    const uint32_t factor = (uint32_t)(rate / MIDDLE_LEAST);
    const double middle = rate / factor;
    const uint32_t slower = (uint32_t)(middle / SLOW_LEAST);
    decimate_init(&h->middle, factor, MIDDLE_CORNER, rate);
    decimate_init(&h->slow, slower, SLOW_CORNER, middle);
    h->per_frame = h->hop / factor;
    h->subsonic = svf_of(design_high_pass(SUBSONIC, SMOOTH, rate));
    h->band[0] = svf_of(design_high_pass(BAND_LOW, SMOOTH, middle));
    h->band[1] = svf_of(design_low_pass(BAND_HIGH, SMOOTH, middle));
    Biquad low[2];
    design_butterworth_low_pass(4, BOTTOM, middle, low);
    h->bottom[0] = svf_of(low[0]);
    h->bottom[1] = svf_of(low[1]);
    hum_init(&h->hum, middle / slower, &h->slow);
    hearing_reset(h);
    return true;
}

void hearing_done(Hearing *h)
{
    voice_level_done(&h->voice);
}

void hearing_reset(Hearing *h)
{
    voice_level_reset(&h->voice);
    decimate_reset(&h->middle);
    decimate_reset(&h->slow);
    hum_reset(&h->hum);
    memset(h->subsonic_state, 0, sizeof h->subsonic_state);
    memset(h->band_state, 0, sizeof h->band_state);
    memset(h->bottom_state, 0, sizeof h->bottom_state);
    memset(h->ring, 0, sizeof h->ring);
    h->ring[0].silent = true;
    h->at = 0;
    h->frames = 0;
    h->ready = false;
}

static HearingFrame *frame_at(Hearing *h, uint64_t number)
{
    return &h->ring[number % HEARING_FRAMES];
}

const HearingFrame *hearing_frame(Hearing *h)
{
    const bool ready = h->ready;
    h->ready = false;
    return ready ? frame_at(h, h->frames - h->late) : NULL;
}

static double through(const Svf *svf, SvfState *state, double x)
{
    return svf_step(&svf[1], &state[1], svf_step(&svf[0], &state[0], x));
}

static void hear_middle(Hearing *h, HearingFrame *f, double x)
{
    const double band = through(h->band, h->band_state, x), low = through(h->bottom, h->bottom_state, x);
    f->room += band * band / h->per_frame;
    f->low += low * low / h->per_frame;
    for (uint32_t i = 0; i < 2; ++i) {
        svf_hush(&h->band_state[i]);
        svf_hush(&h->bottom_state[i]);
    }
    double slow;
    if (decimate_step(&h->slow, x, &slow))
        hum_push(&h->hum, slow);
    hum_work(&h->hum);
}

static void end_frame(Hearing *h)
{
    frame_at(h, h->frames)->end = hum_heard(&h->hum);
    ++h->frames;
    h->at = 0;
    *frame_at(h, h->frames) = (HearingFrame){.silent = true};
    for (uint32_t c = 0; c < h->channels; ++c)
        svf_hush(&h->subsonic_state[c]);
    if (h->frames < h->late)
        return;
    frame_at(h, h->frames - h->late)->hz = voice_pitch(&h->voice.voice);
    h->ready = true;
}

void hearing_process(Hearing *h, const float *const *in, uint32_t n)
{
    voice_level_process(&h->voice, in, n); /* first: a frame that ends here is answered here */
    for (uint32_t i = 0; i < n; ++i) {
        HearingFrame *f = frame_at(h, h->frames);
        double sum = 0.0;
        for (uint32_t c = 0; c < h->channels; ++c) {
            const double x = (double)in[c][i];
            const double y = svf_step(&h->subsonic, &h->subsonic_state[c], x);
            f->silent &= fabsf(in[c][i]) < DSP_DIGITAL_SILENCE;
            f->power += y * y / (h->channels * (double)h->hop);
            sum += x;
        }
        double middle;
        if (decimate_step(&h->middle, sum / h->channels, &middle))
            hear_middle(h, f, middle);
        if (++h->at == h->hop)
            end_frame(h);
    }
}
