#include "bypass.h"

#include <math.h>

void bypass_init(Bypass *b, double rate, uint32_t latency, bool always_runs)
{
    *b = (Bypass){.always_runs = always_runs,
                  .settle = latency + (uint32_t)lround(BYPASS_SETTLE * rate),
                  .drain = latency + (uint32_t)lround(BYPASS_DRAIN * rate)};
    fade_init(&b->wet, rate, BYPASS_FADE);
    fade_init(&b->passing_gain, rate, BYPASS_FADE);
    fade_init(&b->heard, rate, BYPASS_FADE);
}

void bypass_restart(Bypass *b)
{
    fade_restart(&b->wet);
    fade_restart(&b->passing_gain);
    fade_restart(&b->heard);
    b->due = 0;
    b->asleep = false;
    b->piece = BYPASS_MIX;
}

/* ---- At grid points ---- */

static bool rests(const Fade *f)
{
    return fade_rests_at(f, false) || fade_rests_at(f, true);
}

void bypass_to(Bypass *b, bool on, bool passes)
{
    fade_to(&b->passing_gain, passes);
    b->on = on;
    if (b->wet.holds)
        return;
    fade_to(&b->wet, on);
    fade_to(&b->heard, on || b->always_runs);
}

/* Switches on: the processor hears its input first, and its output fades in when it has settled. */
static void come(Bypass *b)
{
    if (!fade_goes_to(&b->heard, true)) {
        fade_to(&b->heard, true);
        b->due = b->settle;
    }
    if (!b->due)
        fade_to(&b->wet, true);
}

static void leave(Bypass *b)
{
    fade_to(&b->wet, false);
    if (b->always_runs || !fade_rests_at(&b->wet, false) || !fade_goes_to(&b->heard, true))
        return;
    fade_to(&b->heard, false);
    b->due = b->drain;
}

static bool all_rest(const Bypass *b)
{
    return fade_rests_at(&b->wet, true) && fade_rests_at(&b->heard, true) && rests(&b->passing_gain);
}

void bypass_point(Bypass *b, bool ready)
{
    if (b->on && b->piece == BYPASS_NOTHING && rests(&b->passing_gain))
        return; /* it stays on, and nothing else can have begun to move */
    if (!b->on)
        leave(b);
    else if (!b->asleep || ready)
        come(b);
    b->asleep = fade_rests_at(&b->wet, false) && fade_rests_at(&b->heard, false) && !b->due;
    b->piece = b->asleep ? BYPASS_ASLEEP : all_rest(b) ? BYPASS_NOTHING : BYPASS_MIX;
}

/* ---- Audio ---- */

void bypass_hear(Bypass *b, float audio[][DSP_CELL], uint32_t channels, uint32_t n)
{
    b->due = b->due > n ? b->due - n : 0;
    if (fade_rests_at(&b->heard, true))
        return;
    for (uint32_t i = 0; i < n; ++i) {
        const double share = fade_step(&b->heard);
        for (uint32_t c = 0; c < channels; ++c)
            audio[c][i] = (float)(share * (double)audio[c][i]);
    }
}

void bypass_mix(Bypass *b, float dry[][DSP_CELL], uint32_t ins, float wet[][DSP_CELL], uint32_t outs, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const bool all_wet = fade_rests_at(&b->wet, true), all_dry = fade_rests_at(&b->wet, false);
        const double wet_weight = fade_step(&b->wet), passing = fade_step(&b->passing_gain);
        if (all_wet)
            continue;
        for (uint32_t c = 0; c < outs; ++c) {
            const uint32_t from = c < ins ? c : ins - 1;
            const float x = all_dry && passing == 1.0 ? dry[from][i] : dsp_undamaged(dry[from][i]);
            const double bypassed = passing * (double)x;
            wet[c][i] = (float)(all_dry ? bypassed : bypassed + wet_weight * ((double)wet[c][i] - bypassed));
        }
    }
}

void bypass_pass(Bypass *b, float dry[][DSP_CELL], uint32_t channels, uint32_t n)
{
    if (fade_rests_at(&b->passing_gain, true))
        return;
    for (uint32_t i = 0; i < n; ++i) {
        const double passing = fade_step(&b->passing_gain);
        for (uint32_t c = 0; c < channels; ++c)
            dry[c][i] = (float)(passing * (double)dsp_undamaged(dry[c][i]));
    }
}
