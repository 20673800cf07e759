/* Inside hum_follower.h: how much of each harmonic is put out, block by block. */
#ifndef LINCTUS_HUM_FOLLOWER_OUT_H
#define LINCTUS_HUM_FOLLOWER_OUT_H

#include "hum_follower.h"

/* A block begins: harmonics that are sure and wanted come, others go. Where all have gone, nothing is put out, and what
 * comes back begins at nothing. */
void follower_fade(HumFollower *f);

/* What is put out goes from where it is in a straight line to what is wanted at the block's end. Adds to put_energy. */
void follower_aim(HumFollower *f);

#endif
