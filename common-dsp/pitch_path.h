/* Decides, frame by frame, which peak of the likeness n(lag) (pitch.h) is the pitch.
 *
 * The peaks are candidates. Dynamic programming finds the cheapest path through the candidates of successive frames: a
 * lower octave, a jump and a change between voiced and unvoiced each have a price. After P. Boersma, "Accurate
 * short-term analysis of the fundamental frequency", IFA Proceedings 17, 1993. From memory: the text was not opened.
 * The prices are this project's own. */
#ifndef LINCTUS_PITCH_PATH_H
#define LINCTUS_PITCH_PATH_H

#include "dsp.h"

/* Hz. The range searched, from 45 Hz on, is a little wider than that of a voice, so that a hum at 50 Hz is not taken
 * for a voice at 100 Hz. */
#define PITCH_SEARCH_HIGHEST 1250.0

enum {
    PITCH_CANDIDATES = 8, /* most candidates of a frame, besides "no pitch" */
    PITCH_DELAY = 8,      /* frames by which a decision is late: it waits for those that follow */
    PITCH_MARGIN = 4,     /* lags at each end of a range, which only interpolation reads */
};

typedef struct {
    double hz;      /* 45..1250; 0: no pitch */
    double clarity; /* 0..1, 1: periodic; that of the pitch; without a pitch, the highest of any candidate */
    double level;   /* mean square in the band searched */
    double repeat;  /* 0..1, likeness to the sound 99 to 101 ms ago: 50 and 60 Hz mains both repeat then */
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
    uint32_t looked_at; /* number of the near lag to be looked at next, in the frame that is yet to be added */
} PitchPath;

/* rate: of the lags, Hz. */
void pitch_path_init(PitchPath *p, double rate);
void pitch_path_reset(PitchPath *p); /* back to the state before the first frame */

/* Looks for candidates among the first `done` near lags of the frame to come, so that less is left for
 * pitch_path_add(). Of `heard` it reads the near lags and their likeness only. */
void pitch_path_look(PitchPath *p, const PitchLikeness *heard, uint32_t done);

/* Adds that frame. Returns the decision about the frame PITCH_DELAY frames before it. */
PitchFrame pitch_path_add(PitchPath *p, const PitchLikeness *heard);

#endif
