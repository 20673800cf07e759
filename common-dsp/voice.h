/* Is a voice sounding? Tells voiced sound (sung or spoken vowels and their like) from rests, room noise, hiss, breath
 * and mains hum, independent of level: the same answer for the same take at any gain, down to -70 dBFS and below.
 *
 * It listens to one channel (a stereo caller hands it the sum). The answer changes every 10 ms and comes voice_lag()
 * samples after the sound it speaks of: about 0.37 s, because a hum is told from a held note by how steady it stays.
 *
 * A frame is voice if it has a pitch (pitch.h) from 60 to 1100 Hz, belongs to a stretch of pitch of 50 ms or more that
 * is clearly periodic somewhere near, and is not hum.
 *
 * What hum is, is learned from any quarter of a second in which the pitch keeps still near one multiple of 50 or 60 Hz
 * (within 1.1 % and what noise adds, up to 310 Hz) and the sound repeats itself after 100 ms, where mains of both kinds
 * come round; or in which it repeats itself better after 100 ms than at any pitch (both kinds at once). A frame on the
 * same family that is not 6 dB stronger than that is hum. The memory fades by 1 dB a second, at first by 22, so that a
 * mistake or a hum that has gone does not count for ever.
 *
 * Limit: a note held dead straight for a quarter of a second, the same sound throughout, on a multiple of the mains is
 * taken for hum. Vibrato, or what a person calls straight, moves more. The method is this project's own.
 */
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
