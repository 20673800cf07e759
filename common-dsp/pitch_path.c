#include "pitch_path.h"

#include <math.h>
#include <string.h>

/* Limits of clarity, and prices of a path in units of clarity; our own (pitch_path.h). How they were settled was not
 * noted. Later each was moved by a fifth either way (test_pitch.c: the singer and four voices of a speech synthesizer).
 * At every value, singers without noise have at most 0.04 % of frames wrong or missed, and three of the four spoken
 * voices 0.2 %. The fourth voice, a rough one, has 1.1 % gross errors at the values below, and 1.8 % with OCTAVE_PRICE
 * 0.036 or VOICING_PRICE 0.112. At 15 dB over noise 0.02 % of voiced frames are missed, and 0.24 % with
 * UNVOICED_CLARITY 0.48. */
#define WEAKEST_PEAK     0.30 /* clarity: a lower peak is not a candidate */
#define UNVOICED_CLARITY 0.40 /* clarity at which a pitch costs as much as no pitch */
#define OCTAVE_PRICE     0.03 /* for each octave by which a candidate is lower */
#define JUMP_PRICE       0.35 /* per octave between successive frames */
#define VOICING_PRICE    0.14 /* for a change to or from "no pitch" */

void pitch_path_init(PitchPath *p, double rate)
{
    p->rate = rate;
    p->highest = log2(rate / PITCH_SEARCH_HIGHEST);
    pitch_path_reset(p);
}

static PitchColumn *next_column(PitchPath *p)
{
    return &p->column[(p->newest + 1) % (PITCH_DELAY + 1)];
}

static void begin_column(PitchPath *p)
{
    PitchColumn *column = next_column(p);
    column->count = 1;
    column->candidate[0] = (PitchCandidate){.cost = (float)(1 - UNVOICED_CLARITY)};
    column->clarity = 0;
    p->looked_at = PITCH_MARGIN;
}

void pitch_path_reset(PitchPath *p)
{
    memset(p->column, 0, sizeof p->column);
    p->newest = 0;
    for (uint32_t i = 0; i <= PITCH_DELAY; i++)
        p->column[i].count = 1; /* no pitch, at no cost */
    begin_column(p);
}

/* ---- Candidates ---- */

/* The value half way between y[0] and y[1], by Lagrange's polynomial through eight points. */
static double between(const float *y)
{
    static const double tap[PITCH_MARGIN] = {1225.0 / 2048, -245.0 / 2048, 49.0 / 2048, -5.0 / 2048};
    double sum = 0;
    for (int k = 0; k < PITCH_MARGIN; k++)
        sum += tap[k] * ((double)y[-k] + (double)y[1 + k]);
    return sum;
}

/* Finds the top of a peak at y[0]: *offset from y[0] in samples, and *height. Of points half a sample apart, it fits a
 * parabola to the largest and its two neighbours. */
static void refine(const float *y, double *offset, double *height)
{
    const double point[5] = {(double)y[-1], between(y - 1), (double)y[0], between(y), (double)y[1]};
    const int top = point[1] > point[2] && point[1] >= point[3] ? 1 : point[3] > point[2] ? 3 : 2;
    const double a = point[top - 1], b = point[top], c = point[top + 1];
    const double bend = a - 2 * b + c;
    const double at = bend < 0 ? 0.5 * (a - c) / bend : 0;
    *offset = 0.5 * (top - 2 + at);
    *height = fmin(1, b - 0.25 * (a - c) * at);
}

static bool is_peak(const float *y)
{
    return y[0] > y[-1] && y[0] >= y[1];
}

/* Inserts a candidate if it is among the best; candidates are kept in order, and number 0 is "no pitch". */
static void offer(PitchColumn *column, PitchCandidate c)
{
    uint32_t at = column->count;
    if (at > PITCH_CANDIDATES) {
        if (c.cost >= column->candidate[PITCH_CANDIDATES].cost)
            return;
        at = PITCH_CANDIDATES;
    } else {
        column->count++;
    }
    for (; at > 1 && column->candidate[at - 1].cost > c.cost; at--)
        column->candidate[at] = column->candidate[at - 1];
    column->candidate[at] = c;
}

/* Offers near lag number i as a candidate if it is a peak. */
static void look_at(const PitchPath *p, const PitchLikeness *l, uint32_t i, PitchColumn *column)
{
    const float *y = l->near_likeness + i;
    if (*y < (float)WEAKEST_PEAK || !is_peak(y))
        return;
    double offset, clarity;
    refine(y, &offset, &clarity);
    const double lag = l->near.first + i + offset, octave = log2(lag);
    const double cost = 1 - clarity + OCTAVE_PRICE * (octave - p->highest);
    column->clarity = fmax(column->clarity, clarity);
    offer(column, (PitchCandidate){lag, (float)octave, (float)clarity, (float)cost, 0});
}

void pitch_path_look(PitchPath *p, const PitchLikeness *heard, uint32_t done)
{
    const uint32_t end = done < heard->near.count ? done : heard->near.count;
    PitchColumn *column = next_column(p);
    for (; p->looked_at + PITCH_MARGIN < end; p->looked_at++)
        look_at(p, heard, p->looked_at, column);
}

static double find_repeat(const PitchLikeness *l)
{
    double best = 0;
    for (uint32_t i = PITCH_MARGIN; i + PITCH_MARGIN < l->far.count; i++) {
        const float *y = l->far_likeness + i;
        double offset, height = 0;
        if (is_peak(y))
            refine(y, &offset, &height);
        best = fmax(best, height);
    }
    return best;
}

/* ---- The cheapest path ---- */

static float transition(const PitchCandidate *a, const PitchCandidate *b)
{
    if (a->lag <= 0 || b->lag <= 0)
        return (a->lag <= 0) == (b->lag <= 0) ? 0 : (float)VOICING_PRICE;
    return (float)JUMP_PRICE * fabsf(a->octave - b->octave);
}

static void extend_paths(const PitchColumn *before, PitchColumn *now)
{
    float cheapest = HUGE_VALF;
    for (uint32_t i = 0; i < now->count; i++) {
        PitchCandidate *c = &now->candidate[i];
        float best = HUGE_VALF;
        for (uint32_t j = 0; j < before->count; j++) {
            const float cost = before->candidate[j].cost + transition(&before->candidate[j], c);
            if (cost < best) {
                best = cost;
                c->from = j;
            }
        }
        c->cost += best;
        cheapest = c->cost < cheapest ? c->cost : cheapest;
    }
    for (uint32_t i = 0; i < now->count; i++)
        now->candidate[i].cost -= cheapest; /* so that costs do not grow without end */
}

static PitchFrame decide(const PitchPath *p)
{
    const PitchColumn *column = &p->column[p->newest];
    uint32_t on = 0;
    for (uint32_t i = 1; i < column->count; i++)
        if (column->candidate[i].cost < column->candidate[on].cost)
            on = i;
    uint32_t at = p->newest;
    for (uint32_t back = 0; back < PITCH_DELAY; back++) {
        on = p->column[at].candidate[on].from;
        at = (at + PITCH_DELAY) % (PITCH_DELAY + 1);
    }
    column = &p->column[at];
    const PitchCandidate *c = &column->candidate[on];
    return (PitchFrame){.hz = c->lag > 0 ? p->rate / c->lag : 0,
                        .clarity = c->lag > 0 ? (double)c->clarity : column->clarity,
                        .level = column->level,
                        .repeat = column->repeat};
}

PitchFrame pitch_path_add(PitchPath *p, const PitchLikeness *heard)
{
    const PitchColumn *before = &p->column[p->newest];
    PitchColumn *now = next_column(p);
    pitch_path_look(p, heard, heard->near.count);
    now->level = heard->level;
    now->repeat = find_repeat(heard);
    extend_paths(before, now);
    p->newest = (p->newest + 1) % (PITCH_DELAY + 1);
    const PitchFrame decided = decide(p);
    begin_column(p);
    return decided;
}
