/* The tank: 16 delay lines, each with its loss, fed back through an orthogonal matrix (Hadamard's), so that nothing but
 * the losses takes energy out. Their delays are different primes: no two lines have an echo in common, and their sum is
 * the number of modes a hertz (Schroeder 1962, from memory).
 *
 * All work is done in whole cells. Each output listens to every line at one place. */
#ifndef LINCTUS_PLATE_TANK_H
#define LINCTUS_PLATE_TANK_H

#include "plate_loss.h"
#include "plate_tables.h"

#include <stdbool.h>

enum {
    PLATE_GROUPS = PLATE_LINES / FOUR,
    PLATE_FIELDS = 2, /* near and far: taps before and after half the latest one */
};

/* What follows from decay and damping. */
typedef struct {
    PlateLoss loss[PLATE_GROUPS];
    float gain[PLATE_OUTS][PLATE_LINES]; /* of the taps, from the near ones on */
} PlateTankTune;

typedef struct {
    uint32_t delay[PLATE_LINES];                                                            /* samples */
    uint32_t place[PLATE_OUTS][PLATE_LINES];                                                /* of the taps, samples */
    uint32_t latest;                                                                        /* of the taps */
    uint8_t field[PLATE_OUTS][PLATE_FIELDS][PLATE_LINES], fields[PLATE_OUTS][PLATE_FIELDS]; /* lines, and how many */
    PlateLossState state[PLATE_GROUPS];

    /* Places in the ring: of each line's next cell, of what is due of it, and of the taps, an output's near ones first,
     * the far ones a cell ahead. */
    uint32_t next[PLATE_LINES], late[PLATE_LINES], tap[PLATE_OUTS][PLATE_LINES];
    uint32_t feed[PLATE_LINES]; /* see PLATE_FEEDS */
} PlateTank;

/* Places the lines in the ring, whose memory is not given yet. */
void plate_tank_place(PlateTank *tank, PlateRing *ring, const PlateTables *tables, double rate);

/* per_sample: logarithm of what a sample's delay leaves of an amplitude, below 0. warped: tan(pi damping / rate). */
void plate_tank_tune(const PlateTank *tank, const PlateTables *tables, double per_sample, double warped,
                     PlateTankTune *tune);

/* A cell that is fed, once around: even lines take a, odd ones b. Samples beyond DSP_BROKEN are held there, which no
 * sound reaches. from, goal: the tuning at both ends of the cell; the same twice where it rests. */
void plate_tank_feed(PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     const float *a, const float *b);

/* After that, the sums of each output's taps: far ones for the cell after the next, then near ones for the next, each
 * late enough to be known by then; `more` is added to the near ones. */
void plate_tank_hear(const PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     float more[PLATE_OUTS][DSP_CELL], float sum[2 * PLATE_OUTS][DSP_CELL]);

/* The one y of a loss that, far above the damping, takes from a field's taps together what their own would: there a
 * loss takes y^2 more of the amplitude than at low frequencies, y^4 of the energy. */
double plate_tank_mean_loss(const PlateTank *tank, double per_sample, uint32_t field);

/* Once a cell. */
void plate_tank_hush(PlateTank *tank);

/* The length of all lines together, s: what the density of modes follows from. */
double plate_tank_seconds(const PlateTank *tank, double rate);

#endif
