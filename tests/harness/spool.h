/* Audio between two stages: written once, read as often as wished. It lives in a file without a name, so it takes no
 * memory however long the take is, and nothing is left behind however the run ends. */
#ifndef LINCTUS_HARNESS_SPOOL_H
#define LINCTUS_HARNESS_SPOOL_H

#include "error.h"

#include <stdint.h>

typedef struct Spool Spool;

/* In a folder that can be written. channels: 1 or 2. NULL: see the error. */
Spool *spool_new(const char *folder, double rate, uint32_t channels, Error *e);
void spool_free(Spool *s); /* NULL is fine */

double spool_rate(const Spool *s);
uint32_t spool_channels(const Spool *s);
uint64_t spool_frames(const Spool *s);

bool spool_write(Spool *s, const float *const *in, uint32_t n, Error *e);

/* From here on the spool is read, from its start. */
bool spool_rewind(Spool *s, Error *e);

/* Reads up to n frames and fills the rest with zeros. Leaves in *got how many were there. */
bool spool_read(Spool *s, float *const *out, uint32_t n, uint32_t *got, Error *e);

/* The system's folder for files that do not last. */
const char *spool_scratch(void);

/* A handle to a new file without a name, in a folder that can be written; it is gone when it is closed. Negative: see
 * the error. */
int spool_nameless(const char *folder, Error *e);

#endif
