#include "compressor_frames.h"

#include "dsp.h"

#include <math.h>
#include <string.h>

#define FRAME_TIME 0.05 /* s: length of a frame, before it is rounded to cells */

_Static_assert(LISTENING_FRAMES / COMPRESSOR_PARTS + 2 + LEVELS_BLOCK <= COMPRESSOR_PENDING, "no frame is lost");

static uint32_t cells_of_frame(double rate)
{
    return (uint32_t)lround(FRAME_TIME * rate / DSP_CELL);
}

ListeningGrid compressor_frames_grid(double rate)
{
    return (ListeningGrid){cells_of_frame(rate) * DSP_CELL, COMPRESSOR_PARTS, .whole_cells = true};
}

void compressor_frames_init(CompressorFrames *f, double rate)
{
    for (uint32_t i = 0; i < LEVELS_ATTACKS; ++i)
        f->rise_of[i] = follower_keep(levels_attack[i], rate / DSP_CELL);
    for (uint32_t i = 0; i < LEVELS_RELEASES; ++i)
        f->fall_of[i] = follower_keep(levels_release[i], rate / DSP_CELL);
    f->frame_cells = cells_of_frame(rate);
    compressor_frames_reset(f);
}

void compressor_frames_reset(CompressorFrames *f)
{
    memset(f->speed, 0, sizeof f->speed);
    f->followed_at = 0.0;
    f->cells = f->answered = 0;
    f->parts = 0;
    memset(f->frame, 0, sizeof f->frame);
}

/* When the threshold moves, the reductions in the followers move with it, so they still stand for the same level. */
static double moved(double reduction, double by)
{
    return reduction > 0.0 ? fmax(0.0, reduction + by) : 0.0;
}

static void move_all(CompressorFrames *f, double by)
{
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        f->speed[s].first = moved(f->speed[s].first, by);
        f->speed[s].value = moved(f->speed[s].value, by);
    }
}

/* Moves the follower of each speed towards the reduction that this level asks for. */
static void follow(CompressorFrames *f, double level, const Curve *curve)
{
    const double target = curve_reduction(curve, level);
    if (curve->threshold != f->followed_at)
        move_all(f, curve->slope * (f->followed_at - curve->threshold));
    f->followed_at = curve->threshold;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        Follower *speed = &f->speed[s];
        follower_step(speed, f->rise_of[s / LEVELS_RELEASES], f->fall_of[s % LEVELS_RELEASES], target);
        speed->first = dsp_hush(speed->first);
        speed->value = dsp_hush(speed->value);
    }
}

static void add_cell(CompressorFrame *frame, const CompressorCell *cell, const Follower speed[LEVELS_SPEEDS])
{
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        frame->levels.level[s] += speed[s].value;
        frame->levels.weighed[s] += speed[s].value * cell->energy;
    }
    frame->levels.energy += cell->energy;
    frame->level += cell->level;
    frame->level_by_energy += cell->level * cell->energy;
    frame->reduction += cell->reduction;
}

/* dB: the steady level that this curve turns down by `reduction`, as a detector with the same attack and release reads
 * it. With a reduction of 0 it is the level itself, but no more than where the curve begins; without a slope, the
 * level. */
static double level_of(const Curve *curve, double reduction, double level)
{
    if (!(curve->slope > 0.0))
        return level;
    if (reduction > 0.0)
        return curve->threshold + curve_over(curve, reduction);
    return fmin(level, curve->threshold - 0.5 * curve->knee);
}

/* From sums to means, and from reductions to levels. */
static void end_frame(CompressorFrame *frame, const Curve *curve, uint32_t cells)
{
    LevelsFrame *l = &frame->levels;
    frame->level /= cells;
    frame->level_by_energy = l->energy > 0.0 ? frame->level_by_energy / l->energy : frame->level;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        const double reduction = l->level[s] / cells;
        const double by_energy = l->energy > 0.0 ? l->weighed[s] / l->energy : reduction;
        l->level[s] = level_of(curve, reduction, frame->level);
        l->weighed[s] = level_of(curve, by_energy, frame->level_by_energy);
    }
    l->energy /= cells;
    frame->reduction /= cells;
}

void compressor_frames_cell(CompressorFrames *f, const CompressorCell *cell, const Curve *curve)
{
    CompressorFrame *frame = &f->frame[f->cells / f->frame_cells % COMPRESSOR_PENDING];
    if (f->cells % f->frame_cells == 0)
        memset(frame, 0, sizeof *frame);
    follow(f, cell->level, curve);
    add_cell(frame, cell, f->speed);
    if (++f->cells % f->frame_cells == 0)
        end_frame(frame, curve, f->frame_cells);
}

const CompressorFrame *compressor_frames_hear(CompressorFrames *f, const ListeningFrame *heard)
{
    CompressorFrame *frame = &f->frame[f->answered % COMPRESSOR_PENDING];
    frame->sounding += heard->sounding;
    if (++f->parts < COMPRESSOR_PARTS)
        return NULL;
    frame->voiced = 2 * frame->sounding >= f->frame_cells;
    f->parts = 0;
    ++f->answered;
    return frame;
}

bool compressor_frames_block(const CompressorFrames *f, const LevelsFrame *block[LEVELS_BLOCK])
{
    if (f->answered % 2 || f->answered < LEVELS_BLOCK)
        return false;
    for (uint32_t i = 0; i < LEVELS_BLOCK; ++i)
        block[i] = &f->frame[(f->answered - LEVELS_BLOCK + i) % COMPRESSOR_PENDING].levels;
    return true;
}
