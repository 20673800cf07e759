/* The starter chain's processors as their plug-ins come up (ttl/), all listening: what tests start from. */
#ifndef LINCTUS_STARTER_H
#define LINCTUS_STARTER_H

#include "chain.h"

extern const CompressorParams starter_compressor;
extern const EssesParams starter_esses;
extern const ChainParams starter_chain;

/* These, on hold. */
ChainParams starter_held(ChainParams p);

#endif
