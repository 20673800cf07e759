/* Check: tells if a take is usable, and what is wrong with it. The output is the input, to the bit.
 *
 * While it learns, every figure is that of all it has heard since learning began. On hold it does not listen: all
 * figures, the peak too, are of what was learned. They are made from a bounded memory alone (check_memory.h,
 * check_figures.h), so that a restored session shows the same ones and goes on from there. A figure moves within 10 ms
 * of what changed it; what depends on where the voice is comes about half a second after the sound. Learning started
 * afresh (hold -> learn while running) forgets everything.
 *
 * Of two channels: the voice level and the noise floor are the mean of both powers, peaks and clipped samples are of
 * both, hum, room, pops, clicks, breaths and notes are looked for in their half sum. For all of these, loudness too, a
 * living channel stands in for a dead one (living.h): a take with a dead channel shows the figures that it will have
 * once its living one is put on both. */
#ifndef LINCTUS_CHECK_H
#define LINCTUS_CHECK_H

#include "breaths.h"
#include "check_figures.h"
#include "clicks.h"
#include "clipping.h"
#include "decay.h"
#include "hearing.h"
#include "loudness.h"
#include "notes.h"
#include "phrases.h"
#include "pops.h"
#include "processor.h"
#include "rests.h"
#include "true_peak.h"
#include "work.h"

typedef struct {
    bool learn; /* true: go on hearing; false: hold. Hold -> learn starts afresh */
} CheckParams;

typedef struct {
    double rate;
    uint32_t channels;
    CheckParams params;
    LearnSwitch learn;

    Hearing hearing;
    Rests rests;
    Decay decay;
    Pops pops;
    Breaths breaths;
    Clicks clicks;
    Notes notes;
    Phrases phrases;
    LoudnessNow loudness;
    uint64_t hops; /* of loudness, that were taken */
    TruePeak true_peak;
    float cell_peak;
    Clipping clipping[DSP_CHANNELS];
    uint32_t cell_clipped;

    CheckMemory memory;
    uint32_t version;
    double began;       /* s since learning began, as of the last reset or restore */
    uint64_t cells;     /* since then */
    uint32_t step;      /* of check_figures_step(), round and round; */
    Work pace;          /* in those steps */
    uint32_t rounds;    /* of them to do, before the report stands for the memory */
    CheckReport draft;  /* what the steps have found so far */
    CheckReport report; /* the last that was whole */
    uint32_t news;      /* reports that were */
} Check;

/* No latency: what comes in goes out, to the bit. */
extern const Processor check;

#endif
