/* A result on its way into its file. */
#ifndef LINCTUS_HARNESS_WRITER_H
#define LINCTUS_HARNESS_WRITER_H

#include "newfile.h"
#include "sink.h"
#include "soundfile.h"

typedef struct {
    Sink sink; /* its end completes the file, which has no name yet: newfile_keep() gives it one */
    SoundOut sound;
} Writer;

/* Begins the file, under its hidden name. frames: the most that can come; past 4 GB of them the file is RF64. */
bool writer_start(Writer *w, NewFile *file, double rate, uint32_t channels, uint64_t frames, SoundBits bits, Error *e);

/* Samples that were clipped so far. */
uint64_t writer_over(const Writer *w);

/* Closes what did not come to its end; safe on a zeroed struct, and twice. */
void writer_free(Writer *w);

#endif
