/* A repair that knows the whole take: in the place of the Hum plug-in, which hears it as it comes, the hum that all of
 * the take tells (hum_track.h). It hears the takes in the pass in which the plug-in listens, and takes the hum out in
 * the next. Where the whole take tells no hum, or a stretch of it not where the hum stands, the plug-in's own output
 * stands. */
#ifndef LINCTUS_HARNESS_HUM_WHOLE_H
#define LINCTUS_HARNESS_HUM_WHOLE_H

#include "hum_points.h"
#include "hum_track.h"
#include "readings.h"
#include "sink.h"

#include <stddef.h>

/* What is known of one take. Zero it to begin with. */
typedef struct {
    float *point[DSP_CHANNELS];
    size_t points, room;
    double rate;
    uint32_t channels;
    HumTrack track; /* what to take out, once it is settled */
} HumWhole;

void hum_whole_free(HumWhole *w); /* safe on a zeroed struct, and twice */

/* Hears one take. Nothing of it has to be freed. */
typedef struct {
    Sink sink;
    HumWhole *whole;
    HumPoints points[DSP_CHANNELS];
    Block block;
} HumWholeHearing;

void hum_whole_hear(HumWholeHearing *h, HumWhole *whole, uint32_t channels, double rate);

/* Settles what is taken out of each of the takes. hum: the plug-in's readings, which tell whether it found a hum, of
 * which mains and how loud; where it found none, none is looked for. false: out of memory. */
bool hum_whole_settle(HumWhole *whole, uint32_t takes, const Readings *hum, Error *e);

/* As the plug-in's controls of the same names. */
typedef struct {
    double hum_down, up_to; /* dB, Hz */
    bool hear_removed;
} HumWholeAsked;

/* Plays frames from number `at` on: n of them, a whole number of DSP_CELL. `out` holds what the plug-in put out, and
 * keeps it where nothing is settled or told. */
void hum_whole_play(const HumWhole *w, const HumWholeAsked *asked, uint64_t at, const float *const *in,
                    float *const *out, uint32_t n);

/* Energies of what came in and of what was taken out of it, all channels together. Zero it to begin with. */
typedef struct {
    double in, gone;
} HumWholeTaken;

/* Counts n frames that hum_whole_play() has played: what the plug-in took out where its output stands, too. */
void hum_whole_count(HumWholeTaken *t, bool hear_removed, uint32_t channels, const float *const *in,
                     const float *const *out, uint32_t n);

/* As the plug-in's taken_in_all, of the whole take: dB; UNITS_DB_FLOOR: nothing. */
double hum_whole_taken(const HumWholeTaken *t);

#endif
