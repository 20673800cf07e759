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
#define AIR_HIGH      3500.0
#define SMOOTH        0.70710678118654752 /* Q */

static Svf svf_of(Biquad b)
{
    return svf_from_biquad(&b);
}

bool hearing_init(Hearing *h, double rate, uint32_t channels)
{
    memset(h, 0, sizeof *h);
    const ListeningGrid grid = listening_hops(rate);
    if (!listening_init(&h->listening, rate, channels, grid, LISTENING_POWER))
        return false;
    h->channels = channels;
    h->hop = (double)grid.samples / grid.frames;
    const uint32_t factor = (uint32_t)(rate / MIDDLE_LEAST);
    const double middle = rate / factor;
    const uint32_t slower = (uint32_t)(middle / SLOW_LEAST);
    decimate_init(&h->middle, factor, MIDDLE_CORNER, rate);
    decimate_init(&h->slow, slower, SLOW_CORNER, middle);
    h->per_frame = h->hop / factor;
    h->subsonic = svf_of(design_high_pass(SUBSONIC, SMOOTH, rate));
    h->breath[0] = svf_of(design_high_pass(BAND_LOW, SMOOTH, rate));
    h->breath[1] = svf_of(design_low_pass(AIR_HIGH, SMOOTH, rate));
    h->breath[2] = svf_of(design_low_pass(BAND_HIGH, SMOOTH, rate));
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
    listening_done(&h->listening);
}

void hearing_reset(Hearing *h)
{
    listening_reset(&h->listening);
    h->voice = (VoiceLevel){0};
    decimate_reset(&h->middle);
    decimate_reset(&h->slow);
    hum_reset(&h->hum);
    memset(h->subsonic_state, 0, sizeof h->subsonic_state);
    memset(h->breath_state, 0, sizeof h->breath_state);
    memset(h->band_state, 0, sizeof h->band_state);
    memset(h->bottom_state, 0, sizeof h->bottom_state);
    memset(h->ring, 0, sizeof h->ring);
    h->ring[0].silent = true;
    h->heard = h->filling = h->waiting = 0;
    h->ends_at = listening_frame_end(&h->listening, 0);
}

static HearingFrame *frame_at(Hearing *h, uint64_t number)
{
    return &h->ring[number % LISTENING_FRAMES];
}

const HearingFrame *hearing_frame(Hearing *h)
{
    const ListeningFrame *heard = listening_frame(&h->listening);
    if (!heard)
        return NULL;
    HearingFrame *frame = frame_at(h, h->waiting++);
    frame->hz = heard->hz;
    frame->voice = voice_level_hear(&h->voice, heard, h->listening.grid.samples);
    return frame;
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

static void hear_breath(Hearing *h, HearingFrame *f, double x)
{
    const double above = svf_step(&h->breath[0], &h->breath_state[0], x);
    const double air = svf_step(&h->breath[1], &h->breath_state[1], above);
    const double dull = svf_step(&h->breath[2], &h->breath_state[2], air);
    f->above += above * above / h->hop;
    f->air += air * air / h->hop;
    f->dull += dull * dull / h->hop;
}

static void end_frame(Hearing *h)
{
    frame_at(h, h->filling)->end = hum_heard(&h->hum);
    *frame_at(h, ++h->filling) = (HearingFrame){.silent = true};
    h->ends_at = listening_frame_end(&h->listening, h->filling);
    for (uint32_t c = 0; c < h->channels; ++c)
        svf_hush(&h->subsonic_state[c]);
    for (uint32_t i = 0; i < 3; ++i)
        svf_hush(&h->breath_state[i]);
}

const float *const *hearing_process(Hearing *h, const float *const *in, uint32_t n)
{
    const float *const *sound = listening_process(&h->listening, in, n);
    for (uint32_t i = 0; i < n; ++i) {
        HearingFrame *f = frame_at(h, h->filling);
        double sum = 0.0;
        for (uint32_t c = 0; c < h->channels; ++c) {
            const double x = (double)sound[c][i];
            const double y = svf_step(&h->subsonic, &h->subsonic_state[c], x);
            f->silent &= fabsf(sound[c][i]) < DSP_DIGITAL_SILENCE;
            f->power += y * y / (h->channels * h->hop);
            sum += x;
        }
        hear_breath(h, f, sum / h->channels);
        double middle;
        if (decimate_step(&h->middle, sum / h->channels, &middle))
            hear_middle(h, f, middle);
        if (++h->heard == h->ends_at)
            end_frame(h);
    }
    return sound;
}
