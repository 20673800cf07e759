/* Which recorded voices a run asks. LINCTUS_VOICES says it with a word: "tune", those that constants were set on;
 * "judge", the others, who are asked without a word too; "all", everybody; some programs know names of voices besides.
 */
#ifndef LINCTUS_ASKED_H
#define LINCTUS_ASKED_H

#include "spoken.h"

#include <stdbool.h>
#include <stdint.h>

/* LINCTUS_VOICES is this word. */
bool asked_for(const char *word);

/* This one of voices.h is asked. */
bool asked_voice(uint32_t voice);

/* The name of a figure: who was asked, then what of them. It stands until the next call. */
const char *asked_whom(const char *what);

/* Asks the invented singers too, every second voice: `judge` gets each one's take, `seconds` long at VOICES_RATE, with
 * a number that no other has. seed: of the first voice, the others' follow. */
void asked_singers(uint32_t seed, double seconds, void (*judge)(const char *name, const Spoken *take, uint32_t number));

#endif
