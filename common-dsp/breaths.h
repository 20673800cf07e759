/* Breaths: unvoiced noise of 150 ms to 1.2 s that rises out of the noise of a rest. It is strongest about 1.6 kHz,
 * where the throat's and the open mouth's resonances lie. An s or sh is brighter, a puff on the microphone duller, a
 * consonant shorter.
 *
 * Looking for breaths by their length, level and spectrum: D. Ruinskiy and Y. Lavner, "An effective algorithm for
 * automatic detection and exact demarcation of breath sounds in speech and song signals", IEEE TASLP 15(3), 2007; from
 * memory, the text was not opened. The rules are this project's own, settled by trial on recorded voices. */
#ifndef LINCTUS_BREATHS_H
#define LINCTUS_BREATHS_H

#include "hearing.h"

/* Zero it to reset. */
typedef struct {
    bool known;           /* a frame was heard */
    double floor_db;      /* dB: the lowest level of the band that breaths lie in, rising slowly */
    double loud;          /* power of the loudest frame, falling slowly */
    double power;         /* of the breath under way, summed over its frames */
    uint32_t frames, gap; /* of the breath under way; frames in a row that were none of it */
} Breaths;

/* The next frame. true: a breath is over, and *db is its mean level over its length, dB. */
bool breaths_hear(Breaths *b, const HearingFrame *frame, double *db);

#endif
