/* Phrase: evens phrase against phrase, as a hand on a fader does, before any compression.
 *
 * It learns how loud this voice's phrases usually are (phrase_memory.h), and hears how loud the one under way is, as
 * far as it has come (phrase_level.h). One that lies further off than half of `within` is brought up or down by
 * nine tenths of that, by `most_up` and `most_down` at most. The gain moves by 3 dB a second at most, and only while a
 * voice sounds: in a rest it stands still, so that no rest, breath or noise is lifted by more than the phrase before
 * it. The loudness of the whole is kept (even_loudness.h), so that off and on compare the sound; what that takes moves
 * no quicker either. At the start the gain is the one for a phrase of the usual level.
 *
 * Until two seconds of voice are known the output is the input, to the bit; so it is while phrases lie within what was
 * asked for. Riding the level of a voice is common practice; the method is this project's own. A living channel stands
 * in for a dead one (living.h); both are moved alike. On hold nobody listens for a voice but by its pitch (voicing.h).
 */
#ifndef LINCTUS_PHRASE_H
#define LINCTUS_PHRASE_H

#include "listening.h"
#include "phrase_level.h"
#include "phrase_memory.h"
#include "processor.h"

typedef struct {
    double within;             /* dB, 0..12: phrases may lie so far apart */
    double most_up, most_down; /* dB, 0..12 */
    bool even_loudness;        /* keep the loudness of what went in */
    bool learn;                /* keep learning; false holds. Hold -> learn starts afresh */
} PhraseParams;

typedef struct {
    double usual;    /* dB, nearly K-weighted: the level that needs nothing; UNITS_DB_FLOOR: not enough was heard */
    double level;    /* dB: of the phrase under way, or of the last one; UNITS_DB_FLOOR: none yet */
    double gain;     /* dB, now, makeup and all */
    double makeup;   /* dB, wanted for the loudness; 0 where that is not asked for */
    double farthest; /* dB: how far the gain has been from the makeup since the last reset or fresh start, 0..12 */
} PhraseReport;

typedef struct {
    double rate;
    uint32_t channels;
    PhraseParams params;
    LearnSwitch learn;
    PhraseMemory memory;
    PhraseEvening evening;
    double makeup; /* dB */
    bool stale;    /* evening or makeup follow from what has changed since */
    bool started;
    uint32_t version; /* of the memory */

    /* learning */
    Listening listening;
    PhraseHearing hearing;
    uint64_t heard, ends_at, filling, waiting; /* samples; where the frame under way ends; numbers of frames */
    uint32_t cells;                            /* of the frame under way */
    PhraseFrame ring[LISTENING_FRAMES];

    Living living;
    RestBands bands;
    PhraseLevel level;

    double db, next;        /* dB, at the last grid point and after this cell */
    double next_gain;       /* of it */
    double gain, gain_step; /* of this sample, and what each adds */
    PhraseReport report;
} Phrase;

extern const Processor phrase;

#endif
