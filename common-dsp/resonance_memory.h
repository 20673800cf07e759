/* What the finder of resonances remembers of a take: pieces of notes (partials.h) spread evenly over all that was
 * heard, each with its pitch and its harmonics' levels in dB; how long each note was held; and for how long a voice was
 * heard.
 *
 * When the memory is full (RESONANCE_PIECES), every second piece is dropped, and from then on only every second new one
 * is kept, and so on. So it always holds pieces from the whole take, 350 to 700 of them once it has been full. They
 * keep their order: the first half is the earlier half of the take. */
#ifndef LINCTUS_RESONANCE_MEMORY_H
#define LINCTUS_RESONANCE_MEMORY_H

#include "held.h"
#include "partials.h"

enum {
    RESONANCE_PIECES = 700,
    RESONANCE_PITCHES = 102, /* half semitones from 60 Hz up */
};

typedef struct {
    float hz; /* pitch, in steps of 1/256 Hz; the levels have steps of 1/256 dB */
    uint32_t count;
    float level[PARTIALS_MOST]; /* dB */
} ResonancePiece;

typedef struct {
    ResonancePiece piece[RESONANCE_PIECES]; /* oldest first */
    uint32_t pieces;
    uint32_t thinned, skipped; /* one piece of 2^thinned is kept; skipped: dropped since the last one kept */
    uint32_t frames;           /* of 20 ms in which a voice was heard; stops at RESONANCE_FRAMES */
    Tally held;                /* frames of 10 ms by the note held in them, in RESONANCE_PITCHES bins */
} ResonanceMemory;

#define RESONANCE_FRAME  0.02 /* s, of a frame in `frames` */
#define RESONANCE_FRAMES 65535u

/* Empties the memory. Has to be called before anything else. */
void resonance_memory_clear(ResonanceMemory *m);

/* Takes in one piece, or skips it where the memory was thinned; its frames count either way. */
void resonance_memory_add(ResonanceMemory *m, const PartialsPiece *piece);

/* Counts the frames of a held note. */
void resonance_memory_hold(ResonanceMemory *m, const HeldFound *held);

/* Seconds of voice heard, up to 1310. */
double resonance_voice_heard(const ResonanceMemory *m);

/* The lowest note that a low cut has to spare (held.h), Hz, to a quarter of a semitone; 0: too little was held. */
double resonance_lowest_note(const ResonanceMemory *m);

#endif
