/* LV2 State for what was learned: a key for each field, urn:linctus:state#NAME, holding an atom:Float if the field is
 * one figure, else an atom:Vector of atom:Float; and urn:linctus:state#version. All are POD and portable.
 *
 * A stored state replaces all that is known. A key that is missing, has another type or length, or holds a figure
 * outside its limits restores as an empty field; with the version alone all fields are empty. A state of a later
 * version, or one without any key of ours (a preset of controls), does not count as a state: it is ignored, and what
 * was known stays. */
#ifndef LINCTUS_STATE_H
#define LINCTUS_STATE_H

#include "learned.h"

#include <lv2/state/state.h>
#include <lv2/urid/urid.h>

typedef struct {
    bool usable; /* the host maps URIs */
    LV2_URID version, type_float, type_vector;
    LV2_URID field[LEARNED_FIELDS];
} StateKeys;

/* Maps the keys of the schema's fields. map: the host's; NULL: it has none, and no state can be stored. */
void state_keys_init(StateKeys *keys, const LearnedSchema *schema, const LV2_URID_Map *map);

/* Stores `from`. LV2_STATE_ERR_NO_FEATURE: the host maps no URIs; LV2_STATE_ERR_UNKNOWN: no memory; else the result of
 * its `store`. */
LV2_State_Status state_write(const StateKeys *keys, const LearnedSchema *schema, const Learned *from,
                             LV2_State_Store_Function store, LV2_State_Handle handle);

/* true: there is a state that counts, to be read with state_read(). */
bool state_is_there(const StateKeys *keys, const LearnedSchema *schema, LV2_State_Retrieve_Function retrieve,
                    LV2_State_Handle handle);

/* Reads the stored fields into `to`; those that are not complete and valid become empty. */
void state_read(const StateKeys *keys, const LearnedSchema *schema, Learned *to, LV2_State_Retrieve_Function retrieve,
                LV2_State_Handle handle);

#endif
