#include "two_levels.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>

#define HOP         0.1     /* s */
#define ABSOLUTE    (-70.0) /* dB: what is less is silence */
#define RELATIVE    10.0    /* dB under the mean: what is less is a rest */
#define SOUNDS      20.0    /* dB under the mean of all: a softer part may lie under the gate, and is still no rest */
#define EXPLAINED   0.5     /* of the variance */
#define LOUDER      4.0     /* dB */
#define MOVED       1.5     /* dB */
#define SOFTER      8.0     /* dB: talk that lies 12 dB lower as a whole has pieces that lie higher */
#define NEVER_LEVEL (-1e9)

enum {
    BLOCK = 4,    /* hops */
    PIECE = 20,   /* hops */
    SOUNDING = 6, /* of these at least, in a piece that sounds */
    LEAST = 4,    /* pieces of either part, and of a softer beginning */
};

void two_levels_start(TwoLevels *l, double rate)
{
    *l = (TwoLevels){.hop = (uint32_t)(HOP * rate)};
}

void two_levels_free(TwoLevels *l)
{
    free(l->power);
    *l = (TwoLevels){0};
}

static bool end_hop(TwoLevels *l)
{
    if (l->hops == l->room) {
        const size_t room = 2 * l->room + 1024;
        float *more = realloc(l->power, room * sizeof *more);
        if (!more)
            return false;
        l->power = more;
        l->room = room;
    }
    l->power[l->hops++] = (float)(l->sum / l->hop);
    l->sum = 0.0;
    l->at = 0;
    return true;
}

bool two_levels_hear(TwoLevels *l, const float *const *in, uint32_t channels, uint32_t n, Error *e)
{
    for (uint32_t i = 0; i < n; ++i) {
        for (uint32_t c = 0; c < channels; ++c) {
            const double x = (double)dsp_undamaged(in[c][i]);
            l->sum += x * x / channels;
        }
        if (++l->at == l->hop && !end_hop(l))
            return error_set(e, ERROR_INSIDE, "out of memory");
    }
    return true;
}

/* ---- Levels ---- */

/* dB of the mean power of blocks from..to - 1 that lie over `gate`. */
static double mean_over(const TwoLevels *l, size_t from, size_t to, double gate)
{
    const double least = db_to_power(gate);
    double sum = 0.0;
    size_t blocks = 0;
    for (size_t i = from; i + BLOCK <= to; ++i) {
        double power = 0.0;
        for (size_t k = 0; k < BLOCK; ++k)
            power += (double)l->power[i + k] / BLOCK;
        if (power < least)
            continue;
        sum += power;
        ++blocks;
    }
    return blocks ? power_to_db(sum / (double)blocks) : NEVER_LEVEL;
}

static double level_of(const TwoLevels *l, size_t from, size_t to)
{
    return mean_over(l, from, to, mean_over(l, from, to, ABSOLUTE) - RELATIVE);
}

/* dB of a piece; NEVER_LEVEL: it does not sound for long enough. */
static double piece_level(const TwoLevels *l, size_t piece, double gate)
{
    double sum = 0.0;
    uint32_t sounding = 0;
    for (size_t i = piece * PIECE; i < (piece + 1) * PIECE; ++i) {
        if ((double)l->power[i] < db_to_power(gate))
            continue;
        sum += (double)l->power[i];
        ++sounding;
    }
    return sounding >= SOUNDING ? power_to_db(sum / sounding) : NEVER_LEVEL;
}

/* ---- The split ---- */

typedef struct {
    double n, sum, squares;
} Part;

static void part_add(Part *p, double db, double times)
{
    p->n += times;
    p->sum += times * db;
    p->squares += times * db * db;
}

static double spread(const Part *p)
{
    return p->squares - p->sum * p->sum / p->n;
}

static Part all_pieces(const TwoLevels *l, double gate)
{
    Part all = {0};
    for (size_t k = 0; (k + 1) * PIECE <= l->hops; ++k) {
        const double db = piece_level(l, k, gate);
        if (db > NEVER_LEVEL)
            part_add(&all, db, 1.0);
    }
    return all;
}

/* The piece that the second part begins with; 0: no split explains enough. */
static size_t split(const TwoLevels *l, double gate)
{
    const Part all = all_pieces(l, gate);
    Part before = {0}, after = all;
    double best = EXPLAINED * spread(&all);
    size_t at = 0;
    for (size_t k = 0; (k + 1) * PIECE <= l->hops; ++k) {
        const double db = piece_level(l, k, gate);
        const double between =
            before.n >= LEAST && after.n >= LEAST ? spread(&all) - spread(&before) - spread(&after) : 0.0;
        if (between > best) {
            best = between;
            at = k;
        }
        if (db > NEVER_LEVEL) {
            part_add(&before, db, 1.0);
            part_add(&after, db, -1.0);
        }
    }
    return at;
}

/* s; it ends with the first piece that sounds as loud. Silence alone is no beginning. */
static double softer_until(const TwoLevels *l)
{
    const double level = level_of(l, 0, l->hops);
    size_t piece = 0;
    bool sounds = false;
    while ((piece + 1) * PIECE <= l->hops && piece_level(l, piece, level - SOUNDS) < level - SOFTER)
        sounds = piece_level(l, piece++, ABSOLUTE) > NEVER_LEVEL || sounds;
    return sounds && piece >= LEAST && 2 * piece * PIECE <= l->hops ? (double)(piece * PIECE) * HOP : 0.0;
}

static TwoLevelsFound found_louder(const TwoLevels *l)
{
    const size_t at = PIECE * split(l, mean_over(l, 0, l->hops, ABSOLUTE) - SOUNDS);
    const bool before = 2 * at < l->hops;
    if (!at)
        return (TwoLevelsFound){0};
    const double part = before ? level_of(l, 0, at) : level_of(l, at, l->hops),
                 rest = before ? level_of(l, at, l->hops) : level_of(l, 0, at);
    const TwoLevelsFound found = {
        .at = (double)at * HOP, .before = before, .louder = part - rest, .moved = level_of(l, 0, l->hops) - rest};
    return found.louder >= LOUDER && found.moved >= MOVED ? found : (TwoLevelsFound){0};
}

TwoLevelsFound two_levels_found(const TwoLevels *l)
{
    TwoLevelsFound found = found_louder(l);
    found.softer = softer_until(l);
    return found;
}
