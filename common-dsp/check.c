#include "check.h"

#include "units.h"

#include <stddef.h>
#include <string.h>

#define NONE UNITS_DB_FLOOR

/* ---- The memory ---- */

static const TallyScale noise_scale = {-140.0, 0.5, 280};
static const TallyScale hum_scale = {-140.0, 0.5, 280};
static const TallyScale decay_scale = {-4.5, 1.0 / 16.0, 120}; /* log2 of seconds: 0.044 to 8 */
static const TallyScale burst_scale = {-100.0, 0.5, 240};
static const TallyScale note_scale = {30.0, 0.25, 240};
static const TallyScale phrase_scale = {-90.0, 0.25, 400};
static const TallyScale loudness_scale = {LOUDNESS_LOW, 0.2, 400};

enum { LEVELS, NOISE, HUM_50, HUM_60, DECAYS, BURSTS, NOTES, PHRASES, MOMENTARY, SHORT_TERM, PEAK, COUNTS, FIELDS };
enum { CLIPPED, VOICED, STEADY, COUNTERS };

static const LearnedSchema schema = {
    .fields = FIELDS,
    .field = {[LEVELS] = {"check_levels", LEVEL_MEMORY_BINS, 0.f, LEVEL_MEMORY_MOST},
              [NOISE] = {"check_noise", 280, 0.f, TALLY_MOST},
              [HUM_50] = {"check_hum_fifty", 280, 0.f, TALLY_MOST},
              [HUM_60] = {"check_hum_sixty", 280, 0.f, TALLY_MOST},
              [DECAYS] = {"check_decays", 120, 0.f, TALLY_MOST},
              [BURSTS] = {"check_bursts", 240, 0.f, TALLY_MOST},
              [NOTES] = {"check_notes", 240, 0.f, TALLY_MOST},
              [PHRASES] = {"check_phrases", 400, 0.f, TALLY_MOST},
              [MOMENTARY] = {"check_momentary", 400, 0.f, TALLY_MOST},
              [SHORT_TERM] = {"check_short_term", 400, 0.f, TALLY_MOST},
              [PEAK] = {"check_peak", 1, -200.f, 48.f},
              [COUNTS] = {"check_counts", COUNTERS, 0.f, TALLY_MOST}},
};

/* Where the counts of each field of counts lie in the memory. */
static const size_t place[] = {
    [LEVELS] = offsetof(CheckMemory, level),        [NOISE] = offsetof(CheckMemory, noise),
    [HUM_50] = offsetof(CheckMemory, hum[0]),       [HUM_60] = offsetof(CheckMemory, hum[1]),
    [DECAYS] = offsetof(CheckMemory, decays),       [BURSTS] = offsetof(CheckMemory, bursts),
    [NOTES] = offsetof(CheckMemory, notes),         [PHRASES] = offsetof(CheckMemory, phrases),
    [MOMENTARY] = offsetof(CheckMemory, momentary), [SHORT_TERM] = offsetof(CheckMemory, short_term),
};

static uint32_t version(const void *dsp)
{
    const Check *c = dsp;
    return c->version;
}

/* Trailing zeros are left out; one count of 0 says that the memory is known to be empty. */
static uint32_t write_counts(float *to, const void *counts, uint32_t bins)
{
    const uint32_t *count = counts;
    uint32_t used = 1;
    for (uint32_t b = 0; b < bins; ++b) {
        to[b] = (float)count[b];
        if (count[b])
            used = b + 1;
    }
    return used;
}

static void get(const void *dsp, Learned *learned)
{
    const Check *c = dsp;
    const CheckMemory *m = &c->memory;
    for (uint32_t f = LEVELS; f <= SHORT_TERM; ++f)
        learned->count[f] =
            write_counts(learned_field(&schema, learned, f), (const char *)m + place[f], schema.field[f].max);
    learned->count[PEAK] = 1;
    *learned_field(&schema, learned, PEAK) = (float)m->peak;
    const uint32_t counts[COUNTERS] = {[CLIPPED] = m->clipped, [VOICED] = m->voiced, [STEADY] = m->steady};
    write_counts(learned_field(&schema, learned, COUNTS), counts, COUNTERS);
    learned->count[COUNTS] = COUNTERS;
}

static void take_counts(void *counts, const Learned *learned, uint32_t field)
{
    uint32_t *count = counts;
    const float *from = learned->value + learned_at(&schema, field);
    for (uint32_t b = 0; b < learned->count[field]; ++b)
        count[b] = (uint32_t)from[b];
}

static void conclude_all(Check *c);

static void put(void *dsp, const Learned *learned)
{
    Check *c = dsp;
    CheckMemory *m = &c->memory;
    uint32_t counts[COUNTERS] = {0};
    *m = (CheckMemory){.peak = NONE};
    for (uint32_t f = LEVELS; f <= SHORT_TERM; ++f)
        take_counts((char *)m + place[f], learned, f);
    if (learned->count[PEAK])
        m->peak = (double)learned->value[learned_at(&schema, PEAK)];
    take_counts(counts, learned, COUNTS);
    m->clipped = counts[CLIPPED];
    m->voiced = counts[VOICED];
    m->steady = counts[STEADY];
    ++c->version;
    conclude_all(c);
}

static void forget(Check *c)
{
    c->memory = (CheckMemory){.peak = NONE};
    ++c->version;
    conclude_all(c);
}

/* ---- Figures from the memory ---- */

#define QUIETEST    0.05 /* share of the blocks of the rests */
#define QUIET_ROOM  3.0  /* dB over them that count */
#define REST_UNDER  6.0  /* dB under the voice: a louder block is no rest, but a voice that was not taken for one */
#define HUM_ROOM    3.0  /* dB: a hum stays within this of its middle level, and of that of the rests it stands in */
#define HUM_SHARE   0.4  /* of the windows have to lie there: else they are ends of notes */
#define POP_OVER    0.0  /* dB over the voice's level, over 20 ms */
#define UNEVEN_ENDS 0.1  /* share of the phrases */
#define ROOM_DRY_S  0.3  /* s */
#define ROOM_LIVE_S 0.5

enum { LEAST_BLOCKS = 10, LEAST_QUIET = 4, LEAST_WINDOWS = 4, LEAST_DECAYS = 3, LEAST_PHRASES = 3, LEAST_HELD = 8 };

#define HELD_SHARE 0.004 /* of the held frames: fewer at a place are taken for slips of the tracker */
enum { NOTE_WIDTH = 4 }; /* bins of a place: a semitone */

static void find_level(Check *c, CheckReport *r)
{
    const LevelMemory *level = &c->memory.level;
    const bool enough = level_memory_blocks(level, LEAST_BLOCKS) == LEAST_BLOCKS;
    r->voice_level = enough ? level_memory_level(level) : NONE;
    r->peak = c->memory.peak;
    r->clipped = c->memory.clipped;
}

/* Blocks up to this level. */
static double blocks_under(const Tally *noise, double db)
{
    return (double)tally_total(noise, &noise_scale) - (double)tally_from(noise, &noise_scale, db);
}

static double rests(const Check *c, const CheckReport *r)
{
    return blocks_under(&c->memory.noise, r->voice_level > NONE ? r->voice_level - REST_UNDER : HUGE_VAL);
}

static void find_noise(Check *c, CheckReport *r)
{
    const Tally *noise = &c->memory.noise;
    const double blocks = rests(c, r);
    r->noise_floor = NONE;
    if (blocks > 0.0) {
        const double quiet = tally_below(noise, &noise_scale, QUIETEST * blocks) + QUIET_ROOM;
        if (blocks_under(noise, quiet) >= LEAST_QUIET)
            r->noise_floor = tally_mean_db(noise, &noise_scale, noise_scale.low, quiet);
    }
    const bool known = r->noise_floor > NONE && r->voice_level > NONE;
    r->signal_to_noise = known ? r->voice_level - r->noise_floor : 0.0;
}

static double hum_level(const Check *c, uint32_t family)
{
    const Tally *hum = &c->memory.hum[family];
    const double windows = tally_total(hum, &hum_scale);
    if (windows < LEAST_WINDOWS)
        return NONE;
    const double middle = tally_below(hum, &hum_scale, 0.5 * windows);
    const double there =
        (double)tally_from(hum, &hum_scale, middle - HUM_ROOM) - (double)tally_from(hum, &hum_scale, middle + HUM_ROOM);
    return middle > hum_scale.low + hum_scale.step && there >= HUM_SHARE * windows ? middle : NONE;
}

static void find_hum(Check *c, CheckReport *r)
{
    const double fifty = hum_level(c, 0), sixty = hum_level(c, 1), blocks = rests(c, r);
    const double most = blocks > 0.0 ? tally_below(&c->memory.noise, &noise_scale, 0.5 * blocks) + HUM_ROOM : NONE;
    r->hum_level = fmax(fifty, sixty) > most ? NONE : fmax(fifty, sixty);
    r->hum_hz = !(r->hum_level > NONE) ? 0.0 : fifty >= sixty ? 50.0 : 60.0;
}

static void find_room(Check *c, CheckReport *r)
{
    const Tally *decays = &c->memory.decays;
    const uint32_t heard = tally_total(decays, &decay_scale);
    r->decay = heard >= LEAST_DECAYS ? exp2(tally_below(decays, &decay_scale, 0.5 * heard)) : 0.0;
    r->room = !(r->decay > 0.0)        ? ROOM_UNKNOWN
              : r->decay < ROOM_DRY_S  ? ROOM_DRY
              : r->decay < ROOM_LIVE_S ? ROOM_IN_BETWEEN
                                       : ROOM_LIVE;
}

static void find_pops(Check *c, CheckReport *r)
{
    const bool known = r->voice_level > NONE;
    r->pops = known ? tally_from(&c->memory.bursts, &burst_scale, r->voice_level + POP_OVER) : 0.0;
}

static void find_notes(Check *c, CheckReport *r)
{
    const CheckMemory *m = &c->memory;
    const double held = tally_total(&m->notes, &note_scale), least = fmax(LEAST_HELD, HELD_SHARE * held);
    r->lowest = tally_lowest(&m->notes, &note_scale, NOTE_WIDTH, least);
    r->highest = tally_highest(&m->notes, &note_scale, NOTE_WIDTH, least);
    r->range = RANGE_UNKNOWN;
    if (r->lowest > 0.0 && level_memory_blocks(&m->level, CHECK_ENOUGH) == CHECK_ENOUGH)
        r->range = voice_range_of(r->lowest, r->highest, tally_below(&m->notes, &note_scale, 0.5 * held),
                                  (double)m->steady / m->voiced);
}

static void find_phrases(Check *c, CheckReport *r)
{
    const Tally *phrases = &c->memory.phrases;
    const uint32_t heard = tally_total(phrases, &phrase_scale);
    r->uneven = heard >= LEAST_PHRASES ? tally_below(phrases, &phrase_scale, (1.0 - UNEVEN_ENDS) * heard) -
                                             tally_below(phrases, &phrase_scale, UNEVEN_ENDS * heard)
                                       : 0.0;
}

/* Gates of BS.1770: 10 LU under the mean of what passed -70. */
static void find_loudness(Check *c, CheckReport *r)
{
    const Tally *blocks = &c->memory.momentary;
    const double all = tally_mean_db(blocks, &loudness_scale, LOUDNESS_LOW, HUGE_VAL);
    r->loudness = fmax(LOUDNESS_LOW, tally_mean_db(blocks, &loudness_scale, all - 10.0, HUGE_VAL));
}

/* EBU Tech 3342: 10th to 95th percentile of what passes 20 LU under the mean. */
static void find_loudness_range(Check *c, CheckReport *r)
{
    const Tally *blocks = &c->memory.short_term;
    const double gate = tally_mean_db(blocks, &loudness_scale, LOUDNESS_LOW, HUGE_VAL) - 20.0;
    const double all = tally_total(blocks, &loudness_scale), passed = tally_from(blocks, &loudness_scale, gate);
    r->loudness_range = 0.0;
    if (passed > 0.0)
        r->loudness_range = tally_below(blocks, &loudness_scale, all - 0.05 * passed) -
                            tally_below(blocks, &loudness_scale, all - 0.9 * passed);
}

/* ---- Faults ---- */

/* Common practice (ours): where a figure becomes a fault, and by how much more it becomes as bad again. */
static const struct {
    CheckVerdict verdict;
    double limit, step;
} faults[CHECK_FAULTS] = {
    [FAULT_TOO_QUIET] = {VERDICT_LEVEL, 24.0, 6.0},    /* dB of voice level under full scale */
    [FAULT_TOO_LOUD] = {VERDICT_LEVEL, -12.0, 3.0},    /* dB of voice level */
    [FAULT_CLIPPED] = {VERDICT_CLIPPED, 3.0, 0.01},    /* samples; the small step puts it first */
    [FAULT_NOISY] = {VERDICT_NOISY, -40.0, 5.0},       /* dB of the noise, less the hum, to the voice */
    [FAULT_HUM] = {VERDICT_HUM, -50.0, 5.0},           /* dB of the hum to the voice */
    [FAULT_ROOMY] = {VERDICT_ROOMY, ROOM_LIVE_S, 0.2}, /* s */
    [FAULT_POPPING] = {VERDICT_POPPING, 1.0, 2.0},     /* pops */
    [FAULT_UNEVEN] = {VERDICT_UNEVEN, 8.0, 3.0},       /* dB */
};

/* The noise without the hum, against the voice; NONE: not known, or hum alone. */
static double noise_to_voice(const CheckReport *r)
{
    if (!(r->noise_floor > NONE))
        return NONE;
    const double hum = r->hum_level > NONE ? db_to_power(r->hum_level) : 0.0;
    return power_to_db(db_to_power(r->noise_floor) - hum) - r->voice_level;
}

static void find_faults(Check *c, CheckReport *r)
{
    const double figure[CHECK_FAULTS] = {
        [FAULT_TOO_QUIET] = -r->voice_level,
        [FAULT_TOO_LOUD] = r->voice_level,
        [FAULT_CLIPPED] = r->clipped,
        [FAULT_NOISY] = noise_to_voice(r),
        [FAULT_HUM] = r->hum_level > NONE ? r->hum_level - r->voice_level : NONE,
        [FAULT_ROOMY] = r->decay,
        [FAULT_POPPING] = r->pops,
        [FAULT_UNEVEN] = r->uneven,
    };
    const bool enough = level_memory_blocks(&c->memory.level, CHECK_ENOUGH) == CHECK_ENOUGH;
    double worst = 0.0;
    r->verdict = enough ? VERDICT_READY : VERDICT_LISTENING;
    for (uint32_t f = 0; f < CHECK_FAULTS; ++f) {
        const double past = (figure[f] - faults[f].limit) / faults[f].step;
        r->fault[f] = enough && past > 0.0;
        if (!r->fault[f] || past <= worst)
            continue;
        worst = past;
        r->verdict = faults[f].verdict;
    }
}

/* One step a cell, round and round, so that no cell has to walk all memories. Each needs only what those before it
 * found. */
static void (*const conclusion[])(Check *, CheckReport *) = {
    find_level, find_noise,   find_hum,      find_room,           find_pops,
    find_notes, find_phrases, find_loudness, find_loudness_range, find_faults,
};

enum { STEPS = sizeof conclusion / sizeof *conclusion };

static void conclude_step(Check *c)
{
    conclusion[c->step](c, &c->draft);
    c->step = (c->step + 1) % STEPS;
    if (c->step == 0)
        c->report = c->draft;
}

static void conclude_all(Check *c)
{
    c->step = 0;
    for (uint32_t s = 0; s < STEPS; ++s)
        conclude_step(c);
}

/* ---- Life ---- */

static void reset(void *dsp);

static bool init(void *dsp, double rate, uint32_t channels)
{
    Check *c = dsp;
    memset(c, 0, sizeof *c);
    if (!dsp_rate_ok(rate) || !hearing_init(&c->hearing, rate, channels))
        return false;
    c->channels = channels;
    c->params.learn = true;
    living_init(&c->living, rate, channels);
    true_peak_init(&c->true_peak, rate);
    loudness_init(&c->loudness, rate, channels);
    reset(c);
    forget(c);
    return true;
}

static void done(void *dsp)
{
    Check *c = dsp;
    hearing_done(&c->hearing);
}

static void reset(void *dsp)
{
    Check *c = dsp;
    c->learn = (LearnSwitch){0};
    living_reset(&c->living);
    hearing_reset(&c->hearing);
    c->rests = (Rests){0};
    memset(&c->decay, 0, sizeof c->decay);
    memset(&c->pops, 0, sizeof c->pops);
    c->notes = (Notes){0};
    c->phrases = (Phrases){0};
    loudness_reset(&c->loudness);
    c->hops = 0;
    true_peak_reset(&c->true_peak);
    c->cell_peak = 0.f;
    memset(c->clipping, 0, sizeof c->clipping);
    c->cell_clipped = 0;
    conclude_all(c);
}

static void set(void *dsp, const void *wanted)
{
    Check *c = dsp;
    const CheckParams *params = wanted;
    c->params = *params;
    if (learn_switch(&c->learn, params->learn))
        forget(c);
}

static void report(const void *dsp, void *to)
{
    const Check *c = dsp;
    CheckReport *report = to;
    *report = c->report;
}

/* ---- Hearing ---- */

static void learn(Check *c, Tally *tally, const TallyScale *scale, double value)
{
    if (!c->params.learn)
        return;
    tally_add(tally, scale, value);
    ++c->version;
}

static void learn_note(Check *c, const NoteFound *note)
{
    CheckMemory *m = &c->memory;
    if (!c->params.learn || !note->voiced)
        return;
    if (note->held)
        tally_add(&m->notes, &note_scale, note->note);
    m->steady += note->steady;
    if (++m->voiced > TALLY_MOST) {
        m->voiced /= 2;
        m->steady /= 2;
    }
    ++c->version;
}

static void hear_frame(Check *c, const HearingFrame *frame)
{
    CheckMemory *m = &c->memory;
    double value;
    const RestFound rest = rests_hear(&c->rests, frame);
    if (rest.block)
        learn(c, &m->noise, &noise_scale, rest.block_db);
    if (rest.window)
        hum_look(&c->hearing.hum, frame->end);
    if (decay_hear(&c->decay, frame, &value))
        learn(c, &m->decays, &decay_scale, log2(value));
    if (pops_hear(&c->pops, frame, &value))
        learn(c, &m->bursts, &burst_scale, value);
    if (phrases_hear(&c->phrases, frame, &value))
        learn(c, &m->phrases, &phrase_scale, value);
    const NoteFound note = notes_hear(&c->notes, frame);
    learn_note(c, &note);
}

static void hear_loudness(Check *c)
{
    if (c->loudness.hops == c->hops)
        return;
    c->hops = c->loudness.hops;
    const double momentary = loudness_momentary(&c->loudness), short_term = loudness_short_term(&c->loudness);
    if (momentary > LOUDNESS_LOW)
        learn(c, &c->memory.momentary, &loudness_scale, momentary);
    if (short_term > LOUDNESS_LOW)
        learn(c, &c->memory.short_term, &loudness_scale, short_term);
}

static void hear_peaks(Check *c)
{
    CheckMemory *m = &c->memory;
    const double peak = ceil(gain_to_db(c->cell_peak) * 256.0) / 256.0;
    if (c->params.learn && (peak > m->peak || c->cell_clipped)) {
        m->peak = fmax(m->peak, peak);
        m->clipped += c->cell_clipped;
        if (m->clipped > TALLY_MOST)
            m->clipped = TALLY_MOST;
        ++c->version;
    }
    c->cell_peak = 0.f;
    c->cell_clipped = 0;
}

/* Grid point: takes in what the last cell brought. */
static void tick(void *dsp)
{
    Check *c = dsp;
    double value, hum[HUM_FAMILIES];
    if (voice_level_found(&c->hearing.voice, &value) && c->params.learn) {
        level_memory_add(&c->memory.level, value);
        ++c->version;
    }
    const HearingFrame *frame = hearing_frame(&c->hearing);
    if (frame)
        hear_frame(c, frame);
    if (hum_found(&c->hearing.hum, hum))
        for (uint32_t f = 0; f < HUM_FAMILIES; ++f)
            learn(c, &c->memory.hum[f], &hum_scale, hum[f]);
    hear_loudness(c);
    hear_peaks(c);
    conclude_step(c);
}

static void hear(Check *c, const float *const *in, uint32_t n)
{
    const float *heard[DSP_CHANNELS];
    living_process(&c->living, in, heard, n);
    hearing_process(&c->hearing, heard, n);
    for (uint32_t k = 0; k < c->channels; ++k) {
        const float peak = true_peak_process(&c->true_peak, k, in[k], n);
        c->cell_peak = peak > c->cell_peak ? peak : c->cell_peak;
        c->cell_clipped += clipping_count(&c->clipping[k], in[k], n);
    }
    loudness_process(&c->loudness, heard, n);
}

/* Either output may be either input. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Check *c = dsp;
    float copy[DSP_CHANNELS][DSP_CELL];
    hear(c, in, n);
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(copy[k], in[k], n * sizeof(float));
    for (uint32_t k = 0; k < c->channels; ++k)
        memcpy(out[k], copy[k], n * sizeof(float));
}

const Processor check = {
    .size = sizeof(Check),
    .init = init,
    .done = done,
    .reset = reset,
    .set = set,
    .tick = tick,
    .cell = cell,
    .report = report,
    .learned = {&schema, version, get, put},
};
