/* What the first frame of an MP3 says of its length. libsndfile counts the frames that are there, and a file that was
 * cut short is as good a file as any other. */
#ifndef LINCTUS_HARNESS_MP3HEAD_H
#define LINCTUS_HARNESS_MP3HEAD_H

#include <stdbool.h>
#include <stdint.h>

/* Samples of a channel that the head promises: by the count of frames in a "Xing" or "Info" header, less what the
 * encoder notes there as added before and behind, or in a "VBRI" header; common practice, no standard has them, and all
 * of it from memory. ISO/IEC 11172-3 and 13818-3 tell what a frame holds. 0: it is no MP3, or has no such header, and
 * then nobody can know how long it was. */
uint64_t mp3head_frames(const char *path);

/* Whether an MP3 has no such header, so that its length can only be guessed. false: also of what is no MP3. */
bool mp3head_missing(const char *path);

#endif
