#include "takes.h"

#include "late.h"
#include "living.h"
#include "names.h"
#include "regular.h"
#include "soundfile.h"
#include "source.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LONE 1e4 /* 40 dB, of power */

/* ---- Before a run ---- */

static void note_source(Take *t, const SoundIn *s)
{
    t->path = s->path;
    t->name = name_base(s->path);
    t->rate = s->rate;
    t->channels = s->channels;
    t->promised = s->promised;
    snprintf(t->format, sizeof t->format, "%s", s->format);
}

static bool open_take(const Take *t, SoundIn *s, Error *e)
{
    return sound_open(s, t->path, t->piped ? t->copy : -1, e);
}

static bool copy_pipe(Take *t, const char *folder, Error *e)
{
    if (!source_is_pipe(t->path))
        return true;
    t->copy = source_copy_pipe(t->path, folder, e);
    t->piped = t->copy >= 0;
    return t->piped;
}

bool take_look(Take *t, const char *path, const char *folder, Error *e)
{
    SoundIn s;
    t->path = path;
    if (!copy_pipe(t, folder, e) || !open_take(t, &s, e))
        return false;
    note_source(t, &s);
    sound_close(&s);
    return true;
}

void take_close(Take *t)
{
    spool_free(t->audio);
    if (t->piped)
        close(t->copy);
    *t = (Take){0};
}

bool takes_look(Take *take, Plan *plan, const char *folder, double *frames, Error *e)
{
    for (uint32_t k = 0; k < plan->options->ins; ++k) {
        Take *t = &take[k];
        if (!take_look(t, plan->options->in[k], folder, e) || !plan_try(plan, t->channels, t->rate, e))
            return false;
        *frames += t->promised == SOUND_NO_END ? 0.0 : (double)t->promised;
    }
    for (uint32_t k = 0; k < plan->options->ins; ++k)
        take[k].name = name_apart(take[k].path, plan->options->in, plan->options->ins);
    return true;
}

bool takes_try(const Take *take, Plan *plan, Error *e)
{
    for (uint32_t k = 0; k < plan->options->ins; ++k)
        if (!plan_try(plan, take[k].channels, take[k].rate, e))
            return false;
    return true;
}

void takes_free(Take *take, uint32_t takes)
{
    for (uint32_t t = 0; take && t < takes; ++t)
        take_close(&take[t]);
    free(take);
}

/* ---- A pass ---- */

typedef struct {
    float memory[DSP_CHANNELS][SOUND_BLOCK];
    float *channel[DSP_CHANNELS];
} Piece;

static void piece_init(Piece *piece)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        piece->channel[c] = piece->memory[c];
}

static bool pass_piece(const Piece *piece, uint32_t n, const Sinks *to, Error *e)
{
    const float *const from[DSP_CHANNELS] = {piece->memory[0], piece->memory[1]};
    return sinks_write(to, from, n, e);
}

static void add_squares(LivingSums *sums, const Piece *piece, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i)
        living_add(sums, dsp_undamaged(piece->memory[0][i]), dsp_undamaged(piece->memory[1][i]));
}

/* Of the sums of squares of two. */
static uint32_t lone_channel(const double square[DSP_CHANNELS])
{
    if (square[0] > LONE * square[1])
        return 1;
    return square[1] > LONE * square[0] ? 2 : 0;
}

bool take_is_lopsided(const Take *t)
{
    return t->opposite || t->lone || t->late != 0.0;
}

double take_may_talk(const Take *t)
{
    return t->two_levels.before ? t->two_levels.at : t->two_levels.softer;
}

const char *take_side(const Take *t)
{
    return t->lone == 2 ? "right" : "left";
}

const char *take_late_side(const Take *t)
{
    return t->late > 0.0 ? "right" : "left";
}

static void note_sides(Take *t, const LivingSums *sums, const Late *late)
{
    t->opposite = living_opposite(sums);
    t->lone = lone_channel(sums->channel);
    t->late = t->lone ? 0.0 : late_by(late);
    t->louder = t->late != 0.0 ? 1 + (sums->channel[1] > sums->channel[0]) : 0;
    const double louder = fmax(sums->channel[0], sums->channel[1]);
    t->louder_gain = louder > 0.0 ? sqrt((sums->channel[0] + sums->channel[1]) / (2.0 * louder)) : 1.0;
}

static void note_read(Take *t, const SoundIn *s)
{
    t->frames = s->frames;
    t->not_finite = s->not_finite;
    t->damaged = s->damaged;
}

/* What is found out about a take as a whole while it is read for the first time. */
typedef struct {
    LivingSums sums;
    Late late;
    TwoLevels levels;
    Regular clicks;
} Whole;

static bool whole_start(Whole *w, const SoundIn *s, Error *e)
{
    two_levels_start(&w->levels, s->rate);
    if (!regular_start(&w->clicks, s->rate, s->channels))
        return error_set(e, ERROR_INSIDE, "out of memory");
    return s->channels < 2 || late_start(&w->late, s->rate, e);
}

static void whole_free(Whole *w)
{
    late_free(&w->late);
    two_levels_free(&w->levels);
    regular_free(&w->clicks);
}

static bool whole_hear(Whole *w, uint32_t channels, const Piece *piece, uint32_t n, Error *e)
{
    add_squares(&w->sums, piece, n);
    if (channels > 1)
        late_hear(&w->late, piece->channel[0], piece->channel[1], n);
    regular_hear(&w->clicks, (const float *const *)piece->channel, channels, n);
    return two_levels_hear(&w->levels, (const float *const *)piece->channel, channels, n, e);
}

static void note_whole(Take *t, uint32_t channels, const Whole *w)
{
    if (channels > 1)
        note_sides(t, &w->sums, &w->late);
    t->two_levels = two_levels_found(&w->levels);
    t->clicks_a_minute = regular_rate(&w->clicks);
}

static bool read_file(Take *t, SoundIn *s, Whole *whole, const Sinks *to, Progress *p, const char *doing,
                      const char *what, Error *e)
{
    Piece piece = {0};
    const bool first = !t->frames;
    piece_init(&piece);
    for (uint32_t n = SOUND_BLOCK; n;) {
        n = sound_read(s, piece.channel, SOUND_BLOCK);
        if ((first && !whole_hear(whole, s->channels, &piece, n, e)) || !pass_piece(&piece, n, to, e) ||
            !progress_add(p, n, doing, what, t->name, e))
            return false;
    }
    note_read(t, s);
    if (first)
        note_whole(t, s->channels, whole);
    return t->frames || error_set(e, ERROR_EMPTY, "%s: empty, not one sample can be read", t->path);
}

static bool pass_file(Take *t, const Sinks *to, Progress *p, const char *doing, const char *what, Error *e)
{
    SoundIn s;
    Whole whole = {0};
    if (!open_take(t, &s, e))
        return false;
    const bool ok = whole_start(&whole, &s, e) && read_file(t, &s, &whole, to, p, doing, what, e);
    whole_free(&whole);
    sound_close(&s);
    return ok && sinks_end(to, e);
}

static bool pass_copy(Take *t, const Sinks *to, Progress *p, const char *doing, const char *what, Error *e)
{
    Piece piece = {0};
    piece_init(&piece);
    if (!spool_rewind(t->audio, e))
        return false;
    for (uint32_t n = SOUND_BLOCK; n == SOUND_BLOCK;)
        if (!spool_read(t->audio, piece.channel, SOUND_BLOCK, &n, e) || !pass_piece(&piece, n, to, e) ||
            !progress_add(p, n, doing, what, t->name, e))
            return false;
    return sinks_end(to, e);
}

bool take_pass(Take *t, const Sinks *to, Progress *p, const char *doing, const char *what, Error *e)
{
    return t->audio ? pass_copy(t, to, p, doing, what, e) : pass_file(t, to, p, doing, what, e);
}

/* ---- A working copy ---- */

static bool copy_write(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    return spool_write(((Copy *)s)->spool, in, n, e);
}

static bool copy_end(Sink *s, Error *e)
{
    (void)s, (void)e;
    return true;
}

bool copy_start(Copy *c, const char *folder, double rate, uint32_t channels, Error *e)
{
    *c = (Copy){.sink = {copy_write, copy_end}, .spool = spool_new(folder, rate, channels, e)};
    return c->spool != NULL;
}

void copy_free(Copy *c)
{
    spool_free(c->spool);
    c->spool = NULL;
}
