/* Inside hum_follower.h: where a hum stands whose make-up is known; whether one that was heard in a rest is there in
 * the next; and where one is found again that was lost. */
#ifndef LINCTUS_HUM_FOLLOWER_FIND_H
#define LINCTUS_HUM_FOLLOWER_FIND_H

#include "hum_follower.h"

/* A hum that is known is looked for until something shows it clearly; if no rest does, it is another one now. */
void follower_align(HumFollower *f);

/* Rests in a row, and the sound between them: proofs of a hum that is not known. */
void follower_hear_proof(HumFollower *f);

/* What is heard shows a hum that is made up as the one that is followed, but stands elsewhere, block after block: there
 * it is followed from here on. */
void follower_hear_loss(HumFollower *f);

#endif
