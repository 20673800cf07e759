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
    c->latency = trim.latency(&c->trim) + compressor.latency(&c->compressor) + esses.latency(&c->esses);
    c->raw_late = c->latency - trim.latency(&c->trim);
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

/* dB: the gain that a processor's learned levels refer to, where the gain before it is bound for `goal`. */
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
    return f->known && level > f->loud - VOICE_SOUNDS_UNDER;
}

/* Compares with Tone as it is before it has found anything. Once a round of its loudness is enough: what that found
 * stands until the next. */
static void set_peaks(Chain *c)
{
    if (c->aimed && c->rounds == c->tone.even.rounds)
        return;
    c->aimed = true;
    c->rounds = c->tone.even.rounds;
    ToneCurve plain = c->tone.even.curve;
    if (c->tone.params.cut_listening)
        plain.low_cut = LOW_CUT_UNKNOWN;
    peaks_set(&c->peaks, &plain, c->tone.even.power, c->compressor.params.detector_low_cut);
}

static void tell_compressor(Chain *c)
{
    const ToneEven *even = &c->tone.even;
    const double to_come = makeup_of_tone(c) - even->now, level = compressor_gain_level(&c->compressor.gain);
    peaks_tick(&c->peaks, level + to_come, gain_move_db(&c->trim.gain), sounds(c, level));
    if (even->known && even->stage == 0)
        set_peaks(c);
    const double raised = peaks_raised(&c->peaks);
    const double now = gain_move_db(&c->trim.gain) + raised - to_come, goal = gain_move_goal(&c->trim.gain) + raised;
    const double from = counted_from(c, COMPRESSOR_FROM, goal, c->compressor.memory.raised);
    compressor_hear_through(&c->compressor, now - from, goal - from);
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

static void tell_esses(Chain *c)
{
    const Compressor *comp = &c->compressor;
    const double wished = makeup_of_compressor(c);
    const double goal = gain_move_goal(&c->trim.gain) + makeup_of_tone(c) + wished;
    const double now = gain_move_db(&c->trim.gain) + c->tone.even.now + comp->gain.makeup.value;
    const double from = counted_from(c, ESSES_FROM, goal, c->esses.memory.raised);
    esses_hear_through(&c->esses, now - from, goal - from);
}

/* The curve that Compressor is bound for, on the scale of its learned levels. */
static Curve counted_curve(const Compressor *comp)
{
    Curve curve = comp->wish.curve;
    curve.threshold = compressor_figures_threshold(&comp->figures, &comp->wish) - comp->memory.raised;
    return curve;
}

static void tell_of_sibilants(Chain *c)
{
    const Compressor *comp = &c->compressor;
    const CompressorGain *g = &comp->gain;
    const Curve now = {g->threshold.value - comp->before, g->slope.value, g->knee.value}, ahead = counted_curve(comp);
    sibilants_tick(&c->sibilants, &c->esses, compressor_gain_level(g) - comp->before, &now, &ahead,
                   comp->figures.known);
}

/* ---- A grid point ---- */

static void tick_tone(Chain *c)
{
    const uint32_t before = c->tone.memory.version;
    tone_hear_through(&c->tone, gain_move_db(&c->trim.gain));
    tone.tick(&c->tone);
    if (c->tone.memory.version != before)
        chain_round_piece(&c->tone.memory.notes);
}

static void tick_row(Chain *c)
{
    trim.tick(&c->trim);
    tick_tone(c);
    if (c->learning)
        tell_compressor(c);
    compressor.tick(&c->compressor);
    if (c->learning)
        tell_esses(c);
    esses.tick(&c->esses);
    if (c->learning)
        tell_of_sibilants(c);
    plate.tick(&c->plate);
}

/* Until Compressor has found a makeup: follows what it takes off the power, over some seconds. */
static void follow_compressor(Chain *c)
{
    const double power = db_to_power(compressor_gain_level(&c->compressor.gain));
    const double left = power * db_to_power(-c->compressor.gain.reduction_out);
    c->went = power + c->keep * (c->went - power);
    c->passed = left + c->keep * (c->passed - left);
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
    tick_row(c);
    if (!c->compressor.figures.known)
        follow_compressor(c);
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

/* Only kept, while nothing is compared. */
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

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Chain *c = dsp;
    const uint32_t channels = c->channels;
    float sound[DSP_CHANNELS][DSP_CELL], late[DSP_CHANNELS][DSP_CELL];
    float *const x[] = {sound[0], sound[1]}, *const raw[] = {late[0], late[1]};
    const float *const y[] = {sound[0], sound[1]};
    trim.cell(&c->trim, in, x, n);
    keep_raw(c, y, raw, n);
    if (c->learning)
        peaks_process(&c->peaks, y, n);
    for (uint32_t s = TONE; s < PLATE; ++s) {
        undamage(x, channels, n);
        row[s].is->cell(stage_of(c, s), y, x, n);
    }
    undamage(x, channels, n);
    plate.cell(&c->plate, y, out, n);
    if (!fade_rests_at(&c->compare, false))
        compare(c, (const float *const[]){raw[0], raw[1]}, channels, out, n);
}

static void report(const void *dsp, void *to)
{
    const Chain *c = dsp;
    ChainReport *r = to;
    for (uint32_t s = 0; s < PLATE; ++s)
        row[s].is->report((const char *)dsp + row[s].at, (char *)to + row[s].report);
    r->raw_raised = gain_move_db(&c->trim.gain) + louder(c);
}

static uint32_t latency(const void *dsp)
{
    const Chain *c = dsp;
    return c->latency;
}

const Processor chain = {
    .size = sizeof(Chain),
    .outs = PLATE_OUTS,
    PROCESSOR_FUNCTIONS,
    .report = report,
    .pause = pause,
    .latency = latency,
    .learned = {&chain_schema, 0, offsetof(Chain, version), restored},
};
