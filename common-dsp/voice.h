/* Is a voice sounding? Tells voiced sound (sung or spoken vowels and their like) from rests, room noise, hiss, breath
 * and mains hum, independent of level: the same answer for the same take at any gain, down to -70 dBFS and below.
 *
 * It listens to one channel (a stereo caller hands it the sum). The answer changes every 10 ms and comes voice_lag()
 * samples after the sound it speaks of: about 0.4 s, because a hum is told from a held note by how steady it stays.
 *
 * A frame is voice if it has a pitch (pitch.h) from 60 to 1100 Hz, belongs to a stretch of pitch of 50 ms or more, and
 * is not hum. It is hum if for a quarter of a second before it or after it the pitch is a multiple of 50 or 60 Hz
 * within 1.3 %, keeps still, and the sound repeats itself after 100 ms, where mains of both kinds come round. */
#ifndef LINCTUS_VOICE_H
#define LINCTUS_VOICE_H

#include "dsp.h"
#include "pitch.h"

enum {
    VOICE_AHEAD = 25, /* frames judged after the one in question */
    VOICE_BACK = 25,  /* and before it */
    VOICE_FRAMES = VOICE_BACK + 1 + VOICE_AHEAD,
};

typedef struct {
    Pitch pitch;
    PitchFrame frame[VOICE_FRAMES]; /* a ring; at `oldest` the oldest */
    uint32_t oldest;
    bool sounding;
    double hz;
} Voice;

/* Allocates. false: no memory or rate out of range. */
bool voice_init(Voice *v, double rate);
void voice_done(Voice *v);
void voice_reset(Voice *v);

/* Any n. */
void voice_process(Voice *v, const float *in, uint32_t n);

/* As of the last 10 ms frame. */
bool voice_sounding(const Voice *v);
double voice_pitch(const Voice *v); /* Hz, 60..1100; 0 while no voice sounds */

/* Samples between a sound and the answer about it. */
uint32_t voice_lag(const Voice *v);

#endif
