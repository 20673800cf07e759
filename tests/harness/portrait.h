/* What two vocals are compared by: the average spectrum of the voice while it sounds, how far its short blocks spread
 * in level, and how loud it is. Rests do not count, so noise, breaths and the length of the pauses say nothing. */
#ifndef LINCTUS_HARNESS_PORTRAIT_H
#define LINCTUS_HARNESS_PORTRAIT_H

#include "bank.h"
#include "level.h"
#include "listening.h"
#include "sink.h"

enum {
    PORTRAIT_THIRDS = 26, /* third octaves, from 50 Hz to 16 kHz */
    PORTRAIT_FRAMES = 64, /* kept: more than wait for their answer and for the frames around them */
};

#define PORTRAIT_ENOUGH 2.0 /* s of voice: less says nothing of its colour */

/* 10 ms. */
typedef struct {
    double energy[BANK_BANDS];
    uint32_t samples[BANK_BANDS];
} PortraitFrame;

typedef struct {
    Sink sink;
    Block block;
    double rate;
    Level level;
    Bank bank;
    Listening listening;
    bool listens; /* it holds memory */

    PortraitFrame frame[PORTRAIT_FRAMES]; /* a ring */
    double energy[BANK_BANDS];            /* the bank's, when the last frame ended */
    uint64_t samples[BANK_BANDS];
    uint64_t heard, framed, answered; /* samples; frames that have ended, and those with an answer */
    uint64_t sounded;                 /* one past the last frame in which a voice sounds; 0: none as yet */
    double sum[BANK_BANDS];           /* of the frames that count */
    double sum_samples[BANK_BANDS];   /* of the bank's bands, in them */
    double voice;                     /* s, of frames in which a voice sounds */
    uint32_t block_frames;            /* of the block of 100 ms under way */
    double block_power;               /* likewise */
    double weight, levels, squares;   /* of all blocks: of amplitudes, and of levels in dB by them */
} Portrait;

/* channels: 1 or 2. Followed by portrait_free() in any case. false: out of memory. */
bool portrait_start(Portrait *p, double rate, uint32_t channels, Error *e);
void portrait_free(Portrait *p); /* safe on a zeroed struct, and twice */

/* After its end: */

/* dB of each band of the bank, as many as there are under the rate (returned): pink noise reads the same in all.
 * UNITS_DB_FLOOR: nothing. */
uint32_t portrait_colour(const Portrait *p, double db[BANK_BANDS]);

/* dB: how far the level of blocks of 100 ms goes up and down: its standard deviation, each block weighing as its
 * amplitude, so that rests, noise and what rings on hardly count. 0: silence. */
double portrait_spread(const Portrait *p);

/* LUFS, one channel counted on both speakers (level.h). */
double portrait_loudness(const Portrait *p);

/* ---- Third octaves of such a colour ---- */

/* Hz, the middle. third: 0..PORTRAIT_THIRDS - 1, here and below. */
double portrait_third_hz(uint32_t third);

/* dB of the third octave; UNITS_DB_FLOOR: it lies past the bands, or nothing is in it. */
double portrait_third(const double *colour, uint32_t bands, uint32_t third);

#endif
