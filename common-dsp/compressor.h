/* Compressor: evens out loud and quiet, by a threshold set by hand or found for a wanted reduction.
 *
 * Learning counts the detector's readings of everything heard since learning began. The threshold found is the one at
 * which the curve turns the middle of the loudest quarter of voiced frames down by the wanted reduction, or -60 dB
 * where that is out of reach. The makeup found, 0..40 dB, keeps the loudness of the input. Both follow the controls, on
 * hold too. With fewer than 20 voiced frames (1 s) nothing is turned down; if learning has begun afresh, what was known
 * before applies. After that the reduction comes in slowly: the threshold moves by 6 dB/s, from above the voice. Gain
 * path: compressor_gain.h. What is learned and worked out: compressor_frames.h, compressor_memory.h,
 * compressor_figures.h. Method: compressor.md. A living channel stands in for a dead one (living.h). */
#ifndef LINCTUS_COMPRESSOR_H
#define LINCTUS_COMPRESSOR_H

#include "compressor_figures.h"
#include "compressor_frames.h"
#include "compressor_gain.h"
#include "compressor_memory.h"
#include "processor.h"
#include "usual_reduction.h"
#include "work.h"

typedef struct {
    bool wanted;             /* true: the threshold is found for wanted_reduction; false: it is `threshold` */
    double threshold;        /* dB, -60..0; a steady sine counts with its peak level */
    double wanted_reduction; /* dB, 0..12: median over the loudest quarter of voiced 50 ms frames */
    bool learn;              /* true: keep learning how loud the voice is; false: hold that */
    double ratio;            /* 1..20 */
    double attack;           /* ms, 0.1..100: time to 63 % of a dB step of the gain */
    double release;          /* ms, 5..1000: time back to 37 %, counted after the peak hold */
    double knee;             /* dB, 0..18 */
    double look_ahead;       /* ms, 0..5; the latency is always 5 ms */
    double detector_low_cut; /* Hz, 20..300, 12 dB per octave, before the detector only */
    double makeup;           /* dB, -12..24: can make things loud; adds to what even_loudness finds */
    bool even_loudness;      /* true: a makeup is found that keeps the loudness of the input */
    double blend;            /* per cent of the compressed signal, 0..100; 0 is the delayed input, to the bit */
} CompressorParams;

typedef struct {
    double reduction;       /* dB, 0 or more, now, before blend */
    double usual_reduction; /* dB, before blend: median over the loudest quarter of voiced 50 ms frames since the curve
                               or its times last changed, loudest as the detector follows them. A change shows after
                               20 frames. On hold nothing is measured: it is then what the curve takes off the learned
                               voice at the middle of its loudest quarter; 0: nothing learned */
    double threshold_now;   /* dB, in force */
    double makeup_now;      /* dB: the makeup found plus the control's */
} CompressorReport;

typedef struct {
    double rate;
    uint32_t channels;
    CompressorParams params;
    CompressorWish wish; /* the controls that the figures depend on */
    bool started;        /* set since the last reset */
    LearnSwitch learn;
    CompressorGain gain;

    /* Listening. */
    Listening listening;
    double loudest; /* dB: highest reading of the detector since the reset, without the gain before it */
    bool behind;    /* a moving gain lies before it (compressor_hear_through()) */
    double before;  /* dB: that gain now */
    CompressorFrames frames;
    UsualReduction shown;

    /* Learned. */
    CompressorMemory memory;
    CompressorFigures figures;
    Work pace; /* spreads the figures' steps over the cells */
    struct {
        uint32_t version; /* of the memory */
        CompressorWish wish;
        double loud;
    } worked;            /* what the last step of the figures used */
    uint32_t steps_left; /* steps until a whole round has used that alone; 0: the figures are up to date */
} Compressor;

/* Latency: 5 ms, rounded to samples. */
extern const Processor compressor;

/* For processors in a row that learn together, before a tick on learn: the input has gone through a gain that still
 * moves, now at `now` and bound for `goal`, dB. What is heard is counted as it would be at 0 dB, and the figures are
 * those of a voice at `goal`. Without this call that gain counts as steady. */
void compressor_hear_through(Compressor *c, double now, double goal);

/* Likewise, at every such tick: whether a voice sounds, as found by a processor that hears the same take earlier in the
 * row (listening_told()). */
void compressor_hear_voice(Compressor *c, bool sounding);

#endif
