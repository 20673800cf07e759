/* Gives `render` a sound file made of arbitrary bytes.
 *
 * The file is only opened and read as render reads it, or render's own entry runs on it. What is demanded, the
 * sanitizers demanding the rest:
 * - read: one or two channels, a rate the plug-ins take, every sample finite;
 * - rendered: all is well and OUT is a sound file of finite samples; or there is an exit status of render's own, one
 *   line that says why, and no OUT. Nothing else is left behind. */
#ifndef LINCTUS_FUZZ_BROKEN_H
#define LINCTUS_FUZZ_BROKEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct Broken Broken;

/* Works in a folder of its own under TMPDIR, or /tmp. NULL: no bundle, no memory, no folder; says why on stderr. */
Broken *broken_open(const char *bundle);
void broken_close(Broken *b);

/* What is done with the file. */
typedef enum { BROKEN_CHAIN, BROKEN_APART, BROKEN_ADVISE, BROKEN_READ, BROKEN_WAYS } BrokenWay;

/* One case. False when a demand was not met (said on stderr). */
bool broken_case(Broken *b, BrokenWay way, const uint8_t *bytes, size_t size);

/* What all cases together came to. */
typedef struct {
    uint64_t files, rendered, refused; /* refused: by render, or on opening */
    uint64_t frames;                   /* read */
} BrokenTotals;
const BrokenTotals *broken_totals(const Broken *b);

/* A small whole sound file of the i-th kind, mono or stereo, in one of the formats that libsndfile writes: its size,
 * 0 past the last, or where libsndfile has no such format. */
enum { WHOLE_ROOM = 16384, WHOLE_KINDS = 14 };
size_t whole_file(uint32_t i, uint8_t *bytes);
const char *whole_name(uint32_t i);

#endif
