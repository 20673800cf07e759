/* A room planted in a dry take, of which it is known what is early and what is late; and the measures by which a take
 * that was made drier is judged.
 *
 * The room is decaying noise, as in J. Polack's model (1988, from memory): its answer to an impulse begins 3 ms after
 * the direct sound and falls by 60 dB in `t60` seconds up to 1 kHz, in 0.93, 0.78 and 0.6 of that in the octaves above,
 * and above 8 kHz in 0.45. `db`: energy of the direct sound over that of all that the room adds, as in singer/room.h.
 * Early is the direct sound and what comes within 50 ms, late the rest. */
#ifndef LINCTUS_ROOMY_H
#define LINCTUS_ROOMY_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    double rate;
    uint32_t n;
    float *dry, *early, *late, *take; /* take: early and late together */
} Roomy;

/* A copy of the dry take, in the room. The cmocka test fails without memory. */
void roomy_plant(Roomy *r, const float *dry, uint32_t n, double rate, double t60, double db, uint32_t seed);
void roomy_free(Roomy *r);

double roomy_energy(const float *x, uint32_t n);

/* dB: segmental signal-to-noise ratio, `early` being the signal, x brought to its level (least squares): the mean over
 * blocks of 20 ms in which the dry take comes within 30 dB of its loudest, each held within -10 to 35 dB (J. Hansen, B.
 * Pellom, ICSLP 1998, and P. Loizou, "Speech Enhancement", 2007; from memory). */
double roomy_segmental(const Roomy *r, const float *x);

/* dB: by how much x is nearer to the dry take than the take is, by the cepstral distance as the REVERB challenge has it
 * (K. Kinoshita et al., EURASIP J. Advances in Signal Processing 2016, from memory): frames of 25 ms every 10, under a
 * Hann window, real cepstra up to order 24 with their mean over the take taken off, 10 / ln 10 times the root of the
 * square of the difference in order 0 and twice those in 1 to 24, 10 at most. Ours: up to 8 kHz, and the mean is over
 * the frames in which the dry take comes within 40 dB of its loudest. */
double roomy_nearer(const Roomy *r, const float *x);

/* dB: power of x over that of the take in gaps after words: 60 to 300 ms after the last 10 ms that come within 30 dB of
 * the loudest, as far as the take's power there is 20 times the dry one's; 0
 * where there are no such gaps. */
double roomy_gaps(const Roomy *r, const float *x);

#endif
