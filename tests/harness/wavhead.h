/* What the head of a WAV says of its length: libsndfile goes by the file's size where that is less, and says nothing.
 */
#ifndef LINCTUS_HARNESS_WAVHEAD_H
#define LINCTUS_HARNESS_WAVHEAD_H

#include <stdint.h>

/* Frames that the "data" chunk promises (RIFF, as in Multimedia Programming Interface and Data Specifications 1.0,
 * 1991; from memory). 0: no WAV, no such chunk, or a length that a program writes which did not know it: none, or 2 GB
 * and more less 4 KB. */
uint64_t wavhead_frames(const char *path);

#endif
