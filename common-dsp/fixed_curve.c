#include "fixed_curve.h"

#include "cholesky.h"

#include <math.h>
#include <string.h>

/* How these were settled: resonance.md, "The fit". */
#define ROUNDS_A_PASS  2      /* fits of source and fixed curve in each pass */
#define HALF_WEIGHT_DB 2.5    /* dB of error at which a harmonic counts half */
#define SMOOTHNESS     5.0    /* weight of the fixed curve's second differences, against 1 for a harmonic */
#define PULL_TO_ZERO   1.5    /* weight that holds each bin of the fixed curve at 0, likewise */
#define PULL_TO_SLOPE  2.0    /* weight that holds the source at SOURCE_SLOPE without offsets, likewise */
#define SOURCE_SLOPE   (-6.0) /* dB per octave */

/* Cost of each step in thousands of instructions, as callgrind counts them over a take of notes. */
#define PRIOR_COST    4.0                            /* one first formant */
#define LOOK_COST     4.0                            /* one piece */
#define TRY_COST      6.0                            /* one piece */
#define BLEND_COST    6.5                            /* one piece */
#define SHARE_COST    3.5                            /* one first formant */
#define SUM_COST      1.5                            /* one piece */
#define ROW_COST(row) (0.2 + 0.0035 * (row) * (row)) /* one row of the normal equations */
#define BACK_COST     18.0                           /* back substitution */

enum { SLOPE_AT = FIXED_SOURCE - 1 };

void fixed_init(FixedFit *f)
{
    memset(f, 0, sizeof *f);
    vowels_tables(&f->tables);
    f->phase = FIT_DONE;
}

void fixed_read(FixedFit *f, uint32_t at, const ResonancePiece *piece)
{
    vowels_read(&f->piece[at], piece);
}

FixedModel fixed_unknown(void)
{
    FixedModel m = {.source[SLOPE_AT] = SOURCE_SLOPE};
    for (uint32_t v = 0; v < VOWELS; ++v)
        m.share[v] = 1.0;
    return m;
}

FixedModel fixed_model(const FixedFit *f)
{
    FixedModel m;
    memcpy(m.source, f->source, sizeof m.source);
    memcpy(m.fixed, f->fixed, sizeof m.fixed);
    memcpy(m.share, f->shares.share, sizeof m.share);
    return m;
}

FixedCurve fixed_curve(const FixedFit *f)
{
    FixedCurve c = {.misfit = sqrt(f->error / fmax(f->errors, 1.0))};
    for (uint32_t b = 0; b < CURVE_BINS; ++b) {
        c.weight[b] = f->bin_weight[b];
        c.level[b] = f->bin_weight[b] > 0.0 ? f->bin_sum[b] / f->bin_weight[b] : 0.0;
    }
    return c;
}

/* Fills the normal equations with the prior: the source's usual slope, and a fixed curve that bends little. */
static void clear_sums(FixedFit *f)
{
    memset(f->normal, 0, sizeof f->normal);
    memset(f->right, 0, sizeof f->right);
    memset(f->bin_sum, 0, sizeof f->bin_sum);
    memset(f->bin_weight, 0, sizeof f->bin_weight);
    f->error = f->errors = 0.0;
    for (uint32_t i = 0; i < FIXED_UNKNOWN; ++i)
        f->normal[i][i] = i < FIXED_SOURCE ? PULL_TO_SLOPE : PULL_TO_ZERO;
    f->right[SLOPE_AT] = PULL_TO_SLOPE * SOURCE_SLOPE;
    static const double bend[3] = {1.0, -2.0, 1.0};
    for (uint32_t b = FIXED_SOURCE; b + 2 < FIXED_UNKNOWN; ++b)
        for (uint32_t i = 0; i < 3; ++i)
            for (uint32_t j = 0; j <= i; ++j)
                f->normal[b + i][b + j] += SMOOTHNESS * bend[i] * bend[j];
}

void fixed_start(FixedFit *f, VowelKind kind, const FixedModel *from, uint32_t first, uint32_t end, uint32_t passes)
{
    f->shares.kind = kind;
    memcpy(f->source, from->source, sizeof f->source);
    memcpy(f->fixed, from->fixed, sizeof f->fixed);
    memcpy(f->shares.share, from->share, sizeof f->shares.share);
    f->first = first;
    f->end = end;
    f->passes = passes;
    f->pass = f->settle = f->at = 0;
    clear_sums(f);
    f->phase = FIT_PRIOR;
}

/* ---- Vowels ---- */

/* Moves on to the next of `n` items; after the last, to `phase`, starting at item `next`. */
static void step_on(FixedFit *f, uint32_t n, FitPhase phase, uint32_t next)
{
    if (++f->at < n)
        return;
    f->at = next;
    f->phase = phase;
}

static void step_prior(FixedFit *f)
{
    f->cost = PRIOR_COST;
    vowels_prior_row(&f->shares, &f->tables, f->at);
    step_on(f, VOWELS_FIRST, FIT_LOOK, f->first);
}

/* Octaves of one harmonic above 500 Hz, from the middle of its bin: near enough, as the slope is fitted the same way.
 */
static double octave_of(const VowelPiece *p, uint32_t i)
{
    return (p->fine[i] + 0.5) / (4 * CURVE_PER_OCTAVE) - log2(500.0 / CURVE_LOW);
}

/* Level of one harmonic by source and fixed curve, without the vowel, dB. */
static double known(const FixedFit *f, const VowelPiece *p, uint32_t i)
{
    const uint32_t number = p->lowest + i;
    const double offset = number < SLOPE_AT ? f->source[number] : 0.0;
    return offset + f->source[SLOPE_AT] * octave_of(p, i) + f->fixed[vowels_bin(p, i)];
}

/* Whether the current piece can be fitted: one of fewer than two harmonics cannot. Half a take may have no pieces. */
static bool tells(const FixedFit *f)
{
    return f->at < f->end && f->piece[f->at].count >= 2;
}

static void step_look(FixedFit *f)
{
    const VowelPiece *const p = &f->piece[f->at];
    float is_known[PARTIALS_MOST];
    f->cost = LOOK_COST;
    if (!tells(f)) {
        step_on(f, f->end, FIT_SHARES, 0);
        return;
    }
    for (uint32_t i = 0; i < p->count; ++i)
        is_known[i] = (float)known(f, p, i);
    vowel_look(&f->look, &f->shares, &f->tables, p, is_known);
    f->phase = FIT_TRY;
}

static void step_try(FixedFit *f)
{
    f->cost = TRY_COST;
    vowel_look_try(&f->look, &f->shares, &f->tables, &f->piece[f->at]);
    f->phase = FIT_BLEND;
}

static void step_blend(FixedFit *f)
{
    f->cost = BLEND_COST;
    vowel_blend(&f->look, &f->shares, &f->tables, &f->piece[f->at]);
    f->phase = FIT_LOOK;
    step_on(f, f->end, FIT_SHARES, 0);
}

static void step_shares(FixedFit *f)
{
    f->cost = SHARE_COST;
    vowels_share_row(&f->shares, &f->tables, f->at);
    step_on(f, VOWELS_FIRST, FIT_SUM_UP, f->first);
    if (f->phase == FIT_SUM_UP)
        vowels_share(&f->shares);
}

/* ---- Source and fixed curve ---- */

/* Adds one harmonic to the lower half of the normal equations. */
static void add_harmonic(FixedFit *f, const VowelPiece *p, uint32_t i, double weight, double wanted)
{
    const uint32_t number = p->lowest + i, at[3] = {SLOPE_AT, FIXED_SOURCE + vowels_bin(p, i), number};
    const double by[3] = {octave_of(p, i), 1.0, 1.0};
    const uint32_t n = number < SLOPE_AT ? 3 : 2;
    for (uint32_t a = 0; a < n; ++a) {
        f->right[at[a]] += weight * by[a] * wanted;
        for (uint32_t b = 0; b < n; ++b)
            if (at[b] <= at[a])
                f->normal[at[a]][at[b]] += weight * by[a] * by[b];
    }
}

static void sum_up_piece(FixedFit *f, const VowelPiece *p)
{
    double error[PARTIALS_MOST], mean = 0.0;
    for (uint32_t i = 0; i < p->count; ++i) {
        error[i] = (double)(p->level[i] - p->vowel[i]) - known(f, p, i);
        mean += error[i];
    }
    mean /= p->count;
    for (uint32_t i = 0; i < p->count; ++i) {
        const double e = error[i] - mean, weight = 1.0 / (1.0 + e * e * (1.0 / (HALF_WEIGHT_DB * HALF_WEIGHT_DB)));
        const uint32_t b = vowels_bin(p, i);
        add_harmonic(f, p, i, weight, (double)(p->level[i] - p->vowel[i]) - mean);
        f->bin_sum[b] += weight * (e + f->fixed[b]);
        f->bin_weight[b] += weight;
        f->error += e * e;
        f->errors += 1.0;
    }
}

static void step_sum_up(FixedFit *f)
{
    f->cost = SUM_COST;
    if (tells(f))
        sum_up_piece(f, &f->piece[f->at]);
    step_on(f, f->end, f->pass == f->passes ? FIT_DONE : FIT_SOLVE, 0);
}

static void step_solve(FixedFit *f)
{
    f->cost = ROW_COST(f->at);
    cholesky_row(f->normal[0], FIXED_UNKNOWN, f->at, f->right);
    step_on(f, FIXED_UNKNOWN, FIT_BACK, 0);
}

static void step_back(FixedFit *f)
{
    f->cost = BACK_COST;
    cholesky_back(f->normal[0], FIXED_UNKNOWN, f->right);
    memcpy(f->source, f->right, sizeof f->source);
    memcpy(f->fixed, f->right + FIXED_SOURCE, sizeof f->fixed);
    clear_sums(f);
    f->at = f->first;
    f->phase = FIT_SUM_UP;
    if (++f->settle < ROUNDS_A_PASS)
        return;
    f->settle = 0;
    if (++f->pass < f->passes) {
        f->at = 0;
        f->phase = FIT_PRIOR;
    }
}

bool fixed_step(FixedFit *f)
{
    static void (*const step[])(FixedFit *) = {
        [FIT_PRIOR] = step_prior,   [FIT_LOOK] = step_look,     [FIT_TRY] = step_try,     [FIT_BLEND] = step_blend,
        [FIT_SHARES] = step_shares, [FIT_SUM_UP] = step_sum_up, [FIT_SOLVE] = step_solve, [FIT_BACK] = step_back,
    };
    if (f->phase != FIT_DONE)
        step[f->phase](f);
    return f->phase == FIT_DONE;
}
