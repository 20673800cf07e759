/* Resonances: finds what the room, the microphone and the distance add to a voice and a person would sweep for: mud,
 * boxiness, honk. A resonance stays where it is while the notes move; a harmonic moves with the note, and a formant
 * with the vowel.
 *
 * Method, in resonance.md with all equations, sources and constants: vowels are taken out of the pieces of notes that
 * were heard (resonance_memory.h, vowels.h, fixed_curve.h); what is left, a curve over frequency, is judged against
 * what the curves of untouched recordings look like (recordings.h, bells.h); and the same is asked of the notes on
 * even and on odd semitones by themselves. A finding is reported when it is likelier than not, and stands in both.
 *
 * What stands out of an untouched recording and stays there is found too: nobody who has the recording alone can tell
 * it from a fault.
 *
 * The figures follow from the memory alone. They are worked out a little at every grid point, anew every few seconds
 * while pieces come in; RESONANCE_ENOUGH pieces have to be there. Levels count only by difference: a take that is
 * louder or quieter gives the same. */
#ifndef LINCTUS_RESONANCE_H
#define LINCTUS_RESONANCE_H

#include "resonance_memory.h"
#include "work.h"

enum {
    RESONANCE_ENOUGH = 150, /* pieces: 5 to 9 s of voice; earlier findings were half of them wrong */
    RESONANCE_MOST = 3,
};

typedef struct {
    double hz;     /* 160..1400; 0: none in this place */
    double height; /* dB, above 0: as high as it is, right in the median */
    double width;  /* octaves between the half-gain points, as design.h has it */
    double sure;   /* natural logarithm of the odds that it is one, RESONANCE_SURE or more */
} Resonance;

/* From here on it is reported: of what was planted in recordings or stood in them untouched, so many findings were that
 * at 0..0.5: 60 %, 0.5..1: 81 %, over 1: 88 %. */
#define RESONANCE_SURE 0.4

/* That table as a share, 0..1, straight between the middles of its steps; 0 from 0: there is none. */
double resonance_share_right(double sure);

typedef struct {
    uint32_t count;
    Resonance at[RESONANCE_MOST];
} Resonances;

typedef struct ResonanceWork ResonanceWork;

/* The work under way: of what the memory held when it began. */
typedef struct {
    ResonanceWork *work;
    Work pace;
    double budget; /* of a cell, in thousands of instructions: the same at any rate in a second */
} ResonanceFinder;

/* Allocates. false: no memory. */
bool resonance_init(ResonanceFinder *f, double rate);

/* Safe on a zeroed struct. */
void resonance_done(ResonanceFinder *f);

/* Drops the work under way. */
void resonance_stop(ResonanceFinder *f);

/* true from resonance_start(), if there was enough, until a step says that the work is done. */
bool resonance_working(const ResonanceFinder *f);

/* Starts on the memory as it is now, if there is enough in it. It is read over the first steps and has to stay where it
 * is meanwhile; pieces may be added. */
void resonance_start(ResonanceFinder *f, const ResonanceMemory *m);

/* Once a cell. true: the work is done, *found is complete, lowest first. */
bool resonance_step(ResonanceFinder *f, Resonances *found);

#endif
