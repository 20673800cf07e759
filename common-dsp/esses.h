/* Esses: turns down only the sibilants (s z sh zh ch jh) that stand out of this voice, in one band. One that stands
 * further above the upper end of this voice's usual range (esses_figures.h) than `catch_above` is caught: a bell
 * (centre, width) turns the band down by as much as is too much, at most by `most_cut`. Before five sibilants are known
 * nothing is cut, nor where listening is to place the band and has found no centre. How they are heard, what is learned
 * and how the centre is found: esses.md.
 *
 * A sibilant is heard within 9 ms of a sudden start, the cut is there 3 ms later, and the delay makes up for 5 ms of
 * both; it goes back with 20 ms, without a kink. Where nothing is caught the output is the input, 5 ms later, to the
 * bit. A band that starts above 0.45 of the rate does nothing. It only ever turns down: nothing here makes things loud.
 *
 * On hold it hears sibilants as before, for nothing else can catch them, but notes none: of the report `sounding`,
 * `cut` and `caught_share` are of what sounds, `found_centre` of what was learned. While nothing is turned down the
 * bell does not run; it starts from rest, and has settled before the cut is heard. */
#ifndef LINCTUS_ESSES_H
#define LINCTUS_ESSES_H

#include "delay.h"
#include "esses_band.h"
#include "fade.h"
#include "living.h"
#include "processor.h"
#include "sibilance.h"
#include "smooth.h"
#include "sos.h"

typedef struct {
    double centre;      /* Hz, 3000..10000: middle of the band set by hand */
    bool listening;     /* the band lies at the centre found, once there is one */
    double width;       /* octaves between the bell's half-gain points, 0.3..2 */
    bool learn;         /* keep learning the usual range; false holds it. Hold -> learn starts afresh */
    double catch_above; /* dB over the upper end of the usual range, -12..12: more is too much */
    double most_cut;    /* dB, -20..0: never turned down further */
    bool hear_caught;   /* puts out only what is taken out */
} EssesParams;

typedef struct {
    bool sounding;       /* a sibilant sounds now, caught or not */
    double cut;          /* dB, now, 0 or less */
    double caught_share; /* per cent of the sibilants since the last reset or fresh start of learning that were cut by
                            1 dB or more for 15 ms or more, longer than a click is felt; 0: none heard */
    double found_centre; /* Hz, 3000..10000, in steps of 1/24 octave, found by listening or not; 0: none yet */
} EssesReport;

typedef struct {
    double rate;
    uint32_t channels, latency;
    EssesParams params;
    LearnSwitch learn;
    EssesMemory memory;
    EssesBand band;
    uint32_t version; /* of the memory */
    bool behind;      /* a gain that moves (esses_hear_through()); */
    double before;    /* dB, that gain now */
    bool passed_over; /* the sibilant that has just ended would have been noted */

    Living living;
    Sibilance sibilance;

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

/* ---- For a row of processors that learn at once ---- */

/* Before a tick on learn: what comes in has gone through a gain that is still on its way, now at `now` and bound for
 * `goal`, dB. The usual range is that at `goal`. From now on sibilants are noted by who tells this alone. */
void esses_hear_through(Esses *e, double now, double goal);

/* After a tick in which a sibilant has ended that would have been noted (`passed_over`): its levels, dB at a gain of 0
 * dB before it. */
void esses_last_level(const Esses *e, double level[SIBILANCE_BANDS]);

/* Notes one, so counted; or takes this for all that is known. */
void esses_note(Esses *e, const double level[SIBILANCE_BANDS]);
void esses_replace(Esses *e, const EssesMemory *known);

#endif
