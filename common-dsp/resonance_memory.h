/* What the finder of resonances remembers of a take: pieces of notes (partials.h), each with its pitch and the level in
 * dB of its harmonics, spread evenly over all that was heard; how long which note was held; and how long voice was
 * heard.
 *
 * When RESONANCE_PIECES are there, every second one is dropped, and from then on only every second new one is kept, and
 * so on: the memory always holds all vowels of the take, between 350 and 700 pieces once it has been full. Pieces keep
 * their order, so that its first half is the earlier half of the take. */
#ifndef LINCTUS_RESONANCE_MEMORY_H
#define LINCTUS_RESONANCE_MEMORY_H

#include "held.h"
#include "partials.h"

enum {
    RESONANCE_PIECES = 700,
    RESONANCE_PITCHES = 102, /* half semitones from 60 Hz */
};

typedef struct {
    float hz; /* in steps of 1/256, as are the levels */
    uint32_t count;
    float level[PARTIALS_MOST]; /* dB */
} ResonancePiece;

typedef struct {
    ResonancePiece piece[RESONANCE_PIECES]; /* oldest first */
    uint32_t pieces;
    uint32_t thinned, skipped; /* one of 2^thinned is kept; so many were dropped since the last one */
    uint32_t frames;           /* of 20 ms in which voice was heard; stays at its most */
    Tally held;                /* frames of 10 ms, by the note that they hold: RESONANCE_PITCHES bins */
} ResonanceMemory;

#define RESONANCE_FRAME  0.02 /* s */
#define RESONANCE_FRAMES 65535u

/* Nothing was heard. Has to be called before anything else. */
void resonance_memory_clear(ResonanceMemory *m);

/* Counts one piece. When all places are taken every second piece goes, and every second new one is kept from then on:
 * what is kept stands evenly for all that was heard. */
void resonance_memory_add(ResonanceMemory *m, const PartialsPiece *piece);

/* Counts the frames of a held note. */
void resonance_memory_hold(ResonanceMemory *m, const HeldFound *held);

/* Seconds of voice heard, up to 1310. */
double resonance_voice_heard(const ResonanceMemory *m);

/* Hz; 0: too little was held. The lowest note that a low cut has to spare (held.h), to a quarter of a semitone. */
double resonance_lowest_note(const ResonanceMemory *m);

#endif
