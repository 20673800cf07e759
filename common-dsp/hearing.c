#include "hearing.h"

#include "design.h"
#include "four_math.h"
#include "two_svf.h"

#include <string.h>

/* Chosen, not searched; why these bands: hearing.h. */
#define MIDDLE_RATE_LEAST 8000.0              /* Hz, lowest middle rate */
#define MIDDLE_CORNER     2000.0              /* Hz, low-pass before the middle rate; BAND_HIGH lies under it */
#define SLOW_RATE_LEAST   3000.0              /* Hz, lowest slow rate */
#define SLOW_CORNER       1000.0              /* Hz, low-pass before the slow rate */
#define SUBSONIC_HZ       20.0                /* Hz, high-pass of `power` */
#define BAND_LOW          350.0               /* Hz, high-pass of `room`, `above` and `air` */
#define BAND_HIGH         1400.0              /* Hz, low-pass of `room` and `dull` */
#define BOTTOM_HZ         100.0               /* Hz, low-pass of `low` */
#define AIR_HIGH          3500.0              /* Hz, low-pass of `air` */
#define BUTTERWORTH_Q     0.70710678118654752 /* 1 / sqrt 2 */
#define VOICE_WAIT        0.02                /* s, longer than a cell: an answer waits for the end of its cell */

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
    h->rate = rate;
    h->channels = channels;
    h->hop = (double)grid.samples / grid.frames;
    const uint32_t factor = (uint32_t)(rate / MIDDLE_RATE_LEAST);
    const double middle = rate / factor;
    const uint32_t slower = (uint32_t)(middle / SLOW_RATE_LEAST);
    decimate_init(&h->middle, factor, MIDDLE_CORNER, rate);
    decimate_init(&h->slow, slower, SLOW_CORNER, middle);
    h->per_frame = h->hop / factor;
    h->subsonic = svf_of(design_high_pass(SUBSONIC_HZ, BUTTERWORTH_Q, rate));
    h->breath[0] = svf_of(design_high_pass(BAND_LOW, BUTTERWORTH_Q, rate));
    h->breath[1] = svf_of(design_low_pass(AIR_HIGH, BUTTERWORTH_Q, rate));
    h->breath[2] = svf_of(design_low_pass(BAND_HIGH, BUTTERWORTH_Q, rate));
    h->band[0] = svf_of(design_high_pass(BAND_LOW, BUTTERWORTH_Q, middle));
    h->band[1] = svf_of(design_low_pass(BAND_HIGH, BUTTERWORTH_Q, middle));
    Biquad low[2];
    design_butterworth_low_pass(4, BOTTOM_HZ, middle, low);
    h->bottom[0] = svf_of(low[0]);
    h->bottom[1] = svf_of(low[1]);
    hearing_reset(h);
    return true;
}

/* A window of hum ends with a frame, and frames are answered late: hum_init() is told how long to keep a window. */
bool hearing_hear_hum(Hearing *h)
{
    const double slow = h->rate / h->middle.factor / h->slow.factor;
    h->hears_hum = hum_init(&h->hum, slow, &h->slow, h->listening.late / h->rate + VOICE_WAIT);
    return h->hears_hum;
}

void hearing_done(Hearing *h)
{
    listening_done(&h->listening);
    hum_done(&h->hum);
}

static void begin_frame(Hearing *h)
{
    h->silent = true;
    h->power[0] = h->power[1] = h->above = h->air = h->dull = h->room = h->low = 0.0;
    h->ends_at = listening_frame_end(&h->listening, h->filling);
}

void hearing_reset(Hearing *h)
{
    listening_reset(&h->listening);
    h->voice = (VoiceLevel){0};
    decimate_reset(&h->middle);
    decimate_reset(&h->slow);
    if (h->hears_hum)
        hum_reset(&h->hum);
    memset(h->subsonic_state, 0, sizeof h->subsonic_state);
    memset(h->breath_state, 0, sizeof h->breath_state);
    memset(h->band_state, 0, sizeof h->band_state);
    memset(h->bottom_state, 0, sizeof h->bottom_state);
    memset(h->ring, 0, sizeof h->ring);
    h->heard = h->filling = h->waiting = 0;
    h->above_before = 0.0;
    begin_frame(h);
}

static HearingKept *frame_at(Hearing *h, uint64_t number)
{
    return &h->ring[number % LISTENING_FRAMES];
}

const HearingFrame *hearing_frame(Hearing *h)
{
    const ListeningFrame *heard = listening_frame(&h->listening);
    decimate_hush(&h->middle);
    if (!heard)
        return NULL;
    const HearingKept *kept = frame_at(h, h->waiting++);
    h->answered = (HearingFrame){.power = kept->power,
                                 .room = kept->room,
                                 .low = kept->low,
                                 .above = kept->above,
                                 .air = kept->air,
                                 .dull = kept->dull,
                                 .hz = heard->hz,
                                 .silent = kept->silent,
                                 .end = kept->end,
                                 .voice = voice_level_hear(&h->voice, heard, h->listening.grid.samples)};
    return &h->answered;
}

static double through(const Svf *svf, SvfState *state, double x)
{
    return svf_step(&svf[1], &state[1], svf_step(&svf[0], &state[0], x));
}

static void hear_middle(Hearing *h, double x)
{
    const double band = through(h->band, h->band_state, x), low = through(h->bottom, h->bottom_state, x);
    h->room += band * band;
    h->low += low * low;
    double slow;
    if (!h->hears_hum)
        return;
    if (decimate_step(&h->slow, x, &slow))
        hum_push(&h->hum, slow);
    hum_work(&h->hum);
}

/* Adds samples from..from + n - 1 to the frame's bands. half: half the sum of the channels. */
static void hear_bands(Hearing *h, const float *const *sound, const double *half, uint32_t from, uint32_t n)
{
    const float *const left = sound[0] + from, *const right = sound[h->channels - 1] + from;
    const TwoSvf subsonic = two_svf_of(&h->subsonic, &h->subsonic), breath = two_svf_of(&h->breath[0], &h->breath[1]);
    TwoSvfState power_state = two_states_of(&h->subsonic_state[0], &h->subsonic_state[1]);
    TwoSvfState breath_state = two_states_of(&h->breath_state[0], &h->breath_state[1]);
    Two power = two_of(h->power[0], h->power[1]), bands = two_of(h->above, h->air);
    double above = h->above_before, dull = h->dull;
    for (uint32_t t = 0; t < n; ++t) {
        const Two y = two_svf_step(&subsonic, &power_state, two_of((double)left[t], (double)right[t]));
        const Two z = two_svf_step(&breath, &breath_state, two_of(half[from + t], above));
        const double low = svf_step(&h->breath[2], &h->breath_state[2], two_lane(z, 1));
        above = two_lane(z, 0);
        power = two_add(power, two_mul(y, y));
        bands = two_add(bands, two_mul(z, z));
        dull += low * low;
    }
    two_states_split(&power_state, &h->subsonic_state[0], &h->subsonic_state[1]);
    two_states_split(&breath_state, &h->breath_state[0], &h->breath_state[1]);
    for (uint32_t c = 0; c < h->channels; ++c)
        h->power[c] = two_lane(power, (int)c);
    h->above = two_lane(bands, 0);
    h->air = two_lane(bands, 1);
    h->above_before = above;
    h->dull = dull;
}

static void note_silence(Hearing *h, const float *const *sound, uint32_t from, uint32_t n)
{
    for (uint32_t c = 0; c < h->channels; ++c)
        h->silent = h->silent && four_largest(sound[c] + from, n) < DSP_DIGITAL_SILENCE;
}

/* Takes in n samples, all of one frame. */
static void hear_some(Hearing *h, const float *const *sound, double *half, uint32_t from, uint32_t n)
{
    double middle[DSP_CELL];
    note_silence(h, sound, from, n);
    hear_bands(h, sound, half, from, n);
    const uint32_t slower = decimate_run(&h->middle, half + from, n, middle);
    for (uint32_t i = 0; i < slower; ++i)
        hear_middle(h, middle[i]);
}

static void hush(Hearing *h)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        svf_hush(&h->subsonic_state[c]);
    for (uint32_t i = 0; i < 3; ++i)
        svf_hush(&h->breath_state[i]);
    for (uint32_t i = 0; i < 2; ++i) {
        svf_hush(&h->band_state[i]);
        svf_hush(&h->bottom_state[i]);
    }
    h->above_before = dsp_hush(h->above_before);
}

static void end_frame(Hearing *h)
{
    *frame_at(h, h->filling++) = (HearingKept){.power = (h->power[0] + h->power[1]) / (h->channels * h->hop),
                                               .room = h->room / h->per_frame,
                                               .low = h->low / h->per_frame,
                                               .above = h->above / h->hop,
                                               .air = h->air / h->hop,
                                               .dull = h->dull / h->hop,
                                               .silent = h->silent,
                                               .end = hum_heard(&h->hum)};
    hush(h);
    begin_frame(h);
}

static void take_half_sum(double *half, const float *const *sound, uint32_t channels, uint32_t n)
{
    dsp_widen(half, sound[0], n);
    for (uint32_t t = 0; t < n && channels > 1; ++t)
        half[t] = 0.5 * (half[t] + (double)sound[1][t]);
}

const float *const *hearing_process(Hearing *h, const float *const *in, uint32_t n)
{
    const float *const *sound = listening_process(&h->listening, in, n);
    double half[DSP_CELL];
    take_half_sum(half, sound, h->channels, n);
    for (uint32_t from = 0, m; from < n; from += m) {
        const uint64_t left = h->ends_at - h->heard;
        m = n - from < left ? n - from : (uint32_t)left;
        hear_some(h, sound, half, from, m);
        h->heard += m;
        if (h->heard == h->ends_at)
            end_frame(h);
    }
    return sound;
}
