/* Inside hum_follower.h: what is heard of every harmonic, block by block, what that is worth, and how each harmonic and
 * the fundamental that they share are moved by it. */
#ifndef LINCTUS_HUM_FOLLOWER_HARMONICS_H
#define LINCTUS_HUM_FOLLOWER_HARMONICS_H

#include "hum_follower.h"

/* Of a harmonic: what is heard beside what is followed. */
typedef struct {
    double heard_re, heard_im;
    double re, im; /* how far from the hum that is followed, */
    double power;  /* the same */
    double apart;  /* power: how far from that hum where the harmonics agree that it is */
    double noise;  /* variance of what was heard */
} FollowerDifference;

typedef struct {
    double moved, worth; /* sum of phases by their worth, 1/rad^2; sum of worths */
} FollowerMove;

/* cos and sin of every harmonic of an angle, rad. */
void follower_harmonics(double angle, FollowerRows *to);

/* Nothing is known of harmonic k but that its power may be `prior`. */
void follower_begin_harmonic(FollowerChannel *c, uint32_t k, double prior);

/* What the blocks say of each harmonic, each sample weighed by a quadratic B-spline over three of them; turned back by
 * the time that the reference ran ahead of the sound. */
void follower_hear_block(HumFollower *f, FollowerChannel *c);

/* Of the last blocks under a Hann window, how far harmonic k is from the hum that is followed. newest: number of the
 * last block. */
FollowerDifference follower_difference(const FollowerChannel *c, uint32_t newest, uint32_t k);

/* The same of the last three blocks alone, under the spline: TURN_LATE blocks ago in the middle. */
FollowerDifference follower_difference_now(const FollowerChannel *c, uint32_t newest, uint32_t k);

/* What most harmonics of all channels agree on: by how much the fundamental is ahead, rad. */
double follower_most_agree(const HumFollower *f, FollowerDifference now[][FOLLOWER_HARMONICS]);

/* In a rest, what the measurement of a harmonic is worth: the variance of its noise. A difference tells that the
 * harmonic was not known. */
void follower_weigh(const HumFollower *f, FollowerChannel *c, uint32_t k, FollowerDifference *d);

/* The same of what the last three blocks alone tell, in a rest or not: what stands apart from what the harmonics agree
 * on is noise, and so is some of what did so in the block before. agreed: cos and sin, of each harmonic. */
void follower_weigh_now(const FollowerChannel *c, uint32_t k, const FollowerRows *agreed, FollowerDifference *now);

/* A harmonic turns too far while the fundamental is not known well. */
bool follower_in_reach(const HumFollower *f, uint32_t k);

/* What the harmonics say together of the fundamental's phase, and how much that is worth. */
void follower_hear_move(FollowerMove *m, const FollowerChannel *c, uint32_t k, const FollowerDifference *now);

/* The harmonic turns with the fundamental, which moved by so many radians, then goes its own way. */
void follower_move_harmonic(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d,
                            double moved);

/* By how much it usually differs: in rests alone. */
void follower_follow_usual(const HumFollower *f, FollowerChannel *c, uint32_t k, const FollowerDifference *d);

#endif
