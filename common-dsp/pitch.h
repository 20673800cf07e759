/* Pitch tracking, 60 to 1100 Hz, one figure every 10 ms.
 *
 * Method: the normalised square difference function n(lag) = 2 sum a b / (sum a^2 + sum b^2) of P. McLeod and G.
 * Wyvill, "A smarter way to find pitch", ICMC 2005 (from memory: the text was not opened), over two equal windows that
 * lie lag apart around the frame's centre. Which of its peaks is the pitch: pitch_path.h.
 *
 * It works on the signal between 60 Hz and 2 kHz, falling gently below 150 Hz against rumble, decimated to between 8
 * and 16 kHz. The work of a frame is spread over the samples of the next one, its lags over the last three quarters of
 * them. Every decision is a ratio: a change of level by a power of two changes no bit of hz and clarity, down to
 * PITCH_SILENCE. */
#ifndef LINCTUS_PITCH_H
#define LINCTUS_PITCH_H

#include "dsp.h"
#include "pitch_path.h"
#include "two_svf.h"
#include "thin.h"

#define PITCH_LOWEST  60.0   /* Hz, lowest pitch of a voice */
#define PITCH_HIGHEST 1100.0 /* Hz, highest pitch of a voice */
#define PITCH_SILENCE 1e-16  /* mean square (-160 dBFS): below it a frame has no pitch */

enum {
    PITCH_SECTIONS = 2, /* high-passes before the search */
    PITCH_HOPS = 3,     /* hops in a window */
};

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
    TwoSvf filters;             /* the same side by side */
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
    bool weighed; /* `energy` and `level` are those of this frame */

    PitchPath path;
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
