/* Esses: turns down only the sibilants (s z sh zh ch jh) that stand out from this voice, in one band. A sibilant more
 * than `catch_above` over the upper end of this voice's usual range (esses_figures.h) is caught: a bell (centre, width)
 * turns the band down by the excess, at most by `most_cut`. Until five sibilants are known nothing is cut, nor
 * where listening is to place the band and has found no centre. What is
 * learned, and how the centre is found: esses.md. How sibilants are heard: sibilance.h.
 *
 * A sibilant is heard within 9 ms of a sudden start, the cut is there 3 ms later, and the latency makes up for 5 ms of
 * both. The release is 20 ms, without a kink. Where nothing is caught the output is the input, 5 ms later, to the bit.
 * A band that starts above 0.45 of the rate does nothing. Esses only turns down and makes nothing louder.
 *
 * On hold it hears and catches sibilants as before, but learns none: `sounding`, `cut` and `caught_share` of the report
 * are of what sounds, `found_centre` is of what was learned. While nothing is turned down the bell does not run; it
 * starts from rest, and has settled before the cut is heard. */
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
    double catch_above; /* dB over the upper end of the usual range, -12..12: louder sibilants are caught */
    double most_cut;    /* dB, -20..0: the deepest cut */
    bool hear_caught;   /* put out only what is taken out */
} EssesParams;

typedef struct {
    bool sounding;       /* a sibilant sounds now, caught or not */
    double cut;          /* dB, 0 or less: the cut now */
    double caught_share; /* per cent of the sibilants since the last reset or fresh start of learning: those cut by 1 dB
                            or more for 15 ms or more, longer than a click is felt; 0: none heard */
    double found_centre; /* Hz, 3000..10000, in steps of 1/24 octave, whether it is in use or not; 0: none yet */
} EssesReport;

typedef struct {
    double rate;
    uint32_t channels, latency;
    EssesParams params;
    LearnSwitch learn;
    EssesMemory memory;
    EssesBand band;
    uint32_t version; /* of the memory */
    bool behind;      /* a moving gain lies before it (esses_hear_through()) */
    double before;    /* dB: that gain now */
    bool passed_over; /* a sibilant has just ended that the caller has to note */

    Living living;
    Sibilance sibilance;

    double wanted;               /* dB: the cut with its release, before smoothing */
    uint32_t cut_for;            /* cells in a row in which the sibilant under way was cut by 1 dB or more */
    bool is_caught;              /* such a run was 15 ms long or longer */
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

/* ---- For processors in a row that learn together ---- */

/* Before a tick on learn: the input has gone through a gain that still moves, now at `now` and bound for `goal`, dB.
 * The usual range is that at `goal`. From the first call on Esses notes no sibilants by itself: the caller has to. */
void esses_hear_through(Esses *e, double now, double goal);

/* Levels of the last sibilant, dB, as with a gain of 0 dB before Esses. Call it after a tick that set `passed_over`. */
void esses_last_level(const Esses *e, double level[SIBILANCE_BANDS]);

/* Notes a sibilant, unless it is known already (esses_memory_knows()). level: as from esses_last_level(). */
void esses_note(Esses *e, const double level[SIBILANCE_BANDS]);

/* Replaces all that is known by this memory. */
void esses_replace(Esses *e, const EssesMemory *known);

#endif
