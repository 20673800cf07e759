/* A plug-in on hold that a take goes through. */
#ifndef LINCTUS_HARNESS_MIX_H
#define LINCTUS_HARNESS_MIX_H

#include "hum_whole.h"
#include "level.h"
#include "readings.h"
#include "ride.h"
#include "sink.h"
#include "stage.h"
#include "trace.h"

typedef struct {
    double level, loudness, peak; /* dB RMS, LUFS, dBFS: see level.h */
} Figures;

/* What a plug-in did to a take. */
typedef struct {
    Figures in, out;
    Readings readings;
    uint64_t frames;   /* of what came out */
    uint32_t channels; /* likewise */
    double tail;       /* seconds it went on after the take */
} Effect;

void effect_free(Effect *effect); /* safe on a zeroed struct, and twice */

/* A control pinned to a value, whatever the plan says. symbol NULL: none. */
typedef struct {
    const char *symbol;
    float value;
} Pin;

/* One take's way through a plug-in:
 *
 *     Mix m;
 *     mix_start(&m, &plan, channels, rate, state, pin, &e);
 *     m.effect = &effect;
 *     sinks_add(&m.to, &next.sink);
 *     m.sink.write(...); ... m.sink.end(...);      ends the sinks behind it too
 *     mix_free(&m);                                in any case
 *
 * What is passed on lines up with the take: latency is taken off. It is as long as the take, or, from a reverberator,
 * until what comes out stays under -100 dBFS. */
typedef struct {
    Sink sink;
    Sinks to;
    Effect *effect; /* set by the caller, zeroed, freed by it too; NULL: nothing is measured */
    const Effect
        *before;        /* of the plug-in whose output comes in: what went in need not be measured again. NULL: it is */
    const Effect *like; /* of a mix that ends first: this one gets as long, tail or not. NULL: as above */
    const Ride *ride;   /* plays in the place of the plug-in; NULL: none does */
    const HumWhole
        *hum; /* takes the hum out in the place of the plug-in, which runs for its other read-outs; NULL: none */
    HumWholeTaken taken; /* of hum, where that takes it out */
    Trace *trace;        /* follows its ports; NULL: none */
    const StagePlan *plan;
    Instance *i;
    double rate;
    Block in, out;
    Level level_in, level_out;
    float *held[DSP_CHANNELS]; /* after the take: what is silence if nothing louder follows */
    uint64_t holds;            /* frames of it */
    uint64_t played;           /* frames, whole blocks */
    uint64_t frames;           /* of the take, so far */
    uint64_t wanted, most;     /* frames to pass on at least and at most; known at the end of the take */
    uint64_t written;          /* frames passed on or held */
    uint64_t last_loud;        /* one past the last of them above -100 dBFS */
    uint64_t patience;         /* frames of silence that end a tail */
    uint32_t skip;             /* frames of latency still to drop */
} Mix;

/* A fresh instance on hold. state: what it has learned, as Turtle; NULL: nothing. */
bool mix_start(Mix *m, const StagePlan *plan, uint32_t channels, double rate, const char *state, Pin pin, Error *e);
void mix_free(Mix *m); /* safe on a zeroed struct, and twice */

/* Channels that come out, and the most frames that can come of so many. */
uint32_t mix_channels(const Mix *m);
uint64_t mix_most(const Mix *m, uint64_t frames);

#endif
