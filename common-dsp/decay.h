/* How long a room goes on sounding, from the ends of notes.
 *
 * Where a note stops and nothing follows, the level falls freely, by 60 dB in the room's decay time (T60). A fall is
 * taken from a voiced top to where the level rises again or lies still on the noise. It counts if it is 20 dB deep and
 * leaves 11 dB to fit. Fitted is the last part of it, at most 25 dB of the range between 15 dB under the top, where the
 * voice itself is still stopping, and 6 dB over the noise, with a straight line through the levels (fall_line.h)
 * after the power of the noise was taken off. A dry take gives the time in which the voice itself stops, about 0.1 s.
 *
 * The approach (blind estimates from free decays, of which many are taken) is that of R. Ratnam et al., "Blind
 * estimation of reverberation time", JASA 114(5), 2003; from memory, the text was not opened. The rules are this
 * project's own. */
#ifndef LINCTUS_DECAY_H
#define LINCTUS_DECAY_H

#include "hearing.h"

enum { DECAY_FRAMES = 512, DECAY_SMOOTH = 5 };

/* Zero it to reset. */
typedef struct {
    float power[DECAY_FRAMES]; /* of the room band */
    uint64_t heard;
    double floor_db; /* the noise: the lowest level, rising slowly */
    double top_db, low_db;
    uint64_t top, low; /* frame numbers */
    bool voiced;       /* the top is a voice's */
} Decay;

/* The next frame; true: a fall is over, and it gives *t60 in seconds. */
bool decay_hear(Decay *d, const HearingFrame *frame, double *t60);

#endif
