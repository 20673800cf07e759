#include "align.h"

#include <math.h>
#include <stdlib.h>

/* Prices: ours. A pair that begins a second off, or is twice as long, costs 1. */
#define ALONE    0.75 /* a phrase without a counterpart; a pair never costs more than two of them */
#define SPLIT    0.1  /* two phrases against one */
#define JOINS    0.6  /* s: two phrases are one where no more lies between them */
#define CLOSE    0.5  /* a pair that costs less is close */
#define SAME     0.3  /* s, and octaves of length: as near two phrases lie that vote for a shift */
#define SHORTEST 0.05 /* s: no phrase is shorter */

enum { VOTERS = 64, MOVES = 5 };

typedef struct {
    uint32_t a, b; /* phrases of either side that go with it */
} Move;

static const Move moves[MOVES] = {{1, 1}, {1, 0}, {0, 1}, {2, 1}, {1, 2}};

/* The best way to come here. */
typedef struct {
    double cost, shift; /* shift: s, of the last pair */
    double pair;        /* what that pair cost; negative: the last move was none */
    Move move;
} Cell;

typedef struct {
    const PhrasingSpan *a, *b;
    size_t n, m;
    Cell *cell; /* (n + 1) times (m + 1) */
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
            found += fabs(t->b[j].from - t->a[i].from - shift) < SAME && octaves_apart(t->a[i], t->b[j]) < SAME;
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
            const double shift = t->b[j].from - t->a[i].from;
            const uint32_t found = votes(t, n, m, shift);
            if (found < most || (found == most && fabs(shift) >= fabs(best)))
                continue;
            most = found;
            best = shift;
        }
    return best;
}

/* ---- The programme ---- */

static bool can_join(const PhrasingSpan *span, uint32_t count)
{
    return count < 2 || span[1].from - span[0].to <= JOINS;
}

/* From a cell, or infinite. */
static double price(const Table *t, size_t i, size_t j, Move move)
{
    const PhrasingSpan *a = t->a + i, *b = t->b + j;
    if (!move.a || !move.b)
        return ALONE;
    if (!can_join(a, move.a) || !can_join(b, move.b))
        return HUGE_VAL;
    const PhrasingSpan x = {a->from, a[move.a - 1].to}, y = {b->from, b[move.b - 1].to};
    const double off = fabs(y.from - x.from - cell(t, i, j)->shift) + octaves_apart(x, y);
    return fmin(off, 2.0 * ALONE) + SPLIT * (move.a + move.b - 2);
}

static void try_move(const Table *t, size_t i, size_t j, Move move)
{
    if (i + move.a > t->n || j + move.b > t->m)
        return;
    const Cell *from = cell(t, i, j);
    Cell *to = cell(t, i + move.a, j + move.b);
    const bool pair = move.a && move.b;
    const double cost = price(t, i, j, move);
    if (from->cost + cost >= to->cost)
        return;
    *to = (Cell){.cost = from->cost + cost,
                 .shift = pair ? t->b[j].from - t->a[i].from : from->shift,
                 .pair = pair ? cost : -1.0,
                 .move = move};
}

static void find_ways(const Table *t)
{
    for (size_t k = 0; k < (t->n + 1) * (t->m + 1); ++k)
        t->cell[k] = (Cell){.cost = HUGE_VAL};
    *t->cell = (Cell){.shift = find_shift(t)};
    for (size_t i = 0; i <= t->n; ++i)
        for (size_t j = 0; j <= t->m; ++j)
            for (uint32_t k = 0; k < MOVES; ++k)
                try_move(t, i, j, moves[k]);
}

/* ---- Rows ---- */

bool align_start(Align *a, uint32_t takes)
{
    *a = (Align){.room = takes, .alike = 1.0};
    return takes > 0;
}

void align_free(Align *a)
{
    free(a->span);
    free(a->part);
    *a = (Align){0};
}

/* What two rows have of a take becomes what one has. */
static AlignPart join(AlignPart x, AlignPart y)
{
    return x.count ? (AlignPart){x.first, x.count + y.count} : y;
}

/* Puts a row together from what a move takes of either side. */
static void add_row(Align *to, const Align *from, size_t i, size_t j, const PhrasingSpan *b, double shift, Move move)
{
    AlignPart *part = &to->part[to->rows * to->room];
    PhrasingSpan *span = &to->span[to->rows++];
    *span = (PhrasingSpan){b->from - shift, b->to - shift};
    if (move.a)
        *span = (PhrasingSpan){from->span[i].from, from->span[i + move.a - 1].to};
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

static void follow(const Table *t, const Align *from, Align *to, const Move *way, size_t used)
{
    static const PhrasingSpan none = {0.0, 0.0};
    double near = 0.0;
    for (size_t i = 0, j = 0, k = used; k--; i += way[k].a, j += way[k].b) {
        const Cell *end = cell(t, i + way[k].a, j + way[k].b);
        add_row(to, from, i, j, way[k].b ? &t->b[j] : &none, end->shift, way[k]);
        if (end->pair >= 0.0 && end->pair < CLOSE)
            near += way[k].a < way[k].b ? way[k].b : way[k].a;
    }
    const size_t fewer = t->n < t->m ? t->n : t->m;
    to->alike = from->takes && fewer ? fmin(near / (double)fewer, 1.0) : from->takes ? 0.0 : 1.0;
}

bool align_add(Align *a, const PhrasingSpan *span, size_t n)
{
    const size_t most = a->rows + n + 1;
    Table t = {a->span, span, a->rows, n, malloc((a->rows + 1) * (n + 1) * sizeof *t.cell)};
    Move *way = malloc(most * sizeof *way);
    Align more = {.takes = a->takes + 1, .room = a->room};
    more.span = malloc(most * sizeof *more.span);
    more.part = calloc(most * a->room, sizeof *more.part);
    const bool ok = t.cell && way && more.span && more.part && a->takes < a->room;
    if (ok) {
        find_ways(&t);
        follow(&t, a, &more, way, trace_back(&t, way));
        align_free(a);
        *a = more;
    } else {
        align_free(&more);
    }
    free(t.cell);
    free(way);
    return ok;
}
