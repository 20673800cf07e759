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
 * and 16 kHz. The work of a frame is spread over the samples of the next one, its lags over the last three quarters of
 * them. Every decision is a ratio: a change of
 * level by a power of two changes no bit of hz and clarity, down to PITCH_SILENCE. */
#ifndef LINCTUS_PITCH_H
#define LINCTUS_PITCH_H

#include "dsp.h"
#include "svf.h"
#include "thin.h"

#define PITCH_LOWEST  60.0   /* Hz, lowest pitch of a voice */
#define PITCH_HIGHEST 1100.0 /* Hz, highest pitch of a voice */
#define PITCH_SILENCE 1e-16  /* mean square (-160 dBFS): below it a frame has no pitch */

enum {
    PITCH_SECTIONS = 2,   /* high-passes before the search */
    PITCH_CANDIDATES = 8, /* most candidates of a frame, besides "no pitch" */
    PITCH_DELAY = 8,      /* frames that a decision waits for those that follow */
    PITCH_HOPS = 3,       /* hops in a window */
};

typedef struct {
    double hz;      /* 45..1250; 0: no pitch */
    double clarity; /* 0..1, 1: periodic; at the pitch, or the highest found where there is none */
    double level;   /* mean square in the band searched */
    double repeat;  /* 0..1, likeness to the sound 99 to 101 ms ago: mains of 50 and of 60 Hz both repeat then */
} PitchFrame;

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
    uint32_t first, count; /* decimated samples; margins at both ends are for interpolation only */
} PitchLags;

typedef struct {
    double rate;                       /* after decimation, Hz */
    uint32_t decimate, hop, window;    /* factor; decimated samples; likewise, PITCH_HOPS hops */
    PitchLags near, far;               /* lags searched for a pitch; for `repeat` */
    uint32_t span;                     /* decimated samples in a frame */
    uint32_t centre;                   /* start of the window in the middle of the frame: both windows of lag 0 */
    PitchLags near_starts, far_starts; /* starts of the windows. A near lag compares two on either side of the centre, a
                                          far lag one before the centre with that at the centre */

    Thin thin;
    Svf filter[PITCH_SECTIONS]; /* applied to the decimated signal */
    SvfState state[PITCH_SECTIONS];

    float *frame;    /* the last whole frame, `span` samples, followed by those of the current hop */
    uint32_t hop_at; /* decimated samples of the current hop so far */

    /* By lag, near ones first, both rounded up to a multiple of ROWS_PAIRS (rows.h). All hops of a window but the
     * newest were in a window of the frame before, so their products are kept. */
    uint32_t lags, far_at;
    float *energy;         /* energy of the two windows compared */
    float *last, *earlier; /* products over the newest hop of the frame before; over that and the hop before it */
    float *likeness;       /* n(lag) */
    double level;          /* energy of the window at `centre` */
    uint32_t lags_done;
    uint32_t next_peak; /* the first near lag that nobody has looked at, by its number */
    bool weighed;       /* `energy` and `level` are those of this frame */

    PitchColumn column[PITCH_DELAY + 1];
    uint32_t newest;
    PitchFrame out;
} Pitch;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. Allocates; false: no memory, or rate out of range. */
bool pitch_init(Pitch *p, double rate);
void pitch_done(Pitch *p);  /* safe after an init that failed */
void pitch_reset(Pitch *p); /* back to the state before the first sample */

/* Takes in samples up to the end of the current frame, n at most; returns how many. *ready: whether there is a new
 * figure. */
uint32_t pitch_process(Pitch *p, const float *in, uint32_t n, bool *ready);

/* The newest figure; all zero before the first. */
static inline const PitchFrame *pitch_frame(const Pitch *p)
{
    return &p->out;
}

/* Input samples between two frames: 10 ms, to the nearest ROWS_STEP (rows.h) decimated samples. */
uint32_t pitch_hop(const Pitch *p);

/* Input samples from the middle of a frame's window to the figure for that frame. */
uint32_t pitch_lag(const Pitch *p);

#endif
