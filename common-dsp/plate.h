/* A plate reverberator: smooth ambience whose outcome is asked for, the decay in seconds and the wet level in dB.
 *
 * Low cut -> pre-delay -> diffuser -> tank -> width -> wet gain, added to the dry sound. The tank is a feedback delay
 * network of 32 lines through an orthogonal matrix, each line with the loss that makes every mode decay at the same
 * rate (J.-M. Jot, A. Chaigne, "Digital delay networks for designing artificial reverberators", AES 90, 1991; from
 * memory). No delay ever varies, so there is no pitch modulation.
 *
 * The decay time falls from `decay` at low frequencies to a third of it at high ones, and is half of it at `damping`.
 * The low cut is a 2nd-order Butterworth high-pass before the tank: 3 dB down at low_cut, 12.3 dB at half of it.
 *
 * Wet level: settled noise with the long-term spectrum of speech (Byrne et al., JASA 96, 1994) comes out of each
 * channel at `wet` dB relative to the input, whatever decay, damping, low cut and width say. It is held by scaling
 * what goes into the tank, so that a tail under way never changes level when a control moves. One word is shorter than
 * the build-up of a long decay and comes out softer than a held note. At 0 dB wet and dry together are 3 dB louder than
 * dry alone.
 *
 * Mono or stereo in; the output is always two channels, uncorrelated at width 100 %. Both inputs reach the whole
 * tank; the same sound on both is the sound of the mono variant. The dry path is bit-transparent at dry 0 dB while the
 * wet path is silent. No latency. It learns nothing. */
#ifndef LINCTUS_PLATE_H
#define LINCTUS_PLATE_H

#include "dsp.h"

typedef struct {
    double pre_delay; /* 0..200 ms; a change cross-fades */
    double decay;     /* 0.3..10 s, time to fall by 60 dB at low frequencies */
    double low_cut;   /* 20..600 Hz */
    double damping;   /* 1000..20000 Hz, where the decay time is half of decay */
    double wet, dry;  /* -60..0 dB; -60 is silence */
    double width;     /* 0..100 %; 0 is mono, at the same power a channel */
} PlateParams;

typedef struct Plate Plate;

/* in_channels 1 or 2. Allocates some 14 bytes a sample of rate. false: no memory, or rate or channels out of range. */
bool plate_init(Plate *p, double rate, uint32_t in_channels);
void plate_done(Plate *p);
void plate_reset(Plate *p);
void plate_set(Plate *p, const PlateParams *params);

/* in: in_channels of them; out: two. out[0] may be in[0] or in[1], and so may out[1]. */
void plate_process(Plate *p, const float *const *in, float *const *out, uint32_t n);

/* 0: pre-delay is part of the effect. */
uint32_t plate_latency(const Plate *p);

struct Plate {
    double rate;
    uint32_t in_channels;
};

#endif
