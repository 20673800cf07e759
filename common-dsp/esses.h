/* Esses: turns down only the sibilants (s z sh zh ch jh) that stand out of this voice, in one band.
 *
 * It hears every sibilant (sibilance.h), notes how loud each is in the band, and takes the median of those levels for
 * this voice's usual sibilant. One that stands further above it than `catch_above` is caught: the band is turned down by
 * what is too much, at most `most_cut`. Before five are heard nothing is cut. What is caught nowhere is the input,
 * delayed, to the bit.
 *
 * Latency: 5 ms, so that the cut stands when the sibilant comes. */
#ifndef LINCTUS_ESSES_H
#define LINCTUS_ESSES_H

#include "dsp.h"
#include "learned.h"

typedef struct Esses Esses;

typedef struct {
    double centre;      /* Hz, 3000..10000: middle of the band */
    double width;       /* octaves, 0.3..2. A band that starts above 0.45 of the rate does nothing */
    bool learn;         /* keep learning the usual sibilant; false holds it */
    double catch_above; /* dB over the usual sibilant, 0..24: more is too much */
    double most_cut;    /* dB, -20..0: never turned down further */
    bool hear_caught;   /* puts out only what is taken out */
} EssesParams;

typedef struct {
    bool heard;          /* a sibilant sounds now, caught or not */
    double cut;          /* dB, now, 0 or less */
    double caught_share; /* per cent of the sibilants heard since the last reset or fresh start of learning; 0: none */
} EssesReport;

extern const LearnedSchema esses_schema;

bool esses_init(Esses *e, double rate, uint32_t channels);
void esses_done(Esses *e);
void esses_reset(Esses *e);
void esses_set(Esses *e, const EssesParams *params);
void esses_process(Esses *e, const float *const *in, float *const *out, uint32_t n);
void esses_report(const Esses *e, EssesReport *report);
uint32_t esses_latency(const Esses *e);
void esses_learned_get(const Esses *e, Learned *l);
void esses_learned_put(Esses *e, const Learned *l);

#endif
