/* Chain: the starter chain in one piece: Trim, Tone, Compressor, Esses, Plate, in this order, each as it is by itself.
 * Here is the row and no more: what goes from one to the next, the comparison with the raw take, and what it takes to
 * learn all of it in one pass. On hold, with the same parameters and learned figures, what comes out is what comes out
 * of the five in a row, to the bit.
 *
 * Learning in one pass. Behind Trim everything moves while Trim still learns. What a later processor counts is
 * therefore counted as it would be without the gains before it, and the figures are made for where those gains are
 * bound for: Tone and Compressor by Trim's gain, Esses by that and by the makeups of Tone and Compressor
 * (tone_hear_through() and its like). So nothing that was heard gets old when a gain moves. What no gain makes up for
 * is left out: Esses notes sibilants once Trim's gain and the threshold are near to where they are bound for.
 *
 * Comparing. `compare` puts out the take as it comes out of Trim, as late as everything else: one gain and a ceiling,
 * nothing more has been done to it. It is as loud as the whole, for Tone and Compressor keep the loudness
 * (even_loudness.h); what is still missing while a makeup is on its way, or what Compressor takes off before it knows
 * of a makeup, is taken off here too, and what Plate adds is added. So neither side wins by being louder.
 *
 * Plate stands on an insert: its dry sound is the voice itself. Latency: that of Trim, Compressor and Esses together.
 */
#ifndef LINCTUS_CHAIN_H
#define LINCTUS_CHAIN_H

#include "chain_peaks.h"
#include "chain_sibilants.h"
#include "compressor.h"
#include "esses.h"
#include "fade.h"
#include "plate.h"
#include "tone.h"
#include "trim.h"

typedef struct {
    TrimParams trim;
    ToneParams tone;
    CompressorParams compressor;
    EssesParams esses;
    PlateParams plate;
    bool compare; /* the raw take, as loud and as late as the whole */
} ChainParams;

typedef struct {
    TrimReport trim;
    ToneReport tone;
    CompressorReport compressor;
    EssesReport esses;
    double raw_raised; /* dB, the one gain that makes the raw take as loud as the whole */
} ChainReport;

enum { CHAIN_BEHIND = 2 }; /* those behind a gain that moves, which have to know it: Compressor, Esses */

typedef struct {
    double rate;
    uint32_t channels, latency;
    bool learning, comparing;

    Trim trim;
    Tone tone;
    Compressor compressor;
    Esses esses;
    Plate plate;

    /* dB, of the gain before each, where what was learned is counted from: what lies over it has been raised. None:
     * CHAIN_FROM_NONE. */
    double from[CHAIN_BEHIND];
    ChainPeaks peaks;
    ChainSibilants sibilants;
    LearnSwitch learn;

    Delay raw[DSP_CHANNELS]; /* what comes out of Trim */
    uint32_t raw_late;
    Fade compare;
    Smooth level;              /* linear: of the raw take, while it is heard */
    double wet;                /* power that Plate adds to the voice's */
    double went, passed, keep; /* into and out of Compressor's gain, some seconds of power; by how much */

    float *figures;         /* on their way to and from the parts (learned.h) */
    uint32_t version, seen; /* of all that is learned; the sum of the parts' versions that it was counted at */
} Chain;

#define CHAIN_FROM_NONE (-400.0)

/* Mono or stereo in, two channels out. */
extern const Processor chain;

/* How all of it is stored: as each processor stores its own, but for Tone's pieces of notes, whose levels are kept in
 * steps of 1/16 dB here, two in a figure, and for Compressor, of which the levels in force alone are stored: a fresh
 * start that has heard less than a second is forgotten. */
extern const LearnedSchema chain_schema;

/* Tone's newest piece of a note, in those steps. */
void chain_round_piece(ResonanceMemory *notes);

#endif
