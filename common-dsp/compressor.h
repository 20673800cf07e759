/* Compressor: evens out loud and quiet, by a threshold set by hand or found for a wanted reduction. */
#ifndef LINCTUS_COMPRESSOR_H
#define LINCTUS_COMPRESSOR_H

#include "dsp.h"
#include "learned.h"

typedef struct {
    bool wanted;             /* true: the threshold is found for wanted_reduction; false: it is `threshold` */
    double threshold;        /* dB, a steady sine counts as its peak level, -60..0 */
    double wanted_reduction; /* dB, 0..12: median over the loudest quarter of voiced 50 ms frames */
    bool learn;              /* true: keep learning how loud the voice is; false: hold that */
    double ratio;            /* 1..20 */
    double attack;           /* ms, 0.1..100: time to 63 % of a dB step of the gain */
    double release;          /* ms, 5..1000: time back to 37 %, counted after the peak hold */
    double knee;             /* dB, 0..18 */
    double look_ahead;       /* ms, 0..5; the latency is always 5 ms */
    double detector_low_cut; /* Hz, 20..300, 12 dB per octave, before the detector only */
    double makeup;           /* dB, -12..24: can make things loud; adds to what even_loudness finds */
    bool even_loudness;      /* true: a makeup is found that keeps the loudness of what went in */
    double blend;            /* per cent of the compressed signal, 0..100; 0 is the delayed input, to the bit */
} CompressorParams;

typedef struct {
    double reduction;       /* dB, 0 or more, now, before blend */
    double usual_reduction; /* dB: median over the loudest quarter of voiced 50 ms frames, before blend */
    double threshold_now;   /* dB, in force */
    double makeup_now;      /* dB, found and asked for together */
} CompressorReport;

typedef struct Compressor Compressor;

extern const LearnedSchema compressor_schema;

bool compressor_init(Compressor *c, double rate, uint32_t channels);
void compressor_done(Compressor *c);
void compressor_reset(Compressor *c);
void compressor_set(Compressor *c, const CompressorParams *params);
void compressor_process(Compressor *c, const float *const *in, float *const *out, uint32_t n);
void compressor_report(const Compressor *c, CompressorReport *report);
uint32_t compressor_latency(const Compressor *c); /* 5 ms, rounded to samples */
void compressor_learned_get(const Compressor *c, Learned *learned);
void compressor_learned_put(Compressor *c, const Learned *learned);

#endif
