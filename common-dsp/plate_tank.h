/* The tank: 16 delay lines, each with its loss, fed back through an orthogonal matrix (Hadamard's), so that energy
 * leaves through the losses only. Their delays are different primes, so that the lines share no echoes. The sum of the
 * delays in seconds is the number of modes per hertz (Schroeder 1962, from memory).
 *
 * All work is done in whole cells. Each output taps every line at one place. */
#ifndef LINCTUS_PLATE_TANK_H
#define LINCTUS_PLATE_TANK_H

#include "plate_loss.h"
#include "plate_tables.h"

enum {
    PLATE_GROUPS = PLATE_LINES / FOUR,
    PLATE_FIELDS = 2, /* near and far taps: those before and after half the delay of the latest tap */
};

/* Coefficients that follow from decay and damping. */
typedef struct {
    PlateLoss loss[PLATE_GROUPS];
    float gain[PLATE_OUTS][PLATE_LINES]; /* gains of the taps, near ones first */
} PlateTankTune;

typedef struct {
    uint32_t delay[PLATE_LINES];                                                            /* samples */
    uint32_t place[PLATE_OUTS][PLATE_LINES];                                                /* of the taps, samples */
    uint32_t latest;                                                                        /* of the taps */
    uint8_t field[PLATE_OUTS][PLATE_FIELDS][PLATE_LINES], fields[PLATE_OUTS][PLATE_FIELDS]; /* lines, and how many */
    PlateLossState state[PLATE_GROUPS];

    /* Places in the ring: of each line's next cell; of its delayed cell; and of each output's taps, near ones first,
     * the far ones a cell ahead. */
    uint32_t next[PLATE_LINES], late[PLATE_LINES], tap[PLATE_OUTS][PLATE_LINES];
    uint32_t feed[PLATE_LINES]; /* see PlateRound (plate_loops.h) */
} PlateTank;

/* Chooses lines and taps from the tables, and adds the lines to the ring, which has no memory yet. */
void plate_tank_place(PlateTank *tank, PlateRing *ring, const PlateTables *tables, double rate);

/* per_sample: natural logarithm of the amplitude left after a delay of one sample, below 0. warped: tan(pi damping /
 * rate). */
void plate_tank_tune(const PlateTank *tank, const PlateTables *tables, double per_sample, double warped,
                     PlateTankTune *tune);

/* Feeds in a cell and runs it once around: even lines take a, odd ones b. Samples are held to +-DSP_BROKEN, which no
 * sound reaches. from, goal: the tuning at the cell's beginning and end; the same pointer where it rests. */
void plate_tank_feed(PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     const float *a, const float *b);

/* To be called after that: adds up each output's taps. sum: two rows of far taps for the cell after the next, then two
 * of near taps for the next cell, with `more` added. */
void plate_tank_hear(const PlateTank *tank, const PlateRing *ring, const PlateTankTune *from, const PlateTankTune *goal,
                     float more[PLATE_OUTS][DSP_CELL], float sum[2 * PLATE_OUTS][DSP_CELL]);

/* The y of one loss that, far above the damping, takes as much energy from all taps of a field (0: near, 1: far) as
 * their own losses would. There a loss takes y^2 of the amplitude, y^4 of the energy, more than at low frequencies. */
double plate_tank_mean_loss(const PlateTank *tank, double per_sample, uint32_t field);

/* To be called once a cell: states too small to be heard become 0. */
void plate_tank_hush(PlateTank *tank);

/* Length of all lines together, s, which is also the number of modes per hertz. */
double plate_tank_seconds(const PlateTank *tank, double rate);

#endif
