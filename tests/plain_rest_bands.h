/* rest_bands_walk.h once more, without vectors. */
#ifndef LINCTUS_PLAIN_REST_BANDS_H
#define LINCTUS_PLAIN_REST_BANDS_H

#include "rest_bands_walk.h"

RestBandsWalk plain_rest_bands_walk;

#endif
