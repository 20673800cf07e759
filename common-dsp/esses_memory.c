#include "esses_memory.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LEVEL_LOWEST  (-200.0)   /* dB: range of a stored level */
#define LEVEL_HIGHEST 60.0       /* dB */
#define SAME_SHAPE    0.05       /* dB, rms over the bands: see esses.md */
#define SAME_LEVEL    3.0        /* dB: chosen; SAME_SHAPE alone tells the sibilants of the voices for tuning apart */
#define MOST_COUNTED  16777216.f /* sibilants: floats are exact up to here; twenty-seven weeks at one a second */

enum { LEVELS, TIMES, FRESH, AFRESH, RAISED, FIELDS };

static void write_memory(const void *memory, Learned *l);
static void read_memory(void *memory, const Learned *l);

const LearnedSchema esses_schema = {
    .fields = FIELDS,
    .field =
        {
            [LEVELS] = {"esses_levels", ESSES_MEMORY *SIBILANCE_BANDS, (float)LEVEL_LOWEST, (float)LEVEL_HIGHEST,
                        .kind = LEARNED_CODED},
            [TIMES] = {"esses_heard", ESSES_MEMORY, 1.f, MOST_COUNTED, .kind = LEARNED_CODED},
            [FRESH] = {"esses_fresh_levels", (ESSES_ENOUGH - 1) * SIBILANCE_BANDS, (float)LEVEL_LOWEST,
                       (float)LEVEL_HIGHEST, .kind = LEARNED_CODED},
            [AFRESH] = {"esses_afresh", 1, 0.f, 1.f, .kind = LEARNED_CODED},
            [RAISED] = {"esses_raised", 1, (float)-ESSES_RAISED_MOST, (float)ESSES_RAISED_MOST, .kind = LEARNED_CODED},
        },
    .write = write_memory,
    .read = read_memory,
};

void esses_memory_clear(EssesMemory *m)
{
    *m = (EssesMemory){.afresh = true};
}

void esses_memory_start_afresh(EssesMemory *m)
{
    m->afresh = true;
    m->fresh_count = 0;
}

static void work_out(EssesKnown *k)
{
    k->densest = sibilance_densest(k->sibilant.level, &k->density);
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        k->power[b] = db_to_power((double)k->sibilant.level[b]);
}

/* Puts it into the place after the last. */
static void append(EssesMemory *m, const EssesSibilant *s)
{
    EssesKnown *k = &m->known[m->count++];
    k->sibilant = *s;
    k->times = 1.f;
    work_out(k);
}

/* ---- Which is the nearest ---- */

static double distance_between(const EssesMemory *m, uint32_t a, uint32_t b)
{
    const float *one = m->known[a].sibilant.level, *other = m->known[b].sibilant.level;
    double squares = 0.0;
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double apart = (double)one[k] - (double)other[k];
        squares += apart * apart;
    }
    return squares;
}

/* Takes `other` for the nearest if it is nearer, or as near and earlier in the memory, so that a restored memory goes
 * on as the stored one would have. */
static void compare(EssesMemory *m, uint32_t place, uint32_t other)
{
    EssesKnown *k = &m->known[place];
    const double distance = distance_between(m, place, other);
    if (distance < k->distance || (distance == k->distance && other < k->nearest)) {
        k->distance = distance;
        k->nearest = other;
    }
}

static void find_nearest(EssesMemory *m, uint32_t place)
{
    EssesKnown *k = &m->known[place];
    k->distance = INFINITY;
    for (uint32_t i = 0; i < m->count && k->distance > 0.0; ++i) /* an equal one ends the search */
        if (i != place)
            compare(m, place, i);
}

void esses_memory_step(EssesMemory *m)
{
    if (m->count == ESSES_MEMORY && m->compared < ESSES_MEMORY)
        find_nearest(m, m->compared++);
}

/* ---- Joining two ---- */

/* Puts the mean of both in the place of `a`; the one at `b` is not touched. */
static void join(EssesMemory *m, uint32_t a, uint32_t b)
{
    EssesKnown *one = &m->known[a];
    const EssesKnown *other = &m->known[b];
    const double ta = (double)one->times, tb = (double)other->times;
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double sum = ta * (double)one->sibilant.level[k] + tb * (double)other->sibilant.level[k];
        one->sibilant.level[k] = (float)learned_round(sum / (ta + tb));
    }
    one->times = (float)fmin(ta + tb, (double)MOST_COUNTED);
    work_out(one);
}

/* Finds the nearest to the one at `place` again, after two were joined at `joined` and the newest sibilant has moved to
 * `moved`, where the second of them was. If `moved` is the end, that second one was the newest and is gone. All are
 * compared only where the nearest was one of the two; the newest is nobody's nearest yet. */
static void find_nearest_after_join(EssesMemory *m, uint32_t place, uint32_t joined, uint32_t moved)
{
    const uint32_t nearest = m->known[place].nearest;
    if (place == joined || nearest == joined || nearest == moved) {
        find_nearest(m, place);
        return;
    }
    compare(m, place, joined);
    if (moved < m->count && place != moved)
        compare(m, place, moved);
}

/* Joins the two that are nearest to each other of all, in the place of the first. */
static void join_two(EssesMemory *m)
{
    uint32_t best = 0;
    for (uint32_t i = 1; i < m->count; ++i)
        if (m->known[i].distance < m->known[best].distance)
            best = i;
    const uint32_t nearest = m->known[best].nearest, last = --m->count;
    const uint32_t a = best < nearest ? best : nearest, b = best < nearest ? nearest : best;
    join(m, a, b);
    m->known[b] = m->known[last];
    for (uint32_t i = 0; i < m->count; ++i)
        find_nearest_after_join(m, i, a, b);
}

/* ---- A sibilant has ended ---- */

static EssesChange keep(EssesMemory *m, const EssesSibilant *s)
{
    while (m->count == ESSES_MEMORY && m->compared < ESSES_MEMORY) /* only right after a restore */
        esses_memory_step(m);
    append(m, s);
    if (m->count > ESSES_MEMORY) {
        find_nearest(m, ESSES_MEMORY);
        join_two(m);
    }
    return ESSES_ADDED;
}

static EssesChange keep_apart(EssesMemory *m, const EssesSibilant *s)
{
    m->fresh[m->fresh_count++] = *s;
    if (m->fresh_count < ESSES_ENOUGH)
        return ESSES_KEPT_APART;
    m->count = m->fresh_count = m->compared = 0;
    m->afresh = false;
    for (uint32_t i = 0; i < ESSES_ENOUGH; ++i)
        append(m, &m->fresh[i]);
    return ESSES_REPLACED;
}

EssesChange esses_memory_add(EssesMemory *m, const double level[SIBILANCE_BANDS])
{
    EssesSibilant s;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        s.level[b] = (float)learned_round(dsp_clamp(level[b], LEVEL_LOWEST, LEVEL_HIGHEST));
    return m->afresh ? keep_apart(m, &s) : keep(m, &s);
}

/* ---- What has come before ---- */

bool esses_memory_same(const double a[SIBILANCE_BANDS], const double b[SIBILANCE_BANDS])
{
    double apart = 0.0, squares = 0.0;
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k)
        apart += (a[k] - b[k]) / SIBILANCE_BANDS;
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k)
        squares += (a[k] - b[k] - apart) * (a[k] - b[k] - apart);
    return fabs(apart) <= SAME_LEVEL && squares <= SIBILANCE_BANDS * SAME_SHAPE * SAME_SHAPE;
}

bool esses_memory_knows(const EssesMemory *m, const double level[SIBILANCE_BANDS])
{
    bool known = false;
    for (uint32_t i = 0; i < m->count && !known; ++i) {
        double other[SIBILANCE_BANDS];
        for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k)
            other[k] = (double)m->known[i].sibilant.level[k];
        known = m->known[i].times == 1.f && esses_memory_same(level, other);
    }
    return known && !m->afresh;
}

/* ---- Storing and restoring ---- */

static void write_sibilant(Learned *l, uint32_t field, uint32_t place, const EssesSibilant *s)
{
    memcpy(learned_field(&esses_schema, l, field) + (size_t)place * SIBILANCE_BANDS, s->level, sizeof s->level);
    l->count[field] = (place + 1) * SIBILANCE_BANDS;
}

static void write_memory(const void *memory, Learned *l)
{
    const EssesMemory *m = memory;
    l->count[LEVELS] = l->count[FRESH] = 0;
    for (uint32_t i = 0; i < m->count; ++i) {
        write_sibilant(l, LEVELS, i, &m->known[i].sibilant);
        learned_field(&esses_schema, l, TIMES)[i] = m->known[i].times;
    }
    for (uint32_t i = 0; i < m->fresh_count; ++i)
        write_sibilant(l, FRESH, i, &m->fresh[i]);
    l->count[TIMES] = m->count;
    l->count[AFRESH] = 1;
    *learned_field(&esses_schema, l, AFRESH) = m->afresh ? 1.f : 0.f;
    l->count[RAISED] = 1;
    *learned_field(&esses_schema, l, RAISED) = (float)m->raised;
}

/* Number of sibilants in a field; 0 if there are fewer than `enough`, or only part of one. */
static uint32_t sibilants_in(const Learned *l, uint32_t field, uint32_t enough)
{
    const uint32_t count = l->count[field] / SIBILANCE_BANDS;
    return l->count[field] % SIBILANCE_BANDS || count < enough ? 0 : count;
}

static EssesSibilant read_sibilant(const Learned *l, uint32_t field, uint32_t place)
{
    EssesSibilant s;
    const float *from = l->value + learned_at(&esses_schema, field) + (size_t)place * SIBILANCE_BANDS;
    memcpy(s.level, from, sizeof s.level);
    return s;
}

static void read_known(EssesMemory *m, const Learned *l)
{
    const float *times = l->value + learned_at(&esses_schema, TIMES);
    const uint32_t count = sibilants_in(l, LEVELS, ESSES_ENOUGH);
    for (m->count = 0; m->count < count;) {
        const EssesSibilant s = read_sibilant(l, LEVELS, m->count);
        append(m, &s);
        if (l->count[TIMES] == count)
            m->known[m->count - 1].times = floorf(times[m->count - 1]);
    }
}

static void read_memory(void *memory, const Learned *l)
{
    EssesMemory *m = memory;
    m->compared = 0;
    read_known(m, l);
    m->fresh_count = sibilants_in(l, FRESH, 1);
    for (uint32_t i = 0; i < m->fresh_count; ++i)
        m->fresh[i] = read_sibilant(l, FRESH, i);
    const bool known = l->count[AFRESH] && m->count;
    m->afresh = !known || l->value[learned_at(&esses_schema, AFRESH)] >= 1.f;
    m->raised = l->count[RAISED] ? (double)l->value[learned_at(&esses_schema, RAISED)] : 0.0;
}
