/* The path of the audio through a plug-in, a piece at a time: from the host's inputs, with damage (damage.h) removed,
 * through the processor, or past it where the bypass (bypass.h) says so, to the host's outputs. */
#ifndef LINCTUS_AUDIO_H
#define LINCTUS_AUDIO_H

#include "bypass.h"
#include "delay.h"
#include "shell.h"

typedef struct {
    const ShellVariant *variant;
    void *dsp; /* the processor's struct */
    uint32_t latency;
    Bypass *bypass;

    const float *in[DSP_CHANNELS]; /* NULL: not connected */
    float *out[DSP_CHANNELS];
    uintptr_t apart; /* frames: a run of up to this many may write outputs before all inputs are read */
    bool direct;     /* this run writes straight into the host's memory */
    Delay *dry;      /* the inputs, kept for the bypass: the processor's own lines, or else `kept` */
    Delay kept[DSP_CHANNELS];
} Audio;

/* The struct is zeroed; variant, dsp and bypass have to outlive it. latency: samples. false: no memory. */
bool audio_init(Audio *a, const ShellVariant *variant, void *dsp, uint32_t latency, Bypass *bypass);
void audio_done(Audio *a);  /* safe on a zeroed one */
void audio_reset(Audio *a); /* forgets what was heard */

/* port: inputs first, from 0, then outputs; any further number does nothing. data: NULL disconnects it. Buffers may be
 * shared. */
void audio_connect(Audio *a, uint32_t port, float *data);

/* A run of n frames begins. */
void audio_begin(Audio *a, uint32_t n);

/* Processes n frames of this run from frame `at` on, all within one cell. */
void audio_run(Audio *a, uint32_t at, uint32_t n);

/* Processes whole cells from frame `at` on with the processor's cells(), which does the work at their grid points too.
 * Does nothing and returns false if the bypass is fading or asleep, an input is damaged or not connected, or the
 * outputs cannot be written directly. */
bool audio_run_cells(Audio *a, uint32_t at, uint32_t cells);

#endif
