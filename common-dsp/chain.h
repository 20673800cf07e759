/* Chain: the starter chain in one piece: Trim, Tone, Compressor, Esses, Plate, in this order, each as it is by itself.
 * Here is only what joins them: what passes from one to the next, the comparison with the raw take, and learning all of
 * them in one pass (chain.md). On hold, with the same parameters and learned figures, the output equals that of the
 * five plug-ins in a row, to the bit.
 *
 * `compare` puts out the raw take: Trim's output, with its gain and ceiling alone, as late and as loud as the whole.
 *
 * Plate works as an insert: its dry sound is the voice itself. Latency: that of Trim, Compressor and Esses together. */
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
    double raw_raised; /* dB: the gain that makes the raw take as loud as the whole */
} ChainReport;

#define CHAIN_ALIGNED _Alignas(PROCESSOR_LINE)

enum { CHAIN_BEHIND = 2 }; /* processors that must be told when a gain before them moves: Compressor, Esses */

typedef struct {
    double rate;
    uint32_t channels, latency;
    bool learning;

    /* Each is aligned as processor_alloc() would align it. */
    CHAIN_ALIGNED Trim trim;
    CHAIN_ALIGNED Tone tone;
    CHAIN_ALIGNED Compressor compressor;
    CHAIN_ALIGNED Esses esses;
    CHAIN_ALIGNED Plate plate;

    /* dB: the gain before each of these that its learned levels refer to. CHAIN_FROM_NONE: not known yet. */
    double from[CHAIN_BEHIND];
    uint64_t voice;      /* whether Trim hears a voice: bit 0 now, bit 1 a cell ago, and so on */
    uint32_t voice_late; /* cells by which Trim's output is late */
    ChainPeaks peaks;
    ChainSibilants sibilants;
    LearnSwitch learn;

    Delay raw[DSP_CHANNELS]; /* Trim's output */
    uint32_t raw_late;       /* samples by which `raw` is delayed */
    Fade compare;
    Smooth level;        /* linear gain of the raw take, while it is heard */
    double ambience;     /* dB that Plate adds to the voice's level */
    double went, passed; /* mean power into and out of Compressor's gain over some seconds */
    double keep;         /* what these two keep each cell, 0..1 */

    float *figures;         /* learned figures on their way to and from the parts (learned.h) */
    uint32_t version, seen; /* version of all that is learned; the parts' versions, summed, when it was counted */
    bool aimed;             /* `peaks` was told what Tone does to the power */
    uint32_t rounds;        /* the round of Tone's loudness when it was */
} Chain;

#define CHAIN_FROM_NONE (-400.0) /* dB: stands for a gain that is not known; no gain comes near it */

/* Mono or stereo in, two channels out. */
extern const Processor chain;

/* How all of it is stored: as each processor stores its own, with two exceptions. The levels of Tone's pieces of notes
 * are kept in steps of 1/16 dB, two in a figure. Of Compressor only the levels in force are stored, so a fresh start
 * that has heard less than a second is forgotten. */
extern const LearnedSchema chain_schema;

/* Rounds the levels of Tone's newest piece of a note to those steps. */
void chain_round_piece(ResonanceMemory *notes);

#endif
