/* What Tone has learned: pieces of notes, from which resonances and the lowest note follow; the resonances that were
 * found; the lowest note, which sets the low cut; and the spectrum of the voice's loudness.
 *
 * After a fresh start the previous findings, note and spectrum stay in force until there are new ones, so that nothing
 * moves by surprise. */
#ifndef LINCTUS_TONE_MEMORY_H
#define LINCTUS_TONE_MEMORY_H

#include "heard_before.h"
#include "learned.h"
#include "resonance.h"
#include "voice_spectrum.h"

enum { TONE_DIPS = 3 };

/* s of voice until its lowest note counts as sure: a voice that has just begun may still go lower. */
#define TONE_NOTE_SURE 5.0

/* Zero it to empty it, but keep counting `version`. */
typedef struct {
    ResonanceMemory notes;
    HeardStretches stretches;   /* heard so far: sound that comes again adds no piece */
    bool concluded;             /* the finder has finished once, even if it found nothing */
    Resonance found[TONE_DIPS]; /* each in its dip's place; hz 0: none */
    double lowest_note;         /* Hz, the last that was sure; 0: none yet */

    VoiceSpectrum spectrum; /* in force */
    VoiceSpectrum next;     /* after a fresh start: replaces `spectrum` when it holds enough */
    bool afresh;            /* a fresh start is still filling `next` */

    uint32_t version;           /* counts changes */
    uint32_t spectrum_version;  /* of the spectrum in force */
    uint32_t notes_version;     /* of the pieces of notes */
    uint32_t stretches_version; /* of the stretches */
} ToneMemory;

/* How it is stored. States of older versions lack some fields: where there are only pieces, all of them are there and
 * the lowest note follows from them; where there is no spectrum, none was heard. */
extern const LearnedSchema tone_schema;

/* Bit of the field with the pieces in Learned.skipped: for a schema that stores them in another way. */
#define TONE_NOTES_FIELD 1u

/* A stretch has been added to the stretches. */
void tone_memory_stretched(ToneMemory *m);

/* Forgets what was heard; the last findings, note and spectrum hold until there are new ones. */
void tone_memory_start_afresh(ToneMemory *m);

/* Forgets what is not stored: fractions of units, and the spectrum of a fresh start that is not in force yet. */
void tone_memory_reset(ToneMemory *m);

/* Takes in the next piece of a note. */
void tone_memory_add_piece(ToneMemory *m, const PartialsPiece *piece);

/* Takes in the frames of a held note; with 0 frames nothing changes. */
void tone_memory_hold(ToneMemory *m, const HeldFound *held);

/* Takes in a block's K-weighted mean square in each band. Blocks count only after a voice was heard. */
void tone_memory_add_block(ToneMemory *m, const double energy[SPECTRUM_BANDS]);

/* Takes over the findings. A resonance keeps its place among the dips if it has moved by TONE_FAR or less. */
#define TONE_FAR (1.0 / 6.0) /* octaves: a finding farther away is another resonance */
void tone_memory_conclude(ToneMemory *m, const Resonances *found);

#endif
