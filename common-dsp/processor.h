/* A processor is a value: all that a host has to know to play one, and all that a new plug-in has to supply.
 *
 * The grid (dsp.h) says what is called when, and whoever plays a processor walks along it with grid_walk() (grid.h). At
 * a grid point: processor_put() if something was restored, set() if a control moved, report(), then tick(). Up to the
 * next one: cell(), in one piece or several. Nothing a processor does may depend on how many, so that the same audio
 * gives the same bits however the host cuts it. tests/unit/test_processor.c holds that, and what is said here, for each
 * of them.
 *
 * Every function takes the processor's own struct, of `size` bytes, as a pointer to void, and reads it into its own
 * type in its first line:
 *
 *     static void reset(void *dsp)
 *     {
 *         Trim *t = dsp;
 *         ... */
#ifndef LINCTUS_PROCESSOR_H
#define LINCTUS_PROCESSOR_H

#include "dsp.h"
#include "learned.h"

#include <stddef.h>

/* What a processor learns, to be stored and restored (learned.h): a memory that lies in its struct. */
typedef struct {
    const LearnedSchema *schema; /* of the memory; NULL: it learns nothing */
    size_t memory, version;      /* where they lie in its struct, bytes (offsetof): the memory, and a uint32_t that the
                                    processor counts on whenever that changes */
    void (*restored)(void *dsp); /* The memory was replaced, at a grid point or before the first: works out what follows
                                    from it; NULL: nothing does */
} ProcessorLearned;

typedef struct {
    size_t size;   /* of its struct, bytes */
    uint32_t outs; /* channels that come out; 0: as many as go in */

    /* The one place that allocates, called by processor_init(): the struct is zeroed, rate and channels (that go in)
     * are in range. false: no memory. */
    bool (*init)(void *dsp, double rate, uint32_t channels);
    void (*done)(void *dsp);  /* frees; safe on a zeroed or half-made struct */
    void (*reset)(void *dsp); /* clears history, for a walk that begins anew; keeps what was learned */

    /* The targets. Values are in range (the shell clamps). Called at a grid point, first after each reset and then
     * where a control moved: the first holds at once, later ones are reached smoothly. The same values once more change
     * nothing. */
    void (*set)(void *dsp, const void *params);

    /* A grid point: takes in what the last cell brought; coefficients, learning, read-outs. */
    void (*tick)(void *dsp);

    /* n samples (1..DSP_CELL) within one cell: every sample depends on the past alone. One pointer a channel; an output
     * may be any of the inputs. Samples are undamaged (dsp.h). */
    void (*cell)(void *dsp, const float *const *in, float *const *out, uint32_t n);

    void (*report)(const void *dsp, void *report); /* what it heard and did, as of now; NULL: it has none */
    size_t news; /* where a uint32_t lies in its struct, bytes, that tick() counts on wherever the report changes; 0: it
                    may change at any grid point. What follows from set(), reset() and a restore need not be counted */

    /* At grid points before a walk pauses, that is: goes on later with other audio. A step, of bounded cost, of
     * clearing what would sound on and what the report says of the moment; true: done, until it is run again. Before it
     * comes a tenth of a second of silence, so NULL: by then all that is silent by itself. What was learned stays. */
    bool (*pause)(void *dsp);

    uint32_t (*latency)(const void *dsp); /* samples, the same from init on; NULL: none */
    ProcessorLearned learned;
} Processor;

/* The functions that every processor has, under the names that its file gives them. */
#define PROCESSOR_FUNCTIONS .init = init, .done = done, .reset = reset, .set = set, .tick = tick, .cell = cell

/* Zeroes the struct and makes it ready. channels: that go in. false: no memory, or rate (DSP_RATE_MIN..DSP_RATE_MAX) or
 * channels (1..DSP_CHANNELS) out of range; done() is to be called then too. */
bool processor_init(const Processor *p, void *dsp, double rate, uint32_t channels);

/* For one that counts its news. */
uint32_t processor_news(const Processor *p, const void *dsp);

/* ---- What was learned; for a processor that learns something ---- */

/* Moves whenever what is learned changes. */
uint32_t processor_version(const Processor *p, const void *dsp);

/* All of it: every count is set. `to` has the room of the schema. */
void processor_get(const Processor *p, const void *dsp, Learned *to);

/* The same, quicker, for a `to` that nobody else writes: learned_renew(). */
void processor_renew(const Processor *p, const void *dsp, Learned *to);

/* Replaces all of it, at a grid point or before the first, by what has passed learned_check(). */
void processor_put(const Processor *p, void *dsp, const Learned *from);

#endif
