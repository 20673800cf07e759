#include "audio.h"

#include "damage.h"

/* ---- Life ---- */

bool audio_init(Audio *a, const ShellVariant *variant, void *dsp, uint32_t latency, Bypass *bypass)
{
    a->variant = variant;
    a->dsp = dsp;
    a->latency = latency;
    a->bypass = bypass;
    a->dry = processor_lines(shell_plugin.processor, dsp);
    if (a->dry)
        return true;
    a->dry = a->kept;
    return delays_init(a->kept, variant->ins, latency);
}

void audio_done(Audio *a)
{
    delays_done(a->kept);
}

void audio_reset(Audio *a)
{
    delays_reset(a->dry, a->variant->ins);
}

/* ---- Connections ---- */

static uintptr_t frames_between(const float *a, const float *b)
{
    const uintptr_t from = (uintptr_t)a, to = (uintptr_t)b;
    return (from < to ? to - from : from - to) / sizeof *a;
}

static uintptr_t fewer(uintptr_t one, uintptr_t other)
{
    return one < other ? one : other;
}

/* The most frames of a run whose outputs may be written directly: each output lies at least that far from every other
 * buffer, but may be the memory of an input. 0: an output is not connected. */
static uintptr_t frames_apart(const Audio *a)
{
    uintptr_t frames = UINTPTR_MAX;
    for (uint32_t o = 0; o < a->variant->outs; ++o) {
        const float *out = a->out[o];
        for (uint32_t c = 0; c < a->variant->ins; ++c)
            if (a->in[c] && out != a->in[c])
                frames = fewer(frames, frames_between(out, a->in[c]));
        for (uint32_t other = 0; other < o; ++other)
            frames = fewer(frames, frames_between(out, a->out[other]));
        frames = out ? frames : 0;
    }
    return frames;
}

void audio_connect(Audio *a, uint32_t port, float *data)
{
    if (port < a->variant->ins)
        a->in[port] = data;
    else if (port - a->variant->ins < a->variant->outs)
        a->out[port - a->variant->ins] = data;
    a->apart = frames_apart(a);
}

void audio_begin(Audio *a, uint32_t n)
{
    a->direct = n <= a->apart;
}

/* ---- A piece ---- */

/* The processor itself keeps its input. */
static bool is_kept(const Audio *a)
{
    return a->dry != a->kept;
}

static const float *input(const Audio *a, uint32_t c, uint32_t at)
{
    static const float silence[DSP_CELL];
    return a->in[c] ? a->in[c] + at : silence;
}

/* Copies the input for the bypass: the outputs may be the same memory as the inputs. */
static void read_dry(const float *in, float *dry, uint32_t n)
{
    if (damage_is_none(in, n))
        dsp_copy(dry, in, n);
    else
        damage_keep_finite(in, dry, n);
}

/* Keeps the input in the delay lines for the bypass. */
static void keep_dry(Audio *a, const float *const *in, bool damaged, uint32_t n)
{
    float finite[DSP_CHANNELS][DSP_CELL];
    if (!damaged) {
        delays_write(a->dry, a->variant->ins, in, n);
        return;
    }
    for (uint32_t c = 0; c < a->variant->ins; ++c)
        damage_keep_finite(in[c], finite[c], n);
    delays_write(a->dry, a->variant->ins, (const float *const[]){finite[0], finite[1]}, n);
}

static void write_audio(const Audio *a, uint32_t at, uint32_t n, float audio[][DSP_CELL], uint32_t channels)
{
    for (uint32_t o = 0; o < a->variant->outs; ++o)
        if (a->out[o])
            dsp_copy(a->out[o] + at, audio[o < channels ? o : channels - 1], n);
}

/* Delays what is to be bypassed. written: the processor has just kept what it heard; this takes its place. */
static void delay_dry(Audio *a, bool written, float dry[][DSP_CELL], uint32_t n)
{
    for (uint32_t c = 0; c < a->variant->ins && a->latency; ++c) {
        Delay *d = &a->dry[c];
        if (written)
            delay_rewrite(d, dry[c], n);
        else
            delay_write(d, dry[c], n);
        delay_read(d, a->latency, dry[c], n);
        d->raw = true;
    }
}

static void process_and_mix(Audio *a, uint32_t at, uint32_t n)
{
    const uint32_t ins = a->variant->ins, outs = a->variant->outs;
    float clean[DSP_CHANNELS][DSP_CELL], dry[DSP_CHANNELS][DSP_CELL], wet[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < ins; ++c) {
        damage_remove(input(a, c, at), clean[c], n);
        read_dry(input(a, c, at), dry[c], n);
    }
    bypass_hear(a->bypass, clean, ins, n);
    shell_plugin.processor->cell(a->dsp, (const float *const[]){clean[0], clean[1]}, (float *const[]){wet[0], wet[1]},
                                 n);
    delay_dry(a, is_kept(a), dry, n);
    bypass_mix(a->bypass, dry, ins, wet, outs, n);
    write_audio(a, at, n, wet, outs);
}

/* Nothing fades: reads the host's memory, and writes to it directly where that is safe. Damage that is to be kept takes
 * the longer way. */
static void process_alone(Audio *a, uint32_t at, uint32_t n)
{
    const float *in[DSP_CHANNELS] = {NULL};
    float clean[DSP_CHANNELS][DSP_CELL], wet[DSP_CHANNELS][DSP_CELL];
    float *out[DSP_CHANNELS] = {wet[0], wet[1]};
    bool damaged = false;
    for (uint32_t c = 0; c < a->variant->ins; ++c) {
        in[c] = input(a, c, at);
        damaged = !damage_is_none(in[c], n) || damaged;
    }
    if (damaged && is_kept(a)) {
        process_and_mix(a, at, n);
        return;
    }
    if (a->latency && !is_kept(a))
        keep_dry(a, in, damaged, n);
    for (uint32_t c = 0; c < a->variant->ins && damaged; ++c) {
        damage_remove(in[c], clean[c], n);
        in[c] = clean[c];
    }
    for (uint32_t o = 0; o < a->variant->outs && a->direct; ++o)
        out[o] = a->out[o] + at;
    shell_plugin.processor->cell(a->dsp, in, out, n);
    if (!a->direct)
        write_audio(a, at, n, wet, a->variant->outs);
}

static void pass_by(Audio *a, uint32_t at, uint32_t n)
{
    float dry[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < a->variant->ins; ++c)
        read_dry(input(a, c, at), dry[c], n);
    delay_dry(a, false, dry, n);
    bypass_pass(a->bypass, dry, a->variant->ins, n);
    write_audio(a, at, n, dry, a->variant->ins);
}

void audio_run(Audio *a, uint32_t at, uint32_t n)
{
    switch (a->bypass->piece) {
    case BYPASS_NOTHING:
        process_alone(a, at, n);
        break;
    case BYPASS_MIX:
        process_and_mix(a, at, n);
        break;
    case BYPASS_ASLEEP:
        pass_by(a, at, n);
        break;
    }
}

/* ---- Several cells at once ---- */

static bool are_plain(const Audio *a, uint32_t at, uint32_t cells)
{
    bool plain = a->direct && a->bypass->piece == BYPASS_NOTHING;
    for (uint32_t c = 0; c < a->variant->ins; ++c)
        plain = plain && a->in[c] && damage_is_none(a->in[c] + at, cells * DSP_CELL);
    return plain;
}

bool audio_run_cells(Audio *a, uint32_t at, uint32_t cells)
{
    const float *in[DSP_CHANNELS] = {NULL};
    float *out[DSP_CHANNELS] = {NULL};
    if (!are_plain(a, at, cells))
        return false;
    for (uint32_t c = 0; c < a->variant->ins; ++c) {
        in[c] = a->in[c] + at;
        for (uint32_t k = 0; k < cells && a->latency && !is_kept(a); ++k)
            delay_write(&a->dry[c], in[c] + (size_t)k * DSP_CELL, DSP_CELL);
    }
    for (uint32_t o = 0; o < a->variant->outs; ++o)
        out[o] = a->out[o] + at;
    shell_plugin.processor->cells(a->dsp, in, out, cells);
    return true;
}
