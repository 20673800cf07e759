/* Sound files, through libsndfile: reading whatever it reads, writing WAV. */
#ifndef LINCTUS_HARNESS_SOUNDFILE_H
#define LINCTUS_HARNESS_SOUNDFILE_H

#include "error.h"
#include "mp3whole.h"

#include <sndfile.h>
#include <stdbool.h>
#include <stdint.h>

/* ---- Reading ---- */

/* Frames of an Ogg or Opus without its end, which is where its length stands. */
#define SOUND_NO_END ((uint64_t)SF_COUNT_MAX)

typedef struct {
    SNDFILE *file;
    Mp3Whole *whole; /* what `file` reads through, or NULL */
    const char *path;
    double rate;
    uint32_t channels;   /* 1 or 2 */
    uint64_t promised;   /* frames, by the file's head; or SOUND_NO_END */
    uint64_t frames;     /* read so far */
    uint64_t not_finite; /* samples that were no numbers; they read as 0 */
    uint64_t damaged;    /* samples that are damage to a plug-in (dsp.h); they read as they are */
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

typedef enum { SOUND_24, SOUND_16, SOUND_FLOAT, SOUND_BITS } SoundBits;

/* "24 bit", "16 bit", "float" */
const char *sound_bits_name(SoundBits bits);

/* WAV. The same audio makes the same file to the byte. Past 4 GB it becomes RF64. */
typedef struct {
    SNDFILE *file;
    const char *name;
    uint32_t channels;
    SoundBits bits;
    uint64_t over;  /* samples that 16 or 24 bit could not hold and that were clipped */
    uint32_t noise; /* of the dither */
} SoundOut;

/* Writes to a handle (newfile.h) and owns it from here on. name is for errors, and kept, not copied; frames: how many
 * will be written. */
bool sound_create(SoundOut *s, int handle, const char *name, double rate, uint32_t channels, uint64_t frames,
                  SoundBits bits, Error *e);

/* n frames, channel by channel, n at most SOUND_BLOCK. 16 and 24 bit: rounded to the nearest step (2^-15, 2^-23) with
 * triangular dither of two steps from end to end, which makes what is rounded away a steady noise that does not follow
 * the sound (Lipshitz, Wannamaker and Vanderkooy, Quantization and Dither, J. Audio Eng. Soc. 40, 1992; from memory). A
 * sample that lies on a step already is left alone: what came from a file of that kind comes back to the bit, and
 * silence stays silence. The dither is the same in every run. */
bool sound_write(SoundOut *s, const float *const *in, uint32_t n, Error *e);

/* Completes and closes the file. */
bool sound_finish(SoundOut *s, Error *e);

/* Closes what was not finished; safe on a zeroed struct, and twice. */
void sound_drop(SoundOut *s);

#endif
