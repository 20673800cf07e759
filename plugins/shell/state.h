/* LV2 State for what was learned: one key a field, urn:linctus:state#NAME, an atom:Float where the field is one figure,
 * else an atom:Vector of atom:Float; and urn:linctus:state#version. All POD and portable.
 *
 * A stored state is all that is known: a key that is missing, of another type or length, or holds a figure out of its
 * limits stands for a field of which nothing is known. Nothing at all is known where there is the version alone.
 * A state of a later version, or one without a single key of ours (a preset of controls), is no state: it is passed
 * over whole, and what was known stays. */
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

/* map may be NULL. */
void state_keys_init(StateKeys *keys, const LearnedSchema *schema, const LV2_URID_Map *map);

/* An error where the host maps no URIs, memory is short or its store fails. */
LV2_State_Status state_write(const StateKeys *keys, const LearnedSchema *schema, const Learned *from,
                             LV2_State_Store_Function store, LV2_State_Handle handle);

/* Whether there is a state to read. */
bool state_is_there(const StateKeys *keys, const LearnedSchema *schema, LV2_State_Retrieve_Function retrieve,
                    LV2_State_Handle handle);

/* Leaves in `to` the fields that were found whole, and no others. */
void state_read(const StateKeys *keys, const LearnedSchema *schema, Learned *to, LV2_State_Retrieve_Function retrieve,
                LV2_State_Handle handle);

#endif
