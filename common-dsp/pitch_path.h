/* Which peak of the likeness n(lag) (pitch.h) is the pitch, frame by frame.
 *
 * Its peaks are candidates, and the path through the candidates of successive frames that costs least (an octave, a
 * jump and a change between voiced and unvoiced each have a price) is found by dynamic programming, after P. Boersma,
 * "Accurate short-term analysis of the fundamental frequency", IFA Proceedings 17, 1993. From memory: the text was not
 * opened. The prices are this project's own. */
#ifndef LINCTUS_PITCH_PATH_H
#define LINCTUS_PITCH_PATH_H

#include "dsp.h"

/* Hz. The range searched, from 45 Hz on, is a little wider than that of a voice, so that a hum at 50 Hz is not taken
 * for a voice at 100 Hz. */
#define PITCH_SEARCH_HIGHEST 1250.0

enum {
    PITCH_CANDIDATES = 8, /* most candidates of a frame, besides "no pitch" */
    PITCH_DELAY = 8,      /* frames that a decision waits for those that follow */
    PITCH_MARGIN = 4,     /* lags at either end of a range that only interpolation reads */
};

typedef struct {
    double hz;      /* 45..1250; 0: no pitch */
    double clarity; /* 0..1, 1: periodic; at the pitch, or the highest found where there is none */
    double level;   /* mean square in the band searched */
    double repeat;  /* 0..1, likeness to the sound 99 to 101 ms ago: mains of 50 and of 60 Hz both repeat then */
} PitchFrame;

typedef struct {
    uint32_t first, count; /* decimated samples; margins at both ends are for interpolation only */
} PitchLags;

/* What was heard of one frame. */
typedef struct {
    const float *near_likeness, *far_likeness; /* n(lag) */
    PitchLags near, far;                       /* lags searched for a pitch; for `repeat` */
    double level;                              /* as in PitchFrame */
} PitchLikeness;

typedef struct {
    double lag;    /* decimated samples; 0: no pitch */
    float octave;  /* log2 of the lag */
    float clarity; /* as in PitchFrame */
    float cost;    /* cost of the cheapest path that ends here */
    uint32_t from; /* that path's candidate in the frame before */
} PitchCandidate;

typedef struct {
    uint32_t count;
    PitchCandidate candidate[PITCH_CANDIDATES + 1];
    double clarity, level, repeat;
} PitchColumn;

typedef struct {
    double rate, highest; /* Hz; log2 of the shortest lag searched */
    PitchColumn column[PITCH_DELAY + 1];
    uint32_t newest;
    uint32_t looked_at; /* near lags of the frame that is still to be added, by number: how far its column is filled */
} PitchPath;

/* rate: of the lags, Hz. */
void pitch_path_init(PitchPath *p, double rate);
void pitch_path_reset(PitchPath *p); /* back to the state before the first frame */

/* Looks for candidates where `done` of a frame's near lags are known, so that not all is left for pitch_path_add(). The
 * likeness alone is read. */
void pitch_path_look(PitchPath *p, const PitchLikeness *heard, uint32_t done);

/* Takes in that frame; returns what is decided about the one PITCH_DELAY frames before. */
PitchFrame pitch_path_add(PitchPath *p, const PitchLikeness *heard);

#endif
