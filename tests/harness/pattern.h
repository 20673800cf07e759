/* Names of results by a pattern: "{take}-{voice}-{rate}" becomes "verse-mezzo-44100". */
#ifndef LINCTUS_HARNESS_PATTERN_H
#define LINCTUS_HARNESS_PATTERN_H

#include "options.h"

#include <stddef.h>

/* The name of a take's result without its ending, by options->pattern. Fields:
 *
 *     {take}      the take's own name without its ending
 *     {number}    which of the takes it is, from 1 on, with as many digits as the last one has
 *     {voice}     as --voice was typed, without which there is none
 *     {rate}      Hz of the result; of a pipe's it is not known before it is read, unless --rate says it
 *     {bits}      16, 24 or float
 *
 * false: another field, one that is not known, a slash, which would leave the folder, or too long a name. All takes are
 * there. */
bool pattern_name(char *name, size_t size, const Options *options, uint32_t take, Error *e);

#endif
