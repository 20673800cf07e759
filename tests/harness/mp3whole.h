/* Reads an MP3 whose head tells no length. libsndfile guesses that, by the file's size and the first frame's, and stops
 * there: of a variable bit rate that begins high it would leave the rest unread, and not say so. */
#ifndef LINCTUS_HARNESS_MP3WHOLE_H
#define LINCTUS_HARNESS_MP3WHOLE_H

#include <sndfile.h>

typedef struct Mp3Whole Mp3Whole;

/* Opens it so that it reads to its end; info->frames says nothing then. *whole is to be closed after the file. NULL: it
 * tells its length, or is no MP3, or cannot be read so, and *whole is NULL too. */
SNDFILE *mp3whole_open(const char *path, SF_INFO *info, Mp3Whole **whole);
void mp3whole_close(Mp3Whole *whole); /* safe on NULL */

#endif
