/* A take phrase by phrase: where its phrases lie, as Check counts them (phrases.h), and how clean each was recorded. */
#ifndef LINCTUS_HARNESS_PHRASING_H
#define LINCTUS_HARNESS_PHRASING_H

#include "clipping.h"
#include "flat_tops.h"
#include "hearing.h"
#include "notes.h"
#include "phrases.h"
#include "pops.h"
#include "rests.h"
#include "sink.h"

#include <stddef.h>

/* What was heard in 10 ms. */
typedef struct {
    float power;      /* mean square above 100 Hz */
    float quiet;      /* likewise, of a block of a rest (rests.h) that ends about here; 0: none */
    float burst;      /* likewise, of a burst of low sound (pops.h); 0: none */
    uint16_t sung;    /* 10 ms of notes that are sung (notes.h), told here: */
    float centre;     /* their MIDI note */
    uint32_t clipped; /* samples (clipping.h), and flat tops at flat_level, of all channels */
} PhrasingFrame;

typedef struct {
    double from, to; /* s */
} PhrasingSpan;

typedef struct {
    Sink sink;
    Block block;
    double rate, voice_level;
    double flat_level; /* dB, set after phrasing_start(): where Check found the take clipped before it came, a peak; 0:
                          it was not */
    Hearing hearing;
    Phrases phrases;
    Notes notes;
    Pops pops;
    Rests rests;
    Clipping clipping[DSP_CHANNELS];
    FlatTops tops[DSP_CHANNELS];
    uint64_t heard, frames; /* samples; frames answered */
    PhrasingFrame *frame;
    size_t room;
    PhrasingSpan *span;
    size_t spans, spans_room;
} Phrasing;

/* channels: 1 or 2; voice_level: the take's, dB. Write the take to its sink and end that. false: out of memory.
 * Followed by phrasing_free() in any case. */
bool phrasing_start(Phrasing *p, double rate, uint32_t channels, double voice_level, Error *e);
void phrasing_free(Phrasing *p); /* safe on a zeroed struct, and twice */

#define PHRASING_UNKNOWN 1000.0 /* what a level, a noise or a tuning reads that is not known */

/* How one phrase was recorded. */
typedef struct {
    double level;           /* dB RMS above 100 Hz, from its first sound to its last */
    double noise;           /* dB, of the quietest of the rests beside it, against its level */
    double cents;           /* mean distance of what is sung in it from equal temperament; less than 0.4 s: not known */
    uint32_t pops, clipped; /* bursts over the take's voice level; samples or flat tops */
} PhrasingFigures;

/* Of spans `first` to first + count - 1 as one phrase. offset: semitones that the song lies over A4 = 440 Hz. */
PhrasingFigures phrasing_figures(const Phrasing *p, size_t first, size_t count, double offset);

enum { PHRASING_PARTS = 8 };

/* How a phrase goes, in parts of equal length: whatever its tempo, two takes of it are alike. PHRASING_UNKNOWN: nothing
 * is held there; silence. */
typedef struct {
    float note[PHRASING_PARTS];  /* mean MIDI note of what is sung */
    float level[PHRASING_PARTS]; /* dB to the whole phrase */
} PhrasingShape;

PhrasingShape phrasing_shape(const Phrasing *p, size_t span);

/* Adds to *re and *im the vectors of what is sung, round the semitone: the angle of their sum is the offset. */
void phrasing_add_tuning(const Phrasing *p, double *re, double *im);

#endif
