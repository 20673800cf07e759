/* A Processor is a constant struct: all that a host needs to play a processor, and all that a new plug-in has to
 * supply.
 *
 * Calls follow the grid (dsp.h); the caller walks along it with grid_walk() (grid.h). At a grid point: processor_put()
 * if something was restored, set() if a control moved, report(), then tick(). Up to the next grid point: cell(), in one
 * piece or several. Where only tick() and cell() are due, cells() may be called for several cells at once. Nothing a
 * processor does may depend on the number of pieces, so that the same audio gives the same bits however the host cuts
 * it. tests/unit/test_processor.c checks this, and all that is said here, for every processor.
 *
 * Every function takes the processor's own struct, of `size` bytes, as a pointer to void, and converts it to its own
 * type in its first line: static void reset(void *dsp) begins with Trim *t = dsp; */
#ifndef LINCTUS_PROCESSOR_H
#define LINCTUS_PROCESSOR_H

#include "delay.h"
#include "learned.h"

#include <stddef.h>

/* What a processor learns, to be stored and restored (learned.h): a memory that lies in its struct. */
typedef struct {
    const LearnedSchema *schema; /* schema of the memory; NULL: it learns nothing */
    size_t memory, version;      /* offsets in its struct, bytes (offsetof): of the memory, and of a uint32_t that the
                                    processor increments whenever the memory changes */
    void (*restored)(void *dsp); /* Works out what follows from the memory. Called when that was replaced, at a grid
                                    point or before the first. NULL: nothing follows */
} ProcessorLearned;

typedef struct {
    size_t size;   /* of its struct, bytes */
    uint32_t outs; /* output channels; 0: as many as inputs */

    /* Makes the struct ready; the one place that allocates. Called by processor_init(): the struct is zeroed, and rate
     * and channels (inputs) are in range. false: no memory. */
    bool (*init)(void *dsp, double rate, uint32_t channels);
    void (*done)(void *dsp);  /* frees; safe on a zeroed or half-made struct */
    void (*reset)(void *dsp); /* clears history for a new walk; keeps what was learned */

    /* Sets the controls, which are in range (the shell clamps). Called at a grid point, once after each reset and then
     * whenever a control moved. The first values hold at once, later ones are reached smoothly. Setting the same values
     * again changes nothing. */
    void (*set)(void *dsp, const void *params);

    /* The work at a grid point: takes in the last cell, updates coefficients, learning and read-outs. */
    void (*tick)(void *dsp);

    /* Processes n samples (1..DSP_CELL) within one cell; each output depends on past input only. One pointer for each
     * channel; an output may be any of the inputs. Samples are undamaged (dsp.h). */
    void (*cell)(void *dsp, const float *const *in, float *const *out, uint32_t n);

    /* Does tick() and a whole cell() for each of `cells` cells (1 or more) in turn, equal to the bit; for a
     * processor that is faster this way. in, out: as for cell(), but with the samples of all these cells. NULL: it
     * is not faster. */
    void (*cells)(void *dsp, const float *const *in, float *const *out, uint32_t cells);

    /* The report, what it heard and did up to now: it lies in its struct (PROCESSOR_REPORT below), or report() writes
     * it. Neither: it has none. */
    struct {
        size_t at, size; /* bytes */
    } told;
    void (*report)(const void *dsp, void *report);

    size_t news; /* offset in its struct, bytes, of a uint32_t that tick() increments whenever the report changes; 0: it
                    may change at any grid point. Changes by set(), reset() and a restore need not be counted */

    /* Prepares for a pause, after which the walk goes on with other audio. Called at grid points, after a tenth of a
     * second of silence. Does one step, of bounded cost, of clearing what would sound on and the momentary figures of
     * the report; true: all is done, until cell() runs again. What was learned stays. NULL: nothing sounds on so long.
     */
    bool (*pause)(void *dsp);

    size_t latency; /* offset in its struct, bytes, of a uint32_t: samples, constant after init; 0: none */

    /* Offset in its struct, bytes, of a Delay for each input (delay.h), as long as the latency, in which cell() keeps
     * the input and from which the processor takes its late sound and its frames. So nobody else has to keep it:
     * whoever plays the processor may read the lines, write other samples over those of the last cell(), and write on
     * while the processor pauses; if any of these may be damaged, it has to set `raw`. 0: it has no such lines. */
    size_t line;
    ProcessorLearned learned;
} Processor;

/* Initialisers for the functions that every processor has, under the names that its file gives them. */
#define PROCESSOR_FUNCTIONS .init = init, .done = done, .reset = reset, .set = set, .tick = tick, .cell = cell

/* Initialiser for a report that is kept up to date, as the member `report` of a struct of this type. */
#define PROCESSOR_REPORT(type) .told = {offsetof(type, report), sizeof((type *)NULL)->report}

/* Zeroes the struct and makes it ready. channels: inputs. false: no memory, or rate (DSP_RATE_MIN..DSP_RATE_MAX) or
 * channels (1..DSP_CHANNELS) out of range. p->done() has to be called in any case. */
bool processor_init(const Processor *p, void *dsp, double rate, uint32_t channels);

enum { PROCESSOR_LINE = 64 }; /* bytes of a cache line: vectors that cross one take twice as long */

/* Zeroed memory for the processor's struct, aligned to a cache line; NULL: no memory. Free it with processor_free(),
 * which accepts NULL. */
void *processor_alloc(const Processor *p);
void processor_free(void *dsp);

/* Writes the report of a processor that has one. */
void processor_report(const Processor *p, const void *dsp, void *report);

/* Samples from in to out; 0 where it has no latency. */
uint32_t processor_latency(const Processor *p, const void *dsp);

/* The lines that hold its input; NULL where it has none. */
Delay *processor_lines(const Processor *p, void *dsp);

/* The counter of changes of the report. p->news is not 0. */
uint32_t processor_news(const Processor *p, const void *dsp);

/* ---- What was learned; for processors that learn something ---- */

/* A counter that changes whenever what is learned changes. */
uint32_t processor_version(const Processor *p, const void *dsp);

/* Stores all that was learned; sets every count. `to`: from learned_init() with p->learned.schema; whoever wrote into
 * it sets `dated` to false (learned_renew()). */
void processor_renew(const Processor *p, const void *dsp, Learned *to);

/* Replaces all that was learned, at a grid point or before the first. `from` has passed learned_check(). */
void processor_put(const Processor *p, void *dsp, const Learned *from);

#endif
