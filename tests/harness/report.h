/* The table a run ends with: per stage what it heard, what it set and what it did. */
#ifndef LINCTUS_HARNESS_REPORT_H
#define LINCTUS_HARNESS_REPORT_H

#include "stage.h"

#include <stdio.h>

/* One take, from its file to its mix. */
typedef struct {
    const char *path;
    const char *name; /* without folders */
    double rate;
    uint32_t channels;
    char format[64];
    uint64_t frames, promised, not_finite;
    bool piped; /* it came from a pipe: */
    int copy;   /* a handle to what came */
    bool voiceless;

    Spool *audio;       /* as it stands after the stages that ran; NULL once it is written */
    Spool *part[2];     /* voice and ambience, where they are set apart */
    const char *out[2]; /* the files written: the mix, or voice and ambience */
    uint64_t over[2];   /* samples clipped in each */
    Figures mix;
    uint32_t mix_channels;
    uint64_t mix_frames;
} Take;

/* One stage over the takes of a group. */
typedef struct {
    const char *name;
    bool learned;
    char *state;    /* what it learned, as Turtle; NULL: nothing */
    Readings heard; /* of the listen pass */
    Effect *effect; /* one a take */
} StageResult;

/* The takes of a group share what was learned. */
typedef struct {
    const char *voice;     /* NULL: none */
    bool voice_heard;      /* no voice was named: it is the one Check heard, or none as Check could not tell */
    const Readings *check; /* what Check heard in the takes; without a plug-in: nothing */
    bool apart, is_float;
    const StageResult *stage;
    uint32_t stages;
    const Take *take;
    uint32_t takes;
} Report;

/* Did Check hear no voice? Without its read-outs: false. */
bool report_voiceless(const Readings *check);

void report_print(const Report *r, FILE *to);

/* Its beginning alone: the takes and what Check heard in them. */
void report_print_heard(const Take *take, uint32_t takes, const Readings *check, FILE *to);

/* "{symbol} and so on" with the values of the ports in the braces' place. false: a port is missing. */
bool report_fill_in(const Readings *r, const char *pattern, char *text, size_t size);

#endif
