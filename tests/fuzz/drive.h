/* Drives one plug-in through its LV2 entry points as an arbitrary byte string says: any rate, any block length, any
 * control value, any audio, state saved, damaged and restored, ports reconnected, left out or shared, in any order.
 *
 * The bytes: plug-in, rate, features or none, activated or not; then step after step, as drive.c's step() reads them. A
 * case depends on its bytes alone, so a case that fails once fails again.
 *
 * What it demands, the sanitizers demanding the rest:
 * - every output sample is finite, and no larger than DRIVE_LOUDEST or, bypass passing it on, than the largest finite
 *   input so far;
 * - nothing is read or written past a block's end (each block ends where its memory ends);
 * - every read-out is finite and within its port's range;
 * - the latency does not change while the instance lives;
 * - Check, which changes nothing, passes every sample under DSP_BROKEN as it is. */
#ifndef LINCTUS_FUZZ_DRIVE_H
#define LINCTUS_FUZZ_DRIVE_H

#include "host.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* 60 dB over the level at which a sample counts as damage: no chain of gains here reaches that. */
#define DRIVE_LOUDEST 16000.f

typedef struct Drive Drive;

/* NULL: no bundle or no memory; says why on stderr. */
Drive *drive_open(const char *bundle);
void drive_close(Drive *d);

/* One case. False when a demand was not met (said on stderr). */
bool drive_case(Drive *d, const uint8_t *bytes, size_t size);

/* The n-th of a row of arbitrary cases, the same for everybody; every plug-in gets its turn. */
void drive_arbitrary(uint32_t n, uint8_t *bytes, size_t size);

/* What all cases together came to. */
uint64_t drive_runs(const Drive *d);
uint64_t drive_frames(const Drive *d);

#endif
