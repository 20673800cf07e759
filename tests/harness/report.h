/* The table a run ends with: per stage what it heard, what it set and what it did. */
#ifndef LINCTUS_HARNESS_REPORT_H
#define LINCTUS_HARNESS_REPORT_H

#include "like.h"
#include "listen.h"
#include "ride.h"
#include "takes.h"

#include <stdio.h>

/* One stage over the takes of a group. */
typedef struct {
    const char *name;
    StagePlan plan; /* with the voice of the group */
    Lesson lesson;  /* what it learned; where it learned nothing, what its ports showed in the mix */
    Effect *effect; /* one a take */
    Ride *ride;     /* one a take, where the stage worked on the whole take; else NULL */
    HumWhole *hum;  /* the same of Hum */
} StageResult;

/* The takes of a group share what was learned. */
typedef struct {
    const char *voice;     /* NULL: none */
    bool voice_heard;      /* no voice was named: it is the one Check heard, or none as Check could not tell */
    uint32_t voice_of;     /* so many takes it was heard in; more than one: all of them get it */
    bool voices_apart;     /* there are other takes, whose ranges lie too far away for one singer */
    bool check_asked;      /* false: no stage learns and the voice is known, so Check did not listen */
    const Readings *check; /* what Check heard in the takes; without a plug-in: nothing */
    const Plan *plan;
    bool apart;
    SoundBits bits; /* of the files */
    const StageResult *stage;
    uint32_t stages;
    const Take *take;
    uint32_t takes;
    const struct Backing *backing; /* of a take under a lead; NULL: it is none */
    const Readings *const *mixed;  /* one a take, for a report: what Check heard in its mix; NULL: it was not asked */
    const Like *like;              /* what the take was fitted to; NULL: nothing */
} Report;

/* Did Check hear no voice? Without its read-outs: false. */
bool report_voiceless(const Readings *check);

/* dB: the level in the take's file; of two files, voice and ambience, of their mix. LEVEL_SILENT: none. */
double report_level(const Report *r, uint32_t take);

/* The levels in it as the table has them under its name, without the end of line: "level -18.1 dB, loudness ...". */
void report_levels(const Report *r, uint32_t take, char *text, size_t size);

/* A time as the table has it: "0:13.4". */
void report_time(double seconds, char *text, size_t size);

/* Is the stage switched off? mix: what its ports showed. */
bool report_bypassed(const Readings *mix);

/* What the table has of one stage, an empty line before it. */
void report_print_stage(const Report *r, const StageResult *s, FILE *to);

/* The same, but of what it did only what it did to one of the takes. */
void report_print_stage_of(const Report *r, const StageResult *s, uint32_t take, FILE *to);

/* Is the take usable? "Ready." and the like, by Check, and by what was found in this take alone. */
const char *report_verdict(const Readings *check, const Take *take);

/* What it has of one take and its result alone: both files, the voice, the levels. */
void report_print_result(const Report *r, uint32_t take, FILE *to);

/* The whole table. */
void report_print(const Report *r, FILE *to);

/* Its beginning alone: the takes and what Check heard in them. tone: Tone listened too. */
void report_print_heard(const Take *take, uint32_t takes, const Readings *check, bool tone, FILE *to);

#endif
