#include "booth_frame.h"

#include <math.h>
#include <string.h>

#define DECAY_FACTOR 1.3 /* a fall tells how much is late if its decay time is the room's to this factor. Chosen */

enum {
    PIECES = 8,    /* pieces of a spectrum: between analysis and synthesis each step processes one */
    SEARCHED = 24, /* steps of searches in a frame: those of all bands together take two frames */
};

/* ---- The spectrum ---- */

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
    for (uint32_t k = from; k < to && booth_is_sure(b); ++k)
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

void booth_frame_search(Booth *b)
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
    if (!booth_is_sure(b) || ++b->frames < b->hop_frames)
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
        booth_know_room(b);
        b->told = true;
    } else if (step == USE_ROOM && b->told)
        booth_use_room(b);
    else if (step < BOOTH_BANDS && b->params.learn)
        hear_fall(b, step);
    else if (step == HEAR_BLOCK && b->params.learn)
        hear_block(b);
}

/* ---- All of it, in steps ---- */

uint32_t booth_frame_work(const Booth *b)
{
    return PIECES + 2 * STFT_STEPS * b->channels + LEARNING;
}

void booth_frame_step(Booth *b, uint32_t step)
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
