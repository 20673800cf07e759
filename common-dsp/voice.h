/* Is a voice sounding? Tells voiced sound (sung or spoken vowels and the like) from rests, room noise, hiss, breath and
 * mains hum at any level: the answer for a take is the same at any gain, down to -70 dBFS and below. The method is this
 * project's own: voice.md.
 *
 * It listens to one channel (a stereo caller passes the sum). It answers every 10 ms, voice_lag() samples after the
 * sound the answer is about: about 0.37 s late, because only time shows that a hum stays steadier than a held note.
 *
 * Limit: a note on a multiple of the mains frequency, held dead straight and with an unchanging sound for a quarter of
 * a second, is taken for hum. Vibrato moves more, and so does what a person calls straight. */
#ifndef LINCTUS_VOICE_H
#define LINCTUS_VOICE_H

#include "dsp.h"
#include "pitch.h"

enum {
    VOICE_AHEAD = 25, /* frames of 10 ms that are looked at after the one being judged */
    VOICE_BACK = 12,  /* the same before it */
    VOICE_FRAMES = VOICE_BACK + 1 + VOICE_AHEAD,
};

/* A hum that was heard. Powers are mean squares of the periodic part; 0: none heard. */
typedef struct {
    double mains;     /* 50 or 60 Hz */
    double deviation; /* of the actual mains from that: 0.01 is 1 % sharp */
    double power;
    uint32_t heard;     /* windows in a row in which it was heard */
    double mixed_power; /* of a mixture of 50 and 60 Hz hum */
} VoiceHum;

typedef struct {
    Pitch pitch;
    double fade, fade_quick;        /* factors of a remembered hum's power, per frame */
    PitchFrame frame[VOICE_FRAMES]; /* a ring; the oldest lies at `oldest` */
    uint32_t oldest;
    VoiceHum hum;
    bool sounding;
    double hz;
} Voice;

/* Allocates. rate: Hz. false: no memory or rate out of range. */
bool voice_init(Voice *v, double rate);

/* Safe on a zeroed struct. */
void voice_done(Voice *v);

/* As after init: no voice and no hum. */
void voice_reset(Voice *v);

/* Takes in the next n samples, any n. */
void voice_process(Voice *v, const float *in, uint32_t n);

/* true: a voice sounded in the frame of 10 ms that lies voice_lag() samples back. */
bool voice_sounding(const Voice *v);

/* Its pitch, Hz, 60..1100; 0 while no voice sounds. */
double voice_pitch(const Voice *v);

/* Samples between a sound and the answer about it. */
uint32_t voice_lag(const Voice *v);

#endif
