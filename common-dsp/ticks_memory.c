#include "ticks_memory.h"

#include "units.h"

enum { ENOUGH = 10 }; /* blocks of voice until its level is known */

static const TallyScale tick_scale = {-100.0, 0.5, TICKS_LEVELS};

#define MEMBER(member, as) LEARNED_IN(TicksMemory, member, as)

const LearnedSchema ticks_schema = {
    .fields = 2,
    .field = {{"ticks_voice", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST, MEMBER(voice, LEARNED_COUNTS)},
              {"ticks_ticks", TICKS_LEVELS, 0.f, TALLY_MOST, MEMBER(ticks, LEARNED_COUNTS)}},
};

bool ticks_memory_hear(TicksMemory *m, VoiceLevel *blocks, const ListeningFrame *frame, uint32_t hop)
{
    const VoiceLevelFound found = voice_level_hear(blocks, frame, hop);
    if (found.block)
        level_memory_add(&m->voice, found.db);
    return found.block;
}

void ticks_memory_add(TicksMemory *m, double db)
{
    tally_add(&m->ticks, &tick_scale, db);
}

double ticks_memory_level(const TicksMemory *m)
{
    return level_memory_has(&m->voice, ENOUGH) ? level_memory_level(&m->voice) : UNITS_DB_FLOOR;
}

uint32_t ticks_memory_from(const TicksMemory *m, double db)
{
    return tally_from(&m->ticks, &tick_scale, db);
}
