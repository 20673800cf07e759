#include "tone.h"

#include "tone_bands.h"
#include "tone_listening.h"
#include "units.h"

#include <math.h>

#define BAND_TAU 0.02 /* s, of each of the smoother's two poles; stepped once a cell */
static const ToneParams off = {
    .low_cut = 100.0,
    .dip = {{250.0, 0.0, 1.0, false}, {400.0, 0.0, 1.0, false}, {800.0, 0.0, 1.0, false}},
    .air_freq = 12000.0,
    .take_out = 5.0,
};

static void done(void *dsp)
{
    Tone *t = dsp;
    partials_done(&t->partials);
    standstill_done(&t->standstill);
    resonance_done(&t->finder);
}

static void reset(void *dsp)
{
    Tone *t = dsp;
    t->fresh = true;
    t->still = 0;
    living_reset(&t->living);
    tone_cut_restart(&t->cut);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tone_band_restart(&t->band[i]);
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        build_up_reset(&t->build_up[i]);
        tone_band_restart(&t->goal[i]);
    }
    smooth_restart_at_target(&t->whole);
    smooth_restart(&t->even_gain);
    t->even = (ToneEven){.rate = t->rate};
    sos_reset(&t->filter);
    t->learn = (LearnSwitch){0};
    tone_hear_nothing(t);
    t->listened = false;
    tone_memory_reset(&t->memory);
    tone_look_anew(t);
}

static void set(void *dsp, const void *wanted)
{
    Tone *t = dsp;
    const ToneParams *p = wanted;
    t->params = *p;
    t->still = 0;
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        t->hand_octave[i] = log2(p->dip[i].freq);
    t->hand_octave[TONE_AIR] = log2(p->air_freq);
    tone_cut_set(&t->cut, p->slope, p->low_cut);
    if (learn_switch(&t->learn, p->learn))
        tone_learn_afresh(t);
    if (!p->learn)
        resonance_stop(&t->finder);
    tone_even_hurry(&t->even);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Tone *t = dsp;
    if (!partials_init(&t->partials, rate) || !resonance_init(&t->finder, rate) ||
        !standstill_init(&t->standstill, rate, partials_frame(&t->partials))) {
        done(t);
        return false;
    }
    t->rate = rate;
    t->channels = channels;
    living_init(&t->living, rate, channels);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        bridge_init(&t->bridge[c], rate);
    heard_before_init(&t->repeats, rate);
    smooth_init(&t->whole, rate, BAND_TAU);
    smooth_init(&t->even_gain, rate, EVEN_GLIDE);
    spectrum_ear_init(&t->ear, rate, channels);
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        build_up_init(&t->build_up[i], rate);
        tone_band_init(&t->goal[i], rate, TONE_GOAL_TAU);
    }
    tone_cut_init(&t->cut, rate);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tone_band_init(&t->band[i], rate, BAND_TAU);
    sos_init(&t->filter, TONE_SECTIONS, channels);
    set(t, &off);
    reset(t);
    return true;
}

/* ---- The grid ---- */

static void restored(void *dsp)
{
    Tone *t = dsp;
    t->still = 0;
    resonance_stop(&t->finder);
    heard_before_reset(&t->repeats);
    tone_look_anew(t);
}

static void report(const void *dsp, void *to)
{
    const Tone *t = dsp;
    const ToneMemory *m = &t->memory;
    ToneReport *report = to;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        report->found[i].freq = m->found[i].hz;
        report->found[i].depth = tone_band_depth(&m->found[i], t->params.take_out);
        report->found[i].width = m->found[i].width;
        report->found[i].sure = m->found[i].sure;
    }
    report->voice_heard = resonance_voice_heard(&m->notes);
    report->lowest_note = m->lowest_note;
    report->low_cut = tone_cut_found(m->lowest_note, t->params.slope);
    report->makeup = t->even.now;
}

/* Cells without movement until ticks do nothing: a dip may jump to a finding a few cells before it sets out. */
enum { STILL = 8 };

static void tick(void *dsp)
{
    Tone *t = dsp;
    if (t->still == STILL) {
        sos_hush(&t->filter);
        return;
    }
    t->still = tone_bands_rest(t) ? t->still + 1 : 0;
    tone_listening_tick(t);
    tone_bands_tick(t);
    if (t->fresh)
        t->whole_gain = db_to_gain(t->whole.value);
    t->fresh = false;
    sos_hush(&t->filter);
}

/* ---- The sound ---- */

/* Gain of the whole, by sample: for pointing out, and to keep the loudness. Exactly 1 where neither is on. */
static void find_gain(Tone *t, double gain[DSP_CELL], uint32_t n)
{
    const bool whole_rests = smooth_settled(&t->whole);
    if (whole_rests && smooth_settled(&t->even_gain)) {
        const double all = t->whole_gain * t->even_gain.value;
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            gain[i] = all;
        return;
    }
    smooth_run(&t->even_gain, gain, n);
    for (uint32_t i = 0; i < n; ++i) {
        if (!whole_rests)
            t->whole_gain = db_to_gain(smooth_step(&t->whole));
        gain[i] = t->whole_gain * gain[i];
    }
}

/* n is spelt out where it is a whole cell, so that the compiler takes several at once. */
static void put_out(const double *from, const double *gain, float *to, uint32_t n)
{
    if (n == DSP_CELL)
        for (uint32_t i = 0; i < DSP_CELL; ++i)
            to[i] = (float)(gain[i] * from[i]);
    else
        for (uint32_t i = 0; i < n; ++i)
            to[i] = (float)(gain[i] * from[i]);
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Tone *t = dsp;
    double x[DSP_CHANNELS][DSP_CELL], gain[DSP_CELL];
    tone_listen(t, in, n);
    for (uint32_t c = 0; c < t->channels; ++c)
        dsp_widen(x[c], in[c], n);
    sos_run(&t->filter, (double *const[]){x[0], x[1]}, n);
    find_gain(t, gain, n);
    for (uint32_t c = 0; c < t->channels; ++c)
        put_out(x[c], gain, out[c], n);
}

const Processor tone = {
    .size = sizeof(Tone),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .learned = {&tone_schema, offsetof(Tone, memory), offsetof(Tone, memory.version), restored},
};
