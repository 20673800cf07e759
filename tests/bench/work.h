/* A row of plug-ins at work as a host works them: what is timed, counted and weighed. Errors end the program. */
#ifndef LINCTUS_BENCH_WORK_H
#define LINCTUS_BENCH_WORK_H

#include "host.h"

enum { WORK_STAGES = 8, WORK_BLOCK = 1024, WORK_CHANNELS = 2 };

typedef enum {
    WORK_LEARN,   /* from nothing known */
    WORK_HOLD,    /* with what the take taught */
    WORK_OFF,     /* the same, off since before it began */
    WORK_SILENCE, /* on hold, after the take */
    WORK_MODES
} WorkMode;

/* What is worked: one plug-in, or several in a row, mono or stereo in. Their settings are those of the chain that is
 * raced against the general tools: a low cut of 24 dB per octave, three steady dips, 3 dB of air, 6 dB of reduction. */
typedef struct {
    char name[64];
    const char *preset; /* settings of a voice in place of those; NULL: none */
    uint32_t channels, stages;
    const Plugin *plugin[WORK_STAGES];
    char *taught[WORK_STAGES]; /* state after the take, NULL: none */
} Subject;

/* stems: separated by blanks. false: the bundle lacks one of them. */
bool subject_make(Subject *s, const Host *host, const char *name, const char *stems, uint32_t channels);
void subject_done(Subject *s);

/* Plays the take, learning, and keeps what each stage knows then. */
void subject_teach(Subject *s, Host *host, double rate, const float *take, uint32_t frames);

/* What the one stage of `from` knows is what each of these knows too: Chain's state holds that of its five. */
void subject_tell(Subject *s, const Subject *from);

typedef struct {
    const Subject *subject;
    Instance *stage[WORK_STAGES];
    float buffer[WORK_STAGES + 1][WORK_CHANNELS][WORK_BLOCK];
} Work;

/* Ready to play: activated, in this mode. */
void work_start(Work *w, const Subject *s, Host *host, double rate, WorkMode mode);
void work_end(Work *w);

/* The same samples on every input; take NULL: silence. block: 1..WORK_BLOCK. */
void work_run(Work *w, const float *take, uint32_t frames, uint32_t block);

/* What came out last, n frames of two channels. */
bool work_is_same(const Work *a, const Work *b, uint32_t n);

#endif
