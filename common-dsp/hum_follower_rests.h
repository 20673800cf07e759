/* Inside hum_follower.h: which windows lie in rests. */
#ifndef LINCTUS_HUM_FOLLOWER_RESTS_H
#define LINCTUS_HUM_FOLLOWER_RESTS_H

#include "hum_follower.h"

/* A block has ended. Is its window a rest? One that leaves as little as the weakest lately. Where the rests prove
 * quieter than what was taken for rests so far, what was learned in those counts little from here on. */
void follower_hear_rest(HumFollower *f);

#endif
