/* Words that were meant otherwise than they were typed. */
#ifndef LINCTUS_HARNESS_NEAR_H
#define LINCTUS_HARNESS_NEAR_H

#include <stdbool.h>
#include <stdint.h>

enum { NEAR_LONGEST = 63 /* characters of a word that is looked at */ };

/* Slips of a hand from one to the other: a letter too much, too few, another one, or two neighbours that changed places
 * (optimal string alignment distance; Damerau, A technique for computer detection and correction of spelling errors,
 * 1964; from memory). Letter case does not matter. Longer words than NEAR_LONGEST: NEAR_LONGEST + 1. */
uint32_t near_slips(const char *a, const char *b);

/* May the one be meant by the other? At most two slips, and of a short word at most one in three letters. */
bool near_enough(const char *typed, const char *meant);

#endif
