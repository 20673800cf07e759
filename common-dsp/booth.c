#include "booth.h"

#include "loudness.h"
#include "units.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define HEAR_FADE           0.02 /* s: fade of hear_removed */
#define LOUDNESS_HOP        0.1  /* s: from one loudness block to the next */
#define LATELY_TIME         0.5  /* s: time constant of the `down` read-out */
#define ROOM_FADE           0.5  /* s: fade from no room known to a room that is turned down */
#define MOST_FALLS          1000 /* most that the `falls` read-out shows */
#define MAKEUP_STEPS_PER_DB 32.0 /* steps in a dB: the makeup ignores smaller changes of what is learned */
#define MOST_MAKEUP         9.0  /* dB: most makeup */

enum {
    PIECES = 8,    /* pieces of a spectrum: between analysis and synthesis each step processes one */
    SEARCHED = 24, /* steps of searches in a frame: those of all bands together take two frames */
};

/* ---- From nothing to ready ---- */

/* What the memory tells of the room, and what follows from it: two steps, as each of them takes long. */
static void know_room(Booth *b)
{
    b->known = booth_memory_room(&b->memory);
    b->falls = fmin(booth_memory_falls(&b->memory), MOST_FALLS);
}

static void use_room(Booth *b)
{
    booth_late_room(&b->late, &b->known, b->params.from, db_to_power(b->params.counts_up_to));
    b->stale = true;
    b->fell = b->told = false;
}

static void follow_room(Booth *b)
{
    know_room(b);
    use_room(b);
}

static bool is_sure(const Booth *b)
{
    return b->known.sure > 0.0;
}

static void find_makeup(Booth *b)
{
    const bool on = b->params.even_loudness && is_sure(b);
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

/* ---- One frame's spectrum ---- */

/* Turns each bin into the part of it that is removed. The powers are not needed any more. */
static void keep_removed(Booth *b, uint32_t from, uint32_t to)
{
    for (uint32_t k = from; k < to; ++k)
        b->power[k] = b->part * (1.f - fmaxf(b->gain[k], b->lowest));
    stft_scale(&b->stft, b->power, from, to);
}

/* Counts each bin's energy under its gain as for a wholly sure room. Before any room is sure nothing is counted:
 * what was heard then would count as left alone, and the makeup would be too little. */
static void hear_loudness(Booth *b, uint32_t from, uint32_t to)
{
    double *const energy = b->hop[b->hops % BOOTH_HOPS];
    for (uint32_t k = from; k < to && is_sure(b); ++k)
        energy[(uint32_t)((BOOTH_GAINS - 1) * b->gain[k])] += (double)(b->weight[k] * b->power[k]);
}

static void hear_bands(Booth *b, uint32_t from, uint32_t to)
{
    const double bin = b->rate / b->stft.size;
    uint32_t band = 0;
    for (uint32_t k = from; k < to; ++k) {
        while (k * bin >= booth_band_low(band + 1))
            ++band;
        if (k * bin >= booth_band_low(band))
            b->band[band] += b->to_square * (double)b->power[k] / b->channels;
    }
}

static void turn_down(Booth *b, uint32_t band)
{
    const uint32_t from = b->late.edge[band], to = b->late.edge[band + 1];
    stft_power(&b->stft, 1.f, from, to, b->power);
    booth_late_gains(&b->late, band, b->power + from, b->gain + from);
    if (b->params.learn) {
        hear_loudness(b, from, to);
        hear_bands(b, from, to);
    }
    if (b->part > 0.f && b->lowest < 1.f) {
        keep_removed(b, from, to);
        b->works = true;
    } else {
        stft_silence(&b->stft, from, to);
    }
}

static void do_piece(Booth *b, uint32_t piece)
{
    for (uint32_t band = 0; band < b->late.bands; ++band)
        if (b->late.edge[band] * PIECES / b->stft.bins == piece)
            turn_down(b, band);
}

/* ---- Learning ---- */

#define DECAY_FACTOR 1.3 /* a fall tells how much is late if its decay time is within this factor of the room's */

static void hear_fall(Booth *b, uint32_t band)
{
    double seconds;
    if (b->band[band] <= 0.0 || !booth_falls_hear(&b->fall[band], b->band[band], &seconds))
        return;
    booth_memory_decay(&b->memory, band, seconds);
    const double usual = booth_memory_decay_of(&b->memory, band);
    if (seconds < DECAY_FACTOR * usual && usual < DECAY_FACTOR * seconds)
        booth_search_begin(&b->search[band], &b->fall[band], usual);
    ++b->version;
    b->fell = true;
}

/* The first band that a search is under way for; BOOTH_BANDS: none. */
static uint32_t searched(const Booth *b)
{
    uint32_t band = 0;
    while (band < BOOTH_BANDS && !b->search[band].left)
        ++band;
    return band;
}

static void search(Booth *b, uint32_t band)
{
    double late;
    if (!booth_search_step(&b->search[band], &b->fall[band], &late))
        return;
    booth_memory_late(&b->memory, band, late);
    ++b->version;
}

/* Where all bands fall at once, their searches together take ten times as long as the rest of a block. */
static void search_on(Booth *b)
{
    work_grant(&b->searching, SEARCHED);
    for (uint32_t band = searched(b); band < BOOTH_BANDS && work_next(&b->searching); band = searched(b)) {
        search(b, band);
        work_did(&b->searching, b->stft.cells);
    }
}

/* A loudness block is the last BOOTH_HOPS hops, those in the ring. */
static void hear_block(Booth *b)
{
    double energy[BOOTH_GAINS] = {0};
    if (!is_sure(b) || ++b->frames < b->hop_frames)
        return;
    b->frames = 0;
    ++b->hops;
    for (uint32_t h = 0; h < BOOTH_HOPS; ++h)
        for (uint32_t g = 0; g < BOOTH_GAINS; ++g)
            energy[g] += b->hop[h][g] / (BOOTH_HOPS * b->hop_frames);
    memset(b->hop[b->hops % BOOTH_HOPS], 0, sizeof b->hop[0]);
    if (b->hops >= BOOTH_HOPS && booth_memory_block(&b->memory, energy)) {
        ++b->version;
        b->stale = true;
    }
}

enum { KNOW_ROOM = BOOTH_BANDS, USE_ROOM, HEAR_BLOCK, LEARNING }; /* steps; the first ones are each band's falls */

static void learn_step(Booth *b, uint32_t step)
{
    if (step == KNOW_ROOM && b->fell && searched(b) == BOOTH_BANDS) {
        know_room(b);
        b->told = true;
    } else if (step == USE_ROOM && b->told)
        use_room(b);
    else if (step < BOOTH_BANDS && b->params.learn)
        hear_fall(b, step);
    else if (step == HEAR_BLOCK && b->params.learn)
        hear_block(b);
}

/* ---- The grid ---- */

/* A frame's work, in order: the channels' analyses, the pieces, learning, the channels' syntheses. */
static uint32_t work_of(const Booth *b)
{
    return PIECES + 2 * STFT_STEPS * b->channels + LEARNING;
}

static void do_step(Booth *b, uint32_t step)
{
    const uint32_t transforms = STFT_STEPS * b->channels, learning = transforms + PIECES, last = learning + LEARNING;
    if (step < transforms)
        stft_analyse(&b->stft, step / STFT_STEPS, step % STFT_STEPS);
    else if (step < learning)
        do_piece(b, step - transforms);
    else if (step < last)
        learn_step(b, step - learning);
    else if (b->works)
        stft_synthesise(&b->stft, (step - last) / STFT_STEPS, (step - last) % STFT_STEPS);
}

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
    for (work_grant(&b->pace, work_of(b)); work_next(&b->pace); work_did(&b->pace, b->stft.cells))
        do_step(b, b->step++);
    search_on(b);
}

static void put_out(Booth *b, float late[][DSP_CELL], float removed[][DSP_CELL], float *const *out, uint32_t n)
{
    const bool plain = fade_rests_at(&b->hear, false);
    if (plain && smooth_settled(&b->makeup)) {
        for (uint32_t c = 0; c < b->channels; ++c)
            removal_leave(late[c], removed[c], (float)b->makeup.value, out[c], n);
        return;
    }
    for (uint32_t t = 0; t < n; ++t) {
        const float heard = plain ? 0.f : (float)fade_step(&b->hear), gain = (float)smooth_step(&b->makeup);
        for (uint32_t c = 0; c < b->channels; ++c) {
            /* NOLINTNEXTLINE(clang-analyzer-core.uninitialized.Assign): as many channels as the frames have */
            const float gone = removed[c][t], left = late[c][t] - gone;
            /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): at most DSP_CHANNELS, since init */
            out[c][t] = gain * (plain ? left : (1.f - heard) * left + heard * gone);
        }
    }
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Booth *b = dsp;
    float late[DSP_CHANNELS][DSP_CELL], removed[DSP_CHANNELS][DSP_CELL];
    stft_process(&b->stft, in, late, removed, n);
    for (uint32_t c = 0; c < b->channels; ++c)
        removal_hear(&b->removal, late[c], removed[c], n);
    put_out(b, late, removed, out, n);
}

/* ---- Read-outs ---- */

static void report(const void *dsp, void *to)
{
    const Booth *b = dsp;
    *(BoothReport *)to = (BoothReport){
        .decay = is_sure(b) ? b->known.middle : 0.0,
        .late = is_sure(b) ? power_to_db(b->known.late) : UNITS_DB_FLOOR,
        .falls = b->falls,
        .down = removal_down(&b->removal),
        .removed = removal_share(&b->removal),
        .makeup = b->now,
    };
}

static uint32_t latency(const void *dsp)
{
    const Booth *b = dsp;
    return stft_latency(&b->stft);
}

const Processor booth = {
    .size = sizeof(Booth),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .latency = latency,
    .learned = {&booth_schema, offsetof(Booth, memory), offsetof(Booth, version), restored},
};
