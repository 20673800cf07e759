/* render --compare: takes of one song, phrase by phrase. From tables of phrases; with the invented singer, whose takes
 * get faults in known phrases; and with a recorded voice. LINCTUS_SEEDS=N adds N to the seeds. */
#include "compare.h"
#include "figure.h"
#include "runs.h"
#include "seeds.h"
#include "spoken.h"

/* ---- Takes from tables ---- */

enum { PHRASES = 80, HOP = 480 };

typedef struct {
    double from, to, level, noise, cents; /* noise: dB, of the rest before and behind it; 0: no rest is heard */
    unsigned pops, clipped;
} Planned;

static PhrasingFrame *frame(Phrasing *p, double seconds)
{
    return &p->frame[(size_t)lrint(seconds * RATE / HOP)];
}

/* Half of what is sung lies over the note, half under it. */
static void plan_phrase(Phrasing *p, const Planned *x)
{
    for (double at = x->from; at < x->to - 0.005; at += 0.01) {
        frame(p, at)->power = (float)db_to_power(x->level);
        frame(p, at)->sung = x->cents > 0.0;
        frame(p, at)->centre = (float)(60.0 + (at < (x->from + x->to) / 2.0 ? 0.01 : -0.01) * x->cents);
    }
    for (double off = 0.05; x->noise < 0.0 && off < 0.3; off += 0.04) {
        frame(p, x->from - off)->quiet = (float)db_to_power(x->noise);
        frame(p, x->to + off)->quiet = (float)db_to_power(x->noise);
    }
    for (unsigned k = 0; k < x->pops; ++k)
        frame(p, x->from - 0.1 + 0.3 * k)->burst = (float)db_to_power(-17.0);
    frame(p, x->from + 0.5)->clipped = x->clipped;
    p->span[p->spans++] = (PhrasingSpan){x->from, x->to};
}

static Phrasing planned(const Planned *phrase, size_t n)
{
    Phrasing p = {.rate = RATE, .voice_level = -18.0, .hearing.hop = HOP};
    p.frames = (uint64_t)((phrase[n - 1].to + 4.0) * RATE / HOP);
    p.frame = calloc(p.frames, sizeof *p.frame);
    p.span = calloc(n, sizeof *p.span);
    assert_true(p.frame && p.span);
    for (size_t k = 0; k < n; ++k)
        plan_phrase(&p, &phrase[k]);
    return p;
}

static void planned_free(Phrasing *p)
{
    free(p->frame);
    free(p->span);
}

/* ---- Figures ---- */

static void figures_are_those_of_the_phrase(void **state)
{
    (void)state;
    const Planned plan[] = {{1.0, 3.0, -18.0, -70.0, 8.0, 0, 0}, {4.0, 5.0, -30.0, -60.0, 40.0, 2, 9}};
    Phrasing p = planned(plan, 2);
    const PhrasingFigures one = phrasing_figures(&p, 0, 1, 0.0), two = phrasing_figures(&p, 1, 1, 0.0),
                          both = phrasing_figures(&p, 0, 2, 0.0), raised = phrasing_figures(&p, 0, 1, 0.2);
    assert_float_equal(one.level, -18.0, 0.01);
    assert_float_equal(one.noise, -52.0, 0.01); /* the rest behind it gets louder: the quietest of it counts */
    assert_float_equal(one.cents, 8.0, 0.01);
    assert_int_equal(one.pops + one.clipped, 0);
    assert_float_equal(two.level, -30.0, 0.01);
    assert_float_equal(two.noise, -40.0, 0.01); /* and here, the -70 dB at its beginning */
    assert_float_equal(two.cents, 40.0, 0.01);
    assert_int_equal(two.pops, 2);
    assert_int_equal(two.clipped, 9);
    assert_int_equal(both.pops, 2);
    assert_float_equal(raised.cents, 20.0, 0.01);
    p.voice_level = -16.0;
    assert_int_equal(phrasing_figures(&p, 1, 1, 0.0).pops, 0);
    planned_free(&p);
}

static void what_is_not_heard_is_not_known(void **state)
{
    (void)state;
    const Planned plan = {1.0, 1.3, -18.0, 0.0, 8.0, 0, 0};
    Phrasing p = planned(&plan, 1);
    const PhrasingFigures f = phrasing_figures(&p, 0, 1, 0.0);
    assert_true(f.noise >= PHRASING_UNKNOWN);
    assert_true(f.cents >= PHRASING_UNKNOWN); /* 0.3 s of it */
    char text[32];
    compare_figure(&f, COMPARE_NOISE, text);
    assert_string_equal(text, "-");
    assert_true(compare_points(&f, COMPARE_NOISE) == 0.0 && compare_points(&f, COMPARE_TUNING) == 0.0);
    planned_free(&p);
}

static void points_begin_at_the_limits(void **state)
{
    (void)state;
    const PhrasingFigures fine = {-24.0, -60.0, 10.0, 0, 3}, loud = {-9.0, -45.0, 35.0, 2, 4},
                          quiet = {-30.0, -70.0, 0.0, 0, 0};
    for (CompareKind k = 0; k < COMPARE_KINDS; ++k)
        assert_true(compare_points(&fine, k) == 0.0);
    assert_float_equal(compare_points(&loud, COMPARE_LEVEL), 1.0, 1e-9);
    assert_float_equal(compare_points(&loud, COMPARE_NOISE), 3.0, 1e-9);
    assert_float_equal(compare_points(&loud, COMPARE_TUNING), 2.5, 1e-9);
    assert_float_equal(compare_points(&loud, COMPARE_POPS), 2.0, 1e-9);
    assert_float_equal(compare_points(&loud, COMPARE_CLIPPING), 104.0, 1e-9);
    assert_float_equal(compare_points(&quiet, COMPARE_LEVEL), 1.0, 1e-9);
}

/* ---- Words ---- */

typedef struct {
    Compare compare;
    Phrasing phrasing[3];
    CompareTake take[3];
    uint32_t takes;
} Compared;

static void compare_plans(Compared *c, const Planned (*plan)[4], const size_t *n, uint32_t takes, bool sung)
{
    static const char *const name[] = {"a.wav", "b.wav", "c.wav"};
    Error e;
    c->takes = takes;
    for (uint32_t t = 0; t < takes; ++t) {
        c->phrasing[t] = planned(plan[t], n[t]);
        c->take[t] = (CompareTake){name[t], &c->phrasing[t], sung};
    }
    assert_true(compare_make(&c->compare, c->take, takes, &e));
}

static void compared_free(Compared *c)
{
    compare_free(&c->compare);
    for (uint32_t t = 0; t < c->takes; ++t)
        planned_free(&c->phrasing[t]);
}

static void expect_why(const Compared *c, size_t row, const char *text)
{
    char why[COMPARE_TEXT];
    compare_why(&c->compare, row, why);
    assert_string_equal(why, text);
}

static void the_cleanest_is_told_with_why(void **state)
{
    (void)state;
    static const Planned plan[3][4] = {{{1.0, 3.0, -18.0, -78.0, 5.0, 0, 0},
                                        {8.0, 10.0, -18.0, -78.0, 5.0, 1, 0},
                                        {15.0, 17.5, -18.0, -78.0, 5.0, 0, 0},
                                        {22.0, 24.0, -27.0, -87.0, 5.0, 0, 0}},
                                       {{1.0, 3.0, -18.0, -60.0, 5.0, 0, 0},
                                        {8.0, 10.0, -18.0, -78.0, 5.0, 0, 0},
                                        {15.0, 17.5, -18.0, -78.0, 5.0, 0, 20},
                                        {22.0, 24.0, -10.0, -70.0, 5.0, 0, 0}},
                                       {{1.0, 3.0, -18.0, -78.0, 45.0, 0, 0},
                                        {8.0, 10.0, -18.0, -78.0, 5.0, 3, 0},
                                        {22.0, 24.0, -18.0, -78.0, 5.0, 0, 0},
                                        {0.0, 0.0, 0.0, 0.0, 0.0, 0, 0}}};
    Compared c = {0};
    char text[COMPARE_TEXT];
    compare_plans(&c, plan, (const size_t[]){4, 4, 3}, 3, true);
    assert_int_equal(c.compare.align.rows, 4);
    expect_why(&c, 0, "cleanest: a.wav; b.wav has 18 dB more noise; held notes of c.wav lie 45 cents off, not 5");
    expect_why(&c, 1, "cleanest: b.wav; a.wav pops; c.wav pops 3 times");
    expect_why(&c, 2, "cleanest: a.wav; b.wav clips; not in c.wav");
    expect_why(&c, 3, "cleanest: c.wav; a.wav is too quiet, by 3.0 dB; b.wav is too loud, by 2.0 dB");
    compare_summary(&c.compare, text);
    assert_string_equal(text, "a.wav has most of the cleanest phrases, of 4: a.wav 2, b.wav 1, c.wav 1. That "
                              "is about the recording; who sang it best, only ears tell.");
    compared_free(&c);
}

static void takes_that_are_alike_win_nothing(void **state)
{
    (void)state;
    static const Planned plan[3][4] = {{{1.0, 3.0, -18.0, -66.0, 5.0, 0, 0}, {8.0, 10.0, -18.0, -66.0, 5.0, 0, 0}},
                                       {{1.0, 3.0, -18.0, -64.0, 5.0, 0, 0}, {8.0, 10.0, -18.0, -64.0, 5.0, 0, 0}},
                                       {{1.0, 3.0, -18.0, -50.0, 5.0, 0, 0}, {8.0, 10.0, -18.0, 0.0, 5.0, 0, 0}}};
    Compared c = {0};
    char text[COMPARE_TEXT];
    compare_plans(&c, plan, (const size_t[]){2, 2, 2}, 3, true);
    expect_why(&c, 0, "as clean as each other: a.wav and b.wav; c.wav has 16 dB more noise");
    expect_why(&c, 1, "as clean as each other: a.wav, b.wav and c.wav"); /* no noise is known of c.wav */
    compare_summary(&c.compare, text);
    assert_non_null(strstr(text, "No take is cleaner than all others, in any of 2 phrases. That is about"));
    compare_wins(&c.compare, 1, text);
    assert_string_equal(text, "b.wav: in none of 2 phrases cleaner than all others");
    compared_free(&c);
}

/* Speech has no tuning, and neither has a comparison with it. */
static void tuning_counts_where_all_sing(void **state)
{
    (void)state;
    static const Planned plan[2][4] = {{{1.0, 3.0, -18.0, -78.0, 5.0, 0, 0}}, {{1.0, 3.0, -18.0, -78.0, 40.0, 0, 0}}};
    Compared c = {0};
    compare_plans(&c, plan, (const size_t[]){1, 1}, 2, false);
    expect_why(&c, 0, "as clean as each other: a.wav and b.wav");
    compared_free(&c);
    compare_plans(&c, plan, (const size_t[]){1, 1}, 2, true);
    expect_why(&c, 0, "cleanest: a.wav; held notes of b.wav lie 40 cents off, not 5");
    compared_free(&c);
}

/* Though one phrase is the same, the rows of strangers are of one take each, by its own clock. */
static void strangers_share_no_row(void **state)
{
    (void)state;
    static const Planned plan[2][4] = {{{1.0, 2.0, -18.0, -78.0, 0.0, 0, 0},
                                        {5.0, 9.0, -18.0, -78.0, 0.0, 0, 0},
                                        {12.0, 12.6, -18.0, -78.0, 0.0, 0, 0},
                                        {20.0, 28.0, -18.0, -78.0, 0.0, 0, 0}},
                                       {{3.0, 4.0, -18.0, -58.0, 0.0, 0, 0},
                                        {4.5, 5.0, -18.0, -78.0, 0.0, 0, 0},
                                        {9.0, 11.0, -18.0, -78.0, 0.0, 0, 0},
                                        {17.0, 18.8, -18.0, -78.0, 0.0, 0, 0}}};
    Compared c = {0};
    char text[COMPARE_TEXT];
    compare_plans(&c, plan, (const size_t[]){4, 4}, 2, true);
    compare_summary(&c.compare, text);
    assert_non_null(strstr(text, "b.wav hardly is of the same song as a.wav: only 1 of its 4 phrases is like one"));
    assert_int_equal(c.compare.align.rows, 8);
    assert_int_equal(compare_number(&c.compare, 4, 1), 1);
    assert_float_equal(c.compare.align.phrase[4].span.from, 3.0, 1e-9);
    expect_why(&c, 0, "");
    compared_free(&c);
}

/* One of another song keeps the others from nothing, whichever place it has. */
static void a_stranger_stands_by_itself(void **state)
{
    (void)state;
    static const Planned song[4] = {{1.0, 2.0, -18.0, -78.0, 0.0, 0, 0},
                                    {5.0, 9.0, -18.0, -78.0, 0.0, 0, 0},
                                    {12.0, 12.6, -18.0, -78.0, 0.0, 0, 0},
                                    {20.0, 28.0, -18.0, -78.0, 0.0, 0, 0}};
    static const Planned other[4] = {{3.0, 4.0, -18.0, -58.0, 0.0, 0, 0},
                                     {4.5, 5.0, -18.0, -78.0, 0.0, 0, 0},
                                     {9.0, 11.0, -18.0, -78.0, 0.0, 0, 0},
                                     {17.0, 18.8, -18.0, -78.0, 0.0, 0, 0}};
    for (size_t place = 0; place < 3; ++place) {
        Planned plan[3][4];
        char text[COMPARE_TEXT], told[200];
        Compared c = {0};
        for (size_t t = 0; t < 3; ++t)
            memcpy(plan[t], t == place ? other : song, sizeof song);
        const size_t best = place == 1 ? 0 : 1, noisy = place == 2 ? 0 : 2;
        plan[noisy][1].noise = -48.0;
        compare_plans(&c, (const Planned(*)[4])plan, (const size_t[]){4, 4, 4}, 3, true);
        assert_int_equal(c.compare.together, 2);
        assert_int_equal(c.compare.rows, 4);
        assert_int_equal(c.compare.align.rows, 8);
        snprintf(told, sizeof told, "cleanest: %c.wav; %c.wav has 30 dB more noise", (char)('a' + best),
                 (char)('a' + noisy));
        expect_why(&c, 1, told);
        expect_why(&c, 4, "");
        assert_int_equal(compare_number(&c.compare, 4, (uint32_t)place), 1);
        compare_summary(&c.compare, text);
        snprintf(told, sizeof told, "\n%c.wav hardly is of the same song as the others: ", (char)('a' + place));
        assert_non_null(strstr(text, told));
        assert_non_null(strstr(text, "So it stands by itself. Leave it out; or, "));
        snprintf(told, sizeof told, "%c.wav has most of the cleanest phrases, of 4: ", (char)('a' + best));
        assert_int_equal(strncmp(text, told, strlen(told)), 0);
        compare_wins(&c.compare, (uint32_t)place, text);
        assert_non_null(strstr(text, ".wav: 4 phrases, hardly of the same song"));
        compared_free(&c);
    }
}

/* ---- Aligning ---- */

static bool add_take(Align *align, const PhrasingSpan *span, const PhrasingShape *shape, size_t n)
{
    AlignPhrase phrase[20];
    for (size_t k = 0; k < n; ++k) {
        phrase[k].span = span[k];
        for (uint32_t part = 0; part < PHRASING_PARTS; ++part) {
            phrase[k].shape.note[part] = shape ? shape[k].note[part] : (float)PHRASING_UNKNOWN;
            phrase[k].shape.level[part] = shape ? shape[k].level[part] : (float)PHRASING_UNKNOWN;
        }
    }
    return align_add(align, phrase, n);
}

/* "0:1 1:- -:0 1,2:3": rows, by numbers of the two takes' phrases. */
static void expect_rows(const PhrasingSpan *a, size_t n, const PhrasingSpan *b, size_t m, const char *expected)
{
    Align align;
    char text[400] = "";
    assert_true(align_start(&align, 2) && add_take(&align, a, NULL, n) && add_take(&align, b, NULL, m));
    for (size_t row = 0; row < align.rows; ++row)
        for (uint32_t take = 0; take < 2; ++take) {
            const AlignPart part = align_part(&align, row, take);
            const size_t used = strlen(text);
            snprintf(text + used, sizeof text - used,
                     part.count > 1 ? "%s%zu,%zu"
                     : part.count   ? "%s%zu"
                                    : "%s-",
                     take  ? ":"
                     : row ? " "
                           : "",
                     part.first, part.first + 1);
        }
    assert_string_equal(text, expected);
    align_free(&align);
}

static void phrases_find_their_counterparts(void **state)
{
    (void)state;
    static const PhrasingSpan song[] = {{1, 3}, {3.5, 7}, {8, 9}, {9.5, 13}, {14, 16}};
    static const PhrasingSpan later[] = {{8, 10}, {10.5, 14}, {15, 16}, {16.5, 20}, {21, 23}};
    static const PhrasingSpan slower[] = {{1, 3.2}, {3.9, 7.7}, {8.8, 9.9}, {10.5, 14.4}, {15.5, 17.6}};
    static const PhrasingSpan fewer[] = {{1.1, 3}, {3.4, 7}, {9.6, 13}, {14.1, 16}};
    static const PhrasingSpan more[] = {{0.1, 0.3}, {1, 3}, {3.5, 7}, {8, 9}, {9.5, 13}, {14, 16}, {17, 21}};
    static const PhrasingSpan split[] = {{1, 3}, {3.5, 5}, {5.35, 7}, {8, 9}, {9.5, 13}, {14, 16}};
    expect_rows(song, 5, song, 5, "0:0 1:1 2:2 3:3 4:4");
    expect_rows(song, 5, later, 5, "0:0 1:1 2:2 3:3 4:4");
    expect_rows(song, 5, slower, 5, "0:0 1:1 2:2 3:3 4:4");
    expect_rows(song, 5, fewer, 4, "0:0 1:1 2:- 3:2 4:3");
    expect_rows(fewer, 4, song, 5, "0:0 1:1 -:2 2:3 3:4");
    expect_rows(song, 5, more, 7, "-:0 0:1 1:2 2:3 3:4 4:5 -:6");
    expect_rows(song, 5, split, 6, "0:0 1:1,2 2:3 3:4 4:5");
    expect_rows(split, 6, later, 5, "0:0 1,2:1 3:2 4:3 5:4");
    expect_rows(song, 5, NULL, 0, "0:- 1:- 2:- 3:- 4:-");
    expect_rows(NULL, 0, song, 1, "-:0");
}

/* What the first take has in two pieces and the third in one is one row of all three. */
static void rows_grow_together(void **state)
{
    (void)state;
    static const PhrasingSpan one[] = {{1, 3}, {3.5, 5}, {5.35, 7}}, two[] = {{1, 3}, {3.5, 5}, {5.35, 7}, {8, 10}},
                              three[] = {{3, 5}, {5.5, 9}, {10, 12}};
    Align a;
    assert_true(align_start(&a, 3) && add_take(&a, one, NULL, 3) && add_take(&a, two, NULL, 4) &&
                add_take(&a, three, NULL, 3));
    assert_int_equal(a.rows, 3);
    for (uint32_t take = 0; take < 3; ++take) {
        assert_int_equal(align_part(&a, 1, take).first, 1);
        assert_int_equal(align_part(&a, 1, take).count, take < 2 ? 2 : 1);
        assert_int_equal(align_part(&a, 2, take).count, take > 0);
    }
    assert_float_equal(a.phrase[2].span.from, 8.0, 1e-9); /* by the first take's clock */
    align_free(&a);
}

static uint32_t dice;

static double roll(void)
{
    dice = dice * 1664525u + 1013904223u;
    return (dice >> 8) / 16777216.0;
}

static double bell(void)
{
    double sum = -6.0;
    for (int k = 0; k < 12; ++k)
        sum += roll();
    return sum;
}

enum { TIMES = 200, LENGTH = 8 };

typedef struct {
    PhrasingSpan span[LENGTH];
    PhrasingShape shape[LENGTH];
    size_t phrases;
} Drawn;

/* One singer's notes, 3 semitones round each phrase's middle, of which some are too short to be held. */
static PhrasingShape draw_shape(void)
{
    PhrasingShape s;
    const double middle = 60.0 + 3.0 * bell();
    for (uint32_t k = 0; k < PHRASING_PARTS; ++k) {
        s.note[k] = (float)(roll() < 0.25 ? PHRASING_UNKNOWN : middle + 2.0 * bell());
        s.level[k] = (float)(3.0 * bell());
    }
    return s;
}

/* even: all phrases are as long as each other, nearly, and so are the rests. */
static Drawn draw_song(bool even)
{
    Drawn song = {.phrases = LENGTH};
    double at = 5.0 * roll();
    for (size_t k = 0; k < LENGTH; ++k) {
        const double length = even ? 3.0 + 0.2 * bell() : 0.6 + 4.5 * roll() * roll() + 0.5 * roll();
        song.span[k] = (PhrasingSpan){at, at + length};
        song.shape[k] = draw_shape();
        at = song.span[k].to + (even ? 0.6 + 0.05 * bell() : 0.35 + 1.5 * roll() * roll());
    }
    return song;
}

/* A part in six is heard as its neighbour's note is; levels move by 2 dB. */
static PhrasingShape sing_shape(const PhrasingShape *song)
{
    PhrasingShape s;
    for (uint32_t k = 0; k < PHRASING_PARTS; ++k) {
        const float note = song->note[roll() < 0.17 ? (k + 1) % PHRASING_PARTS : k];
        s.note[k] = note < (float)PHRASING_UNKNOWN ? note + (float)(0.2 * bell()) : note;
        s.level[k] = song->level[k] + (float)(2.0 * bell());
    }
    return s;
}

/* A fifth is left out, beginnings move by 0.1 s, lengths by 7 %, it begins up to 10 s later and each rest is longer by
 * up to so many seconds. */
static Drawn draw_take(const Drawn *song, double longer)
{
    Drawn take = {0};
    double later = 10.0 * roll();
    for (size_t k = 0; k < song->phrases; ++k) {
        const double length = song->span[k].to - song->span[k].from;
        later += longer * roll();
        if (roll() < 0.2)
            continue;
        double from = song->span[k].from + later + 0.1 * bell();
        if (take.phrases)
            from = fmax(from, take.span[take.phrases - 1].to + 0.3);
        take.shape[take.phrases] = sing_shape(&song->shape[k]);
        take.span[take.phrases++] = (PhrasingSpan){from, from + length * exp(0.07 * bell())};
    }
    return take;
}

/* shaped: notes and levels are known. */
static double alike(const Drawn *a, const Drawn *b, bool shaped)
{
    Align align;
    assert_true(align_start(&align, 2) && add_take(&align, a->span, shaped ? a->shape : NULL, a->phrases) &&
                add_take(&align, b->span, shaped ? b->shape : NULL, b->phrases));
    const double share = align.alike;
    align_free(&align);
    return share;
}

/* Of a hundred draws each. */
typedef struct {
    double lost, mixed_up;
} Mistakes;

static Mistakes count_mistakes(bool even, bool shaped, double longer)
{
    Mistakes m = {0};
    for (uint32_t k = 0; k < TIMES; ++k) {
        const Drawn song = draw_song(even), other = draw_song(even), take = draw_take(&song, longer);
        m.lost += take.phrases && alike(&song, &take, shaped) < ALIGN_ALIKE;
        m.mixed_up += alike(&song, &other, shaped) >= ALIGN_ALIKE;
    }
    m.lost *= 100.0 / TIMES;
    m.mixed_up *= 100.0 / TIMES;
    return m;
}

static void songs_are_told_apart(void **state)
{
    (void)state;
    dice = seeded(5);
    Mistakes m = count_mistakes(false, false, 0.0);
    figure_at_most("render", "takes of one song of 8 phrases, a fifth left out, called two songs", m.lost, 2.0, "%",
                   "ours; wide: none or one of 200");
    figure_at_most("render", "two songs of 8 phrases called one", m.mixed_up, 2.0, "%",
                   "ours; wide: none or one of 200");
    m = count_mistakes(false, true, 3.0);
    figure_at_most("render", "such takes with each rest up to 3 s longer, notes and levels known, called two songs",
                   m.lost, 2.0, "%", "ours; wide: none or one of 200");
    figure_at_most("render", "two songs of 8 phrases, notes and levels known, called one", m.mixed_up, 2.0, "%",
                   "ours; wide: none or one of 200");
    m = count_mistakes(true, true, 0.0);
    figure_at_most("render", "takes with phrases all of one length, notes and levels known, called two songs", m.lost,
                   2.0, "%", "ours; wide: none or one of 200");
    figure_at_most("render", "two songs with phrases all of one length, notes and levels known, called one", m.mixed_up,
                   2.0, "%", "ours; wide: none or one of 200");
}

/* ---- The invented singer, with faults in known phrases ---- */

enum { SLOW = 16000, LATER = 20800 /* samples: 1.3 s */ };

static const SingerSpec usual = {.voice = SINGER_MEZZO,
                                 .seed = 21,
                                 .rate = SLOW,
                                 .seconds = 34.0,
                                 .rest_seconds = 0.6,
                                 .vibrato_cents = -1.0,
                                 .hiss_db = -56.0};

/* Sung anew with something changed: the notes and their timing stay. */
static SingerTake sing(const SingerSpec *spec)
{
    SingerTake take;
    assert_true(singer_sing(spec, &take));
    return take;
}

/* Where a phrase lies, in samples, with what is so many seconds before and behind it. */
static uint32_t phrase_from(const SingerTake *t, uint32_t phrase, double before)
{
    return (uint32_t)lrint((t->phrases[phrase].start - before) * SLOW);
}

static uint32_t phrase_to(const SingerTake *t, uint32_t phrase, double behind)
{
    return (uint32_t)lrint((t->phrases[phrase].end + behind) * SLOW);
}

/* A phrase from another take of the same song. */
static void plant_phrase(SingerTake *to, const SingerTake *from, uint32_t phrase)
{
    for (uint32_t k = phrase_from(to, phrase, 0.2); k < phrase_to(to, phrase, 0.2); ++k)
        to->audio[k] = from->audio[k];
}

static void plant_noise(SingerTake *to, uint32_t phrase, double db)
{
    dice = seeded(7);
    for (uint32_t k = phrase_from(to, phrase, 1.2); k < phrase_to(to, phrase, 1.2); ++k)
        to->audio[k] += (float)(db_to_gain(db) * sqrt(12.0) * (roll() - 0.5));
}

static void plant_clipping(SingerTake *to, uint32_t phrase)
{
    for (uint32_t k = phrase_from(to, phrase, 0.0); k < phrase_to(to, phrase, 0.0); ++k)
        to->audio[k] = fminf(fmaxf(4.f * to->audio[k], -1.f), 1.f);
}

static void leave_out(SingerTake *to, uint32_t phrase)
{
    for (uint32_t k = phrase_from(to, phrase, 0.2); k < phrase_to(to, phrase, 0.2); ++k)
        to->audio[k] -= to->voice[k];
}

static void save_song(const Bench *b, const char *name, const SingerTake *t, uint32_t later)
{
    float *x = every_floats(later + t->frames);
    for (uint32_t k = 0; k < later + t->frames; ++k)
        x[k] = k < later ? (float)(1e-4 * (roll() - 0.5)) : t->audio[k - later];
    save(b, name, WAV_FLOAT, SLOW, 1, x, later + t->frames);
    free(x);
}

static uint32_t pops_in(const SingerTake *t, uint32_t phrase)
{
    uint32_t pops = 0;
    for (size_t k = 0; k < t->plosive_count; ++k)
        pops += t->plosives[k].raised_db > 0.0 && t->plosives[k].start > t->phrases[phrase].start - 0.1 &&
                t->plosives[k].start < t->phrases[phrase].end;
    return pops;
}

/* A song of six phrases or more, of which the second has a plosive or more. */
static SingerSpec find_song(SingerTake *popped)
{
    SingerSpec spec = usual;
    for (;; ++spec.seed) {
        SingerSpec popping = spec;
        popping.pops = 1000;
        popping.pop_db = 18.0;
        *popped = sing(&popping);
        if (popped->phrase_count >= 6 && pops_in(popped, 1))
            return spec;
        singer_free(popped);
    }
}

/* Returns how often a pops: a pops in phrase 2 and is noisy in 4; b begins later and clips in 1; c leaves 3 out and is
 * out of tune in 5. */
static uint32_t save_takes(const Bench *b)
{
    SingerTake popped;
    const SingerSpec song = find_song(&popped);
    SingerSpec sharp = song;
    sharp.transpose = 0.4;
    SingerTake one = sing(&song), two = sing(&song), three = sing(&song), raised = sing(&sharp);
    plant_phrase(&one, &popped, 1);
    plant_noise(&one, 3, -50.0);
    plant_clipping(&two, 0);
    leave_out(&three, 2);
    plant_phrase(&three, &raised, 4);
    save_song(b, "a.wav", &one, 0);
    save_song(b, "b.wav", &two, LATER);
    save_song(b, "c.wav", &three, 0);
    const uint32_t pops = pops_in(&popped, 1);
    for (uint32_t t = 0; t < 5; ++t)
        singer_free((SingerTake *[]){&one, &two, &three, &popped, &raised}[t]);
    return pops;
}

static bool tells_of_phrase(const char *line)
{
    static const char *const starts[] = {"        cleanest: ", "        as clean as each other: ", "        only in "};
    for (size_t k = 0; k < 3; ++k)
        if (!strncmp(line, starts[k], strlen(starts[k])))
            return true;
    return false;
}

/* The sentence about a phrase, counted from 1: it begins so. Returns what follows. */
static const char *expect_told(const Bench *b, uint32_t phrase, const char *expected)
{
    uint32_t seen = 0;
    for (const char *line = b->out; *line; line += strcspn(line, "\n") + 1) {
        seen += tells_of_phrase(line);
        if (!tells_of_phrase(line) || seen < phrase)
            continue;
        if (strncmp(line + 8, expected, strlen(expected)) != 0)
            fail_msg("phrase %u: not \"%s\": %.200s", (unsigned)phrase, expected, line);
        return line + 8 + strlen(expected);
    }
    fail_msg("no phrase %u: %s", (unsigned)phrase, b->out);
    return "";
}

static void faults_are_found_in_their_phrases(void **state)
{
    Bench *b = *state;
    const uint32_t pops = save_takes(b);
    run_well(b, "--compare a.wav b.wav c.wav --report page.html");
    assert_string_equal(b->err, "");
    assert_true(*expect_told(b, 1, "as clean as each other: a.wav and c.wav; b.wav clips") == '\n');
    const char *times = expect_told(b, 2, "as clean as each other: b.wav and c.wav; a.wav pops");
    assert_int_equal(pops, *times == '\n' ? 1 : strtol(times, NULL, 10));
    assert_true(*expect_told(b, 3, "as clean as each other: a.wav and b.wav; not in c.wav") == '\n');
    const char *noise = expect_told(b, 4, "as clean as each other: b.wav and c.wav; a.wav has ");
    figure_within("render", "noise planted beside one phrase, as the comparison tells it", strtod(noise, NULL), 24.0,
                  3.0, "dB", "planted: -50 dB, the take's own -74 dB; wide: whole dB are told");
    const char *cents = expect_told(b, 5, "as clean as each other: a.wav and b.wav; held notes of c.wav lie ");
    figure_within("render", "tuning of one phrase sung 40 cents sharp, as the comparison tells it", strtod(cents, NULL),
                  40.0, 4.0, "cents", "planted, in notes that stray by 2 cents");
    run_well(b, "--compare b.wav a.wav");
    expect_told(b, 1, "cleanest: a.wav; b.wav clips");
    expect_told(b, 2, "cleanest: b.wav; a.wav pops");
    assert_non_null(strstr(b->out, "\nb.wav has most of the cleanest phrases, of "));
    assert_non_null(strstr(b->out, ": b.wav 2, a.wav 1; in "));
    assert_int_equal(files_in(b, "."), 4);
}

/* Each rest of a take longer by 0 to 3 s of its room: the sound in the middle of the rest. */
static void save_longer(const Bench *b, const char *name, const SingerTake *t)
{
    const uint32_t room = t->frames + (uint32_t)(3.0 * SLOW * (double)t->phrase_count);
    float *x = every_floats(room);
    uint32_t n = 0;
    for (uint32_t p = 0, from = 0; p < t->phrase_count; ++p) {
        const double end = p + 1 < t->phrase_count ? t->phrases[p + 1].start : (double)t->frames / SLOW;
        const uint32_t to = (uint32_t)lrint(0.5 * (t->phrases[p].end + end) * SLOW);
        memcpy(x + n, t->audio + from, (to - from) * sizeof *x);
        n += to - from;
        for (uint32_t k = (uint32_t)(3.0 * SLOW * roll()); k; --k)
            x[n++] = (float)(db_to_gain(-74.0) * sqrt(12.0) * (roll() - 0.5));
        from = to;
    }
    save(b, name, WAV_FLOAT, SLOW, 1, x, n);
    free(x);
}

static void rests_may_have_any_length(void **state)
{
    Bench *b = *state;
    SingerTake take = sing(&usual);
    dice = seeded(11);
    save_song(b, "a.wav", &take, 0);
    plant_clipping(&take, 1);
    save_longer(b, "b.wav", &take);
    run_well(b, "--compare a.wav b.wav");
    expect_told(b, 1, "as clean as each other: a.wav and b.wav");
    expect_told(b, 2, "cleanest: a.wav; b.wav clips");
    for (uint32_t k = 3; k <= take.phrase_count; ++k)
        expect_told(b, k, "as clean as each other: a.wav and b.wav");
    assert_null(strstr(b->out, "only in "));
    singer_free(&take);
}

/* ---- The page ---- */

static void expect_in(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("no \"%s\"", part);
}

/* The text of a piece of HTML that begins here, cell by cell with a blank between. */
static void text_of(const char *html, char *text, size_t size)
{
    size_t used = 0;
    for (bool tag = false; *html && *html != '\n' && used + 1 < size; ++html) {
        tag |= *html == '<';
        text[used++] = tag ? ' ' : *html;
        tag &= *html != '>';
    }
    text[used] = '\0';
}

static void the_page_has_what_the_table_has(void **state)
{
    static char page[TEXT];
    Bench *b = *state;
    char path[200], text[500], level[16], noise[16], printed[64];
    save_takes(b);
    prepare(b, "mv a.wav 'a<b&.wav'");
    run_well(b, "--compare 'a<b&.wav' b.wav --report page.html");
    snprintf(path, sizeof path, "%s/page.html", b->folder);
    slurp(path, page);
    expect_in(b->out, "\nThe report is page.html; open it in a browser.\n");
    expect_in(page, "<p class=\"head\">b.wav has most of the cleanest phrases, of ");
    expect_in(page, "a&lt;b&amp;.wav: cleanest in 1 of ");
    expect_in(page, "%\">1</span><span style=\"left:");
    expect_in(page, "Tall and filled: the cleanest there.");
    expect_in(page, "<td class=\"why\" colspan=\"8\">cleanest: a&lt;b&amp;.wav; b.wav clips</td>");
    assert_null(strstr(page, "a<b"));
    uint32_t rows = 0;
    for (const char *at = page; (at = strstr(at, "<td>b.wav</td>")); ++at, ++rows) {
        text_of(at, text, sizeof text);
        assert_int_equal(sscanf(text, " b.wav %*s %*s s %15s %15s", level, noise), 2);
        snprintf(printed, sizeof printed, " s %7s %7s ", level, noise);
        expect_in(b->out, printed);
    }
    assert_true(rows >= 6);
}

static uint32_t count_in(const char *text, const char *part)
{
    uint32_t found = 0;
    for (const char *at = text; (at = strstr(at, part)); ++at)
        ++found;
    return found;
}

/* Headline, table and page: each take's phrases by themselves, numbered and drawn by its own clock. */
static void strangers_are_told_alike_everywhere(void **state)
{
    static char page[TEXT];
    Bench *b = *state;
    char path[200], told[100];
    SingerSpec spec = usual;
    SingerTake take = sing(&usual);
    save_song(b, "a.wav", &take, LATER);
    singer_free(&take);
    spec.seed = 78;
    take = sing(&spec);
    save_song(b, "b.wav", &take, 0);
    run_well(b, "--compare a.wav b.wav --report page.html");
    snprintf(path, sizeof path, "%s/page.html", b->folder);
    slurp(path, page);
    expect_in(b->out, "\nb.wav hardly is of the same song as a.wav: ");
    expect_in(b->out, " like one there in length, notes and loudness. So no phrases are compared. Leave it out; or, ");
    expect_in(page, "<p class=\"head\">b.wav hardly is of the same song as a.wav: ");
    assert_null(strstr(page, "cleanest in "));
    snprintf(told, sizeof told, "b.wav: %u phrases<", (unsigned)take.phrase_count);
    expect_in(page, told);
    assert_int_equal(count_in(b->out, "\n1       "), 2);
    assert_int_equal(count_in(page, "<tr class=\"first \"><td>1</td>"), 2);
    assert_int_equal(count_in(page, "<td>b.wav</td>"), take.phrase_count);
    assert_int_equal(count_in(page, "\"><td></td><td>"), 0); /* no row has two takes */
    singer_free(&take);
}

/* ---- Odd takes ---- */

static void odd_takes_are_told(void **state)
{
    Bench *b = *state;
    const float silence[4 * SLOW] = {0};
    save_takes(b);
    save(b, "silent.wav", WAV_24, SLOW, 1, silence, 4 * SLOW);
    assert_int_equal(run(b, "--compare a.wav silent.wav b.wav"), ERROR_NO_VOICE);
    expect_in(b->err, "render: silent.wav: no voice was heard in it");
    expect_in(b->out, "\n  No voice was heard in it, not a second of one");
    expect_in(b->out, "\nb.wav has most of the cleanest phrases");
    assert_int_equal(run(b, "--compare a.wav silent.wav --report page.html"), ERROR_NO_VOICE);
    expect_in(b->out, "\nNothing to compare: that needs two takes in which a voice is heard.\n");
    assert_true(is_there(b, "page.html"));
    SingerSpec spec = usual;
    spec.seed = 78;
    save_singer(b, "other.wav", &spec);
    run_well(b, "--compare a.wav other.wav");
    expect_in(b->out, "\nother.wav hardly is of the same song as a.wav: ");
    assert_null(strstr(b->out, "cleanest: "));
    run_well(b, "--compare other.wav a.wav b.wav");
    expect_in(b->out, "\nb.wav has most of the cleanest phrases");
    expect_in(b->out, "\nother.wav hardly is of the same song as the others: ");
    prepare(b, "mkdir new && cp b.wav new/a.wav");
    run_well(b, "--compare a.wav new/a.wav");
    expect_in(b->out, "cleanest: a.wav; new/a.wav clips");
}

/* Clipped in its second phrase, and turned down since. */
static void flat_tops_are_clipping(void **state)
{
    Bench *b = *state;
    SingerTake take = sing(&usual);
    save_song(b, "a.wav", &take, 0);
    plant_clipping(&take, 1);
    plant_clipping(&take, 1);
    for (uint32_t k = 0; k < take.frames; ++k)
        take.audio[k] *= 0.8f;
    save_song(b, "b.wav", &take, 0);
    run_well(b, "--compare a.wav b.wav");
    expect_told(b, 1, "as clean as each other: a.wav and b.wav");
    expect_told(b, 2, "cleanest: a.wav; b.wav clips");
    expect_told(b, 3, "as clean as each other: a.wav and b.wav");
    singer_free(&take);
}

/* Clipped samples in two seconds of this alone. */
static uint32_t clipped_in(float level)
{
    Phrasing p;
    Error e;
    uint32_t clipped = 0;
    float *x = every_floats(2 * SLOW);
    for (uint32_t k = 0; k < 2 * SLOW; ++k)
        x[k] = level;
    assert_true(phrasing_start(&p, SLOW, 1, -18.0, &e));
    assert_true(p.sink.write(&p.sink, (const float *const[]){x, NULL}, 2 * SLOW, &e) && p.sink.end(&p.sink, &e));
    for (uint64_t k = 0; k < p.frames; ++k)
        clipped += p.frame[k].clipped;
    phrasing_free(&p);
    free(x);
    return clipped;
}

static void damage_is_no_clipping(void **state)
{
    (void)state;
    assert_int_equal(clipped_in(1.f), 2 * SLOW);
    assert_int_equal(clipped_in(DSP_BROKEN), 0);
}

static void wrong_lines_are_told(void **state)
{
    static const struct {
        const char *line;
        int status;
        const char *says;
    } lines[] = {
        {"--compare", ERROR_USAGE, "no take is named; type: render TAKE.wav OTHER.wav --compare"},
        {"--compare a.wav", ERROR_USAGE, "--compare needs two takes of one song or more; it got only a.wav"},
        {"--compare a.wav b.wav -o c.wav", ERROR_USAGE, "--compare writes no mix: leave out -o c.wav"},
        {"--compare a.wav b.wav --sheet", ERROR_USAGE, "--compare writes no mix: leave out --sheet"},
        {"--compare a.wav b.wav --matched", ERROR_USAGE, "--compare writes no mix: leave out --matched"},
        {"--compare a.wav b.wav --advise", ERROR_USAGE, "leaves no room for --advise"},
        {"--compare a.wav b.wav --together", ERROR_USAGE, "leaves no room for --together"},
        {"--compare a.wav b.wav --apart", ERROR_USAGE, "leaves no room for --apart"},
        {"--compare a.wav b.wav --save-preset p", ERROR_USAGE, "--compare learns nothing"},
        {"--compare a.wav b.wav --report p.html --report-audio", ERROR_USAGE, "leave out --report-audio"},
        {"--compare a.wav ./a.wav", ERROR_USAGE, "a.wav and ./a.wav are the same take. Type: "},
        {"--compare a.wav none.wav", ERROR_FILE, "none.wav: no such file"},
        {"--compare a.wav b.wav --report a.wav", ERROR_USAGE, "a take is never written over"},
        {"--compare a.wav b.wav --report old.html", ERROR_WRITE, "old.html is there already"},
        {"--compare a.wav b.wav --report none/p.html", ERROR_WRITE, "mkdir -p 'none/'"},
    };
    Bench *b = *state;
    save_take(b, "a.wav", WAV_24, 8000, 1, 1.0, 0.0);
    save_take(b, "b.wav", WAV_24, 8000, 1, 1.5, 0.0);
    prepare(b, "touch old.html");
    for (size_t k = 0; k < sizeof lines / sizeof *lines; ++k) {
        run(b, lines[k].line);
        if (b->status != lines[k].status || !strstr(b->err, lines[k].says))
            fail_msg("render %s: status %d, %s", lines[k].line, b->status, b->err);
    }
    assert_int_equal(files_in(b, "."), 3);
}

/* ---- A recorded voice ---- */

static void a_recorded_voice_is_cleaner_without_noise(void **state)
{
    static const char *const part[] = {"reading1", "reading2", "reading3", "reading4", "reading5"};
    Bench *b = *state;
    float *x = every_floats(60 * SLOW), *noisy = every_floats(60 * SLOW);
    uint32_t n = SLOW;
    for (uint32_t k = 0; k < 5; ++k) {
        Spoken s;
        if (!spoken_load(&s, part[k])) {
            free(x);
            free(noisy);
            skip();
        }
        memcpy(x + n, s.x, s.n * sizeof *x);
        n += s.n + SLOW;
        spoken_free(&s);
    }
    dice = seeded(3);
    for (uint32_t k = 0; k < n; ++k) {
        x[k] += (float)(1e-4 * (roll() - 0.5));
        noisy[k] = x[k] + (float)(0.02 * (roll() - 0.5));
    }
    save(b, "a.wav", WAV_FLOAT, SLOW, 1, noisy, n);
    save(b, "b.wav", WAV_FLOAT, SLOW, 1, x + SLOW / 2, n - SLOW / 2);
    free(x);
    free(noisy);
    run_well(b, "--compare a.wav b.wav");
    expect_told(b, 1, "cleanest: b.wav; a.wav has ");
    expect_in(b->out, "\nb.wav has most of the cleanest phrases, of ");
    expect_in(b->out, ": a.wav 0, b.wav ");
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_are_those_of_the_phrase),
        cmocka_unit_test(what_is_not_heard_is_not_known),
        cmocka_unit_test(points_begin_at_the_limits),
        cmocka_unit_test(the_cleanest_is_told_with_why),
        cmocka_unit_test(takes_that_are_alike_win_nothing),
        cmocka_unit_test(tuning_counts_where_all_sing),
        cmocka_unit_test(strangers_share_no_row),
        cmocka_unit_test(a_stranger_stands_by_itself),
        cmocka_unit_test(phrases_find_their_counterparts),
        cmocka_unit_test(rows_grow_together),
        cmocka_unit_test(songs_are_told_apart),
        BENCH_TEST(faults_are_found_in_their_phrases),
        BENCH_TEST(rests_may_have_any_length),
        BENCH_TEST(flat_tops_are_clipping),
        BENCH_TEST(strangers_are_told_alike_everywhere),
        BENCH_TEST(the_page_has_what_the_table_has),
        cmocka_unit_test(damage_is_no_clipping),
        BENCH_TEST(odd_takes_are_told),
        BENCH_TEST(wrong_lines_are_told),
        BENCH_TEST(a_recorded_voice_is_cleaner_without_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
