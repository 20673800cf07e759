/* Phrase: evens out the levels of phrases before any compression, as a hand on a fader does.
 *
 * It learns the usual level of this voice's phrases (phrase_memory.h) and follows the level of the current one as it
 * goes on (phrase_level.h). A phrase further than half of `within` from the usual level is moved towards it by nine
 * tenths of the excess, by `most_up` or `most_down` at most. The gain moves by 3 dB a second at most, and only while a
 * voice sounds. In rests it stands still, so that no rest, breath or noise is raised by more than the phrase before it.
 * A makeup gain keeps the loudness of the whole (even_loudness.h), so that on and off can be compared; it moves no
 * faster. At the start the gain is that for a phrase of the usual level.
 *
 * Until two seconds of voice are known, and while phrases lie within what was asked for, the output is the input to the
 * bit. Riding the level of a voice is common practice; the method is this project's own. A living channel stands in for
 * a dead one (living.h); both get the same gain. On hold voice is detected by its pitch alone (voicing.h). */
#ifndef LINCTUS_PHRASE_H
#define LINCTUS_PHRASE_H

#include "listening.h"
#include "phrase_level.h"
#include "phrase_memory.h"
#include "processor.h"

typedef struct {
    double within;             /* dB, 0..12: range of levels in which phrases are left alone */
    double most_up, most_down; /* dB, 0..12: most that a phrase is raised or lowered */
    bool even_loudness;        /* keep the loudness of the input */
    bool learn;                /* true: keep learning; false: hold. Hold -> learn starts afresh */
} PhraseParams;

typedef struct {
    double usual;    /* usual level of the phrases, dB, roughly K-weighted; UNITS_DB_FLOOR: not enough was heard */
    double level;    /* level of the current phrase or the last one, dB, likewise; UNITS_DB_FLOOR: none yet */
    double gain;     /* the gain now, dB, makeup included */
    double makeup;   /* the makeup that is aimed at, dB; 0 where even_loudness is off */
    double farthest; /* most that a phrase was to be moved, without makeup, since the last reset or fresh start, dB,
                        0..12 */
} PhraseReport;

typedef struct {
    double rate;
    uint32_t channels;
    PhraseParams params;
    LearnSwitch learn;
    PhraseMemory memory;
    PhraseEvening evening;
    double makeup;    /* dB */
    bool stale;       /* evening and makeup have to be worked out again */
    bool started;     /* the gain was set since the reset */
    uint32_t version; /* counts changes of the memory */

    /* learning */
    Listening listening;
    PhraseHearing hearing;
    uint64_t filling; /* number of the current frame */
    uint32_t cells;   /* cells of it so far */
    PhraseFrame ring[LISTENING_FRAMES];

    Living living;
    RestBands bands;
    PhraseLevel level;

    double db, next;        /* gain in dB at the last grid point; and at the next one */
    double next_gain;       /* `next` as a factor */
    double gain, gain_step; /* factor for this sample; its change from sample to sample */
    PhraseReport report;
} Phrase;

extern const Processor phrase;

#endif
