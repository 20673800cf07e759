/* The steps of fourier.h once more, without vectors: what a compiler gets that has none. */
#ifndef LINCTUS_PLAIN_FOURIER_H
#define LINCTUS_PLAIN_FOURIER_H

#include "fourier_inside.h"

FourierStep plain_fourier_pass, plain_fourier_split, plain_fourier_merge;
FourierJoin plain_fourier_join;

#endif
