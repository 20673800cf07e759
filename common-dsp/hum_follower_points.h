/* Inside hum_follower.h: from point to point, what is heard and what is put out. */
#ifndef LINCTUS_HUM_FOLLOWER_POINTS_H
#define LINCTUS_HUM_FOLLOWER_POINTS_H

#include "hum_follower.h"

/* The stretch before this point is correlated with the reference, which turns on; the hum up to the next point is
 * drawn. */
void follower_step_point(HumFollower *f);

#endif
