/* What a report says of a take in words: the sentence at its head, and a few lines for each question that a person
 * asks. The figures are the table's: the same ports through the same patterns (fill.h). */
#ifndef LINCTUS_HARNESS_STORY_H
#define LINCTUS_HARNESS_STORY_H

#include "facts.h"

typedef enum { PANEL_LEVEL, PANEL_COLOUR, PANEL_EVENNESS, PANEL_ESSES, PANEL_AMBIENCE, PANEL_TUNING, PANELS } Panel;
typedef enum { SLOT_BEFORE, SLOT_AFTER, SLOT_WHY, SLOTS } Slot;

enum { STORY_TEXT = 1000 };

/* The question. */
const char *story_question(Panel panel);

/* What is said of one take; mixed: what Check heard in its mix, or nothing. "" where there is nothing to say. */
void story_line(char text[STORY_TEXT], Panel panel, Slot slot, const Report *r, const Readings *mixed, uint32_t index);

/* "Usable. 2 pops at 0:13 and 0:25; quiet; one muddy place at 309 Hz, dipped." */
void story_head(char text[STORY_TEXT], const Report *r, const Facts *f, uint32_t index);

/* Where a fault was heard: "at 0:13 and 0:25", "from 0:02 to 2:51, 14 times". */
void story_when(char *text, size_t size, const Lane *lane);

#endif
