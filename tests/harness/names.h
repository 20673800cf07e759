/* Names of files, as they are typed. */
#ifndef LINCTUS_HARNESS_NAMES_H
#define LINCTUS_HARNESS_NAMES_H

#include <stdbool.h>
#include <stddef.h>

/* What stands behind the last slash: a part of the path, not a copy. */
const char *name_base(const char *path);

/* As much of the path as none of these ends in but itself: "1.wav" among others; where new/1.wav is there too,
 * "old/1.wav". all: the path itself may be among them, as the same pointer. */
const char *name_apart(const char *path, const char *const *all, size_t n);

/* How many characters of the path are left without its ending: "takes/lead.take 2.flac" -> 17. A dot at the beginning
 * of the name is none of an ending. */
size_t name_stem(const char *path);

/* Does it end as audio files do? */
bool name_is_audio(const char *path);

/* Is anything there, links followed? */
bool name_is_there(const char *path);

/* The path without slashes at its end; "/" stays. Cut where it does not fit. */
void name_without_slashes(char *path, size_t size, const char *from);

#endif
