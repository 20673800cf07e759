/* Resonances: finds what the room, the microphone and the distance add to a voice and a person would sweep for: mud,
 * boxiness, honk. A resonance stays where it is while the notes move; a harmonic moves with the note, and a formant
 * with the vowel.
 *
 * The memory: the last RESONANCE_PIECES pieces of notes (partials.h), about 50 s of voice, each with its pitch and the
 * level in dB of its harmonics.
 *
 * The model: level = level of the piece + source + vowel + what is fixed.
 *   source   what goes with the number of the harmonic: a slope in dB per octave and an offset for each of the first
 *            three harmonics, the same in all pieces;
 *   vowel    two formants, of any pair on a grid that people have: the nearer to those of Peterson & Barney, "Control
 *            methods used in a study of the vowels", JASA 24 (1952), men's and women's (seen second-hand), the
 *            likelier. How often each of these is sung in this take is learned with the rest: a man's take has no
 *            women's vowels in it. A high note of a vowel whose first formant would lie under the pitch may have it at
 *            the pitch instead: people open the mouth (J. Sundberg, "The Science of the Singing Voice", 1987, from
 *            memory). Each formant is one pole pair of G. Fant's cascade ("Acoustic Theory of Speech Production",
 *            1960, from memory), 80 and 100 Hz wide, with the rest of a neutral tract above. So a voice's own formants
 *            are no finding: they are taken out, piece by piece, before anything is judged;
 *   fixed    a curve over frequency, in twelfths of an octave.
 * All are fitted together to all pieces: vowels as the mean over all pairs, weighed by how well they explain the piece
 * (expectation and maximisation: A. Dempster, N. Laird, D. Rubin, J. Royal Stat. Soc. B 39, 1977, from memory).
 *
 * The reference: published vowels through a published tract do not add up to the spectrum that people's voices have on
 * average (average_voice.h: D. Byrne et al., JASA 96, 1994): around 850 Hz it lies some 6 dB lower, among other things.
 * Half of that difference, smoothed over nearly an octave, is what the fixed curve is expected to be: half, since
 * voices differ, and so smooth that no formant of the voice at hand is flattened.
 *
 * The judgement: the fixed curve is the reference, a smooth baseline (a Gaussian process of 1.5 dB over about an
 * octave) and up to three bells (the cookbook's, Q 2..8, 150..1500 Hz) and two hollows of the same shapes, found one
 * after the other and then moved together. A hollow, which many voices have, is not reported: its rims are no
 * resonances. A bell counts from 3.1 dB on, where it is surely not the baseline and harmonics of several notes and
 * pieces cross it. In the first fit the vowels take some of a resonance for their own. So it is done three times: each
 * time a part of the bells found before is taken for known, and all is fitted anew; the last look decides. Where the
 * first finds nothing, there is nothing. These constants are this project's own.
 *
 * The figures follow from the memory alone. They are worked out a little at every grid point, anew every few seconds
 * while pieces come in; RESONANCE_ENOUGH pieces of different notes have to be there. Levels count only by difference:
 * a take that is louder or quieter gives the same. */
#ifndef LINCTUS_RESONANCE_H
#define LINCTUS_RESONANCE_H

#include "partials.h"

enum {
    RESONANCE_PIECES = 170,
    RESONANCE_ENOUGH = 40,
    RESONANCE_MOST = 3,

    RESONANCE_BINS = 52, /* of the fixed curve: twelfths of an octave from 100 Hz */
    RESONANCE_FINE = 4 * RESONANCE_BINS,
    RESONANCE_FIRST = 17,  /* first formants: eighths of an octave from 230 Hz */
    RESONANCE_SECOND = 13, /* second formants: sixths from 720 Hz */
    RESONANCE_SOURCE = 4,  /* offsets of the first three harmonics; slope */
    RESONANCE_UNKNOWN = RESONANCE_SOURCE + RESONANCE_BINS,
    RESONANCE_PLACES = 80, /* of a bell: 24ths of an octave from 150 Hz */
    RESONANCE_WIDTHS = 5,  /* Q 2..8, by sqrt 2 */
    RESONANCE_BELLS = RESONANCE_PLACES * RESONANCE_WIDTHS,

    RESONANCE_PITCHES = 102, /* half semitones from 60 Hz */
};

typedef struct {
    float hz; /* in steps of 1/256, as are the levels */
    uint32_t count;
    float level[PARTIALS_MOST]; /* dB */
} ResonancePiece;

/* A ring of pieces, and how often which pitch was sung. */
typedef struct {
    ResonancePiece piece[RESONANCE_PIECES];
    uint32_t pieces, oldest;
    uint32_t pitch[RESONANCE_PITCHES]; /* frames of 20 ms; all are halved when one is full */
} ResonanceMemory;

typedef struct {
    double hz;     /* 150..1500; 0: none in this place */
    double height; /* dB, 3.1 or more */
    double width;  /* octaves between the half-gain points, as design.h has it */
} Resonance;

typedef struct {
    uint32_t count;
    Resonance at[RESONANCE_MOST];
} Resonances;

typedef struct ResonanceWork ResonanceWork;

/* The work under way: of a copy of the memory. */
typedef struct {
    ResonanceWork *work;
    uint32_t steps_per_cell;
} ResonanceFinder;

void resonance_memory_clear(ResonanceMemory *m);
void resonance_memory_add(ResonanceMemory *m, const PartialsPiece *piece);

/* Hz; 0: too little was sung. The lowest pitch, to about a quarter of a semitone, that was held for 1/300 of the time
 * and 160 ms in all: single errors of an octave do not count. */
double resonance_lowest_note(const ResonanceMemory *m);

/* Allocates. false: no memory. */
bool resonance_init(ResonanceFinder *f, double rate);
void resonance_done(ResonanceFinder *f);

/* Drops the work under way. */
void resonance_stop(ResonanceFinder *f);
bool resonance_working(const ResonanceFinder *f);

/* Starts on the memory as it is now, if there is enough in it. */
void resonance_start(ResonanceFinder *f, const ResonanceMemory *m);

/* Once a cell. true: the work is done, *found is complete, lowest first. */
bool resonance_step(ResonanceFinder *f, Resonances *found);

#endif
