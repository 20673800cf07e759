#include "listen.h"

#include <stdlib.h>

void lesson_free(Lesson *l)
{
    free(l->state);
    readings_free(&l->heard);
    *l = (Lesson){0};
}

static void play(Listener *l, uint32_t n)
{
    float memory[DSP_CHANNELS][STAGE_BLOCK];
    float *const unused[DSP_CHANNELS] = {memory[0], memory[1]};
    instance_run(l->i, block_audio(&l->block), unused, n);
    trace_take(l->trace, l->i, n);
    l->frames += n;
}

/* One channel in the place of both. */
static void take_side_alone(Listener *l)
{
    for (uint32_t i = 0; l->side && i < l->block.filled; ++i) {
        const float x = l->side_gain * l->block.memory[l->side - 1][i];
        l->block.memory[0][i] = l->block.memory[1][i] = x;
    }
}

/* Runs what is in the block and looks at the read-outs. */
static void run_block(Listener *l)
{
    take_side_alone(l);
    play(l, l->block.filled);
    readings_take(&l->now, l->i);
    l->block.filled = 0;
}

/* How many of the next n frames of the take lie before that. */
static uint32_t frames_before(const Listener *l, double seconds, uint32_t n)
{
    const double left = seconds * l->rate - (double)l->came;
    return left <= 0.0 ? 0 : left < n ? (uint32_t)left : n;
}

static bool listen_to(Sink *s, const float *const *in, uint32_t n, Error *e)
{
    Listener *l = (Listener *)s;
    (void)e;
    const uint32_t from = frames_before(l, l->from, n), until = l->until > 0.0 ? frames_before(l, l->until, n) : n;
    l->came += n;
    for (uint32_t done = from; done < until;) {
        done += block_fill(&l->block, in, done, until - done);
        if (l->block.filled == STAGE_BLOCK)
            run_block(l);
    }
    return true;
}

/* What is learned reaches save() at the next grid point, and what is on its way inside a plug-in needs its latency: a
 * moment of silence lets all of it arrive. */
static void settle(Listener *l)
{
    block_pad(&l->block);
    for (uint64_t done = 0; done < instance_latency(l->i) + DSP_CELL + l->silence; done += STAGE_BLOCK)
        play(l, STAGE_BLOCK);
}

static bool end_take(Sink *s, Error *e)
{
    Listener *l = (Listener *)s;
    if (l->block.filled)
        run_block(l);
    settle(l);
    if (l->silence)
        readings_take(&l->now, l->i);
    char *state = instance_save(l->i, e);
    if (!state || !readings_add(&l->lesson->heard, &l->now, e)) {
        free(state);
        return false;
    }
    free(l->lesson->state);
    l->lesson->state = state;
    l->lesson->seconds += (double)l->frames / l->rate;
    return true;
}

bool listener_start(Listener *l, const StagePlan *plan, uint32_t channels, double rate, Lesson *lesson, Error *e)
{
    *l = (Listener){
        .sink = {listen_to, end_take}, .lesson = lesson, .silence = (uint64_t)(plan->silence * rate), .rate = rate};
    block_init(&l->block, channels);
    l->i = stage_instance(plan, channels, rate, e);
    if (!l->i || !readings_start(&l->now, instance_plugin(l->i), e) ||
        (lesson->state && !instance_restore(l->i, lesson->state, false, e)))
        return false;
    instance_activate(l->i);
    return true;
}

void listener_free(Listener *l)
{
    instance_free(l->i);
    readings_free(&l->now);
    l->i = NULL;
}
