/* What Tone has learned: pieces of notes, from which resonances and the lowest note follow; the resonances that were
 * found; the note that the low cut goes by; and the spectrum of the voice's loudness.
 *
 * After a fresh start the findings, the note and the spectrum of before stay in force until there are new ones, so that
 * nothing moves by surprise. */
#ifndef LINCTUS_TONE_MEMORY_H
#define LINCTUS_TONE_MEMORY_H

#include "learned.h"
#include "resonance.h"
#include "voice_spectrum.h"

enum { TONE_DIPS = 3 };

/* Seconds of voice, before its lowest note counts as sure: a voice that has just begun may have lower ones to come. */
#define TONE_NOTE_SURE 5.0

/* Zero it to empty it; but count `version` on. */
typedef struct {
    ResonanceMemory notes;
    bool concluded;             /* there was a finding, be it that nothing is there */
    Resonance found[TONE_DIPS]; /* each in the place of its dip */
    double lowest_note;         /* Hz, the last that was sure; 0: none was */

    VoiceSpectrum spectrum; /* in force */
    VoiceSpectrum next;     /* after a fresh start: takes its place when enough is in it */
    bool afresh;            /* a fresh start has not heard enough for that */

    uint32_t version;          /* counts changes */
    uint32_t spectrum_version; /* of the spectrum in force */
    uint32_t notes_version;    /* of the pieces of notes */
} ToneMemory;

/* How it is stored. States of older versions lack some fields: of those with pieces alone all are there, and the note
 * follows from them; without a spectrum none was heard. */
extern const LearnedSchema tone_schema;

/* The field of the pieces, a bit: for a schema that stores those in another way. */
#define TONE_NOTES_FIELD 1u

/* What was heard is forgotten; the last findings and the spectrum hold until there are new ones. */
void tone_memory_start_afresh(ToneMemory *m);

/* What is not stored is forgotten: fractions of units, and what of a fresh start is not in force. */
void tone_memory_reset(ToneMemory *m);

/* The next piece of a note. */
void tone_memory_add_piece(ToneMemory *m, const PartialsPiece *piece);

/* Frames of a held note; none: nothing changes. */
void tone_memory_hold(ToneMemory *m, const HeldFound *held);

/* K-weighted energies of a block. It counts once a voice was heard. */
void tone_memory_add_block(ToneMemory *m, const double energy[SPECTRUM_BANDS]);

/* Each resonance that was found keeps its place among the dips if it has moved by less than TONE_FAR. */
#define TONE_FAR (1.0 / 6.0) /* octaves: a finding this far away is another one */
void tone_memory_conclude(ToneMemory *m, const Resonances *found);

#endif
