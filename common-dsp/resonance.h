/* Resonances: finds the mud, boxiness and honk that the room, the microphone and the distance add to a voice, and that
 * an engineer would sweep for. A resonance stays put while the notes move; a harmonic moves with the note, a formant
 * with the vowel.
 *
 * Method, in resonance.md with all equations, sources and constants: vowels are taken out of the pieces of notes heard
 * (resonance_memory.h, vowels.h, fixed_curve.h). The curve over frequency that is left is compared with the curves of
 * untouched recordings (recordings.h, bells.h). The notes on even and on odd semitones are judged separately too. A
 * finding is reported when it is likelier than not and both halves have it.
 *
 * A steady peak that belongs to an untouched recording is found too: from the recording alone it cannot be told from a
 * fault.
 *
 * The findings follow from the memory alone. They are worked out a little at every grid point, and again every few
 * seconds while pieces come in, once there are RESONANCE_ENOUGH. Only level differences count: a louder or quieter take
 * gives the same findings. */
#ifndef LINCTUS_RESONANCE_H
#define LINCTUS_RESONANCE_H

#include "resonance_memory.h"
#include "work.h"

enum {
    RESONANCE_ENOUGH = 150, /* pieces, which 5 to 9 s of voice bring: half the findings from fewer were wrong */
    RESONANCE_MOST = 3,     /* findings */
};

typedef struct {
    double hz;     /* Hz, 160..1400; 0: none in this place */
    double height; /* dB, above 0; right in the median */
    double width;  /* octaves between the half-gain points, as in design.h */
    double sure;   /* natural logarithm of the odds that it is a resonance, RESONANCE_SURE or more */
} Resonance;

/* Log odds from which a finding is reported. Share of findings that were a resonance, planted in a recording or its
 * own: 60 % at log odds of 0..0.5, 81 % at 0.5..1, 88 % over 1. */
#define RESONANCE_SURE 0.4

/* That share, 0.60..0.88, for log odds above 0: straight lines between the middles of the steps. 0 where sure is 0 or
 * less: no finding. */
double resonance_share_right(double sure);

typedef struct {
    uint32_t count;
    Resonance at[RESONANCE_MOST];
} Resonances;

typedef struct ResonanceWork ResonanceWork;

/* The work under way, on what the memory held when it began. */
typedef struct {
    ResonanceWork *work;
    Work pace;
    double budget; /* thousands of instructions a cell; a second's worth is the same at any rate */
} ResonanceFinder;

/* Allocates. rate: Hz. false: no memory. */
bool resonance_init(ResonanceFinder *f, double rate);

/* Safe on a zeroed struct. */
void resonance_done(ResonanceFinder *f);

/* Drops the work under way. */
void resonance_stop(ResonanceFinder *f);

/* Is there work under way? From a resonance_start() with enough pieces until resonance_step() returns true. */
bool resonance_working(const ResonanceFinder *f);

/* Starts on the memory as it is now; does nothing with fewer than RESONANCE_ENOUGH pieces. The memory is read over the
 * first steps and must not move meanwhile; pieces may be added. */
void resonance_start(ResonanceFinder *f, const ResonanceMemory *m);

/* Call once a cell. true: the work is done and *found is complete, lowest frequency first. */
bool resonance_step(ResonanceFinder *f, Resonances *found);

#endif
