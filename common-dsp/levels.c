#include "levels.h"

#include "dsp.h"
#include "units.h"

#include <math.h>
#include <string.h>

const double levels_attack[LEVELS_TIMES] = {0.001, 0.01, 0.1};
const double levels_release[LEVELS_TIMES] = {0.01, 0.1, 1.0};

void levels_clear(Levels *l)
{
    memset(l, 0, sizeof *l);
}

/* Proportions stay; what was heard long ago weighs half from here on. */
static void halve(Levels *l)
{
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        for (uint32_t b = 0; b < LEVELS_BINS; ++b)
            l->count[s][b] = (l->count[s][b] + 1) / 2;
        for (uint32_t b = 0; b < LEVELS_STEPS; ++b)
            l->energy[s][b] = (l->energy[s][b] + 1) / 2;
    }
    l->frames = 0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        l->frames += l->count[0][b];
}

static double inside(double level)
{
    return dsp_clamp(level, LEVELS_LOW, LEVELS_HIGH);
}

static uint32_t bin_of(double level)
{
    return (uint32_t)((inside(level) - LEVELS_LOW) * 2.0 + 0.5);
}

/* Energy in units of the level of a step. A frame's share is held to 1/16 of a bin, so that a bin cannot overflow. */
static uint32_t units(double energy, uint32_t step)
{
    const double most = (double)LEVELS_MOST * LEVELS_UNITS / 16.0;
    return (uint32_t)fmin(energy / db_to_power(LEVELS_LOW + (double)step) * LEVELS_UNITS + 0.5, most);
}

/* Shared out over the two nearest steps, so that the mean level is kept. */
static bool add_energy(uint32_t *energy, double level, double e)
{
    const double at = inside(level) - LEVELS_LOW;
    const uint32_t low = (uint32_t)fmin(floor(at), LEVELS_STEPS - 2);
    const double share = at - low;
    energy[low] += units(e * (1.0 - share), low);
    energy[low + 1] += units(e * share, low + 1);
    const uint32_t most = (uint32_t)(LEVELS_MOST / 16 * 15) * LEVELS_UNITS;
    return energy[low] > most || energy[low + 1] > most;
}

void levels_add(Levels *l, const LevelsFrame *frame)
{
    bool full = false;
    ++l->frames;
    for (uint32_t s = 0; s < LEVELS_SPEEDS; ++s) {
        full |= ++l->count[s][bin_of(frame->level[s])] >= LEVELS_MOST;
        full |= add_energy(l->energy[s], frame->weighed[s], frame->energy);
    }
    if (full)
        halve(l);
}

double levels_loud(const Levels *l, uint32_t speed)
{
    const uint32_t *count = l->count[speed];
    double all = 0.0;
    for (uint32_t b = 0; b < LEVELS_BINS; ++b)
        all += count[b];
    double left = all / 8.0;
    uint32_t b = LEVELS_BINS - 1;
    while (b > 0 && count[b] < left)
        left -= count[b--];
    const double into = count[b] ? left / count[b] : 0.5;
    return LEVELS_LOW + (b + 0.5 - into) * 0.5;
}

/* Frames of a 1 dB step, from the 0.5 dB bins around it. */
static double frames_near(const uint32_t *count, uint32_t step)
{
    const uint32_t b = 2 * step;
    const double below = b > 0 ? count[b - 1] : 0.0, above = b + 1 < LEVELS_BINS ? count[b + 1] : 0.0;
    return count[b] + 0.5 * (below + above);
}

/* What is gated: frames and energies of each step. */
typedef struct {
    double frames[LEVELS_STEPS], in[LEVELS_STEPS], gain[LEVELS_STEPS];
} Steps;

/* The lowest mean energy of a step that passes the gate, 10 LU below the mean of all, of what goes in or comes out. */
static double gate(const Steps *s, bool out)
{
    double frames = 0.0, energy = 0.0;
    for (uint32_t b = 0; b < LEVELS_STEPS; ++b) {
        frames += s->frames[b];
        energy += out ? s->in[b] * s->gain[b] * s->gain[b] : s->in[b];
    }
    return frames > 0.0 ? 0.1 * energy / frames : 0.0;
}

/* Means over what passes: of the input's energy, and of that times the gain and times its square. */
typedef struct {
    double in, cross, out;
} Means;

static Means gated(const Steps *s, bool out)
{
    const double least = gate(s, out);
    double frames = 0.0;
    Means m = {0};
    for (uint32_t b = 0; b < LEVELS_STEPS; ++b) {
        const double g = s->gain[b], e = s->in[b];
        if ((out ? e * g * g : e) < least * s->frames[b])
            continue;
        frames += s->frames[b];
        m.in += e;
        m.cross += e * g;
        m.out += e * g * g;
    }
    if (frames > 0.0)
        m = (Means){m.in / frames, m.cross / frames, m.out / frames};
    return m;
}

/* The makeup m for which the mean of e (1 - blend + blend m g)^2 is what went in. */
static double solve(double went_in, const Means *after, double blend)
{
    const double dry = 1.0 - blend;
    if (dry <= 0.0 || blend <= 0.0)
        return sqrt(went_in / after->out);
    const double a = blend * blend * after->out, b = blend * dry * after->cross, c = dry * dry * after->in - went_in;
    return (sqrt(fmax(b * b - a * c, 0.0)) - b) / a;
}

double levels_makeup(const Levels *l, uint32_t speed, const Curve *curve, double blend)
{
    Steps s;
    bool works = false;
    for (uint32_t b = 0; b < LEVELS_STEPS; ++b) {
        const double level = LEVELS_LOW + (double)b;
        s.frames[b] = frames_near(l->count[speed], b);
        s.in[b] = 0.0;
        s.gain[b] = 1.0;
        if (!l->energy[speed][b])
            continue;
        const double reduction = curve_reduction(curve, level);
        s.in[b] = l->energy[speed][b] * db_to_power(level);
        s.gain[b] = db_to_gain(-reduction);
        works |= reduction > 0.0;
    }
    if (!works)
        return 0.0;
    const Means before = gated(&s, false), after = gated(&s, true);
    return fmax(0.0, gain_to_db(solve(before.in, &after, blend)));
}

/* Where seconds lie among the times: index of the lower one, and the way to the next. */
static uint32_t between(const double *times, double seconds, double *way)
{
    const uint32_t low = seconds < times[1] ? 0 : 1;
    *way = dsp_clamp(log(seconds / times[low]) / log(times[low + 1] / times[low]), 0.0, 1.0);
    return low;
}

LevelsMix levels_mix(double attack, double release)
{
    double up, down;
    const uint32_t a = between(levels_attack, attack, &up), r = between(levels_release, release, &down);
    const uint32_t s = a * LEVELS_TIMES + r;
    return (LevelsMix){.speed = {s, s + 1, s + LEVELS_TIMES, s + LEVELS_TIMES + 1},
                       .weight = {(1.0 - up) * (1.0 - down), (1.0 - up) * down, up * (1.0 - down), up * down}};
}
