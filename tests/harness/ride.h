/* A repair that knows the whole take: in the place of the Phrase plug-in, which hears it as it comes, one gain for each
 * phrase (phrase_ride.h). It hears the takes in the pass in which the plug-in listens, and plays them in the next. */
#ifndef LINCTUS_HARNESS_RIDE_H
#define LINCTUS_HARNESS_RIDE_H

#include "phrase_ride.h"
#include "readings.h"
#include "sink.h"

#include <stddef.h>

/* What is known of one take. Zero it to begin with. */
typedef struct {
    TakeFrame *frame;
    size_t frames, room;
    PhraseSpan *span; /* the plan's */
    PhraseRide plan;  /* what to play, once it is settled */
} Ride;

void ride_free(Ride *r); /* safe on a zeroed struct, and twice */

/* Hears one take. Followed by ride_hearing_free() in any case. */
typedef struct {
    Sink sink;
    Ride *ride;
    TakeFrames frames;
    Block block;
    uint64_t taken; /* samples */
    double rate;
} RideHearing;

bool ride_hear(RideHearing *h, Ride *ride, uint32_t channels, double rate, Error *e);
void ride_hearing_free(RideHearing *h); /* safe on a zeroed struct, and twice */

/* Settles what is played of takes that belong together, all of which were heard: one level for all of their phrases.
 * phrase: the plug-in's readings, which hold what was asked for. false: out of memory. */
bool ride_settle(Ride *ride, uint32_t takes, const Readings *phrase, Error *e);

/* Plays frames from number `at` on: n of them, up to STAGE_BLOCK; `at` is a multiple of DSP_CELL. */
void ride_play(const Ride *r, uint64_t at, double rate, const float *const *in, float *const *out, uint32_t channels,
               uint32_t n);

/* What it does to a take. */
typedef struct {
    uint32_t phrases;     /* that have a level */
    double before, after; /* dB, from the faintest of them to the loudest; 0 with fewer than two */
    double down, up;      /* dB: the lowest and the highest gain of a phrase, without the makeup */
    double makeup;        /* dB, on all of them alike */
} RideDid;

RideDid ride_did(const Ride *r);

#endif
