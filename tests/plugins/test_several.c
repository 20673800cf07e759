/* render with several takes at once: side by side, compared, and set under a lead. */
#include "figure.h"
#include "jobs.h"
#include "runs.h"

/* ---- Pieces of work ---- */

enum { PIECES = 12 };

typedef struct {
    Progress progress;
    pthread_mutex_t lock;
    uint32_t begun, order[PIECES], under_way, most;
    uint32_t slow, fails; /* this one waits until the other has failed, and fails then; PIECES: none does */
    bool failed, stopped;
} Pieces;

static void pause_a_little(void)
{
    nanosleep(&(struct timespec){.tv_nsec = 2000000}, NULL);
}

/* true: somebody stopped the piece. */
static bool goes_on_until_stopped(Pieces *p)
{
    Error e;
    for (int k = 0; k < 5000; ++k, pause_a_little())
        if (!progress_add(&p->progress, 1, "", "", "", &e))
            return true;
    return false;
}

static bool has_failed(Pieces *p)
{
    pthread_mutex_lock(&p->lock);
    const bool failed = p->failed;
    pthread_mutex_unlock(&p->lock);
    return failed;
}

/* The piece behind it has begun: there is one to be stopped. */
static bool next_has_begun(Pieces *p, uint32_t index)
{
    bool begun = false;
    pthread_mutex_lock(&p->lock);
    for (uint32_t k = 0; k < p->begun; ++k)
        begun |= p->order[k] == index + 1;
    pthread_mutex_unlock(&p->lock);
    return begun;
}

static void note_end(Pieces *p, bool failed, bool stopped)
{
    pthread_mutex_lock(&p->lock);
    --p->under_way;
    p->failed |= failed;
    p->stopped |= stopped;
    pthread_mutex_unlock(&p->lock);
}

static bool piece(void *context, uint32_t index, Error *e)
{
    Pieces *p = context;
    bool stopped = false;
    pthread_mutex_lock(&p->lock);
    p->order[p->begun++] = index;
    ++p->under_way;
    p->most = p->under_way > p->most ? p->under_way : p->most;
    pthread_mutex_unlock(&p->lock);
    pause_a_little();
    for (int k = 0; index == p->slow && k < 5000 && !has_failed(p); ++k)
        pause_a_little();
    for (int k = 0; index == p->fails && p->slow < PIECES && k < 5000 && !next_has_begun(p, index); ++k)
        pause_a_little();
    const bool fails = index == p->slow || index == p->fails;
    if (!fails && p->slow < PIECES && index > p->slow)
        stopped = goes_on_until_stopped(p);
    note_end(p, fails, stopped);
    return (!fails && !stopped) || error_set(e, ERROR_AUDIO, "piece %u", (unsigned)index);
}

static bool do_pieces(Pieces *p, uint32_t threads, uint32_t slow, uint32_t fails, Error *e)
{
    *p = (Pieces){.lock = PTHREAD_MUTEX_INITIALIZER, .slow = slow, .fails = fails};
    progress_start(&p->progress, 1.0);
    return jobs_run(PIECES, threads, piece, p, &p->progress, e);
}

static void pieces_are_done_once_and_so_many_at_a_time(void **state)
{
    (void)state;
    for (uint32_t threads = 1; threads <= 4; threads += 3) {
        Pieces p;
        Error e = {0};
        uint32_t seen = 0;
        assert_true(do_pieces(&p, threads, PIECES, PIECES, &e));
        assert_int_equal(p.begun, PIECES);
        for (uint32_t k = 0; k < PIECES; ++k)
            seen |= 1u << p.order[k];
        assert_int_equal(seen, (1u << PIECES) - 1);
        assert_int_equal(p.most, threads);
    }
}

/* Piece 4 fails first, piece 3 after it: one after the other would never have come to 4. */
static void the_first_error_in_their_order_is_told(void **state)
{
    (void)state;
    Pieces p;
    Error e = {0};
    assert_false(do_pieces(&p, 6, 3, 4, &e));
    assert_string_equal(e.text, "piece 3");
    assert_true(p.stopped);
    assert_true(p.begun < PIECES);
    assert_false(do_pieces(&p, 1, PIECES, 4, &e));
    assert_string_equal(e.text, "piece 4");
    assert_int_equal(p.begun, 5);
}

/* ---- Side by side ---- */

static void save_three(const Bench *b)
{
    static const SingerVoice voice[] = {SINGER_MEZZO, SINGER_MEZZO, SINGER_ALTO};
    for (uint32_t k = 0; k < 3; ++k) {
        char name[16];
        snprintf(name, sizeof name, "%u.wav", (unsigned)k + 1);
        save_singer(b, name,
                    &(SingerSpec){.voice = voice[k],
                                  .seed = k + 1,
                                  .seconds = 3.5 + k,
                                  .rate = 16000,
                                  .gain_db = -6.0,
                                  .hiss_db = -50.0});
    }
}

/* The same command, takes one after the other and three at a time: what it prints and what it writes. Both tell what to
 * type next, with the number that was typed. */
static void same_with_one_and_three(Bench *b, const char *feed, const char *arguments)
{
    char line[1000], before[100];
    for (int jobs = 1; jobs <= 3; jobs += 2) {
        snprintf(line, sizeof line, "mkdir %d && ln -s ../1.wav ../2.wav ../3.wav %d", jobs, jobs);
        prepare(b, line);
        snprintf(before, sizeof before, "cd %d && %s", jobs, feed);
        snprintf(line, sizeof line, "--jobs %d %s", jobs, arguments);
        if (run_after(b, before, line))
            fail_msg("render %s: status %d", line, b->status);
    }
    prepare(
        b,
        "test -s 1/.stdout && test ! -s 1/.stderr && sed -i 's/--jobs 3/--jobs 1/' 3/.stdout 3/*.html 3/mixes/*.txt && "
        "diff -r 1 3 && rm -r 1 3");
}

static void side_by_side_is_the_same_to_the_byte(void **state)
{
    Bench *b = *state;
    save_three(b);
    same_with_one_and_three(
        b, "", "--matched --sheet --rate 44100 --stages trim,tone,plate 1.wav 2.wav 3.wav -o mixes --report page.html");
    same_with_one_and_three(
        b, "mkdir mixes && touch no.html mixes/no.txt &&",
        "--together --apart --stages compressor,plate --save-preset lead 1.wav 2.wav 3.wav -o mixes");
    same_with_one_and_three(b, "mkdir mixes && touch no.html mixes/no.txt &&",
                            "--backing --stages tone,plate 1.wav 2.wav 3.wav -o mixes");
    same_with_one_and_three(b, "mkdir mixes && touch no.html mixes/no.txt && cat 1.wav |",
                            "--advise --together /dev/stdin 2.wav 3.wav");
}

static void side_by_side_fails_as_one_by_one(void **state)
{
    Bench *b = *state;
    save_three(b);
    save_take(b, "2.wav", WAV_24, RATE, 1, 40.0, 0.0);
    for (int jobs = 1; jobs <= 3; jobs += 2) {
        char line[200];
        snprintf(line, sizeof line, "--jobs %d --stages trim 1.wav 2.wav 3.wav -o mixes", jobs);
        assert_int_equal(run_after(b, "ulimit -f 1500 &&", line), ERROR_WRITE);
        assert_string_equal(b->err, "render: no room for the working copy beside OUT: File too large\n");
        assert_false(is_there(b, "mixes"));
    }
    assert_int_equal(files_in(b, "."), 3);
}

static void a_signal_ends_all_of_them(void **state)
{
    Bench *b = *state;
    for (int k = 1; k <= 3; ++k) {
        char name[16];
        snprintf(name, sizeof name, "%d.wav", k);
        save_take(b, name, WAV_24, RATE, 2, 30.0, 0.0);
    }
    run_after(b, "timeout --preserve-status -s INT 0.3", "--jobs 3 --stages trim,tone 1.wav 2.wav 3.wav -o mixes");
    assert_int_equal(b->status, ERROR_STOPPED);
    assert_string_equal(b->err, "render: stopped; nothing was written\n");
    assert_int_equal(files_in(b, "."), 3);
}

static void wrong_lines_are_told(void **state)
{
    static const char *const lines[][2] = {
        {"--jobs 0 1.wav -o new.wav", "--jobs takes 1 to 64 takes at a time, not 0"},
        {"--jobs 65 1.wav -o new.wav", "--jobs takes 1 to 64 takes at a time, not 65"},
        {"--jobs two 1.wav -o new.wav", "--jobs takes 1 to 64 takes at a time, not two"},
        {"--jobs '' 1.wav -o new.wav", "--jobs takes 1 to 64 takes at a time, not "},
        {"--jobs 2x 1.wav -o new.wav", "--jobs takes 1 to 64 takes at a time, not 2x"},
        {"1.wav -o new.wav --jobs", "--jobs needs a value"},
    };
    Bench *b = *state;
    save_three(b);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i) {
        assert_int_equal(run(b, lines[i][0]), ERROR_USAGE);
        if (!strstr(b->err, lines[i][1]))
            fail_msg("render %s: says %s", lines[i][0], b->err);
    }
    assert_int_equal(files_in(b, "."), 3);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pieces_are_done_once_and_so_many_at_a_time),
        cmocka_unit_test(the_first_error_in_their_order_is_told),
        BENCH_TEST(side_by_side_is_the_same_to_the_byte),
        BENCH_TEST(side_by_side_fails_as_one_by_one),
        BENCH_TEST(a_signal_ends_all_of_them),
        BENCH_TEST(wrong_lines_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
