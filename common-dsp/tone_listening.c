#include "tone_listening.h"

#include "units.h"

/* ---- At grid points ---- */

void tone_hear_nothing(Tone *t)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        bridge_reset(&t->bridge[c]);
    standstill_reset(&t->standstill);
    heard_before_reset(&t->repeats);
    partials_reset(&t->partials);
    resonance_stop(&t->finder);
    spectrum_ear_reset(&t->ear);
}

void tone_look_anew(Tone *t)
{
    t->worked = 0;
    t->heard = 1;
}

void tone_learn_afresh(Tone *t)
{
    tone_memory_start_afresh(&t->memory);
    tone_hear_nothing(t);
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

/* Whether the middle of the last frames lies in a repeat. */
static bool came_before(const Tone *t, uint32_t frames)
{
    const uint32_t half = frames * partials_frame(&t->partials) / 2;
    return heard_before_at(&t->repeats, voice_lag(&t->partials.voice) + half);
}

/* Right after the switch from hold to learn, nothing has listened to the cell that has passed. */
void tone_listening_tick(Tone *t)
{
    const bool listened = t->listened;
    t->listened = t->params.learn;
    if (!t->params.learn)
        return;
    PartialsPiece piece;
    if (partials_tick(&t->partials, &piece) && !came_before(t, piece.frames)) {
        tone_memory_add_piece(&t->memory, &piece);
        ++t->heard;
    }
    if (t->repeats.remembered != t->remembered)
        tone_memory_stretched(&t->memory);
    t->remembered = t->repeats.remembered;
    const HeldFound held = partials_held(&t->partials);
    if (held.frames && !came_before(t, held.frames))
        tone_memory_hold(&t->memory, &held);
    double energy[SPECTRUM_BANDS];
    if (listened && spectrum_ear_tick(&t->ear, energy))
        learn_block(t, energy);
    work_on_finding(t);
}

/* ---- The sound ---- */

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

void tone_listen(Tone *t, const float *const *in, uint32_t n)
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
