/* The average spectrum of audio in sixths of an octave, for pictures: a bank of band-pass filters, each on the slowest
 * copy of the signal that still holds its band. Four equal second-order band-passes a band: an octave away they are
 * 60 dB down. Four bands run side by side, in float. */
#ifndef LINCTUS_HARNESS_BANK_H
#define LINCTUS_HARNESS_BANK_H

#include "decimate.h"
#include "four_svf.h"

enum {
    BANK_BANDS = 53, /* from 40 Hz to 16 kHz */
    BANK_SECTIONS = 4,
    BANK_STAGES = 12, /* the signal at its own rate, at half of it, and so on */
    BANK_FOURS = 28,
};

/* Up to four bands on end, of one stage. */
typedef struct {
    uint32_t stage, first, bands; /* first: the lowest */
    FourSections section;         /* each of a band's is the same */
    FourStates state[BANK_SECTIONS];
} BankFour;

typedef struct {
    uint32_t bands, stages; /* those that fit under the rate */
    Decimator half[BANK_STAGES];
    uint32_t fours;
    BankFour four[BANK_FOURS]; /* the slowest stage's first */
    double energy[BANK_BANDS];
    uint64_t samples[BANK_BANDS];
} Bank;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX. A band above 0.4 of it is left out. */
void bank_init(Bank *b, double rate);

/* Any n. Finite samples. */
void bank_process(Bank *b, const float *x, uint32_t n);

/* Hz, the middle of a band. */
double bank_hz(uint32_t band);

/* Mean square of what passed a band that is there, its width left out of account: pink noise reads the same in all. */
double bank_power(const Bank *b, uint32_t band);

#endif
