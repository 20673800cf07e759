#include "pop_taming.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define LOOK_AHEAD      0.014               /* s */
#define ATTACK_TAU      0.0015              /* s, time constant of each of two poles: how the cut moves */
#define BELL_TAU        0.02                /* s, time constant of each of two poles: how the bell follows `up_to` */
#define HEAR_FADE       0.03                /* s, cross-fade of hear_removed */
#define EAR_RATE_LEAST  5000.0              /* Hz, lowest rate at which the ear works */
#define BOTTOM_HZ       100.0               /* Hz, low-pass of the ear's bottom */
#define TOP_HZ          250.0               /* Hz, high-pass of the ear's top */
#define BUTTERWORTH_Q   0.70710678118654752 /* 1 / sqrt 2 */
#define EAR_RISE_TAU    0.002               /* s, time constant of rising powers */
#define EAR_FALL_TAU    0.025               /* s, time constant of falling powers */
#define SINE_PEAK_DB    3.0                 /* dB: the ear follows a sine's peaks, a level over 20 ms its RMS */
#define BOTTOM_OVER_TOP 10.0                /* dB of the bottom over the top, at which a pop is caught */
#define EARLY_UNDER     8.0                 /* dB under `from`, at which a rising pop is caught already */
#define EARLY_OVER_TOP  18.0                /* dB of the bottom over the top that this takes */
#define LASTS_OVER_TOP  3.0                 /* dB of the bottom over the top, under which a pop ends */
#define LASTS_UNDER     14.0                /* dB under `from`, under which a pop ends */
#define ENDS_AFTER      0.015               /* s for which either has to hold */
#define LONGEST_POP     0.18                /* s: no pop lasts longer */
#define HUM_CLIMB       60.0                /* dB/s, fastest rise of a hum or a rumble */
#define BURST_RISE      10.0                /* ratio of power, 10 dB, by which a burst exceeds steady sound */
#define SETTLE_TIME     0.1                 /* s after the start in which all sound counts as steady */
#define CLIMB_FROM      1e-12               /* power, least from which steady sound rises */
#define FOOT_HZ         35.0                /* Hz, lower frequency at which the bell has half the cut */

enum {
    ENOUGH = 10,                                        /* blocks of voice, at least, for a level */
    BLOCK_LATE = VOICE_LEVEL_NEAR * VOICE_LEVEL_FRAMES, /* frames between a block's end and its answer */
};

static const TallyScale burst_scale = {-100.0, 0.5, POP_TAMING_BURSTS};

#define MEMBER(member, as) LEARNED_IN(PopMemory, member, as)

static const LearnedSchema pops_schema = {
    .fields = 2,
    .field = {{"pops_voice", LEVEL_MEMORY_BINS, 0.f, TALLY_MOST, MEMBER(voice, LEARNED_COUNTS)},
              {"pops_bursts", POP_TAMING_BURSTS, 0.f, TALLY_MOST, MEMBER(bursts, LEARNED_COUNTS)}},
};

/* ---- The ear ---- */

static void ear_reset(PopEar *e)
{
    e->into = 0;
    e->sum = 0.f;
    memset(e->bottom_state, 0, sizeof e->bottom_state);
    e->top_state = (SvfState){0.0, 0.0};
    e->low = e->high = 0.0;
}

static void ear_init(PopEar *e, double rate)
{
    Biquad low[2];
    e->group = (uint32_t)fmax(1.0, floor(rate / EAR_RATE_LEAST));
    const double slow = rate / e->group;
    const Biquad high = design_high_pass(TOP_HZ, BUTTERWORTH_Q, slow);
    design_butterworth_low_pass(4, BOTTOM_HZ, slow, low);
    e->bottom[0] = svf_from_biquad(&low[0]);
    e->bottom[1] = svf_from_biquad(&low[1]);
    e->top = svf_from_biquad(&high);
    e->keep_up = one_pole(EAR_RISE_TAU, slow);
    e->keep_down = one_pole(EAR_FALL_TAU, slow);
    ear_reset(e);
}

static double follow(const PopEar *e, double power, double x)
{
    return x * x + (x * x > power ? e->keep_up : e->keep_down) * (power - x * x);
}

static void ear_step(PopEar *e, double x)
{
    const double first = svf_step(&e->bottom[0], &e->bottom_state[0], x);
    e->low = follow(e, e->low, svf_step(&e->bottom[1], &e->bottom_state[1], first));
    e->high = follow(e, e->high, svf_step(&e->top, &e->top_state, x));
}

static void ear_hear(PopEar *e, const float *const *in, uint32_t channels, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        e->sum += channels == 2 ? 0.5f * (in[0][t] + in[1][t]) : in[0][t];
        if (++e->into < e->group)
            continue;
        ear_step(e, (double)(e->sum / (float)e->group));
        e->into = 0;
        e->sum = 0.f;
    }
}

static void ear_hush(PopEar *e)
{
    svf_hush(&e->bottom_state[0]);
    svf_hush(&e->bottom_state[1]);
    svf_hush(&e->top_state);
    e->low = dsp_hush(e->low);
    e->high = dsp_hush(e->high);
}

/* ---- What is learned ---- */

static void conclude(void *dsp)
{
    PopTaming *p = dsp;
    p->level = level_memory_has(&p->memory.voice, ENOUGH) ? level_memory_level(&p->memory.voice) : UNITS_DB_FLOOR;
    p->report.voice_level = p->level;
    p->report.found =
        p->level > UNITS_DB_FLOOR ? tally_from(&p->memory.bursts, &burst_scale, p->level + p->params.from) : 0.0;
}

static void reset_listening(PopTaming *p)
{
    hearing_reset(&p->hearing);
    memset(&p->finder, 0, sizeof p->finder);
}

static void start_afresh(PopTaming *p)
{
    reset_listening(p);
    learned_clear(&pops_schema, &p->memory);
    p->report.caught = 0.0;
    ++p->version;
    conclude(p);
}

/* Learns the level of a block of voice, less what pops add to it. */
static void learn_level(PopTaming *p, double db)
{
    level_memory_add(&p->memory.voice, db - pops_raise(&p->finder, BLOCK_LATE));
    ++p->version;
}

static void listen(PopTaming *p)
{
    double burst;
    const HearingFrame *frame = hearing_frame(&p->hearing);
    if (!frame)
        return;
    if (frame->voice.block)
        learn_level(p, frame->voice.db);
    const bool found = pops_hear(&p->finder, frame, &burst);
    if (found) {
        tally_add(&p->memory.bursts, &burst_scale, burst);
        ++p->version;
    }
    if (found || frame->voice.block)
        conclude(p);
}

/* ---- Life ---- */

static void reset(void *dsp)
{
    PopTaming *p = dsp;
    p->learn = (LearnSwitch){0};
    reset_listening(p);
    living_reset(&p->living);
    ear_reset(&p->ear);
    p->lasting = p->over = 0;
    p->catching = false;
    p->steady = 0.0;
    p->settling = (uint32_t)(SETTLE_TIME * p->rate / DSP_CELL);
    smooth_jump(&p->cut, 0.0);
    smooth_restart(&p->top);
    fade_restart(&p->hear);
    sos_jump(&p->bell, 0, &biquad_identity);
    sos_reset(&p->bell);
    for (uint32_t c = 0; c < p->channels; ++c)
        delay_reset(&p->delay[c]);
    p->at_rest = true;
    p->report = (PopTamingReport){0};
    conclude(p);
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    PopTaming *p = dsp;
    p->rate = rate;
    p->channels = channels;
    p->latency = (uint32_t)lround(LOOK_AHEAD * rate);
    p->params = (PopTamingParams){.learn = true, .down = 30.0, .up_to = 130.0};
    if (!hearing_init(&p->hearing, rate, channels))
        return false;
    living_init(&p->living, rate, channels);
    ear_init(&p->ear, rate);
    p->climb = db_to_power(HUM_CLIMB * DSP_CELL / rate);
    smooth_init(&p->cut, rate / DSP_CELL, ATTACK_TAU);
    smooth_init(&p->top, rate / DSP_CELL, BELL_TAU);
    fade_init(&p->hear, rate, HEAR_FADE);
    sos_init(&p->bell, 1, channels);
    for (uint32_t c = 0; c < channels; ++c)
        if (!delay_init(&p->delay[c], p->latency))
            return false;
    learned_clear(&pops_schema, &p->memory);
    reset(p);
    return true;
}

static void done(void *dsp)
{
    PopTaming *p = dsp;
    hearing_done(&p->hearing);
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        delay_done(&p->delay[c]);
}

static void set(void *dsp, const void *wanted)
{
    PopTaming *p = dsp;
    const PopTamingParams *params = wanted;
    const bool other = params->from != p->params.from;
    p->params = *params;
    if (learn_switch(&p->learn, params->learn))
        start_afresh(p);
    if (other)
        conclude(p);
    smooth_to(&p->top, log2(params->up_to));
    fade_to(&p->hear, params->hear_removed);
}

/* ---- The cut ---- */

/* Whether the bottom rises out of the steady sound. */
static bool rises_now(PopTaming *p)
{
    p->steady = p->settling ? p->ear.low : fmin(p->ear.low, fmax(p->steady, CLIMB_FROM) * p->climb);
    p->settling -= p->settling > 0;
    return p->ear.low > BURST_RISE * p->steady;
}

/* Watches for pops. One begins when the bottom is as loud as `from` says and far over the top, and ends when it has
 * died away or a voice sounds above it. */
static void watch(PopTaming *p)
{
    const double low = power_to_db(p->ear.low), high = power_to_db(p->ear.high);
    const double from = p->level + p->params.from + SINE_PEAK_DB;
    const bool known = p->level > UNITS_DB_FLOOR, before = p->catching;
    const double seconds = DSP_CELL / p->rate;
    const bool rises = rises_now(p);
    const bool begins =
        known && (rises || p->lasting) &&
        ((low >= from && low >= high + BOTTOM_OVER_TOP) || (low >= from - EARLY_UNDER && low >= high + EARLY_OVER_TOP));
    const bool goes_on = known && low >= from - LASTS_UNDER && low >= high + LASTS_OVER_TOP;
    p->over = begins || goes_on ? 0 : p->over + 1;
    p->lasting = begins || (p->lasting && p->over * seconds < ENDS_AFTER) ? p->lasting + 1 : 0;
    p->catching = p->lasting > 0 && p->lasting * seconds < LONGEST_POP;
    if (p->catching && !before && p->report.caught < TALLY_MOST)
        ++p->report.caught;
}

static void move_bell(PopTaming *p)
{
    const double before = p->cut.value;
    smooth_to(&p->cut, p->catching ? -p->params.down : 0.0);
    const double cut = smooth_step(&p->cut), top = exp2(smooth_step(&p->top));
    p->at_rest = before == 0.0 && cut == 0.0;
    p->report.cut = cut;
    if (p->at_rest) {
        sos_reset(&p->bell);
        return;
    }
    const Biquad bell = design_bell(sqrt(FOOT_HZ * top), cut, design_q(log2(top / FOOT_HZ)), p->rate);
    sos_glide(&p->bell, 0, &bell);
}

static void tick(void *dsp)
{
    PopTaming *p = dsp;
    if (p->params.learn)
        listen(p);
    ear_hush(&p->ear);
    watch(p);
    move_bell(p);
    sos_hush(&p->bell);
}

/* late: the delayed input; cut: the same after the bell, or unchanged where that rests. */
static void put_out(PopTaming *p, float late[][DSP_CELL], float cut[][DSP_CELL], float *const *out, uint32_t channels,
                    uint32_t n)
{
    const bool plain = fade_rests_at(&p->hear, false);
    for (uint32_t t = 0; t < n; ++t) {
        const float taken = plain ? 0.f : (float)fade_step(&p->hear);
        for (uint32_t c = 0; c < channels; ++c) {
            const float x = late[c][t], y = cut[c][t];
            out[c][t] = plain ? y : (1.f - taken) * y + taken * (x - y);
        }
    }
}

/* Processes n samples of one cell. Either output may be either input. */
static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    PopTaming *p = dsp;
    const uint32_t channels = p->channels;
    float late[DSP_CHANNELS][DSP_CELL], cut[DSP_CHANNELS][DSP_CELL];
    const float *alive[DSP_CHANNELS];
    if (p->params.learn)
        hearing_process(&p->hearing, in, n);
    living_process(&p->living, in, alive, n);
    ear_hear(&p->ear, alive, channels, n);
    for (uint32_t c = 0; c < channels; ++c)
        delay_process(&p->delay[c], p->latency, in[c], late[c], n);
    if (!p->at_rest)
        sos_process(&p->bell, (const float *const[]){late[0], late[1]}, (float *const[]){cut[0], cut[1]}, n);
    put_out(p, late, p->at_rest ? late : cut, out, channels, n);
}

static void report(const void *dsp, void *to)
{
    const PopTaming *p = dsp;
    PopTamingReport *report = to;
    *report = p->report;
}

static uint32_t latency(const void *dsp)
{
    const PopTaming *p = dsp;
    return p->latency;
}

const Processor pops = {
    .size = sizeof(PopTaming),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .latency = latency,
    .learned = {&pops_schema, offsetof(PopTaming, memory), offsetof(PopTaming, version), conclude},
};
