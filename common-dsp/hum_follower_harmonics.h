/* Inside hum_follower.h: measures every harmonic, block by block, weighs the measurement, and moves the harmonic and
 * the fundamental that all share by it. */
#ifndef LINCTUS_HUM_FOLLOWER_HARMONICS_H
#define LINCTUS_HUM_FOLLOWER_HARMONICS_H

#include "hum_follower.h"

/* Of a harmonic: what is heard, compared with the hum that is followed. */
typedef struct {
    double heard_re, heard_im;
    double re, im; /* difference from the hum that is followed */
    double power;  /* of that difference */
    double apart;  /* power: difference from that hum, turned to where the harmonics agree that it is */
    double noise;  /* variance of what was heard */
} FollowerDifference;

typedef struct {
    double moved, worth; /* sum of phases by their worth, 1/rad^2; sum of worths */
} FollowerMove;

/* cos and sin of every harmonic of an angle, rad. */
void follower_harmonics(double angle, FollowerRows *to);

/* Nothing is known of harmonic k but that its power may be `prior`. */
void follower_begin_harmonic(FollowerChannel *c, uint32_t k, double prior);

/* Measures each harmonic in the last three blocks, under a quadratic B-spline over them; turned back by the time by
 * which the reference ran ahead of the sound. */
void follower_hear_block(HumFollower *f, FollowerChannel *c);

/* How far harmonic k is from the hum that is followed, by the last blocks under a Hann window. newest: number of the
 * last block. */
FollowerDifference follower_difference(const FollowerChannel *c, uint32_t newest, uint32_t k);

/* The same by the last three blocks alone, under the spline. Its middle is TURN_LATE blocks ago. */
FollowerDifference follower_difference_now(const FollowerChannel *c, uint32_t newest, uint32_t k);

/* By how much the fundamental is ahead, rad: the median over the harmonics of all channels. */
double follower_most_agree(const HumFollower *f, FollowerDifference now[][FOLLOWER_HARMONICS]);

/* In a rest: sets the variance of a measurement's noise. A large difference that lasts means that the harmonic was not
 * known. */
void follower_weigh(const HumFollower *f, FollowerChannel *c, uint32_t k, FollowerDifference *d);

/* The same for the last three blocks alone, in a rest or not. What deviates from what the harmonics agree on is noise;
 * at the least, a share of what did so in the block before is. agreed: cos and sin of each harmonic's angle. */
void follower_weigh_now(const FollowerChannel *c, uint32_t k, const FollowerRows *agreed, FollowerDifference *now);

/* Whether harmonic k counts: while the fundamental is not known well, a high harmonic may turn too far. */
bool follower_in_reach(const HumFollower *f, uint32_t k);

/* Adds what harmonic k says of the fundamental's phase, and how much that is worth. */
void follower_hear_move(FollowerMove *m, const FollowerChannel *c, uint32_t k, const FollowerDifference *now);

/* Turns the harmonic with the fundamental, which moved by `moved` rad, and in a rest then corrects it by its own
 * measurement. */
void follower_move_harmonic(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d,
                            double moved);

/* Follows by how much a harmonic usually differs. Call it in rests only. */
void follower_follow_usual(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d);

#endif
