/* The recordings that a run works on: what they are, and their way to whoever listens or mixes. */
#ifndef LINCTUS_HARNESS_TAKES_H
#define LINCTUS_HARNESS_TAKES_H

#include "deliver.h"
#include "mix.h"
#include "plan.h"
#include "progress.h"
#include "spool.h"
#include "two_levels.h"

/* One take, from its file to its mix. */
typedef struct {
    const char *path;
    const char *name; /* without folders, but for those that tell it from another take */
    double rate;
    uint32_t channels;
    char format[64];
    uint64_t frames, promised; /* read, and by the file's head (soundfile.h) */
    uint64_t not_finite;       /* samples that were no numbers, */
    uint64_t damaged;          /* or far over full scale: damage to a plug-in (dsp.h) */
    bool opposite;             /* its two channels cancel each other, as living.h has it, over the whole take */
    uint32_t lone;      /* 1 or 2: only that channel sounds, and the other lies 40 dB or more under it; 0: neither */
    double late;        /* ms by which the right channel is late (late.h); less than 0: the left one; 0: neither */
    uint32_t louder;    /* 1 or 2, where one is late: what looks for resonances hears it alone, not the comb of both, */
    double louder_gain; /* with this linear gain, which gives it the mean power of both */
    TwoLevelsFound two_levels;
    double talk;            /* s: up to there it is talk before a song, which Tone and Chain do not hear; 0: none */
    double clicks_a_minute; /* where they are regular (regular.h); 0: they are not */
    bool piped;             /* it came from a pipe: */
    int copy;               /* a handle to what came */
    bool voiceless;         /* Check listened and heard no voice */

    Spool *audio;       /* as it stands after the stages that ran; NULL: no working copy was needed */
    bool made_stereo;   /* by a plug-in that is on */
    uint32_t written;   /* channels of the files: one of a mono take that nothing made stereo */
    const char *out[2]; /* the files written: the mix, or voice and ambience */
    uint64_t over[2];   /* samples clipped in each */
    Delivered delivered[2];
    const char *before; /* the take at the mix's loudness, a file of its own; NULL: it was not asked for */
    Delivered as_before;
} Take;

/* Is something wrong between its channels: opposite, lone or late? */
bool take_is_lopsided(const Take *t);

/* s: up to there it may be talk before a song, by its level; 0: it is of one level. */
double take_may_talk(const Take *t);

/* "left" or "right": where the lone channel is. */
const char *take_side(const Take *t);

/* "left" or "right": the channel that is late. */
const char *take_late_side(const Take *t);

/* Looks at one recording before it is read. A pipe, which can be read only once, is copied to a file without a name in
 * `folder`. */
bool take_look(Take *t, const char *path, const char *folder, Error *e);
void take_close(Take *t); /* safe on a zeroed struct, and twice */

/* Looks at every take before any is read, so that a wrong name among ten shows at once, and tries the plan on each.
 * Leaves in *frames how many the takes promise together. `take` is zeroed, one for each of the plan's options->in. */
bool takes_look(Take *take, Plan *plan, const char *folder, double *frames, Error *e);

/* Tries the plan on each of them, which have been looked at. */
bool takes_try(const Take *take, Plan *plan, Error *e);

/* Closes what is open; `take` may be NULL. */
void takes_free(Take *take, uint32_t takes);

/* A pass over a take: all of it to every sink, which then ends. It comes from the working copy, where there is one,
 * else from its file. `doing` and `what` are for the progress. */
bool take_pass(Take *t, const Sinks *to, Progress *p, const char *doing, const char *what, Error *e);

/* A working copy as a sink. */
typedef struct {
    Sink sink;
    Spool *spool; /* the caller's, who takes it over once the pass is done */
} Copy;

/* false: the folder cannot be written to. */
bool copy_start(Copy *c, const char *folder, double rate, uint32_t channels, Error *e);
void copy_free(Copy *c); /* safe on a zeroed struct, and where spool is NULL */

#endif
