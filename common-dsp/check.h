/* Check: tells whether a take is usable, and what is wrong with it. The output is the input, to the bit.
 *
 * On learn, every figure is that of all it has heard since learning began. On hold it does not listen, and all figures,
 * the peak too, are those of what was learned. They follow from a bounded memory alone (check_memory.h,
 * check_figures.h), so a restored session shows the same figures and goes on from there. A figure moves within 10 ms of
 * what changed it; one that depends on where the voice is follows about half a second after the sound. Learning started
 * afresh (hold -> learn while running) forgets everything.
 *
 * Of two channels: voice level and noise floor are the mean of both powers; peaks, tops and clipped samples are those
 * of both; hum, room, pops, clicks, breaths and notes are looked for in the half sum. For all of these, and for
 * loudness, a living channel stands in for a dead one (living.h): the figures are those that the take will have once
 * its living channel is put on both. */
#ifndef LINCTUS_CHECK_H
#define LINCTUS_CHECK_H

#include "breaths.h"
#include "check_figures.h"
#include "clicks.h"
#include "clipping.h"
#include "decay.h"
#include "flat_tops.h"
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
    uint64_t hops; /* hops of `loudness` that were counted */
    TruePeak true_peak;
    float cell_peak; /* linear: highest true peak of this cell, if it passes that of the memory */
    Clipping clipping[DSP_CHANNELS];
    uint32_t cell_clipped; /* clipped samples of this cell */
    FlatTops flat_tops[DSP_CHANNELS];

    CheckMemory memory;
    uint32_t version;   /* of the memory */
    double began;       /* s since learning began, at the last reset or restore */
    uint64_t cells;     /* since then */
    uint32_t step;      /* the next one of check_figures_step() */
    Work pace;          /* spreads these steps over the cells */
    uint32_t rounds;    /* rounds of steps until the report is that of the memory */
    CheckReport draft;  /* what the steps have found so far */
    CheckReport report; /* the last complete one */
    uint32_t news;      /* complete reports so far */
} Check;

/* No latency. */
extern const Processor check;

#endif
