#include "room.h"

#include "dsp.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define DULL_HZ 8000.0

enum { LINES = 16, EARLY = 8 };

/* Seconds. Early: walls a few metres off. Lines: spread without common factors. */
static const double early_delay[EARLY] = {.0031, .0052, .0069, .0083, .0104, .0127, .0149, .0173};
static const float early_gain[EARLY] = {.62f, -.55f, .50f, .46f, -.42f, .38f, -.34f, .31f};
static const double line_delay[LINES] = {.02111, .02339, .02617, .02863, .03121, .03389, .03659, .03911,
                                         .04177, .04441, .04703, .04969, .05231, .05503, .05779, .06053};

typedef struct {
    float *memory; /* all rings in one block */
    float *ring[LINES + 1];
    size_t length[LINES + 1], at[LINES + 1];
    float keep[LINES], dull[LINES], low[LINES]; /* loss a round; the pole that dulls it, and its state */
    size_t early[EARLY];
} Room;

/* The pole of a one-pole low-pass that loses as much again at 8 kHz as `keep` does (in proportion to the square of
 * the frequency below), so that the decay time there is half. */
static double dulling_pole(double keep, double rate)
{
    const double hz = fmin(DULL_HZ, 0.4 * rate), share = hz / DULL_HZ;
    const double power = pow(keep, 2 * share * share), c = cos(2 * DSP_PI * hz / rate);
    const double half = (1 - power * c) / (1 - power);
    return half - sqrt(half * half - 1);
}

static bool room_init(Room *r, double rate, double t60)
{
    memset(r, 0, sizeof *r);
    size_t total = 0;
    for (int i = 0; i < LINES; i++)
        total += r->length[i] = (size_t)lrint(line_delay[i] * rate);
    for (int i = 0; i < EARLY; i++)
        r->early[i] = (size_t)lrint(early_delay[i] * rate);
    total += r->length[LINES] = r->early[EARLY - 1] + 1;
    r->memory = calloc(total, sizeof *r->memory);
    if (!r->memory)
        return false;
    float *next = r->memory;
    for (int i = 0; i <= LINES; i++) {
        r->ring[i] = next;
        next += r->length[i];
    }
    for (int i = 0; i < LINES; i++) {
        const double keep = pow(10, -3.0 * (double)r->length[i] / (t60 * rate));
        r->keep[i] = (float)keep;
        r->dull[i] = (float)dulling_pole(keep, rate);
    }
    return true;
}

static float early_echoes(Room *r, float x)
{
    const size_t length = r->length[LINES], at = r->at[LINES];
    const float *ring = r->ring[LINES];
    r->ring[LINES][at] = x;
    float sum = 0;
    for (int i = 0; i < EARLY; i++)
        sum += early_gain[i] * ring[at >= r->early[i] ? at - r->early[i] : at + length - r->early[i]];
    r->at[LINES] = at + 1 == length ? 0 : at + 1;
    return sum;
}

/* The lines feed each other through a Hadamard matrix: it loses nothing and mixes fully. */
static void mix(float v[LINES])
{
    for (int step = 1; step < LINES; step *= 2)
        for (int i = 0; i < LINES; i++)
            if (!(i & step)) {
                const float a = v[i], b = v[i + step];
                v[i] = a + b;
                v[i + step] = a - b;
            }
    for (int i = 0; i < LINES; i++)
        v[i] *= 0.25f;
}

/* What is so faint costs a hundred times as much to reckon with. */
static float hushed(float x)
{
    return fabsf(x) < 1e-20f ? 0.f : x;
}

/* In loops that the compiler makes vectors of: the rings alone lie here and there. */
static float room_next(Room *r, float x)
{
    const float early = early_echoes(r, x);
    float v[LINES], sum = 0;
    for (int i = 0; i < LINES; i++)
        v[i] = r->ring[i][r->at[i]];
    for (int i = 0; i < LINES; i++) {
        r->low[i] += (1.f - r->dull[i]) * (v[i] - r->low[i]);
        v[i] = r->keep[i] * r->low[i];
        r->low[i] = hushed(r->low[i]);
    }
    for (int i = 0; i < LINES; i++)
        sum += i & 1 ? -v[i] : v[i];
    mix(v);
    for (int i = 0; i < LINES; i++)
        v[i] = hushed(v[i] + early);
    for (int i = 0; i < LINES; i++) {
        r->ring[i][r->at[i]] = v[i];
        r->at[i] = r->at[i] + 1 == r->length[i] ? 0 : r->at[i] + 1;
    }
    return early + sum * 0.35f;
}

static double answer_energy(Room *r, double rate, double t60)
{
    double energy = 0;
    for (size_t i = 0, n = (size_t)((t60 + 0.1) * rate); i < n; i++) {
        const double y = room_next(r, i == 0 ? 1.f : 0.f);
        energy += y * y;
    }
    return energy;
}

bool room_add(double rate, double t60, double db, const float *dry, float *out, size_t n)
{
    Room r;
    if (!room_init(&r, rate, t60))
        return false;
    const float gain = (float)sqrt(pow(10, db / 10) / answer_energy(&r, rate, t60));
    free(r.memory);
    if (!room_init(&r, rate, t60))
        return false;
    for (size_t i = 0; i < n; i++)
        out[i] += gain * room_next(&r, dry[i]);
    free(r.memory);
    return true;
}
