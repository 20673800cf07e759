#include "pop_taming.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <string.h>

/* Chosen. On the voices for tuning planted bursts go down by 15.8 dB under 200 Hz in the median, 10.4 at least
 * (test_pop_taming); with half and twice ATTACK_TAU by 15.6 (9.6 and 12.3), with half of FOOT_HZ by 21.0 (11.3), with
 * twice by 6.8. The rest was not searched. */
#define LOOK_AHEAD 0.014  /* s */
#define ATTACK_TAU 0.0015 /* s, time constant of each of two poles: how the cut moves */
#define BELL_TAU   0.02   /* s, time constant of each of two poles: how the bell follows `up_to` */
#define HEAR_FADE  0.03   /* s, cross-fade of hear_removed */
#define FOOT_HZ    35.0   /* Hz, lower frequency at which the bell has half the cut */

/* Frames between a block's end and its answer. */
enum { BLOCK_LATE = VOICE_LEVEL_NEAR * VOICE_LEVEL_FRAMES };

/* ---- What is learned ---- */

static const LearnedSchema pops_schema = EVENT_SCHEMA("pops_voice", "pops_bursts");

static void conclude(void *dsp)
{
    PopTaming *p = dsp;
    p->level = event_memory_level(&p->memory);
    p->report.voice_level = p->level;
    p->report.found = p->level > UNITS_DB_FLOOR ? event_memory_from(&p->memory, p->level + p->params.from) : 0.0;
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
        event_memory_add(&p->memory, burst);
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
    pop_watch_reset(&p->watch);
    smooth_jump(&p->cut, 0.0);
    smooth_restart(&p->top);
    fade_restart(&p->hear);
    sos_jump(&p->bell, 0, &biquad_identity);
    sos_reset(&p->bell);
    delays_reset(p->delay, p->channels);
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
    pop_watch_init(&p->watch, rate);
    smooth_init(&p->cut, rate / DSP_CELL, ATTACK_TAU);
    smooth_init(&p->top, rate / DSP_CELL, BELL_TAU);
    fade_init(&p->hear, rate, HEAR_FADE);
    sos_init(&p->bell, 1, channels);
    if (!delays_init(p->delay, channels, p->latency))
        return false;
    learned_clear(&pops_schema, &p->memory);
    reset(p);
    return true;
}

static void done(void *dsp)
{
    PopTaming *p = dsp;
    hearing_done(&p->hearing);
    delays_done(p->delay);
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

static void move_bell(PopTaming *p)
{
    const double before = p->cut.value;
    smooth_to(&p->cut, p->watch.catching ? -p->params.down : 0.0);
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
    if (pop_watch_tick(&p->watch, p->level > UNITS_DB_FLOOR, p->level + p->params.from) &&
        p->report.caught < TALLY_MOST)
        ++p->report.caught;
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
    pop_watch_hear(&p->watch, alive, channels, n);
    for (uint32_t c = 0; c < channels; ++c)
        delay_process(&p->delay[c], p->latency, in[c], late[c], n);
    if (!p->at_rest)
        sos_process(&p->bell, (const float *const[]){late[0], late[1]}, (float *const[]){cut[0], cut[1]}, n);
    put_out(p, late, p->at_rest ? late : cut, out, channels, n);
}

const Processor pops = {
    .size = sizeof(PopTaming),
    PROCESSOR_FUNCTIONS,
    PROCESSOR_REPORT(PopTaming),
    .latency = offsetof(PopTaming, latency),
    .learned = {&pops_schema, offsetof(PopTaming, memory), offsetof(PopTaming, version), conclude},
};
