/* Files that render wrote itself. Only those does --replace replace: what anyone else made may be a recording. */
#ifndef LINCTUS_HARNESS_OURS_H
#define LINCTUS_HARNESS_OURS_H

#include <sndfile.h>
#include <stdbool.h>

/* In every file that render writes: as the software's name in audio, near the beginning of a text or page. */
#define OURS_MARK "Linctus render"

/* Before the first frame is written. WAV, RF64 and FLAC can hold the mark. */
void ours_mark(SNDFILE *file);

/* Is the file there marked, or empty? Empty ones hold nothing that could be lost. false: it cannot be read, too. */
bool ours_is(const char *path);

#endif
