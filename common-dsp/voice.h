/* Is a voice sounding? Tells voiced sound (sung or spoken vowels and their like) from rests, room noise, hiss, breath
 * and mains hum, independent of level: the same answer for the same take at any gain above -70 dBFS.
 *
 * It listens to one channel (a stereo caller hands it the sum). The answer changes every 10 ms and comes voice_lag()
 * samples after the sound it speaks of. */
#ifndef LINCTUS_VOICE_H
#define LINCTUS_VOICE_H

#include "dsp.h"

typedef struct Voice Voice;

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
