/* Rests: turns down what lies between the phrases, noise and breath each by its own amount, and never a word.
 *
 * It learns how loud the voice is and how far the room's noise swings in its rests (rests_memory.h), and tells rests,
 * breaths and phrases apart as they come (rest_finder.h). The whole sound is turned down, without a step: it starts
 * down 120 ms after a phrase's last sound and takes `closing`; it is up again within 8 ms, before the next phrase
 * begins, which the latency of 15 ms allows for. A breath moves it from one amount to the other at 0.3 dB a ms or
 * faster. In a phrase the output is the input, 15 ms later, to the bit; so it is everywhere until the rests are known,
 * and where the voice lies less than 15 dB over them.
 *
 * A living channel stands in for a dead one (living.h); both are turned down alike. It only ever turns down. On hold it
 * does not listen for a voice. */
#ifndef LINCTUS_RESTS_DOWN_H
#define LINCTUS_RESTS_DOWN_H

#include "delay.h"
#include "fade.h"
#include "processor.h"
#include "rest_finder.h"
#include "rests_memory.h"
#include "smooth.h"

typedef struct {
    double noise_down;  /* dB, 0..40: by how much a rest is turned down */
    double breath_down; /* dB, 0..40: by how much a breath is turned down */
    double sound_over;  /* dB, 0..12: added to the thresholds, which lie over the noise's own swings */
    double closing;     /* ms, 50..1000: from 0 dB down to the larger of the two amounts */
    bool learn;         /* keep learning; false holds. Hold -> learn starts afresh */
    bool hear_removed;  /* the output is only what is taken away */
} RestsParams;

typedef struct {
    double voice_level, noise_level; /* dB: what was learned; UNITS_DB_FLOOR: not yet, or not enough of it */
    bool resting;                    /* a rest, or a breath in one, is heard now */
    double down;                     /* dB by which the sound is turned down now, 0 or more */
    uint32_t at_rest;                /* s of rest since the last reset or fresh start of learning, 0..65535 */
} RestsReport;

typedef struct {
    double rate;
    uint32_t channels, latency;
    RestsParams params;
    LearnSwitch learn;
    RestsMemory memory;
    RestsFigures figures;
    uint32_t version; /* of the memory */

    /* learning */
    Listening listening;
    RestsHearing hearing;
    uint64_t filling; /* number of the frame under way */
    uint32_t cells;   /* of it so far */
    RestsFrame ring[LISTENING_FRAMES];

    Living living;
    RestBands bands;
    RestFinder finder;

    double wanted;          /* dB, 0 or less, before smoothing */
    Smooth down;            /* dB; stepped once a cell */
    double gain, gain_step; /* at this sample, and added with each sample */
    double next;            /* gain at the end of this cell */
    double at_rest;         /* s of rest, in all */
    Fade hear;
    Delay delay[DSP_CHANNELS];
    RestsReport report;
} RestsDown;

/* Latency: 15 ms. */
extern const Processor rests;

#endif
