#include "esses.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LATENCY 0.005   /* s */
#define TOP     0.45    /* of the rate */
#define ATTACK  0.001   /* s, each of the smoothing's two poles */
#define RELEASE 0.02    /* s */
#define MOVE    0.02    /* s, each pole: how the band follows its controls */
#define HEAR    0.03    /* s, of the cross-fade to what is taken out */
#define RIPPLE  1.5     /* dB: noise measured over 8 ms rises so far over its mean, now and then */
#define CAUGHT  (-1.0)  /* dB: a sibilant cut by this, */
#define LASTING 0.015   /* s: for so long, is called caught */
#define NO_CUT  (-0.01) /* dB: a release ends here */

/* Of finding the centre, as tried on the tests' singer and on synthetic speech: a wider group takes in the sh of a
 * voice whose s is low; with a smaller share a few t or f are taken for the s. */
#define FAINT   6.0  /* dB under the median: fainter ones do not count */
#define GROUP   0.35 /* octaves: how wide a group is */
#define SHARE   0.25 /* of all that count: so many make a group */
#define STEPS   24.0 /* an octave */
#define LOWEST  3000.0
#define HIGHEST 10000.0

enum { APART = 32 }; /* cells between the steps of judging anew */

enum { LEVELS, HEARD, FRESH, AFRESH };

#define MOST_HEARD 16777216.f /* whole numbers up to here are exact: twenty weeks at one a second */

static const LearnedSchema schema = {
    .fields = 4,
    .field =
        {
            [LEVELS] = {"esses_levels", ESSES_MEMORY *SIBILANCE_BANDS, -200.f, 60.f},
            [HEARD] = {"esses_heard", ESSES_MEMORY, 1.f, MOST_HEARD},
            [FRESH] = {"esses_fresh_levels", (ESSES_ENOUGH - 1) * SIBILANCE_BANDS, -200.f, 60.f},
            [AFRESH] = {"esses_afresh", 1, 0.f, 1.f},
        },
};

static void reset(void *dsp);

static bool init(void *dsp, double rate, uint32_t channels)
{
    Esses *e = dsp;
    memset(e, 0, sizeof *e);
    if (!dsp_rate_ok(rate) || channels < 1 || channels > DSP_CHANNELS)
        return false;
    e->rate = rate;
    e->channels = channels;
    e->latency = (uint32_t)lround(LATENCY * rate);
    e->params = (EssesParams){.centre = 5500.0, .width = 1.0, .learn = true, .catch_above = 6.0, .most_cut = -8.0};
    e->memory = (EssesMemory){.afresh = true};
    living_init(&e->living, rate, channels);
    sibilance_init(&e->sibilance, rate, channels);
    smooth_init(&e->cut, rate / DSP_CELL, ATTACK);
    smooth_init(&e->centre, rate / DSP_CELL, MOVE);
    smooth_init(&e->octaves, rate / DSP_CELL, MOVE);
    fade_init(&e->hear, rate, HEAR);
    sos_init(&e->bell, 1, channels);
    for (uint32_t c = 0; c < channels; ++c)
        if (!delay_init(&e->delay[c], e->latency))
            return false;
    reset(e);
    return true;
}

static void done(void *dsp)
{
    Esses *e = dsp;
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&e->delay[c]);
}

static void judge_anew(Esses *e);

static void reset(void *dsp)
{
    Esses *e = dsp;
    e->learn = (LearnSwitch){0};
    living_reset(&e->living);
    sibilance_reset(&e->sibilance);
    e->wanted = 0.0;
    e->cut_for = 0;
    e->is_caught = false;
    smooth_jump(&e->cut, 0.0);
    smooth_restart(&e->centre);
    smooth_restart(&e->octaves);
    fade_restart(&e->hear);
    sos_jump(&e->bell, 0, &biquad_identity);
    sos_reset(&e->bell);
    for (uint32_t c = 0; c < e->channels; ++c)
        delay_reset(&e->delay[c]);
    e->at_rest = true;
    if (e->due)
        judge_anew(e);
    e->sibilants = e->caught = 0;
    e->report = (EssesReport){0};
}

/* ---- The usual sibilant ---- */

static double band_power(const Esses *e, const double *power)
{
    double sum = 0.0;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        sum += e->weight[b] * power[b];
    return sum;
}

/* One that counts `heard` times. */
typedef struct {
    double value, heard;
} Counted;

static void sort(Counted *x, uint32_t n)
{
    for (uint32_t gap = 121; gap > 0; gap /= 3)
        for (uint32_t i = gap; i < n; ++i) {
            const Counted taken = x[i];
            uint32_t at = i;
            for (; at >= gap && x[at - gap].value > taken.value; at -= gap)
                x[at] = x[at - gap];
            x[at] = taken;
        }
}

static double count_heard(const Counted *x, uint32_t from, uint32_t to)
{
    double heard = 0.0;
    for (uint32_t i = from; i < to; ++i)
        heard += x[i].heard;
    return heard;
}

/* Of sorted ones, from..to-1, at least one: the two values in the middle, which are mostly one. */
static void find_middle(const Counted *x, uint32_t from, uint32_t to, double middle[2])
{
    const double half = 0.5 * count_heard(x, from, to);
    double passed = x[from].heard;
    while (passed < half && from + 1 < to)
        passed += x[++from].heard;
    middle[0] = x[from].value;
    middle[1] = passed > half || from + 1 == to ? x[from].value : x[from + 1].value;
}

static double median(const Counted *x, uint32_t from, uint32_t to)
{
    double middle[2];
    find_middle(x, from, to, middle);
    return 0.5 * (middle[0] + middle[1]);
}

static void find_least(Esses *e)
{
    const uint32_t n = e->memory.count;
    Counted sorted[ESSES_MEMORY];
    if (n < ESSES_ENOUGH)
        return;
    for (uint32_t i = 0; i < n; ++i)
        sorted[i] = (Counted){e->known[i].density, (double)e->memory.heard[i]};
    sort(sorted, n);
    e->least = median(sorted, 0, n) - FAINT;
}

/* Where those known are densest that are not much fainter than their median, sorted; returns how many. */
static uint32_t sort_loud(const Esses *e, Counted *densest)
{
    uint32_t loud = 0;
    for (uint32_t i = 0; i < e->memory.count; ++i)
        if (e->known[i].density >= e->least)
            densest[loud++] = (Counted){e->known[i].densest, (double)e->memory.heard[i]};
    sort(densest, loud);
    return loud;
}

/* The highest group of sorted ones, from..to-1; all of them where no group is large enough. */
static void find_group(const Counted *sorted, uint32_t n, uint32_t *from, uint32_t *to)
{
    const double enough = SHARE * count_heard(sorted, 0, n);
    double heard = 0.0;
    *from = n;
    for (*to = n; *to > 0; heard -= sorted[--*to].heard) {
        while (*from > 0 && sorted[*from - 1].value >= sorted[*to - 1].value - GROUP)
            heard += sorted[--*from].heard;
        if (heard >= enough)
            return;
    }
    *to = n;
}

static void find_centre(Esses *e)
{
    Counted densest[ESSES_MEMORY];
    e->found = 0.0;
    if (e->memory.count < ESSES_ENOUGH)
        return;
    const uint32_t loud = sort_loud(e, densest);
    uint32_t from, to;
    find_group(densest, loud, &from, &to);
    const double centre = round(STEPS * median(densest, from, to)) / STEPS;
    if (centre > 0.0)
        e->found = dsp_clamp(centre, log2(LOWEST), log2(HIGHEST));
}

static void find_usual(Esses *e)
{
    const uint32_t n = e->memory.count;
    Counted sorted[ESSES_MEMORY];
    e->usual_known = n >= ESSES_ENOUGH;
    if (!e->usual_known)
        return;
    for (uint32_t i = 0; i < n; ++i)
        sorted[i] = (Counted){band_power(e, e->known[i].power), (double)e->memory.heard[i]};
    sort(sorted, n);
    double middle[2];
    find_middle(sorted, 0, n, middle);
    e->usual = 0.5 * (power_to_db(middle[0]) + power_to_db(middle[1]));
}

/* Where the band lies, and how much of each of the bands, half an octave wide, lies in it. */
static void place_band(Esses *e)
{
    const double half = 0.5 * e->params.width;
    e->middle = e->params.listening && e->found > 0.0 ? e->found : log2(e->params.centre);
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b) {
        const double at = log2(sibilance_hz[b]);
        const double from = fmax(at - 0.25, e->middle - half), to = fmin(at + 0.25, e->middle + half);
        e->weight[b] = fmax(to - from, 0.0) / 0.5;
    }
    e->in_reach = exp2(e->middle - half) < TOP * e->rate;
}

/* All at once. */
static void judge_anew(Esses *e)
{
    find_least(e);
    find_centre(e);
    place_band(e);
    find_usual(e);
    e->due = 0;
}

/* A cell of what a new sibilant changes about the centre: one step at a time, so that no block costs much more. */
static void judge_on(Esses *e)
{
    if (e->due == 0)
        return;
    --e->due;
    if (e->due == 2 * APART)
        find_least(e);
    if (e->due == APART)
        find_centre(e);
    if (e->due == 0 && e->params.listening) {
        place_band(e);
        find_usual(e);
    }
}

/* ---- What is learned ---- */

/* Squared distance of two of the memory over the bands. */
static double find_unlike(const EssesMemory *m, uint32_t a, uint32_t b)
{
    double squares = 0.0;
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double apart = (double)m->known[a].level[k] - (double)m->known[b].level[k];
        squares += apart * apart;
    }
    return squares;
}

/* `other` may be the most alike; of equals the first, so that a restored memory goes on as the old one would have. */
static void compare(Esses *e, uint32_t place, uint32_t other)
{
    EssesKnown *k = &e->known[place];
    const double unlike = find_unlike(&e->memory, place, other);
    if (unlike < k->unlike || (unlike == k->unlike && other < k->like)) {
        k->unlike = unlike;
        k->like = other;
    }
}

static void find_like(Esses *e, uint32_t place)
{
    EssesKnown *k = &e->known[place];
    k->unlike = INFINITY;
    for (uint32_t i = 0; i < e->memory.count && k->unlike > 0.0; ++i) /* many that are equal do not cost more */
        if (i != place)
            compare(e, place, i);
}

static void work_out(Esses *e, uint32_t place)
{
    const float *level = e->memory.known[place].level;
    EssesKnown *k = &e->known[place];
    k->densest = sibilance_densest(level, &k->density);
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        k->power[b] = db_to_power((double)level[b]);
}

/* Into the place after the last. */
static void add_known(Esses *e, const EssesSibilant *s)
{
    EssesMemory *m = &e->memory;
    m->known[m->count] = *s;
    m->heard[m->count] = 1.f;
    work_out(e, m->count++);
}

/* A cell of what a full memory needs before another sibilant ends: who is the most alike, one place at a time. */
static void compare_on(Esses *e)
{
    if (e->memory.count == ESSES_MEMORY && e->compared < ESSES_MEMORY)
        find_like(e, e->compared++);
}

/* The memory has changed beyond its last entry. */
static void take_memory(Esses *e)
{
    for (uint32_t i = 0; i < e->memory.count; ++i)
        work_out(e, i);
    e->compared = 0;
    judge_anew(e);
    ++e->version;
}

/* The mean, in the place of a; b is not touched. */
static void join(EssesMemory *m, uint32_t a, uint32_t b)
{
    const double wa = (double)m->heard[a], wb = (double)m->heard[b];
    for (uint32_t k = 0; k < SIBILANCE_BANDS; ++k) {
        const double mean = (wa * (double)m->known[a].level[k] + wb * (double)m->known[b].level[k]) / (wa + wb);
        m->known[a].level[k] = (float)learned_round(mean);
    }
    m->heard[a] = (float)fmin(wa + wb, (double)MOST_HEARD);
}

/* Who is the most alike, now that a has changed and b is the one that came last, whom nobody knows yet, or is no more.
 */
static void follow(Esses *e, uint32_t place, uint32_t a, uint32_t b)
{
    const uint32_t like = e->known[place].like;
    if (place == a || like == a || like == b) {
        find_like(e, place);
        return;
    }
    compare(e, place, a);
    if (b < e->memory.count && place != b)
        compare(e, place, b);
}

/* The two most alike of all become one, in the place of the first; the last moves up to where the second was. */
static void join_two(Esses *e)
{
    EssesMemory *m = &e->memory;
    uint32_t most = 0;
    for (uint32_t i = 1; i < m->count; ++i)
        if (e->known[i].unlike < e->known[most].unlike)
            most = i;
    const uint32_t like = e->known[most].like, last = --m->count;
    const uint32_t a = most < like ? most : like, b = most < like ? like : most;
    join(m, a, b);
    m->known[b] = m->known[last];
    m->heard[b] = m->heard[last];
    e->known[b] = e->known[last];
    work_out(e, a);
    for (uint32_t i = 0; i < m->count; ++i)
        follow(e, i, a, b);
}

static void keep_sibilant(Esses *e, const EssesSibilant *s)
{
    while (e->memory.count == ESSES_MEMORY && e->compared < ESSES_MEMORY) /* only right after a restore */
        compare_on(e);
    add_known(e, s);
    if (e->memory.count > ESSES_MEMORY) {
        find_like(e, ESSES_MEMORY);
        join_two(e);
    }
    find_usual(e);
    e->due = 3 * APART;
}

static void keep_fresh_sibilant(Esses *e, const EssesSibilant *s)
{
    EssesMemory *m = &e->memory;
    m->fresh[m->fresh_count++] = *s;
    if (m->fresh_count < ESSES_ENOUGH)
        return;
    m->count = m->fresh_count = e->compared = 0;
    m->afresh = false;
    for (uint32_t i = 0; i < ESSES_ENOUGH; ++i)
        add_known(e, &m->fresh[i]);
    judge_anew(e);
}

static void learn_sibilant(Esses *e)
{
    EssesSibilant s;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        s.level[b] = (float)learned_round(dsp_clamp(e->sibilance.level[b], -200.0, 60.0));
    if (e->memory.afresh)
        keep_fresh_sibilant(e, &s);
    else
        keep_sibilant(e, &s);
    ++e->version;
}

static void start_afresh(Esses *e)
{
    e->memory.afresh = true;
    e->memory.fresh_count = 0;
    e->sibilants = e->caught = 0;
    ++e->version;
}

static uint32_t version(const void *dsp)
{
    const Esses *e = dsp;
    return e->version;
}

static void write_sibilants(Learned *l, uint32_t field, const EssesSibilant *s, uint32_t count)
{
    l->count[field] = count * SIBILANCE_BANDS;
    memcpy(learned_field(&schema, l, field), s, count * sizeof *s);
}

static void get(const void *dsp, Learned *l)
{
    const Esses *e = dsp;
    const EssesMemory *m = &e->memory;
    write_sibilants(l, LEVELS, m->known, m->count);
    write_sibilants(l, FRESH, m->fresh, m->fresh_count);
    l->count[HEARD] = m->count;
    memcpy(learned_field(&schema, l, HEARD), m->heard, m->count * sizeof *m->heard);
    l->count[AFRESH] = 1;
    *learned_field(&schema, l, AFRESH) = m->afresh ? 1.f : 0.f;
}

/* How many sibilants were read: fewer than `least`, or part of one, are none. */
static uint32_t read_sibilants(const Learned *l, uint32_t field, uint32_t least, EssesSibilant *s)
{
    const uint32_t figures = l->count[field], count = figures / SIBILANCE_BANDS;
    if (figures % SIBILANCE_BANDS || count < least)
        return 0;
    memcpy(s, l->value + learned_at(&schema, field), count * sizeof *s);
    return count;
}

/* Where the counts do not fit the levels, each counts once. */
static void read_heard(const Learned *l, EssesMemory *m)
{
    const float *heard = l->value + learned_at(&schema, HEARD);
    for (uint32_t i = 0; i < m->count; ++i)
        m->heard[i] = l->count[HEARD] == m->count ? floorf(heard[i]) : 1.f;
}

static void put(void *dsp, const Learned *l)
{
    Esses *e = dsp;
    EssesMemory *m = &e->memory;
    m->count = read_sibilants(l, LEVELS, ESSES_ENOUGH, m->known);
    read_heard(l, m);
    m->fresh_count = read_sibilants(l, FRESH, 1, m->fresh);
    const bool known = l->count[AFRESH] && m->count;
    m->afresh = !known || l->value[learned_at(&schema, AFRESH)] >= 1.f;
    take_memory(e);
}

/* ---- The cut ---- */

static void set(void *dsp, const void *wanted)
{
    Esses *e = dsp;
    const EssesParams *params = wanted;
    const bool moved = params->centre != e->params.centre || params->width != e->params.width ||
                       params->listening != e->params.listening || !e->centre.holds;
    e->params = *params;
    if (learn_switch(&e->learn, params->learn))
        start_afresh(e);
    smooth_to(&e->octaves, params->width);
    fade_to(&e->hear, params->hear_caught);
    if (moved) {
        place_band(e);
        find_usual(e);
    }
}

/* dB, 0 or less: what is too much of what sounds now. */
static double too_much(const Esses *e)
{
    if (!e->sibilance.heard || !e->usual_known || !e->in_reach)
        return 0.0;
    double power[SIBILANCE_BANDS];
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        power[b] = db_to_power(sibilance_now(&e->sibilance, b));
    const double over = power_to_db(band_power(e, power)) - e->usual - e->params.catch_above - RIPPLE;
    return over > 0.0 ? fmax(-over, e->params.most_cut) : 0.0;
}

/* Down at once, back along an exponential: what follows is smoothed, so that neither starts with a kink. */
static void aim(Esses *e, double cut)
{
    const double released = cut + (e->wanted - cut) * one_pole(RELEASE, e->rate / DSP_CELL);
    e->wanted = fmin(cut, released);
    if (cut == 0.0 && e->wanted > NO_CUT)
        e->wanted = 0.0;
    smooth_to(&e->cut, e->wanted);
}

static void move_bell(Esses *e)
{
    const double before = e->cut.value, cut = smooth_step(&e->cut);
    smooth_to(&e->centre, e->middle);
    const double centre = exp2(smooth_step(&e->centre)), octaves = smooth_step(&e->octaves);
    e->at_rest = before == 0.0 && cut == 0.0;
    if (e->at_rest)
        return;
    const Biquad bell = design_bell(centre, cut, design_q(octaves), e->rate);
    sos_glide(&e->bell, 0, &bell);
}

static void count_sibilant(Esses *e)
{
    ++e->sibilants;
    e->caught += e->is_caught;
    if (e->params.learn)
        learn_sibilant(e);
}

static void follow_cut(Esses *e, double cut)
{
    const bool open = e->sibilance.open;
    e->cut_for = open && cut <= CAUGHT ? e->cut_for + 1 : 0;
    e->is_caught = open && (e->is_caught || e->cut_for * DSP_CELL >= LASTING * e->rate);
}

static void tick(void *dsp)
{
    Esses *e = dsp;
    if (sibilance_tick(&e->sibilance))
        count_sibilant(e);
    judge_on(e);
    compare_on(e);
    const double cut = too_much(e);
    follow_cut(e, cut);
    aim(e, cut);
    move_bell(e);
    sos_hush(&e->bell);
    e->report = (EssesReport){
        .heard = e->sibilance.heard,
        .cut = e->cut.value,
        .caught_share = e->sibilants ? 100.0 * e->caught / e->sibilants : 0.0,
        .found_centre = e->found > 0.0 ? exp2(e->found) : 0.0,
    };
}

/* `late`: the input, delayed; `cut`: the same after the bell. */
static void put_out(Esses *e, float late[][DSP_CELL], float cut[][DSP_CELL], float *const *out, uint32_t n)
{
    const bool plain = fade_rests_at(&e->hear, false);
    for (uint32_t t = 0; t < n; ++t) {
        const float taken = plain ? 0.f : (float)fade_step(&e->hear);
        for (uint32_t c = 0; c < e->channels; ++c) {
            const float x = late[c][t], y = e->at_rest ? x : cut[c][t];
            /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): at most DSP_CHANNELS, since init */
            out[c][t] = plain ? y : (1.f - taken) * y + taken * (x - y);
        }
    }
}

/* n samples of one cell. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Esses *e = dsp;
    float late[DSP_CHANNELS][DSP_CELL], cut[DSP_CHANNELS][DSP_CELL];
    const float *heard[DSP_CHANNELS];
    living_process(&e->living, in, heard, n);
    sibilance_process(&e->sibilance, heard, n);
    for (uint32_t c = 0; c < e->channels; ++c)
        delay_process(&e->delay[c], e->latency, in[c], late[c], n);
    sos_process(&e->bell, (const float *const[]){late[0], late[1]}, (float *const[]){cut[0], cut[1]}, n);
    put_out(e, late, cut, out, n);
}

static void report(const void *dsp, void *to)
{
    const Esses *e = dsp;
    EssesReport *report = to;
    *report = e->report;
}

static uint32_t latency(const void *dsp)
{
    const Esses *e = dsp;
    return e->latency;
}

const Processor esses = {
    .size = sizeof(Esses),
    .init = init,
    .done = done,
    .reset = reset,
    .set = set,
    .tick = tick,
    .cell = cell,
    .report = report,
    .latency = latency,
    .learned = {&schema, version, get, put},
};
