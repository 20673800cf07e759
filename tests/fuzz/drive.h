/* Drives one plug-in through its LV2 entry points as an arbitrary byte string says: any rate, any block length, any
 * control value, any audio, state saved, damaged and restored, ports reconnected, left out or shared, in any order.
 *
 * What it demands after every run: every output sample is finite. The sanitizers demand the rest. */
#ifndef LINCTUS_FUZZ_DRIVE_H
#define LINCTUS_FUZZ_DRIVE_H

#include "host.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct Drive Drive;

/* NULL: no bundle or no memory; says why on stderr. */
Drive *drive_open(const char *bundle);
void drive_close(Drive *d);

/* One case. False when an output was not finite (said on stderr). */
bool drive_case(Drive *d, const uint8_t *bytes, size_t size);

/* What all cases together came to. */
uint64_t drive_runs(const Drive *d);
uint64_t drive_frames(const Drive *d);

#endif
