/* Listening: frames hold what lies between their ends, and a voice is laid on the frames that it sounds in. */
#include "listening.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { LENGTH = 96000, FROM = 24000, TO = 60000, KEPT = 256 };

static float take[LENGTH]; /* a sung note from FROM to TO, silence around it */

static int make_take(void **state)
{
    (void)state;
    double phase = 0.0;
    for (uint32_t t = FROM; t < TO; ++t) {
        phase += 2.0 * DSP_PI * 200.0 * (1.0 + 0.02 * sin(2.0 * DSP_PI * 5.5 * t / 48000.0)) / 48000.0;
        for (int h = 1; h <= 10; ++h)
            take[t] += (float)(0.05 * sin(h * phase) / h);
    }
    return 0;
}

typedef struct {
    ListeningFrame frame[KEPT];
    uint32_t count;
    double energy; /* of all cells */
} Heard;

/* The take in pieces of so many samples, cut at grid points too. */
static void hear_on(Listening *l, Heard *h, const float *left, const float *right, uint32_t piece)
{
    *h = (Heard){.count = 0};
    for (uint32_t at = 0, n; at < LENGTH; at += n) {
        if (at % DSP_CELL == 0) {
            h->energy += listening_cell_energy(l);
            const ListeningFrame *frame = listening_frame(l);
            if (frame && h->count < KEPT)
                h->frame[h->count++] = *frame;
        }
        const uint32_t left_of_cell = DSP_CELL - at % DSP_CELL;
        n = piece < left_of_cell ? piece : left_of_cell;
        listening_process(l, (const float *[]){left + at, right + at}, n);
    }
}

static Listening *listening_at(double rate, uint32_t channels, ListeningGrid grid, uint32_t parts)
{
    Listening *l = malloc(sizeof *l);
    assert_non_null(l);
    assert_true(listening_init(l, rate, channels, grid, parts));
    return l;
}

static void drop(Listening *l)
{
    listening_done(l);
    free(l);
}

static double power_between(const float *x, uint64_t from, uint64_t to)
{
    double sum = 0.0;
    for (uint64_t t = from; t < to; ++t)
        sum += (double)x[t] * (double)x[t];
    return sum;
}

/* At a rate of which 10 ms is no whole number of samples, too. */
static void a_frame_holds_what_lies_between_its_ends(void **state)
{
    static const double rates[] = {22050.0, 44100.0, 48000.0};
    static Heard h;
    (void)state;
    for (size_t r = 0; r < sizeof rates / sizeof *rates; ++r) {
        Listening *l = listening_at(rates[r], 1, listening_hops(rates[r]), LISTENING_POWER);
        hear_on(l, &h, take, take, DSP_CELL);
        assert_true(h.count > 100);
        for (uint32_t f = 0; f < h.count; ++f) {
            const uint64_t from = f ? listening_frame_end(l, f - 1) : 0, to = listening_frame_end(l, f);
            assert_true(fabs((double)(to - from) - 0.01 * rates[r]) < 1.0);
            assert_true(fabs((double)to - 0.01 * (f + 1) * rates[r]) < 1.0);
            assert_true(h.frame[f].power == power_between(take, from, to));
        }
        drop(l);
    }
}

/* The note lies in frames 50 to 124: to 30 ms at either end, a pitch and a voice are told there and nowhere else. */
static void a_voice_is_laid_on_its_frames(void **state)
{
    static Heard h;
    (void)state;
    Listening *l = listening_at(48000.0, 1, listening_hops(48000.0), 0);
    hear_on(l, &h, take, take, DSP_CELL);
    for (uint32_t f = 0; f < 150; ++f) {
        const bool inside = f >= 53 && f < 122, outside = f < 47 || f >= 128;
        assert_true(!inside || (h.frame[f].sounding == 15 && fabs(h.frame[f].hz - 200.0) < 6.0));
        assert_true(!outside || (h.frame[f].sounding == 0 && h.frame[f].hz == 0.0));
    }
    drop(l);
}

/* Who is told what a detector of the same take says lays it as his own would; the detector's own is not run. */
static void a_told_voice_is_laid_as_its_own(void **state)
{
    (void)state;
    Listening *own = listening_at(48000.0, 1, listening_hops(48000.0), 0);
    Listening *told = listening_at(48000.0, 1, listening_hops(48000.0), 0);
    uint32_t sounding = 0;
    for (uint32_t at = 0; at < LENGTH; at += DSP_CELL) {
        listening_told(told, voice_sounding(&own->voice));
        const ListeningFrame *a = listening_frame(own), *b = listening_frame(told);
        assert_true(!a == !b && (!a || (a->sounding == b->sounding && b->hz == 0.0)));
        sounding += a ? a->sounding : 0;
        listening_process(own, (const float *[]){take + at}, DSP_CELL);
        listening_process(told, (const float *[]){take + at}, DSP_CELL);
        assert_false(voice_sounding(&told->voice));
    }
    assert_true(sounding > 1000);
    drop(own);
    drop(told);
}

/* By the book: the answer at a grid point speaks of the sample, or of the cell, of voice_lag() ago, and a frame comes
 * when all of it is spoken of. */
typedef struct {
    uint32_t sounding[KEPT], came[KEPT]; /* cells; the grid point, counted from the reset */
} Book;

static void by_the_book(Book *book, const Listening *l, double rate)
{
    Voice v;
    assert_true(voice_init(&v, rate));
    const int64_t lag = voice_lag(&v);
    uint32_t frame = 0;
    *book = (Book){{0}, {0}};
    for (uint32_t k = 0; k * DSP_CELL < LENGTH && frame < KEPT - 1; ++k) {
        const int64_t cell = (int64_t)k - 1 - (lag + DSP_CELL / 2) / DSP_CELL;
        const int64_t of = l->grid.whole_cells ? cell * DSP_CELL : (int64_t)k * DSP_CELL - lag;
        const int64_t told_to = l->grid.whole_cells ? of + DSP_CELL : of; /* up to here all is spoken of */
        uint32_t at = frame;
        while (of >= 0 && listening_frame_end(l, at) <= (uint64_t)of)
            ++at;
        book->sounding[at] += of >= 0 && voice_sounding(&v);
        if (told_to >= 0 && listening_frame_end(l, frame) <= (uint64_t)told_to)
            book->came[frame++] = k;
        voice_process(&v, take + (size_t)k * DSP_CELL, DSP_CELL);
    }
    voice_done(&v);
}

static void answers_are_laid_by_the_book(void **state)
{
    static const struct {
        double rate;
        ListeningGrid grid;
    } at[] = {
        {96000.0, {9600, 10, false}}, /* a lag of 1099.1 cells */
        {44100.0, {4410, 10, false}},
        {96000.0, {150 * DSP_CELL, 5, true}},
        {44100.0, {69 * DSP_CELL, 5, true}},
    };
    static Book book;
    (void)state;
    for (size_t i = 0; i < sizeof at / sizeof *at; ++i) {
        Listening *l = listening_at(at[i].rate, 1, at[i].grid, 0);
        by_the_book(&book, l, at[i].rate);
        uint32_t f = 0, sounding = 0;
        for (uint32_t k = 0; k * DSP_CELL < LENGTH; ++k) {
            const ListeningFrame *frame = listening_frame(l);
            if (frame && f < KEPT - 1) {
                assert_int_equal(k, book.came[f]);
                assert_int_equal(frame->sounding, book.sounding[f++]);
                sounding += frame->sounding;
            }
            listening_process(l, (const float *[]){take + (size_t)k * DSP_CELL}, DSP_CELL);
        }
        assert_true(f > 30 && sounding > 300);
        drop(l);
    }
}

/* Sound from the first sample to the last, and a dead channel: what is left of it shows. */
static void a_reset_forgets_all(void **state)
{
    static float tone[LENGTH];
    static const float silence[LENGTH];
    static Heard first, again;
    (void)state;
    for (uint32_t t = 0; t < LENGTH; ++t)
        tone[t] = (float)(0.3 * sin(2.0 * DSP_PI * 0.004 * (t + 31.0)));
    Listening *l = listening_at(44100.0, 2, listening_hops(44100.0), LISTENING_POWER | LISTENING_WEIGHTED);
    hear_on(l, &first, tone, silence, DSP_CELL);
    hear_on(l, &again, tone, tone, DSP_CELL);
    listening_reset(l);
    hear_on(l, &again, tone, silence, DSP_CELL);
    assert_true(again.count == first.count && again.energy == first.energy);
    for (uint32_t f = 0; f < first.count; ++f)
        assert_true(again.frame[f].power == first.frame[f].power && again.frame[f].hz == first.frame[f].hz &&
                    again.frame[f].sounding == first.frame[f].sounding);
    drop(l);
}

static void ragged_pieces_change_nothing(void **state)
{
    static const uint32_t piece[] = {1, 7, 31};
    static Heard whole, cut;
    (void)state;
    Listening *l = listening_at(44100.0, 2, listening_hops(44100.0), LISTENING_POWER | LISTENING_WEIGHTED);
    hear_on(l, &whole, take, take, DSP_CELL);
    for (size_t i = 0; i < sizeof piece / sizeof *piece; ++i) {
        listening_reset(l);
        hear_on(l, &cut, take, take, piece[i]);
        assert_true(cut.count == whole.count && cut.energy == whole.energy);
        for (uint32_t f = 0; f < whole.count; ++f)
            assert_true(cut.frame[f].power == whole.frame[f].power && cut.frame[f].hz == whole.frame[f].hz &&
                        cut.frame[f].sounding == whole.frame[f].sounding);
    }
    drop(l);
}

static void only_what_is_asked_for_is_computed(void **state)
{
    static Heard h;
    (void)state;
    Listening *l = listening_at(48000.0, 1, listening_hops(48000.0), 0);
    hear_on(l, &h, take, take, DSP_CELL);
    assert_true(h.energy == 0.0);
    for (uint32_t f = 0; f < h.count; ++f)
        assert_true(h.frame[f].power == 0.0);
    drop(l);
}

/* K weighting gains 0.1 to 0.7 dB on a note of 200 Hz and its harmonics. Two equal channels have twice the energy, and
 * the power of one. */
static void energy_and_power_of_two_channels(void **state)
{
    static Heard one, two, dead;
    static const float silence[LENGTH];
    (void)state;
    Listening *mono = listening_at(48000.0, 1, listening_hops(48000.0), LISTENING_POWER | LISTENING_WEIGHTED);
    Listening *stereo = listening_at(48000.0, 2, listening_hops(48000.0), LISTENING_POWER | LISTENING_WEIGHTED);
    hear_on(mono, &one, take, take, DSP_CELL);
    const double weighted = 10.0 * log10(one.energy / power_between(take, FROM, TO));
    assert_true(weighted > -0.5 && weighted < 1.0);
    hear_on(stereo, &two, take, take, DSP_CELL);
    listening_reset(stereo);
    hear_on(stereo, &dead, take, silence, DSP_CELL); /* the living channel stands in for the dead one */
    for (uint32_t f = 0; f < one.count; ++f)
        assert_true(two.frame[f].power == one.frame[f].power && dead.frame[f].power == one.frame[f].power);
    assert_true(fabs(two.energy / one.energy - 2.0) < 1e-9 && dead.energy == two.energy);
    drop(mono);
    drop(stereo);
}

/* A peak belongs to the frame in which the cell ended that it was told after. */
static void a_peak_stays_in_its_frame(void **state)
{
    (void)state;
    Listening *l = listening_at(48000.0, 1, listening_hops(48000.0), 0);
    uint32_t f = 0;
    for (uint32_t at = 0; at < LENGTH; at += DSP_CELL) {
        assert_true(listening_heard(l) == (at > 0));
        listening_peak(l, at == 480 * 100 + DSP_CELL ? 2.f : 0.5f);
        const ListeningFrame *frame = listening_frame(l);
        assert_false(listening_heard(l));
        if (frame)
            assert_true(frame->peak == (f++ == 100 ? 2.f : 0.5f));
        listening_process(l, (const float *[]){take + at}, DSP_CELL);
    }
    assert_true(f > 101);
    drop(l);
}

static void what_is_out_of_range_is_refused(void **state)
{
    static const ListeningGrid bad[] = {{4800, 0, false}, {4800, 200, false}, {320, 10, true}};
    Listening l;
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; ++i) {
        assert_false(listening_init(&l, 48000.0, 1, bad[i], 0));
        listening_done(&l);
    }
    assert_false(listening_init(&l, 48000.0, 3, listening_hops(48000.0), 0));
    assert_false(listening_init(&l, 1000.0, 1, listening_hops(48000.0), 0));
    for (double rate = DSP_RATE_MIN; rate <= DSP_RATE_MAX; rate *= 1.0037) {
        assert_true(listening_init(&l, rate, 2, listening_hops(rate), LISTENING_POWER));
        listening_done(&l);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_frame_holds_what_lies_between_its_ends),
        cmocka_unit_test(a_voice_is_laid_on_its_frames),
        cmocka_unit_test(a_told_voice_is_laid_as_its_own),
        cmocka_unit_test(answers_are_laid_by_the_book),
        cmocka_unit_test(a_reset_forgets_all),
        cmocka_unit_test(ragged_pieces_change_nothing),
        cmocka_unit_test(only_what_is_asked_for_is_computed),
        cmocka_unit_test(energy_and_power_of_two_channels),
        cmocka_unit_test(a_peak_stays_in_its_frame),
        cmocka_unit_test(what_is_out_of_range_is_refused),
    };
    return cmocka_run_group_tests(tests, make_take, NULL);
}
