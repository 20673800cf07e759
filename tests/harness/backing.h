/* Doubles and harmonies under a lead: what of their setting follows from the lead's. The lead is done first, as if it
 * were alone; then its backings, each of which listens for itself, with these controls, the same for all of them, and
 * at this level. */
#ifndef LINCTUS_HARNESS_BACKING_H
#define LINCTUS_HARNESS_BACKING_H

#include "deliver.h"
#include "report.h"

enum { BACKING_SETS = 8 };

/* One relation, where a stage has the controls for it. */
typedef struct {
    const char *stage; /* NULL: no stage has */
    double lead, here; /* the control's value */
} BackingMove;

typedef struct Backing {
    const char *lead; /* the take's name */
    double loudness;  /* LUFS of the lead's result, mono counted as on both speakers; LOUDNESS_LOW: it has none, and
                         neither have its backings a level to keep to */
    BackingMove low_cut, sibilance, ambience; /* Hz, dB, dB */
    Setting set[BACKING_SETS];
    uint32_t sets;
    char value[BACKING_SETS][32];
} Backing;

/* From the lead's take and what came of it, `stages` results. b is not to be moved afterwards. */
void backing_settle(Backing *b, const Take *lead, const StageResult *result, uint32_t stages);

/* What a backing's file is to get; channels: of that file. peak: the highest true peak, dBTP. */
Delivery backing_delivery(const Backing *b, uint32_t channels, double peak);

/* Each difference from the lead, in words, as a part of the table. */
void backing_print(const Backing *b, const Take *take, FILE *to);

#endif
