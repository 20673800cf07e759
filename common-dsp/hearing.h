/* The frames of listening.h, with the levels in a few bands that a take is judged by. Levels are mean squares. Of two
 * channels, `power` is the mean of both; all other levels are of half their sum. */
#ifndef LINCTUS_HEARING_H
#define LINCTUS_HEARING_H

#include "decimate.h"
#include "hum.h"
#include "voice_level.h"

#include <math.h>

typedef struct {
    double power;          /* 20 Hz and up */
    double room;           /* 350 to 1400 Hz, where a voice is strong and a room's decay is even */
    double low;            /* under 100 Hz, where a burst of breath on the microphone lies */
    double above;          /* 350 Hz and up */
    double air;            /* 350 to 3500 Hz, where the sound of breathing in lies; measured one sample late */
    double dull;           /* 350 to 1400 Hz, the part of `air` under 1400 Hz; measured one sample late */
    double hz;             /* pitch, Hz; 0: no voice sounds */
    bool silent;           /* digital silence: no sample reaches half a step of 24 bits */
    uint64_t end;          /* samples of the slow signal (hum.h) up to the frame's end; 0: no hum is heard */
    VoiceLevelFound voice; /* what voice_level_hear() found with this frame */
} HearingFrame;

/* Mean square above 100 Hz, without pops and rumble: power - low, but at least `above`. power and low are not measured
 * over quite the same samples, so where nearly all of the sound lies under 100 Hz their difference is meaningless. */
static inline double hearing_over_low(const HearingFrame *frame)
{
    return fmax(frame->power - frame->low, frame->above);
}

/* What is kept of a frame until listening.h answers it; fields as in HearingFrame. */
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
    double hop;                /* samples in a frame, on average */
    uint64_t heard, ends_at;   /* samples: heard since the reset; where the current frame ends */
    uint64_t filling, waiting; /* numbers of frames: the current one; the first without an answer */
    HearingKept ring[LISTENING_FRAMES];
    HearingFrame answered;
    bool silent;                                             /* the current frame is digitally silent so far */
    double power[DSP_CHANNELS], above, air, dull, room, low; /* its sums of squares so far */

    Svf subsonic, breath[3]; /* high-pass, two low-passes */
    SvfState subsonic_state[DSP_CHANNELS], breath_state[3];
    double above_before;    /* the high-pass's last output, next input of the low-passes */
    Decimator middle, slow; /* from the sample rate to 8..16 kHz; from there to 3..6 kHz */
    double per_frame;       /* samples of the middle rate in a frame, on average */
    Svf band[2], bottom[2]; /* at the middle rate: high- and low-pass; two low-passes */
    SvfState band_state[2], bottom_state[2];
    bool hears_hum;
    Hum hum;
} Hearing;

/* rate: DSP_RATE_MIN..DSP_RATE_MAX, channels: 1..DSP_CHANNELS. Allocates; false: no memory, or out of range. */
bool hearing_init(Hearing *h, double rate, uint32_t channels);

/* After init, for callers of hum_look(): makes it hear hum too. Allocates; false: no memory. */
bool hearing_hear_hum(Hearing *h);
void hearing_done(Hearing *h);  /* safe after an init that failed */
void hearing_reset(Hearing *h); /* back to the state before the first sample */

/* To be called before each cell. Returns the frame that was answered since the last call, valid until the next, or
 * NULL. There is at most one, as a cell is shorter than a frame. */
const HearingFrame *hearing_frame(Hearing *h);

/* Takes in n samples, no more than are left of the cell. Returns the channels with a dead one replaced (living.h),
 * valid until the next call. */
const float *const *hearing_process(Hearing *h, const float *const *in, uint32_t n);

#endif
