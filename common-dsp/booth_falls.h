/* How a room decays in one band, and how much late sound it adds, from the ends of words: fed with the band's power, a
 * frame of a short-time spectrum (stft.h) at a time.
 *
 * Where a word ends and nothing follows, the level falls freely. A fall is taken from a top to where the level rises by
 * 4 dB or lies still for 0.2 s on the noise. It counts if it leaves 9 dB to fit, of at most 25 dB
 * between 15 dB under the top, where the voice itself is still stopping, and 6 dB over the noise. A straight line
 * through the levels (fall_line.h), after the noise was taken off, gives the decay time. The approach (blind estimates
 * from free decays) is that of R. Ratnam et al., JASA 114(5), 2003, from memory; the rules are this project's own, and
 * near those of decay.h, which Check uses on one band of its own.
 *
 * How much late sound: from 15 dB under the top on, and the lag after that, there is nothing else. The model is that of
 * booth_late.h, and the figure is the one with which it gives the level there from all that was heard before. */
#ifndef LINCTUS_BOOTH_FALLS_H
#define LINCTUS_BOOTH_FALLS_H

#include <stdbool.h>
#include <stdint.h>

enum { BOOTH_HEARD = 512 }; /* frames kept: 4 s or more */

typedef struct {
    double frame;             /* s from one frame to the next */
    uint32_t lag;             /* frames after which a sound is late */
    float power[BOOTH_HEARD]; /* a ring */
    uint64_t heard;
    double floor_db; /* the noise: the lowest level, rising slowly */
    double top_db, low_db;
    uint64_t top, low;             /* frame numbers */
    uint64_t stopped, first, last; /* of the last fall: when the voice was over; the frames that were fitted */
    double top_was;                /* dB: its top */
} BoothFalls;

/* frame: s; late_after: s from which on a sound is late. */
void booth_falls_init(BoothFalls *f, double frame, double late_after);
void booth_falls_reset(BoothFalls *f);

/* The next frame's mean square in the band. True: a fall is over; its decay time in seconds, 8 at most. */
bool booth_falls_hear(BoothFalls *f, double power, double *seconds);

/* Late over early energy by the fall that was just over, if the room decays in this many seconds; 0: that fall was too
 * short to tell. */
double booth_falls_late(const BoothFalls *f, double seconds);

/* Power that is left of a sound a frame later, of a room with this decay time. */
double booth_keep(double frame, double seconds);

#endif
