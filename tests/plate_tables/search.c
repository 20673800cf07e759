/* Chooses the plate's tables for a sample rate: build/plate_tables RATE FIRST LAST [BOUND]
 *
 * Draws the tables of each seed from FIRST to LAST (plate_tables.h) and measures what the tests in tests/published hold
 * the plate to, from either input and from both. A seed's mark is the share of its limit that its worst figure takes: 1
 * is at a limit. It goes from the most telling figures to the others and drops a seed once it is worse than BOUND (1),
 * or than the best so far. Prints each that was better than those before. */
#include "ambience.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

enum { DENSITY = 1, RING_FIXED = 2, RING_AROUND = 4, OCTAVES = 8, STRAIGHT = 16, CORRELATION = 32, DECAY = 64 };

static const struct {
    double decay, damping;
    int figures;
} rows[] = {
    {2.2, 6500, DENSITY | OCTAVES | CORRELATION | DECAY},
    {0.5, 4000, OCTAVES | DECAY},
    {8.0, 20000, RING_FIXED | DENSITY | CORRELATION | STRAIGHT},
    {1.0, 20000, DENSITY | STRAIGHT | CORRELATION | DECAY},
    {0.5, 20000, DENSITY | STRAIGHT | DECAY},
    {0.5, 6500, OCTAVES | DECAY},
    {1.0, 4000, OCTAVES | DECAY},
    {1.0, 6500, OCTAVES | DECAY},
    {2.2, 4000, OCTAVES | DECAY},
    {8.0, 6500, RING_AROUND},
    {4.0, 20000, RING_FIXED | DENSITY | STRAIGHT},
    {4.0, 6500, RING_AROUND},
    {2.0, 20000, RING_FIXED | DENSITY | STRAIGHT},
    {2.0, 6500, RING_AROUND},
};
enum { ROWS = sizeof rows / sizeof *rows };

typedef struct {
    double share; /* of its limit that the worst figure takes */
    const char *what;
    double decay, damping;
} Mark;

static void note(Mark *m, const char *what, double share, int row)
{
    if (share > m->share)
        *m = (Mark){share, what, rows[row].decay, rows[row].damping};
}

/* ---- Figures as shares of their limits ---- */

static double octave_share(const Response *r, double decay, double damping, double hz)
{
    const double damp = pow(hz / damping, 4.0), own = decay / (1.0 + 2.0 * damp / (1.0 + damp));
    const AmbienceLevels of = {
        hz / sqrt(2.0), hz * sqrt(2.0), 0.02, AMBIENCE_BEGUN, AMBIENCE_BEGUN + own * 40.0 / 60.0, 1, false};
    return ambience_levels_off(r, &of) / 2.5;
}

static void mark_levels(const Response *r, int row, Mark *m)
{
    const double decay = rows[row].decay, damping = rows[row].damping;
    if (rows[row].figures & OCTAVES) {
        note(m, "4 kHz in 20 ms", octave_share(r, decay, damping, 4000.0), row);
        note(m, "8 kHz in 20 ms", octave_share(r, decay, damping, 8000.0), row);
    }
    if (rows[row].figures & STRAIGHT) {
        const AmbienceLevels fall = {0, 8000, 0.05, AMBIENCE_BEGUN, decay * 50.0 / 60.0, 1, false};
        const AmbienceLevels start = {0, 8000, 0.01, 0.0, 0.08, 2, true};
        note(m, "levels in 50 ms", ambience_levels_off(r, &fall) / 1.5, row);
        note(m, "sticks out", ambience_levels_off(r, &start) / 4.0, row);
    }
}

static void mark_rest(const Response *r, int row, Mark *m)
{
    const double decay = rows[row].decay;
    const int figures = rows[row].figures;
    for (int k = 0; k < 2 && (figures & (RING_FIXED | RING_AROUND)); ++k)
        note(m, "ring", (ambience_ring(r, (k ? 0.7 : 0.3) * decay, figures & RING_FIXED) - 9.5) / 3.5, row);
    if (figures & CORRELATION)
        note(m, "correlation", ambience_correlation(r) / 0.3, row);
    for (int o = 0; o < 2 && (figures & DECAY); ++o) {
        double t30[2];
        ambience_t30(r, o ? 1000.0 : 500.0, t30);
        for (int c = 0; c < 2; ++c)
            note(m, "decay", fabs(t30[c] / decay - 1.0) / 0.1, row);
    }
    if (figures & DENSITY) {
        note(m, "dense late", ambience_dense_after(r) / 60.0, row);
        note(m, "density", (1.0 - ambience_least_density(r, decay)) / 0.2, row);
    }
}

/* ---- One table ---- */

static void mark_row(uint32_t seed, double rate, int row, double bound, Mark *m)
{
    const double decay = rows[row].decay, seconds = fmax(decay, 0.7 * decay + 1.01);
    Response r[RESPONSE_INPUTS];
    for (int k = 0; k < RESPONSE_INPUTS; ++k)
        response_take_from(&r[k], seed, (ResponseInput)k, rate, decay, rows[row].damping, seconds);
    for (int k = 0; k < RESPONSE_INPUTS && m->share < bound; ++k)
        mark_levels(&r[k], row, m);
    for (int k = 0; k < RESPONSE_INPUTS && m->share < bound; ++k)
        mark_rest(&r[k], row, m);
    for (int k = 0; k < RESPONSE_INPUTS; ++k)
        response_free(&r[k]);
}

static Mark mark(uint32_t seed, double rate, double bound)
{
    Mark m = {0};
    for (int row = 0; row < ROWS && m.share < bound; ++row)
        mark_row(seed, rate, row, bound, &m);
    return m;
}

static uint32_t whole(const char *text)
{
    return (uint32_t)strtoul(text, NULL, 10);
}

int main(int argc, char **argv)
{
    if (argc < 4 || argc > 5) {
        fprintf(stderr, "usage: plate_tables RATE FIRST LAST [BOUND]\n");
        return 2;
    }
    const double rate = strtod(argv[1], NULL);
    const uint32_t first = whole(argv[2]), last = whole(argv[3]);
    double bound = argc > 4 ? strtod(argv[4], NULL) : 1.0;
    for (uint32_t seed = first; seed <= last; ++seed) {
        const Mark m = mark(seed, rate, bound);
        if (m.share >= bound)
            continue;
        printf("%g Hz, seed %u: %.3f of a limit, by %s, decay %g s, damping %g Hz\n", rate, (unsigned)seed, m.share,
               m.what, m.decay, m.damping);
        fflush(stdout);
        bound = m.share;
    }
    return 0;
}
