/* --like: a take's settings are fitted to another vocal, an earlier mix as a rule. The chain is run for a try, what
 * came out is compared with the other vocal (portrait.h), and what is left of the difference moves the settings
 * (like_fit.h); so whatever else in the chain has a part in the sound is reckoned with. */
#ifndef LINCTUS_HARNESS_LIKE_H
#define LINCTUS_HARNESS_LIKE_H

#include "like_settings.h"
#include "portrait.h"
#include "takes.h"

enum { LIKE_TRIES = 6, LIKE_PLACES = 3 };

/* What is known of a vocal. */
typedef struct {
    uint32_t bands;
    double colour[BANK_BANDS]; /* dB */
    double spread;             /* dB */
    double loudness;           /* LUFS, one channel counted on both speakers */
    double voice;              /* s of it */
} LikeSide;

/* Where something is left of the difference. */
typedef struct {
    double hz; /* the third octave in which most is left, of those on end */
    double db; /* how much more the other vocal has there */
} LikePlace;

/* Zero it to begin with. */
typedef struct {
    Take other;
    bool fitted;                  /* false: the take has too little voice, and nothing was set */
    bool counts[PORTRAIT_THIRDS]; /* third octaves in which both have something; */
    uint32_t counted;             /* so many */
    LikeSide want, before, after; /* of the other vocal, of the take as it came, and of its mix */
    uint32_t channels;            /* of the file */
    uint32_t tries;               /* of the chain, that it took */
    LikeMoves moves;
    LikeValues values;
} Like;

/* dB, rms over the third octaves that count, level apart. */
double like_distance(const Like *l, const LikeSide *side);

/* Where 2 dB or more are left, at most LIKE_PLACES, the most first; returns how many. */
uint32_t like_places(const Like *l, LikePlace place[LIKE_PLACES]);

/* How near the colour came: "third octaves lay 4.1 dB from its own, now 0.9 (rms, level apart, 50 Hz to 16 kHz)". Of
 * one that was fitted. */
void like_line(const Like *l, char *text, size_t size);

/* What the table says of it. got: what the file got; saved: a preset is saved too. */
void like_print(const Like *l, const Delivered *got, bool saved, FILE *to);

#endif
