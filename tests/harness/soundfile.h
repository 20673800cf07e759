/* Sound files, through libsndfile: reading whatever it reads, writing WAV. */
#ifndef LINCTUS_HARNESS_SOUNDFILE_H
#define LINCTUS_HARNESS_SOUNDFILE_H

#include "error.h"

#include <sndfile.h>
#include <stdbool.h>
#include <stdint.h>

/* ---- Reading ---- */

typedef struct {
    SNDFILE *file;
    const char *path;
    double rate;
    uint32_t channels;   /* 1 or 2 */
    uint64_t promised;   /* frames, by the file's head */
    uint64_t frames;     /* read so far */
    uint64_t not_finite; /* samples that were no numbers; they read as 0 */
    char format[64];     /* "24 bit", "32 bit float" ... as libsndfile names it */
} SoundIn;

/* Turns down what the plug-ins do not take: more than two channels, a rate outside 8000..384000 Hz, a file without a
 * frame. The path is kept, not copied. */
bool sound_open(SoundIn *s, const char *path, Error *e);
void sound_close(SoundIn *s); /* safe on a zeroed struct */

/* Up to n frames, channel by channel; 0: the end. n at most SOUND_BLOCK. */
enum { SOUND_BLOCK = 1024 };
uint32_t sound_read(SoundIn *s, float *const *out, uint32_t n);

/* ---- Writing ---- */

/* WAV under a temporary name beside its path, which it takes only when it is complete (sound_keep). The same audio
 * makes the same file to the byte. Past 4 GB it becomes RF64. */
typedef struct {
    SNDFILE *file;
    char *path, *temporary;
    uint32_t channels;
    bool is_float; /* else 24 bit */
    uint64_t over; /* samples that 24 bit could not hold and that were clipped */
} SoundOut;

/* path is copied; frames: how many will be written. */
bool sound_create(SoundOut *s, const char *path, double rate, uint32_t channels, uint64_t frames, bool is_float,
                  Error *e);

/* n frames, channel by channel, n at most SOUND_BLOCK. 24 bit: rounded to the nearest step of 2^-23; what came from a
 * 24-bit file comes back to the bit. */
bool sound_write(SoundOut *s, const float *const *in, uint32_t n, Error *e);

/* Completes the file, still under its temporary name. */
bool sound_finish(SoundOut *s, Error *e);

/* Gives a finished file its name. */
bool sound_keep(SoundOut *s, Error *e);

/* Removes what was not kept; safe on a zeroed struct, and twice. */
void sound_drop(SoundOut *s);

#endif
