/* Which notes a voice holds, and whether it sings or speaks. Notes are MIDI numbers with fractions. Only what is near
 * the loudest of the last seconds counts: what a room leaves of a note, or a hum that the voice detector let pass, is
 * no note. */
#ifndef LINCTUS_NOTES_H
#define LINCTUS_NOTES_H

#include "hearing.h"

enum {
    NOTES_HELD = 12,   /* frames a note is held at least: 120 ms */
    NOTES_STEADY = 25, /* frames that tell singing from speech */
};

/* Zero it to reset. */
typedef struct {
    double note[NOTES_STEADY];
    uint32_t sounding; /* frames since it began, without a break */
    double loud;       /* power: the loudest frame, falling slowly */
} Notes;

typedef struct {
    bool voiced;
    bool held;   /* for NOTES_HELD frames the pitch stayed within 1.5 semitones (vibrato is about one): */
    double note; /* the mean of them */
    bool steady; /* for NOTES_STEADY frames it stayed within 1.6 */
} NoteFound;

/* The next frame. */
NoteFound notes_hear(Notes *n, const HearingFrame *frame);

#endif
