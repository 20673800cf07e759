/* Mains hum: how strong the harmonics of 50 Hz and of 60 Hz are in a window of a rest, in a signal slowed down to 3..6
 * kHz.
 *
 * A window of 0.25 s under a Hann window is looked at (Goertzel's algorithm) at ten harmonics of each family, for seven
 * fundamentals within 1.2 % of the nominal one (public supply holds 1 %), and half-way between the harmonics for the
 * noise there: the mean of both sides, at the fundamental the geometric one, as a rumble falls steeply. The fundamental
 * with the most power in its harmonics counts; from each harmonic the noise beside it is taken off. A family stands out
 * if its harmonics have HUM_STANDS_OUT times the noise's power or more, and if the clearest of its lowest harmonics
 * is a steady tone, at its place: what rings in a room dies away, what is noise has no phase, and a note that bleeds in
 * lies elsewhere (hum.md).
 *
 * The work of a window is spread over the samples that follow it.
 */
#ifndef LINCTUS_HUM_H
#define LINCTUS_HUM_H

#include "decimate.h"

/* Chosen, not searched; what a window of this length can tell apart: hum.md. */
#define HUM_STANDS_OUT 4.0  /* times the power of the noise */
#define HUM_SECONDS    0.25 /* s, of a window */

enum {
    HUM_HARMONICS = 10,
    HUM_FAMILIES = 2, /* 50 Hz, 60 Hz */
    HUM_DRIFTS = 7,
};

typedef struct {
    double rate;
    uint32_t window, kept;                        /* samples of the slow signal: of a window, and of the ring */
    double heard_at[HUM_FAMILIES][HUM_HARMONICS]; /* what the decimator left of a harmonic's power */

    float *ring; /* holds what follows too */
    uint64_t heard;
    float *shape, *frame;       /* shape: one half, the other mirrors it */
    bool busy, found, unsteady; /* unsteady: something stands out and is no hum */
    uint32_t turn, done;        /* samples since the last piece of work; pieces done */
    double tone[HUM_FAMILIES][HUM_DRIFTS][HUM_HARMONICS], beside[HUM_FAMILIES][HUM_HARMONICS + 1];
    double db[HUM_FAMILIES];
} Hum;

/* rate: of the slow signal; slowed: what slowed it; late: s for which a window that has ended can still be looked at.
 * Allocates; false: no memory. */
bool hum_init(Hum *h, double rate, const Decimator *slowed, double late);
void hum_done(Hum *h);  /* safe on a zeroed one */
void hum_reset(Hum *h); /* nothing was heard */

void hum_push(Hum *h, double x);  /* one sample of the slow signal */
uint64_t hum_heard(const Hum *h); /* samples since the reset */

/* Looks at the window that ends with sample number `end`, unless it is still busy with another or that is gone. */
void hum_look(Hum *h, uint64_t end);

/* A piece of the work is due every few calls: call it at 8 to 16 kHz. */
void hum_work(Hum *h);

/* true once for each window that tells: RMS of each family's hum in dB, UNITS_DB_FLOOR where it does not stand out or
 * is not steady. A window in which something stands out that is not steady, and no hum, tells nothing. */
bool hum_found(Hum *h, double db[HUM_FAMILIES]);

#endif
