#include "repair.h"

#include "fill.h"

#include <strings.h>

const Repair repairs[REPAIRS] = {
    {"hum", "hum", "turns the hum of {hum_mains} mains at {hum_level} down, as far as it is sure of it"},
    {"pops", "popping", "tames the bursts of air: {pops}"},
    {"ticks", "clicking", "takes the clicks out: {clicks}"},
    {"floor", "noisy", "lowers the noise at {noise_floor}, {signal_to_noise} under the voice"},
    {"booth", "roomy", "makes a room of {decay} drier"},
    {"rests", "breathy", "turns down {breaths} breaths at {breath_level}, and what else lies between the phrases"},
    {"phrase", "uneven", "brings phrases that spread over {phrase_spread} together, each as a whole"},
};

const Repair *repair_named(const char *plugin)
{
    for (uint32_t i = 0; i < REPAIRS; ++i)
        if (!strcasecmp(repairs[i].plugin, plugin))
            return &repairs[i];
    return NULL;
}

bool repair_asked(const Repair *r, const Plan *p, const Readings *check)
{
    return plan_has(p, r->plugin) && fill_holds(&(Said){.readings = check}, r->fault);
}
