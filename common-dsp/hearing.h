/* What a take is judged by: the frames of listening.h, each with its levels in a few bands besides. Levels are mean
 * squares. Of two channels, `power` is the mean of both; all else is of their half sum. */
#ifndef LINCTUS_HEARING_H
#define LINCTUS_HEARING_H

#include "decimate.h"
#include "hum.h"
#include "voice_level.h"

#include <math.h>

typedef struct {
    double power;          /* 20 Hz and up; air and dull are heard a sample late */
    double room;           /* 350 to 1400 Hz, where a voice is strong and a room's decay is even */
    double low;            /* under 100 Hz, where a burst of breath on the microphone lies */
    double above;          /* 350 Hz and up */
    double air;            /* 350 to 3500 Hz, where a breath that is drawn lies; */
    double dull;           /* of it, what lies under 1400 Hz */
    double hz;             /* pitch; 0: no voice sounds */
    bool silent;           /* digital silence: no sample reaches half a step of 24 bits */
    uint64_t end;          /* samples of the slow signal (hum.h) up to the frame's end; 0: no hum is heard */
    VoiceLevelFound voice; /* with this frame */
} HearingFrame;

/* Mean square over 100 Hz: what is no pop and no rumble. Power and low are not measured over the same samples to the
 * bit, so where nearly all lies under 100 Hz their difference tells nothing; over 350 Hz it was measured by itself. */
static inline double hearing_over_low(const HearingFrame *frame)
{
    return fmax(frame->power - frame->low, frame->above);
}

/* What is kept of a frame until it is answered. */
typedef struct {
    double power, room, low, above, air, dull;
    uint64_t end;
    bool silent;
} HearingKept;

typedef struct {
    Listening listening;
    VoiceLevel voice;
    double rate;
    uint32_t channels;
    double hop;                                /* samples in a frame, on average */
    uint64_t heard, ends_at, filling, waiting; /* samples; where the frame under way ends; numbers of frames */
    HearingKept ring[LISTENING_FRAMES];
    HearingFrame answered;
    bool silent; /* of the frame under way: so far, and sums of squares: */
    double power[DSP_CHANNELS], above, air, dull, room, low;

    Svf subsonic, breath[3]; /* high-pass, two low-passes */
    SvfState subsonic_state[DSP_CHANNELS], breath_state[3];
    double above_before;    /* what the low-passes hear next */
    Decimator middle, slow; /* to 8..16 kHz, from there to 3..6 kHz */
    double per_frame;       /* samples of the middle rate */
    Svf band[2], bottom[2]; /* at the middle rate: high- and low-pass; two low-passes */
    SvfState band_state[2], bottom_state[2];
    bool hears_hum;
    Hum hum;
} Hearing;

/* Allocates. false: no memory, or rate or channels out of range. */
bool hearing_init(Hearing *h, double rate, uint32_t channels);

/* After init, for who calls hum_look(): hears a hum too. Allocates; false: no memory. */
bool hearing_hear_hum(Hearing *h);
void hearing_done(Hearing *h);  /* safe after an init that failed */
void hearing_reset(Hearing *h); /* nothing was heard */

/* Call it before each cell: the frame that was answered since the last call, or NULL; at most one, as a cell is shorter
 * than a frame. */
const HearingFrame *hearing_frame(Hearing *h);

/* n: what is left of the cell or less. Returns the channels as they are heard (living.h), until the next call. */
const float *const *hearing_process(Hearing *h, const float *const *in, uint32_t n);

#endif
