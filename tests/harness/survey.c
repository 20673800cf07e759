#include "survey.h"

#include "design.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>

#define HIGHS   4000.0 /* Hz */
#define SILENCE 1.0    /* s, after the take: it ends the last phrase */

/* ---- Loudness along the time ---- */

static bool no_memory(Error *e)
{
    return error_set(e, ERROR_INSIDE, "out of memory");
}

/* The array with room for one more; NULL: no memory, and it is as it was. */
static void *with_room(void *array, size_t used, size_t *room, size_t size)
{
    if (used < *room)
        return array;
    const size_t more = *room ? 2 * *room : 1024;
    void *larger = realloc(array, more * size);
    *room = larger ? more : *room;
    return larger;
}

static bool end_hop(Survey *s)
{
    SurveyHop *hops = with_room(s->hops, s->used, &s->room, sizeof *hops);
    if (!hops)
        return false;
    s->hops = hops;
    const double samples = (double)s->at * s->block.channels;
    s->hops[s->used++] = (SurveyHop){(float)(s->power / samples), (float)(s->highs / samples), s->peak};
    s->power = s->highs = 0.0;
    s->peak = 0.f;
    s->at = 0;
    return true;
}

static bool measure(Survey *s, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        for (uint32_t c = 0; c < s->block.channels; ++c) {
            const float x = s->block.channel[c][i];
            const double high = svf_step(&s->high_pass, &s->high_state[c], (double)x);
            s->power += (double)x * (double)x;
            s->highs += high * high;
            s->peak = fmaxf(s->peak, fabsf(x));
        }
        if (++s->at == s->hop && !end_hop(s))
            return false;
    }
    for (uint32_t c = 0; c < s->block.channels; ++c)
        svf_hush(&s->high_state[c]);
    return true;
}

static void hear_spectrum(Survey *s, uint32_t n)
{
    float half_sum[STAGE_BLOCK];
    const float *const *in = block_audio(&s->block);
    for (uint32_t i = 0; i < n; ++i)
        half_sum[i] = s->block.channels == 1 ? in[0][i] : 0.5f * (in[0][i] + in[1][i]);
    bank_process(&s->bank, half_sum, n);
}

/* ---- Phrases ---- */

/* `was`: the phrase before this frame. It ended with the frame, or with what had sounded before its last silence. */
static bool end_phrase(Survey *s, const Phrases *was)
{
    SurveyPhrase *phrase = with_room(s->phrase, s->phrases_used, &s->phrases_room, sizeof *phrase);
    if (!phrase)
        return false;
    s->phrase = phrase;
    const double frame = s->hearing.hop / s->rate;
    const double to = (double)(s->frames - was->silent) * frame;
    s->phrase[s->phrases_used++] = (SurveyPhrase){fmax(to - was->length * frame, 0.0), to};
    return true;
}

static bool hear_frame(Survey *s, const HearingFrame *frame)
{
    double db;
    const Phrases was = s->phrases;
    const bool ended = phrases_hear(&s->phrases, frame, s->voice_level, &db);
    const bool ok = !ended || end_phrase(s, &was);
    ++s->frames;
    return ok;
}

static bool hear_phrases(Survey *s, uint32_t n)
{
    for (uint32_t at = 0; at < n; at += DSP_CELL) {
        const HearingFrame *frame = hearing_frame(&s->hearing);
        const float *in[DSP_CHANNELS] = {s->block.channel[0] + at, s->block.channel[1] + at};
        if (frame && !hear_frame(s, frame))
            return false;
        hearing_process(&s->hearing, in, DSP_CELL);
    }
    return true;
}

/* ---- As a sink ---- */

/* n: of the block, what is no padding. */
static bool take_block(Survey *s, uint32_t n, Error *e)
{
    hear_spectrum(s, n);
    if (!measure(s, n) || (s->finds_phrases && !hear_phrases(s, STAGE_BLOCK)))
        return no_memory(e);
    s->block.filled = 0;
    return true;
}

static bool survey_write(Sink *sink, const float *const *in, uint32_t n, Error *e)
{
    Survey *s = (Survey *)sink;
    for (uint32_t done = 0; done < n;) {
        done += block_fill(&s->block, in, done, n - done);
        if (s->block.filled == STAGE_BLOCK && !take_block(s, STAGE_BLOCK, e))
            return false;
    }
    return true;
}

static bool survey_end(Sink *sink, Error *e)
{
    Survey *s = (Survey *)sink;
    const uint32_t rest = s->block.filled;
    block_pad(&s->block);
    if (!take_block(s, rest, e) || (s->at && !end_hop(s)))
        return no_memory(e);
    block_pad(&s->block);
    for (double done = 0.0; s->finds_phrases && done < SILENCE * s->rate; done += STAGE_BLOCK)
        if (!hear_phrases(s, STAGE_BLOCK))
            return no_memory(e);
    return true;
}

void survey_start(Survey *s, double rate, uint32_t channels)
{
    *s = (Survey){.sink = {survey_write, survey_end}, .rate = rate, .hop = (uint32_t)lrint(SURVEY_HOP * rate)};
    block_init(&s->block, channels);
    bank_init(&s->bank, rate);
    const Biquad high_pass = design_high_pass(fmin(HIGHS, 0.4 * rate), sqrt(0.5), rate);
    s->high_pass = svf_from_biquad(&high_pass);
}

bool survey_find_phrases(Survey *s, double voice_level, Error *e)
{
    s->voice_level = voice_level;
    s->finds_phrases = hearing_init(&s->hearing, s->rate, s->block.channels);
    return s->finds_phrases || no_memory(e);
}

void survey_free(Survey *s)
{
    if (s->finds_phrases)
        hearing_done(&s->hearing);
    free(s->hops);
    free(s->phrase);
    *s = (Survey){0};
}

double survey_power(const Survey *s, double from, double to, bool highs)
{
    double sum = 0.0;
    const size_t first = (size_t)fmax(from / SURVEY_HOP, 0.0);
    size_t end = (size_t)fmax(ceil(to / SURVEY_HOP), 0.0);
    end = end < s->used ? end : s->used;
    for (size_t h = first; h < end; ++h)
        sum += (double)(highs ? s->hops[h].highs : s->hops[h].power);
    return first < end ? sum / (double)(end - first) : 0.0;
}
