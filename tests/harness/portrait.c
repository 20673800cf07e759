#include "portrait.h"

#include "units.h"

#include <math.h>

#define SILENCE 1.0 /* s, after the take: answers come late */

enum {
    NEAR = 10, /* frames to either side of one in which a voice sounds, that count with it: consonants */
    FIRST = 2, /* band of the bank, in the middle of the lowest third octave */
};

/* ---- Frames ---- */

/* What the bank has heard since the last frame ended. */
static void end_frame(Portrait *p)
{
    PortraitFrame *f = &p->frame[p->framed++ % PORTRAIT_FRAMES];
    for (uint32_t k = 0; k < p->bank.bands; ++k) {
        f->energy[k] = p->bank.energy[k] - p->energy[k];
        f->samples[k] = (uint32_t)(p->bank.samples[k] - p->samples[k]);
        p->energy[k] = p->bank.energy[k];
        p->samples[k] = p->bank.samples[k];
    }
}

static void count_frame(Portrait *p, const PortraitFrame *f)
{
    for (uint32_t k = 0; k < p->bank.bands; ++k) {
        p->sum[k] += f->energy[k];
        p->sum_samples[k] += f->samples[k];
    }
}

/* ---- Blocks ---- */

static void end_block(Portrait *p)
{
    const double power = p->block_power / p->listening.grid.samples, db = power_to_db(power);
    p->weight += sqrt(power);
    p->levels += sqrt(power) * db;
    p->squares += sqrt(power) * db * db;
    p->block_power = 0.0;
    p->block_frames = 0;
}

/* ---- Hearing ---- */

/* A frame counts where a voice sounds in it or in one near it, so it waits for those after it. */
static void hear_frame(Portrait *p, const ListeningFrame *frame)
{
    const uint64_t number = p->answered++;
    if (frame->hz > 0.0) {
        p->sounded = number + 1;
        p->voice += (double)p->listening.grid.samples / p->listening.grid.frames / p->rate;
    }
    if (number >= NEAR && p->sounded && p->sounded + NEAR + NEAR > number)
        count_frame(p, &p->frame[(number - NEAR) % PORTRAIT_FRAMES]);
    p->block_power += frame->power;
    if (++p->block_frames == p->listening.grid.frames)
        end_block(p);
}

static void hear_cell(Portrait *p, uint32_t at)
{
    float half_sum[DSP_CELL];
    const float *const in[DSP_CHANNELS] = {p->block.channel[0] + at, p->block.channel[1] + at};
    const ListeningFrame *frame = listening_frame(&p->listening);
    if (frame)
        hear_frame(p, frame);
    const float *const *sound = listening_process(&p->listening, in, DSP_CELL);
    for (uint32_t i = 0; i < DSP_CELL; ++i)
        half_sum[i] = p->block.channels == 1 ? sound[0][i] : 0.5f * (sound[0][i] + sound[1][i]);
    bank_process(&p->bank, half_sum, DSP_CELL);
    p->heard += DSP_CELL;
    if (p->heard >= listening_frame_end(&p->listening, p->framed))
        end_frame(p);
}

static void hear_block(Portrait *p)
{
    for (uint32_t at = 0; at < STAGE_BLOCK; at += DSP_CELL)
        hear_cell(p, at);
    p->block.filled = 0;
}

/* ---- As a sink ---- */

static bool portrait_write(Sink *sink, const float *const *in, uint32_t n, Error *e)
{
    Portrait *p = (Portrait *)sink;
    (void)e;
    level_process(&p->level, in, n);
    for (uint32_t done = 0; done < n;) {
        done += block_fill(&p->block, in, done, n - done);
        if (p->block.filled == STAGE_BLOCK)
            hear_block(p);
    }
    return true;
}

static bool portrait_end(Sink *sink, Error *e)
{
    Portrait *p = (Portrait *)sink;
    (void)e;
    for (double done = 0.0; done < SILENCE * p->rate; done += STAGE_BLOCK) {
        block_pad(&p->block);
        hear_block(p);
    }
    return true;
}

bool portrait_start(Portrait *p, double rate, uint32_t channels, Error *e)
{
    *p = (Portrait){.sink = {portrait_write, portrait_end}, .rate = rate};
    block_init(&p->block, channels);
    bank_init(&p->bank, rate);
    level_init(&p->level, rate, channels);
    p->listens = listening_init(&p->listening, rate, channels, listening_hops(rate), LISTENING_POWER);
    return p->listens || error_set(e, ERROR_INSIDE, "out of memory");
}

void portrait_free(Portrait *p)
{
    if (p->listens)
        listening_done(&p->listening);
    level_done(&p->level);
    *p = (Portrait){0};
}

/* ---- Answers ---- */

uint32_t portrait_colour(const Portrait *p, double db[BANK_BANDS])
{
    for (uint32_t k = 0; k < p->bank.bands; ++k)
        db[k] = p->sum_samples[k] > 0.0 ? power_to_db(p->sum[k] / p->sum_samples[k]) : UNITS_DB_FLOOR;
    return p->bank.bands;
}

double portrait_spread(const Portrait *p)
{
    if (!(p->weight > 0.0))
        return 0.0;
    const double mean = p->levels / p->weight;
    return sqrt(fmax(p->squares / p->weight - mean * mean, 0.0));
}

double portrait_loudness(const Portrait *p)
{
    return level_loudness(&p->level);
}

double portrait_third_hz(uint32_t third)
{
    return bank_hz(FIRST + 2 * third);
}

/* Half of each neighbour lies in it. The highest has none above. */
double portrait_third(const double *colour, uint32_t bands, uint32_t third)
{
    const uint32_t middle = FIRST + 2 * third, above = middle + 1 < BANK_BANDS ? middle + 1 : middle;
    if (above >= bands)
        return UNITS_DB_FLOOR;
    return power_to_db(0.5 * db_to_power(colour[middle - 1]) + db_to_power(colour[middle]) +
                       0.5 * db_to_power(colour[above]));
}
