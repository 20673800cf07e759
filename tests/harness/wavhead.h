/* What the head of a WAV, an RF64 or an AIFF says of its length: libsndfile goes by the file's size where that is less,
 * and says nothing. */
#ifndef LINCTUS_HARNESS_WAVHEAD_H
#define LINCTUS_HARNESS_WAVHEAD_H

#include <stdint.h>

/* Frames that the head promises: by the "data" chunk (RIFF, as in Multimedia Programming Interface and Data
 * Specifications 1.0, 1991), by the "ds64" chunk where a file may be longer than 4 GB (EBU Tech 3306; ITU-R BS.2088),
 * by the "COMM" chunk (Apple's AIFF 1.3, 1989, and AIFF-C); all of it from memory. 0: none of these, no such chunk, or
 * a length that a program writes which did not know it: none, or 2 GB and more less 4 KB in a chunk's own size. */
uint64_t wavhead_frames(const char *path);

#endif
