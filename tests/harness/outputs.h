/* The files that a run will write, planned before anything is read or processed: what has to be refused is refused at
 * once, and the error says what to type. */
#ifndef LINCTUS_HARNESS_OUTPUTS_H
#define LINCTUS_HARNESS_OUTPUTS_H

#include "newfile.h"
#include "options.h"
#include "preset.h"

typedef struct {
    char *folder; /* where the results lie, from the root; working copies lie here too */
    bool to_make, made;
    NewFile *file; /* two a take: the mix, or voice and ambience; .name NULL where there is none. Then the report's
                      page, and two a take again: what its players play, before and after. Then one a take: the take
                      at the mix's loudness; and one a take: its sheet */
    uint32_t files, takes;
} Outputs;

/* All takes are there (source.h). Writes nothing. Followed by outputs_free() in any case. */
bool outputs_plan(Outputs *o, const Options *options, Error *e);

/* The report's page alone, of a run that writes no result. */
bool outputs_plan_page(Outputs *o, const Options *options, Error *e);

/* The same for --save-preset, after that: it may lie in no take's way, nor in a result's. */
bool outputs_plan_preset(const Outputs *o, const PresetBundle *b, const Options *options, Error *e);

/* The report's page; NULL: none is wanted. */
NewFile *outputs_page(const Outputs *o);

/* What its players play of a take, before (0) and after (1); NULL: it goes into the page. */
NewFile *outputs_audition(const Outputs *o, uint32_t take, uint32_t side);

/* The take at its mix's loudness; NULL: it is not wanted. */
NewFile *outputs_matched(const Outputs *o, uint32_t take);

/* The text about a take's result; NULL: none is wanted. */
NewFile *outputs_sheet(const Outputs *o, uint32_t take);

bool outputs_make_folder(Outputs *o, Error *e);

/* Every file is complete before this: now each gets its name, or none does. */
bool outputs_keep(Outputs *o, Error *e);

/* Takes away what was not kept, and the folder where it was made and nothing is in it. */
void outputs_free(Outputs *o);

#endif
