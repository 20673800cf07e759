#include "tone.h"

#include "design.h"
#include "units.h"

#include <string.h>

static const double BAND_TAU = 0.02; /* s, of each of the smoother's two poles; stepped once a cell */
static const ToneParams off = {
    .low_cut = 100.0,
    .dip = {{250.0, 0.0, 1.0, false}, {400.0, 0.0, 1.0, false}, {800.0, 0.0, 1.0, false}},
    .air_freq = 12000.0,
    .take_out = 5.0,
};

static void done(void *dsp);
static void reset(void *dsp);
static void set(void *dsp, const void *wanted);

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

static void done(void *dsp)
{
    Tone *t = dsp;
    partials_done(&t->partials);
    standstill_done(&t->standstill);
    resonance_done(&t->finder);
}

static void hear_nothing(Tone *t)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        bridge_reset(&t->bridge[c]);
    standstill_reset(&t->standstill);
    heard_before_reset(&t->repeats);
    partials_reset(&t->partials);
    resonance_stop(&t->finder);
    spectrum_ear_reset(&t->ear);
}

/* Makes the finder start: it may not have finished with what is remembered, and a repeat would bring no new piece. */
static void set_out(Tone *t)
{
    t->worked = 0;
    t->heard = 1;
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
    hear_nothing(t);
    t->listened = false;
    tone_memory_reset(&t->memory);
    set_out(t);
}

/* ---- What is learned ---- */

static void start_afresh(Tone *t)
{
    tone_memory_start_afresh(&t->memory);
    hear_nothing(t);
}

static void work_on_finding(Tone *t)
{
    Resonances found;
    if (resonance_step(&t->finder, &found))
        tone_memory_conclude(&t->memory, &found);
    if (!resonance_working(&t->finder) && t->heard != t->worked) {
        resonance_start(&t->finder, &t->memory.notes);
        t->worked = t->heard;
    }
}

void tone_hear_through(Tone *t, double now)
{
    t->before = now;
}

static void learn_block(Tone *t, double energy[SPECTRUM_BANDS])
{
    const double scale = db_to_power(-t->before);
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
        energy[b] *= scale;
    tone_memory_add_block(&t->memory, energy);
}

/* Whether the middle of the piece just completed lies in a repeat. */
static bool came_before(const Tone *t, const PartialsPiece *piece)
{
    const uint32_t half = piece->frames * partials_frame(&t->partials) / 2;
    return heard_before_at(&t->repeats, voice_lag(&t->partials.voice) + half);
}

/* Right after the switch from hold to learn, nothing has listened to the cell that has passed. */
static void tick_listening(Tone *t)
{
    const bool listened = t->listened;
    t->listened = t->params.learn;
    if (!t->params.learn)
        return;
    PartialsPiece piece;
    if (partials_tick(&t->partials, &piece) && !came_before(t, &piece)) {
        tone_memory_add_piece(&t->memory, &piece);
        ++t->heard;
    }
    if (t->repeats.remembered != t->remembered)
        tone_memory_stretched(&t->memory);
    t->remembered = t->repeats.remembered;
    const HeldFound held = partials_held(&t->partials);
    tone_memory_hold(&t->memory, &held);
    double energy[SPECTRUM_BANDS];
    if (listened && spectrum_ear_tick(&t->ear, energy))
        learn_block(t, energy);
    work_on_finding(t);
}

static void restored(void *dsp)
{
    Tone *t = dsp;
    t->still = 0;
    resonance_stop(&t->finder);
    heard_before_reset(&t->repeats);
    set_out(t);
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

/* ---- Where the bands go ---- */

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
        start_afresh(t);
    if (!p->learn)
        resonance_stop(&t->finder);
    tone_even_hurry(&t->even);
}

static double when_it_builds_up(Tone *t, uint32_t i, bool wanted)
{
    const ToneBand *band = &t->band[i];
    if (wanted && !t->watched[i])
        build_up_reset(&t->build_up[i]);
    t->watched[i] = wanted;
    return wanted ? build_up_tick(&t->build_up[i], exp2(band->octave.target), design_q(band->width.target)) : 1.0;
}

static void aim_dip(Tone *t, uint32_t i)
{
    const ToneParams *p = &t->params;
    const ToneDip *hand = &p->dip[i];
    ToneBand *goal = &t->goal[i];
    tone_band_follow(goal, &t->memory.found[i], p->take_out);
    const bool found = p->listening;
    double depth = found ? goal->db.value : hand->depth;
    const double octave = found ? goal->octave.value : t->hand_octave[i];
    const double width = found ? goal->width.value : hand->width;
    if (p->point_out == (TonePoint)(i + 1)) {
        smooth_to(&t->whole, depth - TONE_POINT_DB);
        depth = TONE_POINT_DB;
    }
    smooth_to(&t->band[i].octave, octave);
    smooth_to(&t->band[i].width, width);
    const double share = when_it_builds_up(t, i, hand->build_up);
    smooth_to(&t->band[i].db, depth > 0.0 ? depth : depth * share);
}

static void aim(Tone *t)
{
    if (t->params.point_out == TONE_POINT_NONE)
        smooth_to(&t->whole, 0.0);
    tone_cut_aim(&t->cut, t->memory.lowest_note, t->params.cut_listening, t->fresh);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        aim_dip(t, i);
    const bool air = t->params.point_out == TONE_POINT_AIR;
    if (air)
        smooth_to(&t->whole, -TONE_POINT_DB);
    tone_band_to(&t->band[TONE_AIR], t->hand_octave[TONE_AIR], air ? TONE_POINT_DB : t->params.air_lift, 1.0);
}

/* After a reset there is nothing to glide from. */
static void section_to(Tone *t, uint32_t section, const Svf *to)
{
    if (t->fresh)
        sos_jump_to(&t->filter, section, to);
    else
        sos_glide_to(&t->filter, section, to);
}

static void tick_low_cut(Tone *t)
{
    if (!t->fresh && tone_cut_settled(&t->cut))
        return;
    Svf mix[TONE_CUT_SECTIONS];
    tone_cut_step(&t->cut, mix);
    for (uint32_t i = 0; i < TONE_CUT_SECTIONS; ++i)
        section_to(t, i, &mix[i]);
}

/* Hz; worked out again only where `octave` has moved. */
static double hz_of(ToneHz *known, double octave)
{
    if (!(known->hz > 0.0) || known->octave != octave)
        *known = (ToneHz){octave, exp2(octave)};
    return known->hz;
}

/* Two things are left out: a dip that works only when it builds up, as it rests most of the time, and pointing out, as
 * the whole is lowered for it already. */
static ToneCurve curve_of(Tone *t)
{
    const ToneParams *p = &t->params;
    ToneCurve c = {.order = p->slope == TONE_CUT_OFF ? 0.0 : tone_cut_order(p->slope),
                   .low_cut = hz_of(&t->cut_hz, t->cut.octave.target),
                   .air_hz = p->air_freq,
                   .air_db = p->air_lift};
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        const ToneBand *goal = &t->goal[i];
        const ToneDip *hand = &p->dip[i];
        c.dip_hz[i] = p->listening ? hz_of(&t->goal_hz[i], goal->octave.value) : hand->freq;
        c.dip_octaves[i] = p->listening ? goal->width.value : hand->width;
        c.dip_db[i] = hand->build_up ? 0.0 : p->listening ? goal->db.value : hand->depth;
    }
    return c;
}

static void tick_even(Tone *t)
{
    const ToneMemory *m = &t->memory;
    const ToneCurve curve = curve_of(t);
    const bool on = t->params.even_loudness;
    if (t->fresh)
        tone_even_start(&t->even, &m->spectrum, m->spectrum_version, &curve, on);
    tone_even_tick(&t->even, &m->spectrum, m->spectrum_version, &curve, on);
    if (t->even_gain.holds && t->even.now == t->even_db)
        return;
    t->even_db = t->even.now;
    smooth_to(&t->even_gain, db_to_gain(t->even_db));
}

static void tick_band(Tone *t, uint32_t i)
{
    ToneBand *band = &t->band[i];
    if (!t->fresh && tone_band_settled(band))
        return;
    const double hz = exp2(smooth_step(&band->octave));
    const double db = smooth_step(&band->db);
    const double q = design_q(smooth_step(&band->width));
    const Biquad b = i == TONE_AIR ? design_high_shelf(hz, db, t->rate) : design_bell(hz, db, q, t->rate);
    const Svf section = svf_from_biquad(&b);
    section_to(t, TONE_CUT_SECTIONS + i, &section);
}

/* Cells without movement until ticks do nothing: a dip may jump to a finding a few cells before it sets out. */
enum { STILL = 8 };

/* true: nothing moves, and nothing listens. */
static bool rests(Tone *t)
{
    bool rest = !t->fresh && !t->params.learn && !t->listened && tone_cut_settled(&t->cut) &&
                smooth_settled(&t->whole) && smooth_settled(&t->even_gain);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        rest = rest && tone_band_settled(&t->band[i]);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        rest = rest && !t->watched[i] && tone_band_settled(&t->goal[i]);
    if (!rest || t->cut.goal != t->cut.note.octave)
        return false;
    const ToneCurve curve = curve_of(t);
    return tone_even_rests(&t->even, t->memory.spectrum_version, &curve, t->params.even_loudness);
}

static void tick(void *dsp)
{
    Tone *t = dsp;
    if (t->still == STILL) {
        sos_hush(&t->filter);
        return;
    }
    t->still = rests(t) ? t->still + 1 : 0;
    tick_listening(t);
    aim(t);
    tick_low_cut(t);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tick_band(t, i);
    tick_even(t);
    if (t->fresh)
        t->whole_gain = db_to_gain(t->whole.value);
    t->fresh = false;
    sos_hush(&t->filter);
}

static const float *mean_of(const float *const *x, uint32_t channels, uint32_t n, float mean[DSP_CELL])
{
    if (channels == 1)
        return x[0];
    for (uint32_t i = 0; i < n; ++i)
        mean[i] = 0.5f * (x[0][i] + x[1][i]);
    return mean;
}

static bool anybody_listens(const Tone *t)
{
    bool any = t->params.learn;
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        any = any || t->watched[i];
    return any;
}

/* The finder of resonances hears the sound with its holes bridged. */
static void hear_notes(Tone *t, const float *const *sound, uint32_t n)
{
    float whole[DSP_CHANNELS][DSP_CELL], mean[DSP_CELL];
    uint32_t came = 0;
    for (uint32_t c = 0; c < t->channels; ++c)
        came = bridge_process(&t->bridge[c], sound[c], whole[c], n);
    const float *const bridged[] = {whole[0], whole[1]};
    const float *const all = mean_of(bridged, t->channels, came, mean);
    came = standstill_process(&t->standstill, all, whole[0], came);
    heard_before_process(&t->repeats, &t->memory.stretches, whole[0], came);
    partials_process(&t->partials, whole[0], came);
}

/* Listens to the mean of the channels; a living one stands in for a dead one (living.h). */
static void listen(Tone *t, const float *const *in, uint32_t n)
{
    const float *sound[DSP_CHANNELS];
    float mean[DSP_CELL];
    if (!anybody_listens(t))
        return;
    living_process(&t->living, in, sound, n);
    const float *const x = mean_of(sound, t->channels, n, mean);
    if (t->params.learn) {
        hear_notes(t, sound, n);
        spectrum_ear_process(&t->ear, x, n);
    }
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        if (t->watched[i])
            build_up_process(&t->build_up[i], x, n);
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
    listen(t, in, n);
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
