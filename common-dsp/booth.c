#include "booth.h"

#include "booth_frame.h"
#include "loudness.h"
#include "units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

/* Chosen and not searched, but for LOUDNESS_HOP, which is BS.1770's. */
#define HEAR_FADE           0.02 /* s: fade of hear_removed */
#define LOUDNESS_HOP        0.1  /* s: from one loudness block to the next */
#define LATELY_TIME         0.5  /* s: time constant of the `down` read-out */
#define ROOM_FADE           0.5  /* s: fade from no room known to a room that is turned down */
#define MOST_FALLS          1000 /* most that the `falls` read-out shows */
#define MAKEUP_STEPS_PER_DB 32.0 /* steps in a dB: the makeup ignores smaller changes of what is learned */
#define MOST_MAKEUP         9.0  /* dB: most makeup */

/* ---- From nothing to ready ---- */

void booth_know_room(Booth *b)
{
    b->known = booth_memory_room(&b->memory);
    b->falls = fmin(booth_memory_falls(&b->memory), MOST_FALLS);
}

void booth_use_room(Booth *b)
{
    booth_late_room(&b->late, &b->known, b->params.from, db_to_power(b->params.counts_up_to));
    b->stale = true;
    b->fell = b->told = false;
}

static void follow_room(Booth *b)
{
    booth_know_room(b);
    booth_use_room(b);
}

static void find_makeup(Booth *b)
{
    const bool on = b->params.even_loudness && booth_is_sure(b);
    const double found = on ? booth_memory_makeup(&b->memory, (double)b->lowest) : 0.0;
    b->wished = dsp_clamp(round(MAKEUP_STEPS_PER_DB * found) / MAKEUP_STEPS_PER_DB, 0.0, MOST_MAKEUP);
    b->stale = false;
}

static void drop_searches(Booth *b)
{
    memset(b->search, 0, sizeof b->search);
}

/* What is known before the first sample applies at once; what is learned later fades in. */
static void hold_at_once(Booth *b)
{
    find_makeup(b);
    b->part = (float)b->known.sure;
    b->now = b->wished;
    smooth_jump(&b->makeup, db_to_gain(b->now));
}

static void restored(void *dsp)
{
    Booth *b = dsp;
    drop_searches(b);
    follow_room(b);
    if (!b->begun)
        hold_at_once(b);
}

static void reset(void *dsp)
{
    Booth *b = dsp;
    b->learn = (LearnSwitch){0};
    stft_reset(&b->stft);
    booth_late_reset(&b->late);
    for (uint32_t i = 0; i < BOOTH_BANDS; ++i)
        booth_falls_reset(&b->fall[i]);
    drop_searches(b);
    memset(b->hop, 0, sizeof b->hop);
    b->frames = b->hops = 0;
    follow_room(b);
    hold_at_once(b);
    b->begun = b->works = false;
    b->pace = b->searching = (Work){0};
    fade_restart(&b->hear);
    b->removal = (Removal){0};
}

/* Factors by Parseval: the frame's power through its window, doubled because only half of all bins are here, the rest
 * being those of negative frequencies. */
static void make_weights(Booth *b)
{
    const Biquad shelf = kweight_design(0, b->rate), pass = kweight_design(1, b->rate);
    b->to_square = 4.0 / ((double)b->stft.size * b->stft.size);
    for (uint32_t k = 0; k < b->stft.bins; ++k) {
        const double hz = k * b->rate / b->stft.size;
        const double gain = biquad_gain(&shelf, hz, b->rate) * biquad_gain(&pass, hz, b->rate);
        b->weight[k] = (float)(b->to_square * gain * gain);
    }
}

static bool init(void *dsp, double rate, uint32_t channels)
{
    Booth *b = dsp;
    b->rate = rate;
    b->channels = channels;
    b->lowest = 1.f;
    b->params.from = BOOTH_LEARNED_FROM;
    if (!stft_init(&b->stft, rate, channels) || !booth_late_init(&b->late, rate, b->stft.size, b->stft.hop))
        return false;
    b->gain = calloc(2 * (size_t)b->stft.bins, sizeof *b->gain);
    if (!b->gain)
        return false;
    b->power = b->stft.frame;
    b->weight = b->gain + b->stft.bins;
    make_weights(b);
    for (uint32_t i = 0; i < BOOTH_BANDS; ++i)
        booth_falls_init(&b->fall[i], b->late.frame, BOOTH_LEARNED_FROM);
    b->hop_frames = (uint32_t)fmax(1.0, round(LOUDNESS_HOP / b->late.frame));
    fade_init(&b->hear, rate, HEAR_FADE);
    smooth_init(&b->makeup, rate, EVEN_GLIDE);
    reset(b);
    return true;
}

static void done(void *dsp)
{
    Booth *b = dsp;
    stft_done(&b->stft);
    booth_late_done(&b->late);
    free(b->gain);
    b->gain = NULL;
}

static void start_afresh(Booth *b)
{
    learned_clear(&booth_schema, &b->memory);
    drop_searches(b);
    memset(b->hop, 0, sizeof b->hop);
    b->frames = b->hops = 0;
    ++b->version;
}

static void set(void *dsp, const void *wanted)
{
    Booth *b = dsp;
    b->params = *(const BoothParams *)wanted;
    b->lowest = (float)db_to_gain(-b->params.down_by);
    fade_to(&b->hear, b->params.hear_removed);
    if (learn_switch(&b->learn, b->params.learn))
        start_afresh(b);
    if (!b->params.learn)
        drop_searches(b);
    follow_room(b);
    if (!b->begun)
        hold_at_once(b);
}

/* ---- The grid ---- */

static void move_part(Booth *b)
{
    const float step = (float)(b->late.frame / ROOM_FADE), goal = (float)b->known.sure;
    b->part = b->part < goal ? fminf(b->part + step, goal) : fmaxf(b->part - step, goal);
}

/* A new frame has come in. */
static void begin_frame(Booth *b)
{
    removal_forget(&b->removal, one_pole(LATELY_TIME, b->rate / b->stft.hop));
    b->works = false;
    b->step = 0;
    memset(b->band, 0, sizeof b->band);
    booth_late_next(&b->late);
    move_part(b);
    if (b->stale)
        find_makeup(b);
}

static void move_makeup(Booth *b)
{
    if (b->now == b->wished)
        return;
    b->now = even_move(b->now, b->wished, EVEN_RISE * DSP_CELL / b->rate);
    smooth_to(&b->makeup, db_to_gain(b->now));
}

static void tick(void *dsp)
{
    Booth *b = dsp;
    b->begun = true;
    if (stft_tick(&b->stft) == 0)
        begin_frame(b);
    move_makeup(b);
    for (work_grant(&b->pace, booth_frame_work(b)); work_next(&b->pace); work_did(&b->pace, b->stft.cells))
        booth_frame_step(b, b->step++);
    booth_frame_search(b);
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Booth *b = dsp;
    float late[DSP_CHANNELS][DSP_CELL], removed[DSP_CHANNELS][DSP_CELL];
    stft_process(&b->stft, in, late, removed, n);
    for (uint32_t c = 0; c < b->channels; ++c)
        removal_hear(&b->removal, late[c], removed[c], n);
    removal_put_out(&b->hear, &b->makeup, late, removed, out, b->channels, n);
}

/* ---- Read-outs ---- */

static void report(const void *dsp, void *to)
{
    const Booth *b = dsp;
    *(BoothReport *)to = (BoothReport){
        .decay = booth_is_sure(b) ? b->known.middle : 0.0,
        .late = booth_is_sure(b) ? power_to_db(b->known.late) : UNITS_DB_FLOOR,
        .falls = b->falls,
        .down = removal_down(&b->removal),
        .removed = removal_share(&b->removal),
        .makeup = b->now,
    };
}

const Processor booth = {
    .size = sizeof(Booth),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .latency = offsetof(Booth, stft.latency),
    .line = offsetof(Booth, stft.line),
    .learned = {&booth_schema, offsetof(Booth, memory), offsetof(Booth, version), restored},
};
