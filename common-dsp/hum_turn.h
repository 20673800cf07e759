/* How the fundamental of a mains hum turns: its phase, its speed and its drift.
 *
 * Most mains stand all but still, some drift. So two Kalman filters follow it, one that expects next to no drift and
 * one that expects much; what each says counts for as much as it has foretold lately (interacting multiple models: H.
 * Blom and Y. Bar-Shalom, IEEE Trans. Automatic Control 33, 1988; from memory). A hum that stands still is then known
 * far better than the quick filter could know it, and one that drifts is followed as before. */
#ifndef LINCTUS_HUM_TURN_H
#define LINCTUS_HUM_TURN_H

#include <stdbool.h>

#define TURN_LATE 1.5 /* steps: the measured phase is that of so long ago */

enum { TURN_FILTERS = 2, TURN_STATES = 3 };

typedef struct {
    double at[TURN_STATES];                 /* phase (rad, from where the hum is taken to be), rad/s,
                                               rad/s^2 */
    double doubt[TURN_STATES][TURN_STATES]; /* covariance */
    double share;                           /* 0..1: what it counts for */
} TurnFilter;

typedef struct {
    TurnFilter filter[TURN_FILTERS];
    double nominal, speed;           /* rad/s: as it should be; as it is */
    double before;                   /* rad/s: the speed assumed in the last step */
    double phase_doubt, speed_doubt; /* variances */
} HumTurn;

/* hz: nominal. Of phase and speed nothing is known. */
void turn_begin(HumTurn *t, double hz);

/* A step of so many `seconds`, and then a measurement of the phase as it was TURN_LATE steps ago. `ahead`: rad, how far
 * it is ahead of where the hum is now assumed to have been then. `worth`: 1 / variance, 1/rad^2; 0: nothing was
 * measured. `exact`: in a rest, where the unexpected is not noise. Returns by how much, in rad, the assumed phase moves
 * to where the hum is now. */
double turn_step(HumTurn *t, double seconds, double ahead, double worth, bool exact);

/* The phase is where the hum is assumed to be. phase_doubt: its variance; speed_doubt: least variance of the speed. */
void turn_placed(HumTurn *t, double phase_doubt, double speed_doubt);

#endif
