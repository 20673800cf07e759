#include "align.h"

#include <math.h>
#include <stdlib.h>

/* Prices, ours. */
#define ALONE    1.0  /* bits, of a phrase without a counterpart */
#define SPLIT    1.0  /* bits, of two phrases against one */
#define JOINS    0.6  /* s: two phrases are one where no more lies between them */
#define SAME     0.3  /* s, and octaves of length: as near two phrases lie that vote for a shift */
#define SHORTEST 0.05 /* s: no phrase is shorter */

#define FEW    8.0 /* pairs that the usual distance of two phrases weighs as much as */
#define ENOUGH 2.1 /* bits a phrase, of takes of one song; where all together tell less, */
#define PART   0.7 /* of what the same phrase usually has */

/* How far apart two phrases lie in something: on average where they are the same phrase of a song, and where they are
 * not; in how many parts that do not hang together; and how often it tells nothing of the same phrase. From memory. */
typedef struct {
    double same, other, parts, doubt;
} Trait;

typedef enum { BEGINS, LENGTHS, NOTES, LEVELS, TRAITS } TraitKind;

static const Trait usual[TRAITS] = {
    [BEGINS] = {0.15, 2.0, 1.0, 0.5}, /* s, against what the last pair did: a rest may have any length */
    [LENGTHS] = {0.1, 0.9, 1.0, 0.1}, /* octaves */
    [NOTES] = {0.6, 3.5, 2.0, 0.2},   /* semitones: a take may be sung in another key */
    [LEVELS] = {2.0, 4.0, 2.0, 0.2},  /* dB */
};

enum { VOTERS = 64, MOVES = 5, LEAST_PARTS = 3 };

typedef struct {
    uint32_t a, b; /* phrases of either side that go with it */
} Move;

static const Move moves[MOVES] = {{1, 1}, {1, 0}, {0, 1}, {2, 1}, {1, 2}};

/* The best way to come here. */
typedef struct {
    double sum, shift; /* bits; shift: s, of the last pair */
    double pair;       /* bits that speak for that pair; 0: the last move was none */
    Move move;
} Cell;

typedef struct {
    const AlignPhrase *a, *b;
    size_t n, m;
    Cell *cell; /* (n + 1) times (m + 1) */
    Trait trait[TRAITS];
    double needed; /* bits a phrase */
} Table;

static Cell *cell(const Table *t, size_t i, size_t j)
{
    return &t->cell[i * (t->m + 1) + j];
}

/* ---- How much earlier or later the second begins ---- */

static double octaves_apart(PhrasingSpan x, PhrasingSpan y)
{
    return fabs(log2(fmax(x.to - x.from, SHORTEST) / fmax(y.to - y.from, SHORTEST)));
}

static uint32_t votes(const Table *t, size_t n, size_t m, double shift)
{
    uint32_t found = 0;
    for (size_t i = 0; i < n; ++i)
        for (size_t j = 0; j < m; ++j)
            found += fabs(t->b[j].span.from - t->a[i].span.from - shift) < SAME &&
                     octaves_apart(t->a[i].span, t->b[j].span) < SAME;
    return found;
}

/* What most pairs agree on; of equal ones the smallest. */
static double find_shift(const Table *t)
{
    const size_t n = t->n < VOTERS ? t->n : VOTERS, m = t->m < VOTERS ? t->m : VOTERS;
    double best = 0.0;
    uint32_t most = votes(t, n, m, best);
    for (size_t i = 0; i < n; ++i)
        for (size_t j = 0; j < m; ++j) {
            const double shift = t->b[j].span.from - t->a[i].span.from;
            const uint32_t found = votes(t, n, m, shift);
            if (found < most || (found == most && fabs(shift) >= fabs(best)))
                continue;
            most = found;
            best = shift;
        }
    return best;
}

/* ---- Is it the same phrase? ---- */

/* Bits that a distance says for it: in either case distances are distributed exponentially. */
static double bits(Trait t, double apart)
{
    const double odds = t.other / t.same * exp(apart / t.other - apart / t.same);
    return log2((1.0 - t.doubt) * pow(odds, t.parts) + t.doubt);
}

/* One or two phrases that stand as one. */
typedef struct {
    const AlignPhrase *phrase;
    uint32_t count;
} Side;

static PhrasingSpan whole(Side s)
{
    return (PhrasingSpan){s.phrase[0].span.from, s.phrase[s.count - 1].span.to};
}

/* Of phrases that stand as one, as many parts as of one. */
static PhrasingShape whole_shape(Side s)
{
    PhrasingShape all;
    const PhrasingSpan span = whole(s);
    for (uint32_t k = 0; k < PHRASING_PARTS; ++k) {
        const double at = span.from + (k + 0.5) / PHRASING_PARTS * (span.to - span.from);
        const AlignPhrase *p = &s.phrase[s.count > 1 && at >= s.phrase[1].span.from];
        const double part = PHRASING_PARTS * (at - p->span.from) / fmax(p->span.to - p->span.from, SHORTEST);
        const uint32_t from = (uint32_t)fmin(part, PHRASING_PARTS - 1);
        all.note[k] = p->shape.note[from];
        all.level[k] = p->shape.level[from];
    }
    return all;
}

/* Mean distance of the parts that are known of both; negative: too few are. */
static double parts_apart(const float *x, const float *y)
{
    double sum = 0.0;
    uint32_t known = 0;
    for (uint32_t k = 0; k < PHRASING_PARTS; ++k) {
        if (x[k] >= (float)PHRASING_UNKNOWN || y[k] >= (float)PHRASING_UNKNOWN)
            continue;
        sum += fabs((double)(x[k] - y[k]));
        ++known;
    }
    return known >= LEAST_PARTS ? sum / known : -1.0;
}

static void find_apart(double apart[TRAITS], Side a, Side b, double shift)
{
    const PhrasingSpan x = whole(a), y = whole(b);
    const PhrasingShape p = whole_shape(a), q = whole_shape(b);
    apart[BEGINS] = fabs(y.from - x.from - shift);
    apart[LENGTHS] = octaves_apart(x, y);
    apart[NOTES] = parts_apart(p.note, q.note);
    apart[LEVELS] = parts_apart(p.level, q.level);
}

static double pair_bits(const Table *t, Side a, Side b, double shift)
{
    double apart[TRAITS], sum = 0.0;
    find_apart(apart, a, b, shift);
    for (TraitKind k = 0; k < TRAITS; ++k)
        sum += apart[k] < 0.0 ? 0.0 : bits(t->trait[k], apart[k]);
    return sum;
}

/* In a song whose phrases are all as long as each other, length tells nothing: two phrases that are not the same lie as
 * far apart as any two of these takes. */
static void find_traits(Table *t)
{
    double apart[TRAITS], sum[TRAITS] = {0.0}, pairs[TRAITS] = {0.0};
    for (size_t i = 1; i < t->n; ++i)
        for (size_t j = 1; j < t->m; ++j) {
            const double shift = t->b[j - 1].span.from - t->a[i - 1].span.from;
            find_apart(apart, (Side){t->a + i, 1}, (Side){t->b + j, 1}, shift);
            for (TraitKind k = 0; k < TRAITS; ++k) {
                sum[k] += fmin(fmax(apart[k], 0.0), 2.0 * usual[k].other);
                pairs[k] += apart[k] >= 0.0;
            }
        }
    double due = 0.0;
    for (TraitKind k = 0; k < TRAITS; ++k) {
        t->trait[k] = usual[k];
        t->trait[k].other = fmax((FEW * usual[k].other + sum[k]) / (FEW + pairs[k]), usual[k].same);
        due += k < NOTES || pairs[k] > 0.0 ? bits(t->trait[k], usual[k].same) : 0.0;
    }
    t->needed = fmin(ENOUGH, PART * due);
}

/* ---- The programme ---- */

static bool can_join(Side s)
{
    return s.count < 2 || s.phrase[1].span.from - s.phrase[0].span.to <= JOINS;
}

/* Bits, from a cell; or none at all. */
static double gain(const Table *t, size_t i, size_t j, Move move)
{
    const Side a = {t->a + i, move.a}, b = {t->b + j, move.b};
    if (!move.a || !move.b)
        return -ALONE;
    if (!can_join(a) || !can_join(b))
        return -HUGE_VAL;
    return pair_bits(t, a, b, cell(t, i, j)->shift) - SPLIT * (move.a + move.b - 2);
}

static void try_move(const Table *t, size_t i, size_t j, Move move)
{
    if (i + move.a > t->n || j + move.b > t->m)
        return;
    const Cell *from = cell(t, i, j);
    Cell *to = cell(t, i + move.a, j + move.b);
    const bool pair = move.a && move.b;
    const double won = gain(t, i, j, move);
    if (!(from->sum + won > to->sum))
        return;
    *to = (Cell){.sum = from->sum + won,
                 .shift = pair ? t->b[j].span.from - t->a[i].span.from : from->shift,
                 .pair = pair ? won : 0.0,
                 .move = move};
}

static void find_ways(Table *t)
{
    for (size_t k = 0; k < (t->n + 1) * (t->m + 1); ++k)
        t->cell[k] = (Cell){.sum = -HUGE_VAL};
    find_traits(t);
    *t->cell = (Cell){.shift = find_shift(t)};
    for (size_t i = 0; i <= t->n; ++i)
        for (size_t j = 0; j <= t->m; ++j)
            for (uint32_t k = 0; k < MOVES; ++k)
                try_move(t, i, j, moves[k]);
}

/* ---- Rows ---- */

bool align_start(Align *a, uint32_t takes)
{
    *a = (Align){.room = takes};
    return takes > 0;
}

void align_free(Align *a)
{
    free(a->phrase);
    free(a->part);
    *a = (Align){0};
}

/* What two rows have of a take becomes what one has. */
static AlignPart join(AlignPart x, AlignPart y)
{
    return x.count ? (AlignPart){x.first, x.count + y.count} : y;
}

/* A phrase that the rows have not, by the first take's clock. */
static AlignPhrase moved(const AlignPhrase *b, double shift)
{
    return (AlignPhrase){{b->span.from - shift, b->span.to - shift}, b->shape};
}

/* Puts a row together from what a move takes of either side. */
static void add_row(Align *to, const Align *from, size_t i, size_t j, const AlignPhrase *b, double shift, Move move)
{
    AlignPart *part = &to->part[to->rows * to->room];
    const Side rows = {from->phrase + i, move.a};
    to->phrase[to->rows++] = move.a ? (AlignPhrase){whole(rows), whole_shape(rows)} : moved(b + j, shift);
    for (uint32_t take = 0; take < from->takes; ++take) {
        part[take] = move.a ? align_part(from, i, take) : (AlignPart){0};
        if (move.a > 1)
            part[take] = join(part[take], align_part(from, i + 1, take));
    }
    part[from->takes] = (AlignPart){j, move.b};
}

/* The way through the table, from its end to its start. Returns how many moves. */
static size_t trace_back(const Table *t, Move *way)
{
    size_t used = 0;
    for (size_t i = t->n, j = t->m; i || j;) {
        const Move move = cell(t, i, j)->move;
        way[used++] = move;
        i -= move.a;
        j -= move.b;
    }
    return used;
}

/* Every phrase alone: the rows there are, then those of the take. Returns how many moves. */
static size_t go_apart(const Table *t, Move *way)
{
    for (size_t k = 0; k < t->n + t->m; ++k)
        way[k] = k < t->m ? (Move){0, 1} : (Move){1, 0};
    return t->n + t->m;
}

static void follow(const Table *t, const Align *from, Align *to, const Move *way, size_t used)
{
    double sum = 0.0;
    for (size_t i = 0, j = 0, k = used; k--; i += way[k].a, j += way[k].b) {
        const Cell *end = cell(t, i + way[k].a, j + way[k].b);
        add_row(to, from, i, j, t->b, end->shift, way[k]);
        sum += fmax(end->pair, 0.0);
        to->close += end->pair >= t->needed ? way[k].b : 0;
    }
    const size_t fewer = t->n < t->m ? t->n : t->m;
    to->alike = fewer ? sum / (double)fewer / t->needed : 0.0;
}

/* What the rows become with the take, or that it is none of theirs. */
static void settle(Align *a, Align *more, bool any)
{
    if (any || more->alike >= ALIGN_ALIKE) {
        align_free(a);
        *a = *more;
        return;
    }
    a->alike = more->alike;
    a->close = more->close;
    align_free(more);
}

typedef enum { ADD, TRY, APART } How;

static bool add(Align *a, const AlignPhrase *phrase, size_t n, How how)
{
    const size_t most = a->rows + n + 1;
    Table t = {a->phrase, phrase,           a->rows,
               n,         .needed = ENOUGH, .cell = calloc((a->rows + 1) * (n + 1), sizeof *t.cell)};
    Move *way = calloc(most, sizeof *way);
    Align more = {.takes = a->takes + 1, .room = a->room};
    more.phrase = malloc(most * sizeof *more.phrase);
    more.part = calloc(most * a->room, sizeof *more.part);
    const bool ok = t.cell && way && more.phrase && more.part && a->takes < a->room;
    if (ok) {
        if (how != APART)
            find_ways(&t);
        follow(&t, a, &more, way, how == APART ? go_apart(&t, way) : trace_back(&t, way));
        settle(a, &more, how != TRY);
    } else {
        align_free(&more);
    }
    free(t.cell);
    free(way);
    return ok;
}

bool align_add(Align *a, const AlignPhrase *phrase, size_t n)
{
    return add(a, phrase, n, ADD);
}

bool align_try(Align *a, const AlignPhrase *phrase, size_t n)
{
    return add(a, phrase, n, TRY);
}

bool align_append(Align *a, const AlignPhrase *phrase, size_t n)
{
    return add(a, phrase, n, APART);
}
