/* Rests: turns down what lies between the phrases, noise and breath each by as much as is asked, and no word.
 *
 * It learns how loud the voice is and how far the room's noise swings in its rests (rests_memory.h), and tells rests,
 * breaths and phrases apart as they come (rest_finder.h). The whole sound is turned down, without a step: from 120 ms
 * after a phrase's last sound on, over `closing`; and up again, within 8 ms, before the next phrase begins: the delay
 * makes up for that and for the finding. A breath moves it from the one amount to the other at 0.15 dB a ms. In a
 * phrase nothing is turned down: there the output is the input, 15 ms later, to the bit; so it is throughout until the
 * rests are known, and where the voice lies less than 15 dB over them.
 *
 * A living channel stands in for a dead one (living.h); both are turned down alike. It only ever turns down. On hold
 * nobody listens for a voice. */
#ifndef LINCTUS_RESTS_DOWN_H
#define LINCTUS_RESTS_DOWN_H

#include "delay.h"
#include "fade.h"
#include "processor.h"
#include "rest_finder.h"
#include "rests_memory.h"
#include "smooth.h"

typedef struct {
    double noise_down;  /* dB, 0..40: by how much a rest is turned down, */
    double breath_down; /* dB, 0..40: a breath */
    double sound_over;  /* dB, 0..12: so far over the noise's own swings something sounds */
    double closing;     /* ms, 50..1000: of the way from 0 dB to the lower */
    bool learn;         /* keep learning; false holds. Hold -> learn starts afresh */
    bool hear_removed;  /* puts out only what is taken away */
} RestsParams;

typedef struct {
    double voice_level, noise_level; /* dB: what was learned; UNITS_DB_FLOOR: not yet, or not enough of it */
    bool resting;                    /* what comes out now is taken for a rest */
    double down;                     /* dB, now: 0 or more */
    uint32_t at_rest;                /* s since the last reset or fresh start of learning that were a rest, 0..65535 */
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
    uint64_t heard, ends_at, filling, waiting; /* samples; where the frame under way ends; numbers of frames */
    uint32_t cells;                            /* of the frame under way */
    RestsFrame ring[LISTENING_FRAMES];

    Living living;
    RestBands bands;
    RestFinder finder;

    double wanted;          /* dB, 0 or less, before smoothing */
    Smooth down;            /* dB; stepped once a cell */
    double gain, gain_step; /* of this sample, and what each adds; */
    double next;            /* after this cell */
    double at_rest;         /* s, in all */
    Fade hear;
    Delay delay[DSP_CHANNELS];
    RestsReport report;
} RestsDown;

/* Latency: 15 ms. */
extern const Processor rests;

#endif
