#include "phrase_ride.h"

#include "dsp.h"
#include "units.h"

#include <math.h>

/* How a rest is divided. In short rests each time is cut to the share given with it, so that all of them fit. */
/* Chosen. On the voices for tuning half of PHRASE_MARGIN does as well; twice it or twice LEAVING_TIME lifts a rest by
 * 2 dB, half of LEAVING_TIME moves the gain 0.6 dB further while a phrase sounds. COMING_TIME was not searched. */
#define PHRASE_MARGIN 0.04 /* s at either end of a rest at the gain of the phrase beside it; a fifth at most */
#define LEAVING_TIME  0.15 /* s for the gain to leave a phrase; two fifths of the rest at most */
#define COMING_TIME   0.08 /* s for the gain to reach the next phrase; a fifth at most */

enum { HOP = 10, BLOCK = 40 }; /* frames of 10 ms */

/* ---- The level ---- */

static bool tells(const PhraseSpan *s)
{
    return s->voiced >= PHRASE_BRIEF;
}

/* The median level of the phrases, weighted by their voiced time, dB. */
static double middle(const PhraseSpan *span, uint32_t spans)
{
    double all = 0.0, middle = INFINITY;
    for (uint32_t i = 0; i < spans; ++i)
        all += tells(&span[i]) ? span[i].voiced : 0.0;
    for (uint32_t i = 0; i < spans; ++i) {
        double below = 0.0;
        for (uint32_t k = 0; k < spans; ++k)
            below += tells(&span[k]) && span[k].level <= span[i].level ? span[k].voiced : 0.0;
        if (tells(&span[i]) && below >= 0.5 * all)
            middle = fmin(middle, span[i].level);
    }
    return middle;
}

/* Distance, dB, by which phrases miss this level after they are moved, times their voiced seconds, summed up. */
static double left_over(const PhraseSpan *span, uint32_t spans, const PhraseEvening *e, double level)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < spans; ++i) {
        const double off = level - span[i].level, half = 0.5 * e->within;
        if (tells(&span[i]))
            sum += span[i].voiced * fmax(fmax(off - half - e->most_up, -off - half - e->most_down), 0.0);
    }
    return sum;
}

/* left_over() is least at levels that just reach some phrase, or between them; so those and the median are tried. */
double phrase_ride_level(const PhraseSpan *span, uint32_t spans, const PhraseEvening *e)
{
    uint32_t telling = 0;
    for (uint32_t i = 0; i < spans; ++i)
        telling += tells(&span[i]);
    if (telling < 2)
        return UNITS_DB_FLOOR;
    const double from = middle(span, spans), half = 0.5 * e->within;
    double best = from, least = left_over(span, spans, e, from);
    const bool reached = !(least > 0.0);
    for (uint32_t i = 0; i < 2 * spans && !reached; ++i) {
        const PhraseSpan *s = &span[i / 2];
        const double level = i % 2 ? s->level + half + e->most_up : s->level - half - e->most_down;
        const double left = tells(s) ? left_over(span, spans, e, level) : INFINITY;
        if (left < least || (left == least && fabs(level - from) < fabs(best - from))) {
            least = left;
            best = level;
        }
    }
    return best;
}

/* ---- The gain ---- */

static double evening_of(const PhraseEvening *e, const PhraseSpan *s)
{
    const double off = e->usual - s->level, half = 0.5 * e->within;
    if (off > half)
        return fmin(off - half, e->most_up);
    return off < -half ? fmax(off + half, -e->most_down) : 0.0;
}

static double apart(const PhraseSpan *a, const PhraseSpan *b)
{
    return a->from > b->to ? a->from - b->to : b->from - a->to;
}

/* The phrase whose gain this one gets: itself, or the nearest that is not brief. NULL: all are brief. */
static const PhraseSpan *telling(const PhraseRide *r, uint32_t span)
{
    const PhraseSpan *s = &r->span[span], *nearest = NULL;
    if (tells(s))
        return s;
    for (uint32_t i = 0; i < r->spans; ++i)
        if (tells(&r->span[i]) && (!nearest || apart(&r->span[i], s) < apart(nearest, s)))
            nearest = &r->span[i];
    return nearest;
}

double phrase_ride_gain(const PhraseRide *r, uint32_t span)
{
    const PhraseSpan *by = telling(r, span);
    return by && r->evening.usual > UNITS_DB_FLOOR ? evening_of(&r->evening, by) + r->makeup : 0.0;
}

/* Raised cosine from 0 at x <= 0 to 1 at x >= 1. */
static double ease(double x)
{
    return 0.5 - 0.5 * cos(DSP_PI * dsp_clamp(x, 0.0, 1.0));
}

/* How many phrases have begun by this time. */
static uint32_t begun(const PhraseRide *r, double at)
{
    uint32_t low = 0, high = r->spans;
    while (low < high) {
        const uint32_t middle = (low + high) / 2;
        if (r->span[middle].from <= at)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The gain at a time in the rest before phrase `next`, dB: on its way from the phrase before, by the rest's own gain,
 * to that of the next. */
static double rest_at(const PhraseRide *r, uint32_t next, double at)
{
    const double from = next ? r->span[next - 1].to : -INFINITY, to = next < r->spans ? r->span[next].from : INFINITY;
    const double fifth = 0.2 * (to - from), margin = fmin(PHRASE_MARGIN, fifth);
    const double before = next ? phrase_ride_gain(r, next - 1) : 0.0;
    const double after = next < r->spans ? phrase_ride_gain(r, next) : 0.0, rest = fmin(fmin(before, after), 0.0);
    const double left = next ? 1.0 - ease((at - from - margin) / fmin(LEAVING_TIME, 2.0 * fifth)) : 0.0;
    const double coming = next < r->spans ? 1.0 - ease((to - margin - at) / fmin(COMING_TIME, fifth)) : 0.0;
    return rest + left * (before - rest) + coming * (after - rest);
}

double phrase_ride_at(const PhraseRide *r, double at)
{
    const uint32_t next = begun(r, at);
    return next && at < r->span[next - 1].to ? phrase_ride_gain(r, next - 1) : rest_at(r, next, at);
}

/* ---- The loudness ---- */

static void add_block(const PhraseRide *r, const TakeFrame *frame, uint32_t at, uint32_t blocks[EVEN_FINE],
                      EvenSums *sums)
{
    double in = 0.0, out = 0.0;
    for (uint32_t i = at; i < at + BLOCK; ++i) {
        const double energy = (double)frame[i].weighted / BLOCK;
        const double gain = db_to_gain(phrase_ride_at(r, (i + 0.5) * TAKE_FRAME));
        in += energy;
        out += energy * gain * gain;
    }
    if (in < EVEN_ABSOLUTE)
        return;
    const uint32_t fine = even_fine(power_to_db(in)), row = fine / EVEN_STEP;
    ++blocks[fine];
    sums->in[row] += in;
    sums->out[row] += out;
}

void phrase_ride_sum(const PhraseRide *r, const TakeFrame *frame, uint32_t n, uint32_t blocks[EVEN_FINE],
                     EvenSums *sums)
{
    for (uint32_t at = 0; at + BLOCK <= n; at += HOP)
        add_block(r, frame, at, blocks, sums);
}
