/* How long a room goes on sounding, from the ends of notes.
 *
 * Where a note stops and nothing follows, the level falls freely, by 60 dB in the room's decay time (T60). A fall is
 * taken from a voiced top to where the level rises again or lies still on the noise. It counts if it is 20 dB deep and
 * leaves 8 dB to fit. Fitted is the last part of it, at most 25 dB of the range between 12 dB under the top, where the
 * voice itself is still stopping, and 6 dB over the noise, with a straight line through the levels (least squares)
 * after the power of the noise was taken off. A dry take gives the time in which the voice itself stops, about 0.1 s.
 *
 * Not all falls tell as much. A short one may be that of the voice, and one whose levels lie far off the line is none
 * of a room: a word dies away slowly, a breath or a click comes into it. So a fall counts so many times,
 * 64 (d / 25)^4 / (1 + r^2), once or more; d: dB that were fitted, r: dB that levels lie off the line (standard
 * deviation). A room can only lengthen a fall, and so does all else that goes wrong: the figure is the time that two
 * fifths of what was counted stay under. All these figures were set on recorded voices for tuning (tests/voices.h), in
 * rooms of 0.3 to 1.1 s; with 11 dB, 15 dB, each once and the middle one 86 in 100 came within 30 %, now 99.
 *
 * The approach (blind estimates from free decays, of which many are taken) is that of R. Ratnam et al., "Blind
 * estimation of reverberation time", JASA 114(5), 2003; from memory, the text was not opened. The rules are this
 * project's own. */
#ifndef LINCTUS_DECAY_H
#define LINCTUS_DECAY_H

#include "hearing.h"

enum { DECAY_FRAMES = 512, DECAY_SMOOTH = 5, DECAY_TIMES = 64 };

/* Zero it to reset. */
typedef struct {
    float power[DECAY_FRAMES]; /* of the room band */
    uint64_t heard;
    double floor_db; /* the noise: the lowest level, rising slowly */
    double top_db, low_db;
    uint64_t top, low; /* frame numbers */
    bool voiced;       /* the top is a voice's */
} Decay;

#define DECAY_SHARE 0.4 /* of what was counted stays under the room's decay time */

typedef struct {
    double t60;     /* s */
    uint32_t times; /* that it counts, 1..DECAY_TIMES; 0: no fall is over */
} DecayFound;

/* The next frame: what the fall gives that is over with it. */
DecayFound decay_hear(Decay *d, const HearingFrame *frame);

#endif
