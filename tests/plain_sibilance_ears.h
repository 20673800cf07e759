/* sibilance_ears.h once more, without vectors. */
#ifndef LINCTUS_PLAIN_SIBILANCE_EARS_H
#define LINCTUS_PLAIN_SIBILANCE_EARS_H

#include "sibilance_ears.h"

SibilanceEars plain_sibilance_ears;

#endif
