#include "plain_finder.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FIRST = 17, SECOND = 13, UNKNOWN = 4 + CURVE_BINS };

static const double vowel[VOWELS][2] = {
    {270, 2290}, {530, 1840}, {660, 1720}, {730, 1090}, {570, 840},  {300, 870},  {640, 1190},
    {390, 1990}, {440, 1020}, {490, 1350}, {310, 2790}, {610, 2330}, {860, 2050}, {850, 1220},
    {590, 920},  {370, 950},  {760, 1400}, {430, 2480}, {470, 1160}, {500, 1640},
};

static double bin_middle(int b)
{
    return 100 * pow(2, (b + 0.5) / 12);
}

static double pole_pair(double hz, double centre, double wide)
{
    const double h = wide / 2, unit = h * h + centre * centre;
    const double low = h * h + pow(hz - centre, 2), high = h * h + pow(hz + centre, 2);
    return 20 * log10(unit) - 10 * log10(low) - 10 * log10(high);
}

static double first_at(int i)
{
    return 230 * pow(2, i / 8.0);
}

static double second_at(int j)
{
    return 720 * pow(2, j / 6.0);
}

static double bell_curve(double hz, double likely_from, double spread)
{
    return exp(-0.5 * pow(log(hz / likely_from) / spread, 2));
}

/* The solution of a x = b, a symmetric and positive, by Gauss and Jordan; x in the place of b. */
static void solve(int n, double *a, double *b)
{
    for (int i = 0; i < n; ++i) {
        const double pivot = a[i * n + i];
        for (int k = 0; k < n; ++k)
            a[i * n + k] /= pivot;
        b[i] /= pivot;
        for (int r = 0; r < n; ++r) {
            const double by = a[r * n + i];
            if (r == i || by == 0)
                continue;
            for (int k = 0; k < n; ++k)
                a[r * n + k] -= by * a[i * n + k];
            b[r] -= by * b[i];
        }
    }
}

/* ---- The fit ---- */

typedef struct {
    int n, number[PARTIALS_MOST], bin[PARTIALS_MOST];
    double hz, level[PARTIALS_MOST], middle[PARTIALS_MOST], vowel[PARTIALS_MOST]; /* middle: Hz of its fine bin */
} Harmonics;

static Harmonics harmonics_of(const ResonancePiece *p)
{
    Harmonics h = {.hz = (double)p->hz};
    for (uint32_t k = 0; k < p->count; ++k) {
        const double bin = 12 * log2(h.hz * (k + 1) / 100);
        if (bin < 0 || bin >= CURVE_BINS)
            continue;
        h.number[h.n] = (int)k;
        h.bin[h.n] = (int)bin;
        h.middle[h.n] = 100 * pow(2, (floor(4 * bin) + 0.5) / 48);
        h.level[h.n++] = (double)p->level[k];
    }
    return h;
}

static double known_of(const FixedModel *m, const Harmonics *h, int k)
{
    const double offset = h->number[k] < 3 ? m->source[h->number[k]] : 0;
    return offset + m->source[3] * log2(h->middle[k] / 500) + m->fixed[h->bin[k]];
}

static double pair_prior(const FixedModel *m, VowelKind kind, int i, int j)
{
    double sum = kind == VOWELS_RECORDED ? 0.1 : 0.01;
    for (int v = 0; v < VOWELS; ++v)
        sum += m->share[v] * bell_curve(first_at(i), vowel[v][0], 0.09) * bell_curve(second_at(j), vowel[v][1], 0.09);
    return sum;
}

static double open_prior(const FixedModel *m, double hz, int v, int j)
{
    const double second = fmax(vowel[v][1], 1.2 * hz + 80);
    return vowel[v][0] < hz ? m->share[v] * bell_curve(second_at(j), second, 0.09) : 0;
}

/* Of a piece as this vowel, dB at its harmonics; i FIRST: first formant at the pitch. */
static void as_vowel(const Harmonics *h, VowelKind kind, int i, int j, double *db)
{
    const double wide = kind == VOWELS_RECORDED ? 110 : 80;
    for (int k = 0; k < h->n; ++k) {
        db[k] =
            i < FIRST ? pole_pair(h->middle[k], first_at(i), wide) : pole_pair(h->hz * (h->number[k] + 1), h->hz, wide);
        db[k] += pole_pair(h->middle[k], second_at(j), 100) + pole_pair(h->middle[k], 2650, 160) +
                 pole_pair(h->middle[k], 3600, 250);
    }
}

static double squares_left(const FixedModel *m, const Harmonics *h, const double *db)
{
    double mean = 0, sum = 0;
    for (int k = 0; k < h->n; ++k)
        mean += (h->level[k] - known_of(m, h, k) - db[k]) / h->n;
    for (int k = 0; k < h->n; ++k)
        sum += pow(h->level[k] - known_of(m, h, k) - db[k] - mean, 2);
    return sum;
}

static double nepers(const FixedModel *m, VowelKind kind, const Harmonics *h, int i, int j)
{
    double db[PARTIALS_MOST], prior = 0;
    as_vowel(h, kind, i, j, db);
    if (i == FIRST)
        for (int v = 0; v < VOWELS; ++v)
            prior += open_prior(m, h->hz, v, j);
    else if (second_at(j) > 1.2 * first_at(i) + 80)
        prior = pair_prior(m, kind, i, j) * (first_at(i) < 0.95 * h->hz ? exp(-6) : 1);
    else
        return -1e4;
    return log(prior + (i == FIRST ? 1e-9 : 0)) - squares_left(m, h, db) / 18;
}

/* The vowel of one piece, and to which published ones its likelihood goes. */
static void take_for_vowel(const FixedModel *m, VowelKind kind, Harmonics *h, double sung[VOWELS])
{
    double likely[FIRST + 1][SECOND], most = -INFINITY, all = 0, db[PARTIALS_MOST];
    for (int i = 0; i <= FIRST; ++i)
        for (int j = 0; j < SECOND; ++j) {
            likely[i][j] = nepers(m, kind, h, i, j);
            most = fmax(most, likely[i][j]);
        }
    for (int i = 0; i <= FIRST; ++i)
        for (int j = 0; j < SECOND; ++j) {
            likely[i][j] = likely[i][j] < most - 15 ? 0 : exp(likely[i][j] - most);
            all += likely[i][j];
        }
    memset(h->vowel, 0, sizeof h->vowel);
    for (int i = 0; i <= FIRST; ++i)
        for (int j = 0; j < SECOND; ++j) {
            const double part = likely[i][j] / all;
            if (part == 0)
                continue;
            as_vowel(h, kind, i, j, db);
            for (int k = 0; k < h->n; ++k)
                h->vowel[k] += part * db[k];
            double open = 1e-9;
            for (int v = 0; v < VOWELS; ++v)
                open += open_prior(m, h->hz, v, j);
            for (int v = 0; v < VOWELS; ++v)
                sung[v] += i == FIRST ? part * open_prior(m, h->hz, v, j) / open
                                      : part * m->share[v] * bell_curve(first_at(i), vowel[v][0], 0.09) *
                                            bell_curve(second_at(j), vowel[v][1], 0.09) / pair_prior(m, kind, i, j);
        }
}

static void learn_shares(FixedModel *m, const double sung[VOWELS])
{
    double mean = 0;
    for (int v = 0; v < VOWELS; ++v)
        mean += sung[v] / VOWELS;
    for (int v = 0; v < VOWELS; ++v)
        m->share[v] = (sung[v] / fmax(mean, 1e-9) + 0.1) / 1.1;
}

/* Residuals of a piece, their mean taken off, and robust weights. */
static void residuals(const FixedModel *m, const Harmonics *h, double *rest, double *weight, double *mean)
{
    *mean = 0;
    for (int k = 0; k < h->n; ++k)
        *mean += (h->level[k] - h->vowel[k] - known_of(m, h, k)) / h->n;
    for (int k = 0; k < h->n; ++k) {
        rest[k] = h->level[k] - h->vowel[k] - known_of(m, h, k) - *mean;
        weight[k] = 1 / (1 + pow(rest[k] / 2.5, 2));
    }
}

static void settle(FixedModel *m, const Harmonics *h, int pieces)
{
    static double a[UNKNOWN * UNKNOWN], b[UNKNOWN];
    memset(a, 0, sizeof a);
    memset(b, 0, sizeof b);
    for (int i = 0; i < UNKNOWN; ++i)
        a[i * UNKNOWN + i] = i < 4 ? 2 : 1.5;
    b[3] = 2 * -6;
    for (int i = 4; i + 2 < UNKNOWN; ++i) {
        const double bend[3] = {1, -2, 1};
        for (int x = 0; x < 3; ++x)
            for (int y = 0; y < 3; ++y)
                a[(i + x) * UNKNOWN + i + y] += 5 * bend[x] * bend[y];
    }
    for (int p = 0; p < pieces; ++p) {
        double rest[PARTIALS_MOST], weight[PARTIALS_MOST], mean;
        residuals(m, &h[p], rest, weight, &mean);
        for (int k = 0; k < h[p].n && h[p].n > 1; ++k) {
            double row[UNKNOWN] = {0};
            row[3] = log2(h[p].middle[k] / 500);
            row[4 + h[p].bin[k]] = 1;
            if (h[p].number[k] < 3)
                row[h[p].number[k]] = 1;
            for (int i = 0; i < UNKNOWN; ++i) {
                b[i] += weight[k] * row[i] * (h[p].level[k] - h[p].vowel[k] - mean);
                for (int j = 0; j < UNKNOWN && row[i] != 0; ++j)
                    a[i * UNKNOWN + j] += weight[k] * row[i] * row[j];
            }
        }
    }
    solve(UNKNOWN, a, b);
    memcpy(m->source, b, sizeof m->source);
    memcpy(m->fixed, b + 4, sizeof m->fixed);
}

static FixedCurve what_is_left(const FixedModel *m, const Harmonics *h, int pieces)
{
    FixedCurve c = {.misfit = 0};
    double squares = 0, count = 0;
    for (int p = 0; p < pieces; ++p) {
        double rest[PARTIALS_MOST], weight[PARTIALS_MOST], mean;
        residuals(m, &h[p], rest, weight, &mean);
        for (int k = 0; k < h[p].n && h[p].n > 1; ++k) {
            c.level[h[p].bin[k]] += weight[k] * (rest[k] + m->fixed[h[p].bin[k]]);
            c.weight[h[p].bin[k]] += weight[k];
            squares += rest[k] * rest[k];
            count += 1;
        }
    }
    for (int b = 0; b < CURVE_BINS; ++b)
        c.level[b] = c.weight[b] > 0 ? c.level[b] / c.weight[b] : 0;
    c.misfit = sqrt(squares / fmax(count, 1));
    return c;
}

FixedCurve plain_fit(const ResonancePiece *piece, uint32_t first, uint32_t end, VowelKind kind, uint32_t passes,
                     FixedModel *model)
{
    const int pieces = (int)(end - first);
    Harmonics *const h = calloc((size_t)pieces, sizeof *h);
    for (int p = 0; p < pieces; ++p)
        h[p] = harmonics_of(&piece[first + (uint32_t)p]);
    for (uint32_t pass = 0; pass < passes; ++pass) {
        double sung[VOWELS] = {0};
        for (int p = 0; p < pieces; ++p)
            if (h[p].n > 1)
                take_for_vowel(model, kind, &h[p], sung);
        learn_shares(model, sung);
        settle(model, h, pieces);
        settle(model, h, pieces);
    }
    const FixedCurve c = what_is_left(model, h, pieces);
    free(h);
    return c;
}

/* ---- Bells ---- */

static double per_db(double hz, double centre, double q)
{
    const double x = hz / centre - centre / hz, gain = pow(10, 6.0 / 40);
    return 10.0 / 6 * log10((x * x + gain * gain / (q * q)) / (x * x + 1 / (gain * gain * q * q)));
}

typedef struct {
    int n, bin[CURVE_BINS];
    double left[CURVE_BINS], cov[CURVE_BINS * CURVE_BINS];
} Expected;

static Expected expected_of(const FixedCurve *c)
{
    Expected e = {0};
    const Recordings r = recordings_like(c->misfit);
    for (int b = 0; b < CURVE_BINS; ++b)
        if (c->weight[b] > 4) {
            e.left[e.n] = c->level[b] - recordings_mean(&r, (uint32_t)b);
            e.bin[e.n++] = b;
        }
    for (int i = 0; i < e.n; ++i)
        for (int j = 0; j < e.n; ++j)
            e.cov[i * e.n + j] = recordings_covariance(&r, (uint32_t)e.bin[i], (uint32_t)e.bin[j]) +
                                 (i == j ? recordings_noise(&r, (uint32_t)e.bin[i], c->weight[e.bin[i]]) : 0);
    return e;
}

/* t' C^-1 t and t' C^-1 y. */
static void products(const Expected *e, const double *t, double *square, double *product)
{
    static double a[CURVE_BINS * CURVE_BINS];
    double x[CURVE_BINS];
    memcpy(a, e->cov, sizeof a);
    memcpy(x, t, sizeof x);
    solve(e->n, a, x);
    *square = *product = 0;
    for (int i = 0; i < e->n; ++i) {
        *square += x[i] * t[i];
        *product += x[i] * e->left[i];
    }
}

typedef struct {
    double hz, q, likely, height, doubt; /* likely: against none */
} Try;

static Try try_one(const Expected *e, double hz, double q)
{
    double t[CURVE_BINS] = {0}, s, p;
    for (int i = 0; i < e->n; ++i)
        t[i] = per_db(bin_middle(e->bin[i]), hz, q);
    products(e, t, &s, &p);
    const double firm = s + 0.25, sum = p + 6.5 * 0.25;
    return (Try){hz, q, exp(0.5 * (sum * sum / firm - 6.5 * 6.5 * 0.25) + 0.5 * log(0.25 / firm)), sum / firm,
                 1 / firm};
}

static bool heard_across(const FixedCurve *c, double hz)
{
    double sum = 0;
    for (int b = 0; b < CURVE_BINS; ++b)
        if (fabs(bin_middle(b) / hz - hz / bin_middle(b)) * 3 <= 1)
            sum += c->weight[b];
    return sum >= 6;
}

typedef struct {
    Try try[BELLS_PLACES][4];
    double like[BELLS_PLACES];
} Tries;

static void try_all(Tries *t, const Expected *e, const bool closed[BELLS_PLACES])
{
    for (int p = 0; p < BELLS_PLACES; ++p) {
        t->like[p] = 0;
        for (int w = 0; w < 4 && !closed[p]; ++w) {
            t->try[p][w] = try_one(e, 160 * pow(2, p / 24.0), 2 * pow(2, w / 2.0));
            t->like[p] += t->try[p][w].likely / 4;
        }
    }
}

/* The middle of the likeliest stretch of nine places, and its sum; -1: all are closed. */
static int likeliest(const Tries *t, const bool closed[BELLS_PLACES], double *most)
{
    int best = -1;
    *most = 0;
    for (int p = 0; p < BELLS_PLACES; ++p) {
        double sum = 0;
        for (int k = -4; k <= 4; ++k)
            sum += p + k >= 0 && p + k < BELLS_PLACES ? t->like[p + k] : 0;
        if (closed[p] || sum <= *most)
            continue;
        *most = sum;
        best = p;
    }
    return best;
}

static Bell mean_of(const Tries *t, const bool closed[BELLS_PLACES], int best, double most, double *doubt)
{
    double octave = 0, height = 0;
    Try top = {.likely = -1};
    for (int p = best > 4 ? best - 4 : 0; p <= best + 4 && p < BELLS_PLACES; ++p)
        for (int w = 0; w < 4 && !closed[p]; ++w) {
            const Try *const one = &t->try[p][w];
            octave += one->likely / (4 * most) * log2(one->hz);
            height += one->likely / (4 * most) * one->height;
            top = one->likely > top.likely ? *one : top;
        }
    *doubt = top.doubt;
    return (Bell){pow(2, octave), height, top.q, log(most / 9)};
}

static void take_out(Expected *e, const Bell *bell, double doubt)
{
    for (int i = 0; i < e->n; ++i) {
        const double t = per_db(bin_middle(e->bin[i]), bell->hz, bell->q);
        e->left[i] -= bell->height * t;
        for (int j = 0; j < e->n; ++j)
            e->cov[i * e->n + j] += doubt * t * per_db(bin_middle(e->bin[j]), bell->hz, bell->q);
    }
}

Bells plain_bells(const FixedCurve *curve, uint32_t wanted)
{
    static Tries t;
    Expected e = expected_of(curve);
    Bells found = {0};
    bool closed[BELLS_PLACES];
    for (int p = 0; p < BELLS_PLACES; ++p)
        closed[p] = !heard_across(curve, 160 * pow(2, p / 24.0));
    while (e.n && found.count < wanted) {
        double most, doubt;
        try_all(&t, &e, closed);
        const int best = likeliest(&t, closed, &most);
        if (best < 0)
            break;
        const Bell bell = mean_of(&t, closed, best, most, &doubt);
        found.at[found.count++] = bell;
        for (int p = 0; p < BELLS_PLACES; ++p)
            closed[p] = closed[p] || fabs(log2(160 * pow(2, p / 24.0) / bell.hz)) < 0.33;
        take_out(&e, &bell, doubt);
    }
    return found;
}
