/* Is a voice sounding? Tells voiced sound (sung or spoken vowels and their like) from rests, room noise, hiss, breath
 * and mains hum, independent of level: the same answer for the same take at any gain, down to -70 dBFS and below. The
 * method, this project's own: voice.md.
 *
 * It listens to one channel (a stereo caller hands it the sum). The answer changes every 10 ms and comes voice_lag()
 * samples after the sound it speaks of: about 0.37 s, because a hum is told from a held note by how steady it stays.
 *
 * Limit: a note held dead straight for a quarter of a second, the same sound throughout, on a multiple of the mains is
 * taken for hum. Vibrato, or what a person calls straight, moves more. */
#ifndef LINCTUS_VOICE_H
#define LINCTUS_VOICE_H

#include "dsp.h"
#include "pitch.h"

enum {
    VOICE_AHEAD = 25, /* frames judged after the one in question */
    VOICE_BACK = 12,  /* and before it */
    VOICE_FRAMES = VOICE_BACK + 1 + VOICE_AHEAD,
};

/* A hum that was heard. Powers are mean squares of what is periodic; 0: none heard. */
typedef struct {
    double mains;     /* 50 or 60 Hz */
    double deviation; /* of the mains from it: 0.01 is 1 % sharp */
    double power;
    uint32_t heard;     /* in so many windows */
    double mixed_power; /* of a mixture of both families */
} VoiceHum;

typedef struct {
    Pitch pitch;
    double fade, fade_quick;        /* of a hum's memory, power per frame */
    PitchFrame frame[VOICE_FRAMES]; /* a ring; at `oldest` the oldest */
    uint32_t oldest;
    VoiceHum hum;
    bool sounding;
    double hz;
} Voice;

/* Allocates. false: no memory or rate out of range. */
bool voice_init(Voice *v, double rate);

/* Safe on a zeroed struct. */
void voice_done(Voice *v);

/* No voice, no hum, as after init. */
void voice_reset(Voice *v);

/* The next n samples, any n. */
void voice_process(Voice *v, const float *in, uint32_t n);

/* Whether a voice sounds, as of the last 10 ms frame: that of voice_lag() samples ago. */
bool voice_sounding(const Voice *v);

/* Its pitch, Hz, 60..1100; 0 while no voice sounds. */
double voice_pitch(const Voice *v);

/* Samples between a sound and the answer about it. */
uint32_t voice_lag(const Voice *v);

#endif
