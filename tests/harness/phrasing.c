#include "phrasing.h"

#include "damage.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SILENCE    1.0  /* s, after the take: it ends the last phrase */
#define BESIDE     0.15 /* s: what is so near to a phrase belongs to it; rests last 0.3 s or more */
#define REST       1.0  /* s, of a rest, that say how noisy it is beside a phrase */
#define QUIET_ROOM 3.0  /* dB over the quietest block, as in check_figures.h */
#define TOPS_NEAR  1.0  /* dB: flat tops so near to where Check found them are clipped, as Check has it */

enum { LEAST_SUNG = 40 /* frames */ };

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* The frame of this number; NULL: out of memory. Those that come for the first time are zeroed. */
static PhrasingFrame *frame_at(Phrasing *p, uint64_t number)
{
    if (number >= p->room) {
        const size_t room = 2 * (size_t)number + 1024;
        PhrasingFrame *more = realloc(p->frame, room * sizeof *more);
        if (!more)
            return NULL;
        memset(more + p->room, 0, (room - p->room) * sizeof *more);
        p->frame = more;
        p->room = room;
    }
    return &p->frame[number];
}

/* ---- Hearing ---- */

static double frame_seconds(const Phrasing *p)
{
    return p->hearing.hop / p->rate;
}

/* `was`: the phrase before this frame. It ended with the frame, or with what had sounded before its last silence. */
static bool end_phrase(Phrasing *p, const Phrases *was)
{
    if (p->spans == p->spans_room) {
        const size_t room = 2 * p->spans + 64;
        PhrasingSpan *more = realloc(p->span, room * sizeof *more);
        if (!more)
            return false;
        p->span = more;
        p->spans_room = room;
    }
    const double to = (double)(p->frames - was->silent) * frame_seconds(p);
    p->span[p->spans++] = (PhrasingSpan){fmax(to - was->length * frame_seconds(p), 0.0), to};
    return true;
}

static void note_burst(Phrasing *p, double db)
{
    if (p->frames >= POPS_AFTER)
        p->frame[p->frames - POPS_AFTER].burst = (float)db_to_power(db);
}

static bool hear_frame(Phrasing *p, const HearingFrame *frame)
{
    double db;
    PhrasingFrame *f = frame_at(p, p->frames);
    if (!f)
        return false;
    const Phrases was = p->phrases;
    const RestFound rest = rests_hear(&p->rests, frame);
    const NoteFound note = notes_hear(&p->notes, frame);
    f->power = (float)hearing_over_low(frame);
    f->quiet = rest.block ? (float)db_to_power(rest.block_db) : 0.f;
    f->sung = (uint16_t)note.sung;
    f->centre = note.sung ? (float)note.centre : 0.f;
    if (pops_hear(&p->pops, frame, &db))
        note_burst(p, db);
    const bool ended = phrases_hear(&p->phrases, frame, p->voice_level, &db);
    const bool ok = !ended || end_phrase(p, &was);
    ++p->frames;
    return ok;
}

/* Takes those that were heard. */
static uint32_t count_flat(FlatTops *tops, double level)
{
    uint32_t flat = 0;
    for (uint32_t i = 0; i < tops->tops; ++i)
        flat += tops->top[i].flat && level < 0.0 && fabs(gain_to_db(tops->top[i].level) - level) < TOPS_NEAR;
    tops->tops = 0;
    return flat;
}

static bool note_clipped(Phrasing *p, const float *const *in, uint32_t n)
{
    uint32_t clipped = 0;
    for (uint32_t c = 0; c < DSP_CHANNELS && c < p->block.channels; ++c) {
        flat_tops_hear(&p->tops[c], in[c], n);
        clipped += clipping_count(&p->clipping[c], in[c], n) + count_flat(&p->tops[c], p->flat_level);
    }
    PhrasingFrame *f = clipped ? frame_at(p, (uint64_t)((double)p->heard / p->hearing.hop)) : NULL;
    if (f)
        f->clipped += clipped;
    return f || !clipped;
}

static bool hear_block(Phrasing *p)
{
    for (uint32_t c = 0; c < p->block.channels; ++c)
        damage_remove(p->block.channel[c], p->block.channel[c], STAGE_BLOCK);
    for (uint32_t at = 0; at < STAGE_BLOCK; at += DSP_CELL) {
        const float *in[DSP_CHANNELS] = {p->block.channel[0] + at, p->block.channel[1] + at};
        const HearingFrame *frame = hearing_frame(&p->hearing);
        if ((frame && !hear_frame(p, frame)) || !note_clipped(p, in, DSP_CELL))
            return false;
        hearing_process(&p->hearing, in, DSP_CELL);
        p->heard += DSP_CELL;
    }
    p->block.filled = 0;
    return true;
}

static bool phrasing_write(Sink *sink, const float *const *in, uint32_t n, Error *e)
{
    Phrasing *p = (Phrasing *)sink;
    for (uint32_t done = 0; done < n;) {
        done += block_fill(&p->block, in, done, n - done);
        if (p->block.filled == STAGE_BLOCK && !hear_block(p))
            return no_memory(e);
    }
    return true;
}

static bool phrasing_end(Sink *sink, Error *e)
{
    Phrasing *p = (Phrasing *)sink;
    for (double done = 0.0; done < SILENCE * p->rate + STAGE_BLOCK; done += STAGE_BLOCK) {
        block_pad(&p->block);
        if (!hear_block(p))
            return no_memory(e);
    }
    return true;
}

bool phrasing_start(Phrasing *p, double rate, uint32_t channels, double voice_level, Error *e)
{
    *p = (Phrasing){.sink = {phrasing_write, phrasing_end}, .rate = rate, .voice_level = voice_level};
    block_init(&p->block, channels);
    return hearing_init(&p->hearing, rate, channels) || no_memory(e);
}

void phrasing_free(Phrasing *p)
{
    hearing_done(&p->hearing);
    free(p->frame);
    free(p->span);
    *p = (Phrasing){0};
}

/* ---- Figures ---- */

static size_t frame_of(const Phrasing *p, double seconds)
{
    const double number = fmin(fmax(seconds / frame_seconds(p), 0.0), (double)p->frames);
    return (size_t)lrint(number);
}

static double level_between(const Phrasing *p, double from, double to)
{
    double sum = 0.0;
    const size_t first = frame_of(p, from), end = frame_of(p, to);
    for (size_t k = first; k < end; ++k)
        sum += (double)p->frame[k].power;
    return sum > 0.0 ? power_to_db(sum / (double)(end - first)) : PHRASING_UNKNOWN;
}

/* Of the blocks of rests between two times: the quietest, and the power of those that are as quiet as it. */
typedef struct {
    double quietest, power, blocks;
} Quiet;

static void find_quietest(const Phrasing *p, Quiet *q, double from, double to)
{
    for (size_t k = frame_of(p, from); k < frame_of(p, to); ++k)
        if (p->frame[k].quiet > 0.f)
            q->quietest = fmin(q->quietest, (double)p->frame[k].quiet);
}

static void add_quiet(const Phrasing *p, Quiet *q, double from, double to)
{
    for (size_t k = frame_of(p, from); k < frame_of(p, to); ++k) {
        const double power = (double)p->frame[k].quiet;
        if (!(power > 0.0) || power > q->quietest * db_to_power(QUIET_ROOM))
            continue;
        q->power += power;
        q->blocks += 1.0;
    }
}

/* dB; the rests reach to the phrases beside it. */
static double noise_beside(const Phrasing *p, size_t first, size_t count)
{
    Quiet q = {.quietest = HUGE_VAL};
    const double from = p->span[first].from, to = p->span[first + count - 1].to;
    const double before = fmax(first ? p->span[first - 1].to : 0.0, from - REST);
    const double after = first + count < p->spans ? p->span[first + count].from : HUGE_VAL;
    const double last = fmin(after, to + REST);
    find_quietest(p, &q, before, from);
    find_quietest(p, &q, to, last);
    add_quiet(p, &q, before, from);
    add_quiet(p, &q, to, last);
    return q.blocks > 0.0 ? power_to_db(q.power / q.blocks) : PHRASING_UNKNOWN;
}

/* MIDI note. */
static double note_between(const Phrasing *p, double from, double to)
{
    double sum = 0.0, frames = 0.0;
    for (size_t k = frame_of(p, from); k < frame_of(p, to); ++k) {
        sum += (double)p->frame[k].centre * p->frame[k].sung;
        frames += p->frame[k].sung;
    }
    return frames > 0.0 ? sum / frames : PHRASING_UNKNOWN;
}

PhrasingShape phrasing_shape(const Phrasing *p, size_t span)
{
    PhrasingShape s;
    const double from = p->span[span].from, part = (p->span[span].to - from) / PHRASING_PARTS;
    const double level = level_between(p, from, p->span[span].to);
    for (uint32_t k = 0; k < PHRASING_PARTS; ++k) {
        const double at = from + k * part, here = level_between(p, at, at + part);
        s.note[k] = (float)note_between(p, at, at + part);
        s.level[k] = (float)(here < PHRASING_UNKNOWN ? here - level : PHRASING_UNKNOWN);
    }
    return s;
}

/* Semitones from the nearest note. */
static double off_tune(const PhrasingFrame *f, double offset)
{
    const double note = (double)f->centre - offset;
    return note - round(note);
}

static double cents_between(const Phrasing *p, double from, double to, double offset)
{
    double sum = 0.0, frames = 0.0;
    for (size_t k = frame_of(p, from); k < frame_of(p, to); ++k) {
        const PhrasingFrame *f = &p->frame[k];
        sum += 100.0 * fabs(off_tune(f, offset)) * f->sung;
        frames += f->sung;
    }
    return frames >= LEAST_SUNG ? sum / frames : PHRASING_UNKNOWN;
}

PhrasingFigures phrasing_figures(const Phrasing *p, size_t first, size_t count, double offset)
{
    const double from = p->span[first].from, to = p->span[first + count - 1].to;
    const double noise = noise_beside(p, first, count);
    PhrasingFigures g = {.level = level_between(p, from, to), .cents = cents_between(p, from, to + BESIDE, offset)};
    const bool known = noise < PHRASING_UNKNOWN && g.level < PHRASING_UNKNOWN;
    g.noise = known ? noise - g.level : PHRASING_UNKNOWN;
    for (size_t k = frame_of(p, from - BESIDE); k < frame_of(p, to + BESIDE); ++k) {
        g.pops += p->frame[k].burst > 0.f && power_to_db((double)p->frame[k].burst) > p->voice_level;
        g.clipped += p->frame[k].clipped;
    }
    return g;
}

void phrasing_add_tuning(const Phrasing *p, double *re, double *im)
{
    for (size_t k = 0; k < p->frames; ++k) {
        const double turn = 2.0 * DSP_PI * off_tune(&p->frame[k], 0.0);
        *re += p->frame[k].sung * cos(turn);
        *im += p->frame[k].sung * sin(turn);
    }
}
