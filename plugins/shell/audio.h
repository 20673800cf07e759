/* The way of audio through a plug-in, a piece at a time: from the host's inputs, with damage (damage.h) taken out,
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
    uintptr_t apart;         /* frames: a run up to this long may write its outputs before all inputs are read */
    bool direct;             /* this run writes straight into the host's memory */
    Delay dry[DSP_CHANNELS]; /* the inputs, for when they are to be bypassed */
} Audio;

/* The struct is zeroed; variant, dsp and bypass have to outlive it. latency: samples. false: no memory. */
bool audio_init(Audio *a, const ShellVariant *variant, void *dsp, uint32_t latency, Bypass *bypass);
void audio_done(Audio *a);  /* safe on a zeroed one */
void audio_reset(Audio *a); /* forgets what was heard */

/* port: inputs first, then outputs; beyond them nothing happens. data: NULL disconnects it. Buffers may be shared. */
void audio_connect(Audio *a, uint32_t port, float *data);

/* A run of n frames begins. */
void audio_begin(Audio *a, uint32_t n);

/* The n frames from frame `at` of this run on, all within one cell. */
void audio_run(Audio *a, uint32_t at, uint32_t n);

/* Several whole cells from frame `at` on, with the processor's cells(), which works at their grid points too. false:
 * something fades, is damaged or has to be copied, and nothing was done. */
bool audio_run_cells(Audio *a, uint32_t at, uint32_t cells);

#endif
