/* Which notes a voice holds, and whether it sings or speaks. Notes are MIDI numbers with fractions. Only what is near
 * the loudest of the last seconds counts: what a room leaves of a note, or a hum that the voice detector let pass, is
 * no note.
 *
 * What a held note is: held.h. A note is sung while the pitch's mean over 180 ms, about one turn of a vibrato, stays
 * within 0.4 semitones for 0.4 s. Of recorded speech hardly any of the voiced time lies in such notes (0.43 of a
 * synthesiser's even voice), of the same turned into singing 0.67 and more. */
#ifndef LINCTUS_NOTES_H
#define LINCTUS_NOTES_H

#include "hearing.h"
#include "held.h"

enum { /* frames */
       NOTES_STEADY = 25,
       NOTES_TURN = 18, /* that the mean is over */
       NOTES_SUNG = 40,
       NOTES_LASTING = 70,
       NOTES_RING = 128,
};

/* Zero it to reset. */
typedef struct {
    Held held;
    double note[NOTES_RING], mean[NOTES_RING];
    uint32_t sounding;                /* frames since it began, without a break */
    uint32_t told_sung, told_lasting; /* of them, up to which frame they were told */
    double loud;                      /* power: the loudest frame, falling slowly */
} Notes;

/* Frames count once: a note that has just been held long enough brings all its frames at once. */
typedef struct {
    bool voiced;
    uint32_t held;    /* frames more of a note that is held: */
    double note;      /* its mean over HELD_FRAMES */
    bool steady;      /* for NOTES_STEADY frames the pitch itself stayed within 1.6 semitones */
    uint32_t sung;    /* frames more of a note that is sung: */
    double centre;    /* its mean over NOTES_SUNG */
    uint32_t lasting; /* frames more of one that is sung for NOTES_LASTING frames */
} NoteFound;

/* The next frame. */
NoteFound notes_hear(Notes *n, const HearingFrame *frame);

#endif
