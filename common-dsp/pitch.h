/* Pitch tracking, 60 to 1100 Hz, one figure every 10 ms.
 *
 * Method: the normalised square difference function n(lag) = 2 sum a b / (sum a^2 + sum b^2) of P. McLeod and G.
 * Wyvill, "A smarter way to find pitch", ICMC 2005, over two equal windows that lie lag apart around the frame's
 * centre; its peaks are candidates, and the path through the candidates of successive frames that costs least (an
 * octave, a jump and a change between voiced and unvoiced each have a price) is found by dynamic programming, after P.
 * Boersma, "Accurate short-term analysis of the fundamental frequency", IFA Proceedings 17, 1993. From memory: neither
 * text was opened. The prices are this project's own.
 *
 * It works on the signal between 60 Hz and 2 kHz, falling gently below 150 Hz against rumble, decimated to between 8
 * and 16 kHz. The work of a frame is spread over the samples of the next one. Every decision is a ratio: a change of
 * level by a power of two changes no bit of hz and clarity, down to PITCH_SILENCE. */
#ifndef LINCTUS_PITCH_H
#define LINCTUS_PITCH_H

#include "dsp.h"
#include "svf.h"
#include "thin.h"

#define PITCH_LOWEST  60.0   /* Hz, of a voice */
#define PITCH_HIGHEST 1100.0 /* Hz */
#define PITCH_SILENCE 1e-16  /* mean square (-160 dBFS): below it a frame has no pitch */

enum {
    PITCH_SECTIONS = 2,
    PITCH_CANDIDATES = 8, /* and one for "no pitch" */
    PITCH_DELAY = 8,      /* frames a decision waits for what follows */
    PITCH_HOPS = 3,       /* in a window */
};

typedef struct {
    double hz;      /* 45..1250; 0: no pitch */
    double clarity; /* 0..1: how nearly periodic; at the pitch, or the highest found where there is none */
    double level;   /* mean square of the band that was looked at */
    double
        repeat; /* 0..1: likeness with the sound 99 to 101 ms earlier, where both the 50 and the 60 Hz mains repeat */
} PitchFrame;

typedef struct {
    double lag;    /* decimated samples; 0: no pitch */
    float octave;  /* log2 of it */
    float clarity; /* as in PitchFrame */
    float cost;    /* of the cheapest path that ends here */
    uint32_t from; /* the candidate of the frame before on that path */
} PitchCandidate;

typedef struct {
    uint32_t count;
    PitchCandidate candidate[PITCH_CANDIDATES + 1];
    double clarity, level, repeat;
} PitchColumn;

typedef struct {
    uint32_t first, count; /* decimated samples; a margin at either end serves interpolation alone */
} PitchLags;

typedef struct {
    double rate;                    /* after decimation, Hz */
    uint32_t decimate, hop, window; /* of PITCH_HOPS hops */
    PitchLags near, far;            /* of pitch, of `repeat` */
    uint32_t span;                  /* samples a frame looks at */
    uint32_t centre; /* where the window starts whose middle is the frame's centre: both windows of lag 0 */
    PitchLags near_starts, far_starts; /* samples at which the windows start: near lags compare two on either side of
                                          the centre, far ones one before it with that of the centre */

    Thin thin;
    Svf filter[PITCH_SECTIONS]; /* after that */
    SvfState state[PITCH_SECTIONS];

    float *frame;    /* the last whole one, and behind its `span` samples those of the hop under way */
    uint32_t hop_at; /* decimated samples since that was taken */

    /* Per lag, near ones first; as many as are worked on at a time (rows.h) fill them up. All hops of a window but the
     * newest were in the window of the frame before: their products are kept. */
    uint32_t lags;
    float *energy;         /* of both windows of `frame` that are compared */
    float *last, *earlier; /* products over the newest hop of the frame before; over that and the hop before it */
    float *likeness;
    double level; /* energy of the window at `centre` */
    uint32_t lags_done;

    PitchColumn column[PITCH_DELAY + 1];
    uint32_t newest;
    PitchFrame out;
} Pitch;

/* Allocates. false: no memory or rate out of range. */
bool pitch_init(Pitch *p, double rate);
void pitch_done(Pitch *p);  /* safe after an init that failed */
void pitch_reset(Pitch *p); /* nothing was heard */

/* Takes samples up to the end of the current frame; returns how many. *ready: a new figure is there. */
uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready);

/* The newest figure; all zero before the first. */
static inline const PitchFrame *pitch_frame(const Pitch *p)
{
    return &p->out;
}

/* Input samples between two frames: 10 ms, to ROWS_STEP (rows.h) decimated samples. */
uint32_t pitch_hop(const Pitch *p);

/* Samples between a sound and the figure whose window it was the middle of. */
uint32_t pitch_lag(const Pitch *p);

#endif
