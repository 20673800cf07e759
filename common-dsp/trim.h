/* Trim: measures the voice while it sounds and sets one steady gain. */
#ifndef LINCTUS_TRIM_H
#define LINCTUS_TRIM_H

#include "learned.h"
#include "dsp.h"

typedef struct {
    double target;    /* dB, plain RMS: where the voice should lie, -30..-10 */
    bool learn;       /* true: keep improving the gain; false: hold it */
    double hand_trim; /* dB, added to the learned gain, -24..24: not held by the ceiling, can make things loud */
    double ceiling;   /* dBTP, -6..0: the learned gain never pushes the highest peak heard past it */
} TrimParams;

typedef struct {
    double voice_level; /* dB, plain RMS; -70: none heard */
    double gain;        /* dB, now */
    double peak;        /* dBTP: highest true peak of the input since the reset; -70 or less: silence */
    double clipped;     /* clipped samples found in the input since the reset */
    bool in_window;     /* the voice after the gain lies in -24..-12 dB */
    bool held_back;     /* the ceiling limits the learned gain */
} TrimReport;

typedef struct Trim Trim;

extern const LearnedSchema trim_schema;

bool trim_init(Trim *t, double rate, uint32_t channels);
void trim_done(Trim *t);
void trim_reset(Trim *t);
void trim_set(Trim *t, const TrimParams *params);
void trim_process(Trim *t, const float *const *in, float *const *out, uint32_t n);
void trim_report(const Trim *t, TrimReport *report);
uint32_t trim_latency(const Trim *t); /* 0 */
void trim_learned_get(const Trim *t, Learned *learned);
void trim_learned_put(Trim *t, const Learned *learned);

#endif
