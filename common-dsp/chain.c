#include "chain.h"

#include "damage.h"
#include "low_cut.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define COMPARE_FADE       0.03 /* s: cross-fade between the raw take and the whole */
#define RAISED_TIME        3.0  /* s: time constant of the powers into and out of Compressor's gain */
#define VOICE_SOUNDS_UNDER 20.0 /* dB under the middle of the loudest quarter: down to here a voice sounds */

enum { COMPRESSOR_FROM, ESSES_FROM };

enum { CHAIN_ROW = 8 }; /* most cells that go through one stage before the next stage gets them */

/* What the stages record at a grid point for the stages behind them, which may come to that point later. Gains in
 * dB. */
typedef struct {
    bool voice;                   /* Trim hears a voice; as late as Trim's output */
    double trim, trim_goal;       /* Trim's gain, and the gain it is bound for */
    double tone, tone_goal;       /* the same for Tone's makeup */
    bool aims;                    /* Tone has worked out afresh: */
    ToneCurve curve;              /* its curve */
    double power[SPECTRUM_BANDS]; /* and its factor on the power in each band */
    double gain, goal;            /* the gain of Trim, Tone and Compressor together, and the gain it is bound for */
    double read;                  /* dB: the reading of Compressor's detector, on the scale of its learned levels */
    Curve in_force, ahead;        /* on that scale: Compressor's curve in force, and the one it is bound for */
    bool known;                   /* Compressor knows the voice */
} ChainPoint;

/* ---- The row ---- */

typedef struct {
    const Processor *is;
    size_t at, params, report; /* in Chain, ChainParams and ChainReport */
} ChainStage;

#define STAGE(name)                                                                                                    \
    {                                                                                                                  \
        &(name), offsetof(Chain, name), offsetof(ChainParams, name), offsetof(ChainReport, name)                       \
    }

enum { TRIM, TONE, COMPRESSOR, ESSES, PLATE, STAGES };

static const ChainStage row[STAGES] = {
    STAGE(trim),
    STAGE(tone),
    STAGE(compressor),
    STAGE(esses),
    {&plate, offsetof(Chain, plate), offsetof(ChainParams, plate), 0},
};

static void *stage_of(Chain *c, uint32_t s)
{
    return (char *)c + row[s].at;
}

/* ---- Life ---- */

static size_t most_figures(void)
{
    size_t most = 0;
    for (uint32_t p = 0; p < chain_schema.parts; ++p) {
        const size_t room = learned_room(chain_schema.part[p].schema);
        most = room > most ? room : most;
    }
    return most;
}

static void reset_own(Chain *c)
{
    c->learn = (LearnSwitch){0};
    c->aimed = false;
    c->voice = 0;
    fade_restart(&c->compare);
    smooth_restart(&c->level);
    c->went = c->passed = 0.0;
    peaks_reset(&c->peaks);
    sibilants_reset(&c->sibilants);
    for (uint32_t ch = 0; ch < c->channels; ++ch)
        delay_reset(&c->raw[ch]);
}

static bool init_own(Chain *c)
{
    c->figures = calloc(most_figures() + 1, sizeof *c->figures);
    c->latency = processor_latency(&trim, &c->trim) + processor_latency(&compressor, &c->compressor) +
                 processor_latency(&esses, &c->esses);
    c->voice_late = (processor_latency(&trim, &c->trim) + DSP_CELL / 2) / DSP_CELL;
    c->raw_late = c->latency - processor_latency(&trim, &c->trim);
    for (uint32_t i = 0; i < CHAIN_BEHIND; ++i)
        c->from[i] = CHAIN_FROM_NONE;
    sibilants_clear(&c->sibilants, true);
    c->keep = one_pole(RAISED_TIME, c->rate / DSP_CELL);
    fade_init(&c->compare, c->rate, COMPARE_FADE);
    smooth_init(&c->level, c->rate, EVEN_GLIDE);
    for (uint32_t ch = 0; ch < c->channels; ++ch)
        if (!delay_init(&c->raw[ch], c->raw_late))
            return false;
    return peaks_init(&c->peaks, c->rate, c->channels) && c->figures != NULL;
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Chain *c = dsp;
    c->rate = rate;
    c->channels = channels;
    for (uint32_t s = 0; s < STAGES; ++s)
        if (!processor_init(row[s].is, stage_of(c, s), rate, channels))
            return false;
    if (!init_own(c))
        return false;
    reset_own(c);
    return true;
}

static void done(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->done(stage_of(c, s));
    for (uint32_t ch = 0; ch < DSP_CHANNELS; ++ch)
        delay_done(&c->raw[ch]);
    peaks_done(&c->peaks);
    free(c->figures);
    c->figures = NULL;
}

static void reset(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->reset(stage_of(c, s));
    reset_own(c);
}

/* The delays here hold silence by then. */
static bool pause(void *dsp)
{
    Chain *c = dsp;
    bool all = true;
    for (uint32_t s = 0; s < STAGES; ++s)
        all = (!row[s].is->pause || row[s].is->pause(stage_of(c, s))) && all;
    return all;
}

/* ---- What is learned ---- */

static uint32_t versions(const Chain *c)
{
    uint32_t sum = 0;
    for (uint32_t s = 0; s < STAGES; ++s)
        if (row[s].is->learned.schema)
            sum += processor_version(row[s].is, (const char *)c + row[s].at);
    return sum;
}

/* Does for each part what processor_put() does. */
static void restored(void *dsp)
{
    Chain *c = dsp;
    for (uint32_t s = 0; s < STAGES; ++s) {
        const ProcessorLearned *learned = &row[s].is->learned;
        if (learned->schema)
            ++*(uint32_t *)(void *)((char *)stage_of(c, s) + learned->version);
        if (learned->restored)
            learned->restored(stage_of(c, s));
    }
    c->seen = versions(c);
    c->aimed = false;
    sibilants_clear(&c->sibilants, !c->esses.memory.count && !c->esses.memory.fresh_count);
}

/* dB: the gain before a processor that its learned levels refer to. If it is not known yet, it is worked out from
 * `goal`, which the gain before the processor is bound for. */
static double counted_from(Chain *c, uint32_t which, double goal, double raised)
{
    if (c->from[which] == CHAIN_FROM_NONE)
        c->from[which] = learned_round(goal - raised);
    return c->from[which];
}

/* dB: the makeup that Tone is bound for. */
static double makeup_of_tone(const Chain *c)
{
    return c->tone.params.even_loudness ? c->tone.even.found : 0.0;
}

/* Whether a voice sounds; false until Compressor knows how loud it is. level: dB, of the detector. */
static bool sounds(const Chain *c, double level)
{
    const CompressorFigures *f = &c->compressor.figures;
    return f->known && level > f->loud_target - VOICE_SOUNDS_UNDER;
}

/* Sets `aims` once a round of Tone's loudness: what a round finds stands until the next round. */
static void note_tone(Chain *c, ChainPoint *p)
{
    const ToneEven *even = &c->tone.even;
    p->tone = even->now;
    p->tone_goal = makeup_of_tone(c);
    p->aims = c->learning && even->known && even->stage == 0 && !(c->aimed && c->rounds == even->rounds);
    if (!p->aims)
        return;
    c->aimed = true;
    c->rounds = even->rounds;
    p->curve = even->curve;
    memcpy(p->power, even->power, sizeof p->power);
}

/* The first curve is Tone's before it has found anything. */
static void set_peaks(Chain *c, const ChainPoint *p)
{
    ToneCurve plain = p->curve;
    if (c->tone.params.cut_listening)
        plain.low_cut = LOW_CUT_UNKNOWN;
    peaks_set(&c->peaks, &plain, p->power, c->compressor.params.detector_low_cut);
}

/* Until Compressor knows the voice, sounds() is false and nothing would be counted. */
static bool seeks_peaks(const Chain *c)
{
    return c->learning && c->compressor.figures.known && peaks_seek(&c->peaks);
}

static void tell_compressor(Chain *c, const ChainPoint *p)
{
    const double to_come = p->tone_goal - p->tone, level = compressor_gain_level(&c->compressor.gain);
    peaks_tick(&c->peaks, level + to_come, p->trim, sounds(c, level));
    if (p->aims)
        set_peaks(c, p);
    const double raised = peaks_raised(&c->peaks);
    const double now = p->trim + raised - to_come, goal = p->trim_goal + raised;
    const double from = counted_from(c, COMPRESSOR_FROM, goal, c->compressor.memory.raised);
    compressor_hear_through(&c->compressor, now - from, goal - from);
    compressor_hear_voice(&c->compressor, p->voice);
}

/* dB: the makeup that Compressor is bound for. */
static double makeup_of_compressor(const Chain *c)
{
    const Compressor *comp = &c->compressor;
    return comp->params.makeup + (comp->params.even_loudness ? comp->figures.found : 0.0);
}

static double makeup_to_come(const Chain *c)
{
    return makeup_of_tone(c) - c->tone.even.now + makeup_of_compressor(c) - c->compressor.gain.makeup.value;
}

/* The curve that Compressor is bound for, on the scale of its learned levels. */
static Curve counted_curve(const Compressor *comp)
{
    Curve curve = comp->wish.curve;
    curve.threshold = compressor_figures_threshold(&comp->figures, &comp->wish) - comp->memory.raised;
    return curve;
}

/* Records what Esses has to be told. */
static void note_gains(const Chain *c, ChainPoint *p)
{
    const Compressor *comp = &c->compressor;
    const CompressorGain *g = &comp->gain;
    p->gain = p->trim + p->tone + g->makeup.value;
    p->goal = p->trim_goal + p->tone_goal + makeup_of_compressor(c);
    p->read = compressor_gain_level(g) - comp->before;
    p->in_force = (Curve){g->threshold.value - comp->before, g->slope.value, g->knee.value};
    p->ahead = counted_curve(comp);
    p->known = comp->figures.known;
}

static void tell_esses(Chain *c, const ChainPoint *p)
{
    const double from = counted_from(c, ESSES_FROM, p->goal, c->esses.memory.raised);
    esses_hear_through(&c->esses, p->gain - from, p->goal - from);
}

/* ---- A grid point ---- */

/* Until Compressor has found a makeup: follows the power into and out of its gain, over some seconds. */
static void follow_compressor(Chain *c)
{
    const double power = db_to_power(compressor_gain_level(&c->compressor.gain));
    const double left = power * db_to_power(-c->compressor.gain.reduction_out);
    c->went = power + c->keep * (c->went - power);
    c->passed = left + c->keep * (c->passed - left);
}

static void tick_trim(Chain *c, ChainPoint *p)
{
    trim.tick(&c->trim);
    p->trim = gain_move_db(&c->trim.gain);
    p->trim_goal = gain_move_goal(&c->trim.gain);
    c->voice = c->voice << 1 | voice_sounding(&c->trim.listening.voice);
    p->voice = c->voice >> c->voice_late & 1;
}

static void tick_tone(Chain *c, ChainPoint *p)
{
    const uint32_t before = c->tone.memory.version;
    tone_hear_through(&c->tone, p->trim);
    tone.tick(&c->tone);
    if (c->tone.memory.version != before)
        chain_round_piece(&c->tone.memory.notes);
    note_tone(c, p);
}

static void tick_compressor(Chain *c, ChainPoint *p)
{
    if (c->learning)
        tell_compressor(c, p);
    compressor.tick(&c->compressor);
    if (c->learning)
        note_gains(c, p);
    if (!c->compressor.figures.known)
        follow_compressor(c);
}

static void tick_esses(Chain *c, const ChainPoint *p)
{
    if (c->learning)
        tell_esses(c, p);
    esses.tick(&c->esses);
    if (c->learning)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): note_gains() has filled it in, on learn as here */
        sibilants_tick(&c->sibilants, &c->esses, p->read, &p->in_force, &p->ahead, p->known);
}

/* dB by which the whole is louder than Trim's output. */
static double louder(const Chain *c)
{
    if (c->compressor.figures.known)
        return c->ambience - makeup_to_come(c);
    return c->ambience + (c->went > 0.0 ? power_to_db(c->passed / c->went) : 0.0);
}

static void count_version(Chain *c)
{
    const uint32_t learned = versions(c);
    if (learned == c->seen)
        return;
    ++c->version;
    c->seen = learned;
}

static void tick(void *dsp)
{
    Chain *c = dsp;
    ChainPoint p;
    tick_trim(c, &p);
    tick_tone(c, &p);
    tick_compressor(c, &p);
    tick_esses(c, &p);
    plate.tick(&c->plate);
    if (fade_rests_at(&c->compare, false))
        smooth_restart(&c->level);
    else
        smooth_to(&c->level, db_to_gain(louder(c)));
    count_version(c);
}

static void set(void *dsp, const void *wanted)
{
    Chain *c = dsp;
    const ChainParams *p = wanted;
    for (uint32_t s = 0; s < STAGES; ++s)
        row[s].is->set(stage_of(c, s), (const char *)wanted + row[s].params);
    c->learning = p->trim.learn;
    c->aimed = false;
    c->ambience = power_to_db(1.0 + (p->plate.wet > -60.0 ? db_to_power(p->plate.wet) : 0.0));
    if (learn_switch(&c->learn, c->learning))
        sibilants_clear(&c->sibilants, true);
    fade_to(&c->compare, p->compare);
}

/* ---- The samples ---- */

/* Removes damage, as the shell does for a plug-in of its own. */
static void undamage(float *const *x, uint32_t channels, uint32_t n)
{
    for (uint32_t ch = 0; ch < channels; ++ch)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): as many channels and samples as came out of the stage */
        if (!damage_is_none(x[ch], n))
            damage_remove(x[ch], x[ch], n);
}

/* While nothing is compared, the raw take is only stored. */
static void keep_raw(Chain *c, const float *const *in, float *const *late, uint32_t n)
{
    if (fade_rests_at(&c->compare, false))
        delays_write(c->raw, c->channels, in, n);
    else
        delays_process(c->raw, c->channels, c->raw_late, in, late, n);
}

/* Cross-fades between the whole and the raw take. */
static void compare(Chain *c, const float *const *raw, uint32_t channels, float *const *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const double share = fade_step(&c->compare), level = smooth_step(&c->level);
        for (uint32_t ch = 0; ch < PLATE_OUTS; ++ch) {
            /* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult): as many channels as were delayed */
            const double x = level * (double)raw[ch < channels ? ch : 0][i];
            out[ch][i] = (float)((1.0 - share) * (double)out[ch][i] + share * x);
        }
    }
}

/* A stage behind Trim; out may be in. */
static void pass(Chain *c, uint32_t s, float *const *in, float *const *out, uint32_t n)
{
    undamage(in, c->channels, n);
    row[s].is->cell(stage_of(c, s), (const float *const[]){in[0], in[1]}, out, n);
}

/* `peaks` hears Tone's input, then Compressor runs. */
static void pass_compressor(Chain *c, const float *const *trimmed, float *const *x, uint32_t n)
{
    if (seeks_peaks(c))
        peaks_process(&c->peaks, trimmed, n);
    pass(c, COMPRESSOR, x, x, n);
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Chain *c = dsp;
    float trimmed[DSP_CHANNELS][DSP_CELL], sound[DSP_CHANNELS][DSP_CELL], late[DSP_CHANNELS][DSP_CELL];
    float *const t[] = {trimmed[0], trimmed[1]}, *const x[] = {sound[0], sound[1]}, *const raw[] = {late[0], late[1]};
    const float *const from[] = {trimmed[0], trimmed[1]};
    trim.cell(&c->trim, in, t, n);
    keep_raw(c, from, raw, n);
    pass(c, TONE, t, x, n);
    pass_compressor(c, from, x, n);
    pass(c, ESSES, x, x, n);
    pass(c, PLATE, x, out, n);
    if (!fade_rests_at(&c->compare, false))
        compare(c, (const float *const[]){raw[0], raw[1]}, c->channels, out, n);
}

/* ---- Several cells, stage by stage ---- */

typedef float ChainSound[DSP_CHANNELS][DSP_CELL];

/* What lies between the stages. */
typedef struct {
    CHAIN_ALIGNED ChainSound trimmed[CHAIN_ROW];
    CHAIN_ALIGNED ChainSound behind[CHAIN_ROW]; /* Tone's output, where Trim's output is still needed */
    ChainSound *sound;                          /* the sound from Tone on: `trimmed` or `behind` */
    ChainPoint point[CHAIN_ROW];
} ChainCells;

static void trim_cells(Chain *c, ChainCells *r, const float *const *in, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        float *const x[] = {r->trimmed[k][0], r->trimmed[k][1]};
        const float *const from[] = {in[0] + (size_t)k * DSP_CELL,
                                     c->channels > 1 ? in[1] + (size_t)k * DSP_CELL : NULL};
        tick_trim(c, &r->point[k]);
        trim.cell(&c->trim, from, x, DSP_CELL);
        delays_write(c->raw, c->channels, (const float *const[]){x[0], x[1]}, DSP_CELL);
    }
}

static void tone_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        tick_tone(c, &r->point[k]);
        pass(c, TONE, (float *const[]){r->trimmed[k][0], r->trimmed[k][1]},
             (float *const[]){r->sound[k][0], r->sound[k][1]}, DSP_CELL);
    }
}

static void compressor_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        tick_compressor(c, &r->point[k]);
        pass_compressor(c, (const float *const[]){r->trimmed[k][0], r->trimmed[k][1]},
                        (float *const[]){r->sound[k][0], r->sound[k][1]}, DSP_CELL);
    }
}

static void esses_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        float *const x[] = {r->sound[k][0], r->sound[k][1]};
        tick_esses(c, &r->point[k]);
        pass(c, ESSES, x, x, DSP_CELL);
    }
}

static void plate_cells(Chain *c, ChainCells *r, float *const *out, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        plate.tick(&c->plate);
        pass(c, PLATE, (float *const[]){r->sound[k][0], r->sound[k][1]},
             (float *const[]){out[0] + (size_t)k * DSP_CELL, out[1] + (size_t)k * DSP_CELL}, DSP_CELL);
    }
}

/* Takes up to CHAIN_ROW cells through one stage after another, while nothing is compared. A stage's code and memory
 * stay in the cache for all of them, and no stage waits for what the stage before it wrote a moment ago. */
static void some_cells(Chain *c, const float *const *in, float *const *out, uint32_t cells)
{
    ChainCells r;
    r.sound = c->learning ? r.behind : r.trimmed;
    trim_cells(c, &r, in, cells);
    tone_cells(c, &r, cells);
    compressor_cells(c, &r, cells);
    esses_cells(c, &r, cells);
    plate_cells(c, &r, out, cells);
    count_version(c);
}

static void one_cell(Chain *c, const float *const *in, float *const *out)
{
    tick(c);
    cell(c, in, out, DSP_CELL);
}

static void cells(void *dsp, const float *const *in, float *const *out, uint32_t cells)
{
    Chain *c = dsp;
    const bool alone = !fade_rests_at(&c->compare, false);
    const uint32_t most = alone ? 1 : CHAIN_ROW;
    for (uint32_t k = 0, n; k < cells; k += n) {
        const float *const from[] = {in[0] + (size_t)k * DSP_CELL,
                                     c->channels > 1 ? in[1] + (size_t)k * DSP_CELL : NULL};
        float *const to[] = {out[0] + (size_t)k * DSP_CELL, out[1] + (size_t)k * DSP_CELL};
        n = cells - k < most ? cells - k : most;
        if (alone)
            one_cell(c, from, to);
        else
            some_cells(c, from, to, n);
    }
}

static void report(const void *dsp, void *to)
{
    const Chain *c = dsp;
    ChainReport *r = to;
    for (uint32_t s = 0; s < PLATE; ++s)
        processor_report(row[s].is, (const char *)dsp + row[s].at, (char *)to + row[s].report);
    r->raw_raised = gain_move_db(&c->trim.gain) + louder(c);
}

const Processor chain = {
    .size = sizeof(Chain),
    .outs = PLATE_OUTS,
    PROCESSOR_FUNCTIONS,
    .cells = cells,
    .report = report,
    .pause = pause,
    .latency = offsetof(Chain, latency),
    .learned = {&chain_schema, 0, offsetof(Chain, version), restored},
};
