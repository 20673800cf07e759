/* What Rests has learned: how loud the voice is (voice_level.h), and how loud its rests are (rests.h) when nothing but
 * the room sounds: the level of blocks of 80 ms, and how high each band (rest_bands.h) swings in them. Tallies hold a
 * take of any length. Breaths and stray sounds lie in rests too, so the room's noise is the mean power of the quietest
 * blocks only: those up to 3 dB over the level that one block in twenty stays under. */
#ifndef LINCTUS_RESTS_MEMORY_H
#define LINCTUS_RESTS_MEMORY_H

#include "learned.h"
#include "rest_bands.h"
#include "rests.h"
#include "voice_level.h"

enum {
    RESTS_VOICE_ENOUGH = 12, /* blocks of voice, about a second: with fewer there is no level */
    RESTS_NOISE_ENOUGH = 38, /* blocks of rest, 1.5 s of them as in Check: with fewer there is no figure */
};

#define RESTS_LEAST_OVER 15.0 /* dB from the rests up to the voice: with less, a rest cannot be told from a phrase */

typedef struct {
    Tally level;                   /* of blocks of voice, dB */
    Tally noise;                   /* of blocks of rest, dB, summed over the bands */
    Tally swing[REST_BANDS];       /* the highest power in each such block, dB */
    double kept_level, kept_noise; /* the figures before the last fresh start; UNITS_DB_FLOOR: none */
    double kept_swing[REST_BANDS];
} RestsMemory;

/* dB, in steps of 1/256. */
typedef struct {
    double level, noise;      /* of the voice and of the rests; UNITS_DB_FLOOR: none yet */
    double swing[REST_BANDS]; /* how high each band swings in a rest */
    bool known;               /* there is enough of both, and the voice is far enough over its rests */
} RestsFigures;

/* How it is stored. */
extern const LearnedSchema rests_schema;

/* Powers of a frame of 10 ms, mean of the channels. */
typedef struct {
    double mean;              /* power, summed over the bands */
    double swing[REST_BANDS]; /* the highest smoothed power */
} RestsFrame;

/* The rests that are under way; zero it to reset. */
typedef struct {
    VoiceLevel voice;
    Rests rests;
    uint64_t frames;
    RestsFrame ring[REST_FRAMES];
} RestsHearing;

/* Takes in the next frame, with what listening.h says of it; hop: samples in 100 ms. true: something was learned. */
bool rests_memory_hear(RestsMemory *m, RestsHearing *h, const ListeningFrame *heard, const RestsFrame *frame,
                       uint32_t hop);

/* Figures of what was heard, if it is enough; else those kept by the last fresh start. Looks at every bin. */
RestsFigures rests_memory_figures(const RestsMemory *m);

/* Empties the memory, but keeps its figures until enough was heard for new ones. */
void rests_memory_start_afresh(RestsMemory *m);

#endif
