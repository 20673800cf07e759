/* Which notes a voice holds, and whether it sings or speaks. Notes are MIDI numbers with fractions. Only frames near
 * the loudest of the last seconds count: the reverberation of a note, or a hum that the voice detector let pass, is no
 * note. What lies over 1400 Hz makes no frame louder, so a whistle in the little that a sibilant has below is no note
 * either.
 *
 * What a held note is: held.h. A note is sung while the mean pitch over 180 ms, about one cycle of vibrato, stays
 * within 0.4 semitones for 0.4 s. In recorded speech hardly any of the voiced time is such notes (0.43 of it in a
 * synthesiser's even voice); in the same recordings turned into singing it is 0.67 and more. */
#ifndef LINCTUS_NOTES_H
#define LINCTUS_NOTES_H

#include "hearing.h"
#include "held.h"

enum {                     /* frames of 10 ms */
       NOTES_STEADY = 25,  /* for which the pitch of a steady note stays within 1.6 semitones */
       NOTES_TURN = 18,    /* in the mean pitch, about one cycle of vibrato */
       NOTES_SUNG = 40,    /* for which the mean pitch of a sung note stays within 0.4 semitones */
       NOTES_LASTING = 70, /* the same for a lasting note */
       NOTES_RING = 128,   /* kept */
};

/* Zero it to reset. */
typedef struct {
    Held held;
    double note[NOTES_RING], mean[NOTES_RING]; /* pitch, and its mean over NOTES_TURN */
    uint32_t sounding;                         /* frames since the pitch began, without a break */
    uint32_t told_sung, told_lasting;          /* how many of them were reported as sung, as lasting */
    double loud;                               /* power under 1400 Hz of the loudest frame, falling slowly */
} Notes;

/* Each frame is reported once: when a note has lasted for long enough, all its frames are reported together. */
typedef struct {
    bool voiced;      /* this frame has a pitch and is loud enough */
    HeldFound held;   /* newly reported frames of a held note, if any */
    bool steady;      /* the pitch stayed within 1.6 semitones for NOTES_STEADY frames */
    uint32_t sung;    /* newly reported frames of a sung note; 0: none */
    double centre;    /* mean pitch of the sung note over NOTES_SUNG; valid where sung > 0 */
    uint32_t lasting; /* newly reported frames of a note that was sung for NOTES_LASTING frames */
} NoteFound;

/* Takes in the next frame. */
NoteFound notes_hear(Notes *n, const HearingFrame *frame);

#endif
