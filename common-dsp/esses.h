/* Esses: turns down only the sibilants (s z sh zh ch jh) that stand out of this voice, in one band.
 *
 * It hears every sibilant (sibilance.h), notes how loud each is, and takes the median of those levels in the band for
 * this voice's usual sibilant. One that stands further above it than `catch_above` is caught: a bell (centre, width)
 * turns the band down by as much as is too much, at most by `most_cut`. Before five sibilants are known nothing is cut.
 *
 * Where the band lies: at the centre set by hand or, by listening, where this voice's s is densest, once five sibilants
 * are known. An f is faint and an sh lies lower than an s, so of all that are known those count that are no more than 6
 * dB fainter than the median, and of these the highest group: a quarter of them or more within a third of an octave.
 * Its median is the centre. A voice with as many sh as s gets the centre of its s; where fewer than a quarter are s,
 * that of the rest. Method ours; figures in tests/unit/test_esses.c.
 *
 * What it learns: the levels of the sibilants heard since learning began, in five bands, so that the usual sibilant is
 * known for any centre and width: when the band moves, by hand or by listening, the usual sibilant and what sounds are
 * both judged in the new band. The centre found comes from the same levels. It keeps at most ESSES_MEMORY of them: with
 * one more, the two that are most alike, nearest to each other over the five bands, become one, their mean, that counts
 * for all it is made of. So each one ever heard counts, however long the session, and a passage played around and
 * around leaves the figures where they are. Usual sibilant and centre are made from these alone, so a restored session
 * goes on exactly. Started afresh, the old memory stays in force until five new sibilants are heard. A living
 * channel stands in for a dead one (living.h).
 *
 * How it moves: a sibilant is heard within 9 ms of a sudden start, the cut is there 3 ms later, and the delay makes up
 * for 5 ms of both; it goes back with 20 ms. It moves without a kink. Where nothing is caught the output is the input,
 * 5 ms later, to the bit. A band that starts above 0.45 of the rate does nothing. It only ever turns down: nothing here
 * makes things loud.
 */
#ifndef LINCTUS_ESSES_H
#define LINCTUS_ESSES_H

#include "delay.h"
#include "fade.h"
#include "living.h"
#include "processor.h"
#include "sibilance.h"
#include "smooth.h"

enum {
    ESSES_MEMORY = 200, /* most sibilants kept, alone or joined */
    ESSES_ENOUGH = 5,   /* sibilants that make a figure */
};

typedef struct {
    double centre;      /* Hz, 3000..10000: middle of the band set by hand */
    bool listening;     /* the band lies at the centre found, once there is one */
    double width;       /* octaves between the bell's half-gain points, 0.3..2 */
    bool learn;         /* keep learning the usual sibilant; false holds it. Hold -> learn starts afresh */
    double catch_above; /* dB over the usual sibilant, 0..24: more is too much */
    double most_cut;    /* dB, -20..0: never turned down further */
    bool hear_caught;   /* puts out only what is taken out */
} EssesParams;

typedef struct {
    bool heard;          /* a sibilant sounds now, caught or not */
    double cut;          /* dB, now, 0 or less */
    double caught_share; /* per cent of the sibilants since the last reset or fresh start of learning that were cut by
                            1 dB or more for 15 ms or more, longer than a click is felt; 0: none heard */
    double found_centre; /* Hz, 3000..10000, in steps of 1/24 octave, found by listening or not; 0: none yet */
} EssesReport;

/* A sibilant's levels, dB in steps of 1/256, as measured by sibilance.h. */
typedef struct {
    float level[SIBILANCE_BANDS];
} EssesSibilant;

typedef struct {
    EssesSibilant known[ESSES_MEMORY + 1]; /* the last place: until two have become one */
    float heard[ESSES_MEMORY + 1];         /* how many each is the mean of, whole numbers up to 2^24 */
    uint32_t count;
    EssesSibilant fresh[ESSES_ENOUGH]; /* heard since the fresh start: they replace the others when there are enough */
    uint32_t fresh_count;
    bool afresh; /* sibilants go to `fresh` */
} EssesMemory;

/* What is worked out once of a known sibilant. */
typedef struct {
    double power[SIBILANCE_BANDS];
    double densest, density; /* log2 of Hz, dB */
    uint32_t like;           /* place of the one most alike; in a full memory alone */
    double unlike;           /* squared distance to it, dB^2; infinite: there is no other */
} EssesKnown;

typedef struct {
    double rate;
    uint32_t channels, latency;
    EssesParams params;
    LearnSwitch learn;
    EssesMemory memory;
    EssesKnown known[ESSES_MEMORY + 1]; /* what follows from the memory, place by place */
    uint32_t compared;                  /* places of a full memory of which the most alike is known */
    double found;                       /* log2 of Hz: centre found; 0: none yet */
    double least;                       /* dB: fainter ones do not count for the centre */
    uint32_t due;                       /* cells until what a new sibilant changes is in force */
    uint32_t version;                   /* of the memory */

    Living living;
    Sibilance sibilance;
    double weight[SIBILANCE_BANDS]; /* of each band's power, for the band as set */
    double middle;                  /* log2 of Hz: middle of the band in force */
    double usual;                   /* dB, usual sibilant in the band as set */
    bool usual_known, in_reach;     /* enough are known; the band starts below 0.45 of the rate */

    double wanted;               /* dB: the cut with its release, before smoothing */
    uint32_t cut_for;            /* cells in a row that the sibilant under way was cut by 1 dB or more */
    bool is_caught;              /* that was long enough once */
    Smooth cut, centre, octaves; /* dB; log2 of Hz; octaves. Stepped once a cell */
    bool at_rest;                /* the bell does nothing in this cell */
    Sos bell;
    Fade hear;
    Delay delay[DSP_CHANNELS];

    uint32_t sibilants, caught;
    EssesReport report;
} Esses;

/* Latency: 5 ms. */
extern const Processor esses;

#endif
