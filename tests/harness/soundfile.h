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
 * frame. The path is kept, not copied. copy: a handle to what came out of the pipe of that name (source.h), which is
 * read from its start and stays open; negative: the path names a plain file. */
bool sound_open(SoundIn *s, const char *path, int copy, Error *e);
void sound_close(SoundIn *s); /* safe on a zeroed struct */

/* Up to n frames, channel by channel; 0: the end. n at most SOUND_BLOCK. */
enum { SOUND_BLOCK = 1024 };
uint32_t sound_read(SoundIn *s, float *const *out, uint32_t n);

/* ---- Writing ---- */

/* WAV. The same audio makes the same file to the byte. Past 4 GB it becomes RF64. */
typedef struct {
    SNDFILE *file;
    const char *name;
    uint32_t channels;
    bool is_float; /* else 24 bit */
    uint64_t over; /* samples that 24 bit could not hold and that were clipped */
} SoundOut;

/* Writes to a handle (newfile.h) and owns it from here on. name is for errors, and kept, not copied; frames: how many
 * will be written. */
bool sound_create(SoundOut *s, int handle, const char *name, double rate, uint32_t channels, uint64_t frames,
                  bool is_float, Error *e);

/* n frames, channel by channel, n at most SOUND_BLOCK. 24 bit: rounded to the nearest step of 2^-23; what came from a
 * 24-bit file comes back to the bit. */
bool sound_write(SoundOut *s, const float *const *in, uint32_t n, Error *e);

/* Completes and closes the file. */
bool sound_finish(SoundOut *s, Error *e);

/* Closes what was not finished; safe on a zeroed struct, and twice. */
void sound_drop(SoundOut *s);

#endif
