#include "phrase_memory.h"

#include "units.h"

#define MOVED_SHARE 0.9 /* share of a phrase's excess that is corrected; set on the voices for tuning */

enum { LEVEL_BINS = 480 }; /* of 0.25 dB, from -100 to 20 dB */

static const TallyScale level_scale = {.low = -100.0, .step = 0.25, .bins = LEVEL_BINS};

#define MEMBER(member, as) LEARNED_IN(PhraseMemory, member, as)
enum { EVEN = 1 };

const LearnedSchema phrase_schema = {
    .fields = 5,
    .field = {{"phrase_levels", LEVEL_BINS, 0.f, TALLY_MOST, MEMBER(levels, LEARNED_COUNTS)},
              {"phrase_kept_usual", 1, -200.f, 48.f, MEMBER(kept_usual, LEARNED_FIGURE)},
              {"phrase_kept_makeup", 1, -200.f, 48.f, MEMBER(kept_makeup, LEARNED_FIGURE)},
              {"phrase_blocks", EVEN_FINE, 0.f, 65535.f, MEMBER(blocks, LEARNED_ROW), .group = EVEN},
              {"phrase_energy", EVEN_ROWS *PHRASE_OVERS, 0.f, 65536.f, MEMBER(energy, LEARNED_ROW), .unit = 1.0 / 256.0,
               .group = EVEN}},
};

double phrase_evening(const PhraseEvening *e, double slow)
{
    const double off = e->usual - slow, half = 0.5 * e->within;
    if (off > half)
        return fmin(MOVED_SHARE * (off - half), e->most_up);
    return off < -half ? fmax(MOVED_SHARE * (off + half), -e->most_down) : 0.0;
}

/* ---- Blocks ---- */

static void halve(PhraseMemory *m)
{
    even_halve(m->blocks, EVEN_FINE);
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        even_halve(m->energy[row], PHRASE_OVERS);
}

static bool add_block(PhraseMemory *m, const PhraseHearing *h)
{
    double energy = 0.0;
    for (uint32_t i = 0; i < PHRASE_HOPS; ++i)
        energy += h->energy[i] / (PHRASE_HOPS * PHRASE_HOP);
    if (energy < EVEN_ABSOLUTE)
        return false;
    const uint32_t fine = even_fine(power_to_db(energy)), row = fine / EVEN_STEP;
    const double middle = even_row_level(row), unit = even_row_power(row) * PHRASE_HOPS * PHRASE_HOP / PHRASE_UNITS;
    bool full = ++m->blocks[fine] >= 65535;
    for (uint32_t i = 0; i < PHRASE_HOPS; ++i)
        if (h->energy[i] > 0.0)
            full |= even_share(m->energy[row], PHRASE_OVERS,
                               (h->slow[i] / h->energy[i] - middle - PHRASE_OVER_LOW) / EVEN_STEP,
                               fmin(h->energy[i] / unit, EVEN_MOST_UNITS / 32.0));
    if (full)
        halve(m);
    return true;
}

/* Adds the frame, and with every hop a block, once a voice was heard. true: a block was added. */
static bool hear_block(PhraseMemory *m, PhraseHearing *h, const PhraseFrame *frame)
{
    if (!(frame->slow > UNITS_DB_FLOOR))
        return false;
    const uint32_t hop = h->hops % PHRASE_HOPS;
    if (h->frames == 0)
        h->energy[hop] = h->slow[hop] = 0.0;
    h->energy[hop] += frame->energy;
    h->slow[hop] += frame->energy * frame->slow;
    if (++h->frames < PHRASE_HOP)
        return false;
    h->frames = 0;
    return ++h->hops >= PHRASE_HOPS && add_block(m, h);
}

bool phrase_memory_hear(PhraseMemory *m, PhraseHearing *h, const PhraseFrame *frame)
{
    const bool level = frame->voiced && frame->level > UNITS_DB_FLOOR;
    if (level)
        tally_add(&m->levels, &level_scale, frame->level);
    return hear_block(m, h, frame) || level;
}

/* ---- Figures ---- */

double phrase_memory_usual(const PhraseMemory *m)
{
    const uint32_t frames = tally_total(&m->levels, &level_scale);
    return frames >= PHRASE_ENOUGH ? learned_round(tally_below(&m->levels, &level_scale, 0.5 * frames)) : m->kept_usual;
}

static uint32_t blocks_heard(const PhraseMemory *m)
{
    uint32_t blocks = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        blocks += m->blocks[i];
    return blocks;
}

static void sum_row(const PhraseMemory *m, const PhraseEvening *e, uint32_t row, EvenSums *sums)
{
    const double unit = even_row_power(row) / PHRASE_UNITS;
    for (uint32_t o = 0; o < PHRASE_OVERS; ++o) {
        if (!m->energy[row][o])
            continue;
        const double slow = even_row_level(row) + PHRASE_OVER_LOW + (double)(o * EVEN_STEP);
        const double in = unit * m->energy[row][o], gain = db_to_gain(phrase_evening(e, slow));
        sums->in[row] += in;
        sums->cross[row] += in * gain;
        sums->out[row] += in * gain * gain;
    }
}

double phrase_memory_makeup(const PhraseMemory *m, const PhraseEvening *e)
{
    if (blocks_heard(m) < PHRASE_EVEN_ENOUGH)
        return m->kept_makeup > UNITS_DB_FLOOR ? m->kept_makeup : 0.0;
    EvenSums sums = {{0}, {0}, {0}};
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        sum_row(m, e, row, &sums);
    return even_gain(m->blocks, &sums, 1.0);
}

void phrase_memory_start_afresh(PhraseMemory *m, double makeup)
{
    const double usual = phrase_memory_usual(m);
    learned_clear(&phrase_schema, m);
    m->kept_usual = usual;
    m->kept_makeup = learned_round(makeup);
}
