/* Chain: the starter chain in one piece: Trim, Tone, Compressor, Esses, Plate, in this order, each as it is by itself.
 * Here is the row and no more: what goes from one to the next, the comparison with the raw take, and what it takes to
 * learn all of it in one pass (chain.md). On hold, with the same parameters and learned figures, what comes out is what
 * comes out of the five in a row, to the bit.
 *
 * `compare` puts out the take as it comes out of Trim, as late and as loud as everything else: one gain and a ceiling,
 * nothing more has been done to it.
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

#include <stddef.h>

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

#define CHAIN_ALIGNED _Alignas(max_align_t)

enum { CHAIN_BEHIND = 2 }; /* those behind a gain that moves, which have to know it: Compressor, Esses */

typedef struct {
    double rate;
    uint32_t channels, latency;
    bool learning, comparing;

    /* Each where it would lie if it were allocated by itself: vectors that cross a cache line take twice as long. */
    CHAIN_ALIGNED Trim trim;
    CHAIN_ALIGNED Tone tone;
    CHAIN_ALIGNED Compressor compressor;
    CHAIN_ALIGNED Esses esses;
    CHAIN_ALIGNED Plate plate;

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
    double ambience;           /* dB, that Plate adds to the voice's level */
    double went, passed, keep; /* into and out of Compressor's gain, some seconds of power; by how much */

    float *figures; /* on their way to and from the parts (learned.h) */
    /* Of all that is learned: it counts on at most every TOLD_TIME while learning, for all of it goes to the host then;
     * the sum of the parts' versions that it was counted at, and cells until it may count on. */
    uint32_t version, seen, due;
    bool aimed; /* `peaks` know what Tone does to power, as of so many rounds (tone_even.h) */
    uint32_t rounds;
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
