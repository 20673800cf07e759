/* Esses on recorded voices, alone and after Compressor: how many of their sibilants it catches as they are, and when a
 * tenth of them is raised by 10 dB. LINCTUS_VOICES=tune or judge asks those voices alone, their songs too, and raises
 * the sibilants of recordings, of which there are no labels. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "asked.h"
#include "compressor.h"
#include "esses.h"
#include "figure.h"
#include "learned_room.h"
#include "play.h"
#include "sibilants.h"
#include "starter.h"
#include "units.h"
#include "values.h"
#include "voices.h"

#define SECONDS 38.0
#define HEARD   0.009 /* s: so long after its start a sibilant is heard, */
#define ENDS    0.016 /* s: so long after its end it is over */
#define TEACHES 0.06  /* s, as esses.md has it */

enum { MOST_HEARD = 1024, EVERY = 10 };

/* ---- One take ---- */

typedef struct {
    Span span[MOST_HEARD];
    double level[MOST_HEARD]; /* dB in the band */
    bool caught[MOST_HEARD];
    uint32_t heard, caught_in_all;
} Heard;

static double share(const Heard *h)
{
    return h->heard ? 100.0 * h->caught_in_all / h->heard : 0.0;
}

static double level_in_band(const Esses *e)
{
    double power = 0.0;
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        power += e->band.weight[b] * db_to_power(e->sibilance.level[b]);
    return power_to_db(power);
}

static void note(Heard *h, const Esses *e, double start, double now)
{
    assert_true(h->heard < MOST_HEARD);
    h->span[h->heard] = (Span){start - HEARD, now - ENDS};
    h->level[h->heard] = level_in_band(e);
    h->caught[h->heard] = e->caught > h->caught_in_all;
    h->caught_in_all = e->caught;
    ++h->heard;
}

static void hear(Player *p, const Spoken *take, Heard *h)
{
    float out[DSP_CELL];
    const Esses *e = p->dsp;
    double start = 0.0;
    *h = (Heard){0};
    for (uint32_t at = 0; at + DSP_CELL <= take->n; at += DSP_CELL) {
        const bool before = e->sibilance.open;
        play(p, (const float *[]){take->x + at}, (float *[]){out}, DSP_CELL);
        start = e->sibilance.open && !before ? at / take->rate : start;
        if (e->sibilants > h->heard)
            note(h, e, start, at / take->rate);
    }
}

/* Learned in one pass, heard in another on hold. */
static void listen(const Spoken *take, Heard *h)
{
    Player p;
    Learned l = LEARNED_WITH_ROOM;
    EssesParams params = starter_esses;
    for (int pass = 0; pass < 2; ++pass) {
        assert_true(play_init(&p, &esses, take->rate, 1));
        if (pass)
            play_put(&p, &l);
        params.learn = !pass;
        play_set(&p, &params);
        hear(&p, take, h);
        play_get(&p, &l);
        play_done(&p);
    }
}

/* What Compressor makes of a take, on hold after a pass of learning; its latency taken out. */
static Spoken compressed(const Spoken *take)
{
    Player p;
    Learned l = LEARNED_WITH_ROOM;
    CompressorParams params = starter_compressor;
    Spoken out = {.rate = take->rate, .n = take->n, .x = calloc(take->n + 1, sizeof *out.x)};
    assert_non_null(out.x);
    for (int pass = 0; pass < 2; ++pass) {
        assert_true(play_init(&p, &compressor, take->rate, 1));
        if (pass)
            play_put(&p, &l);
        params.learn = !pass;
        play_set(&p, &params);
        play(&p, (const float *[]){take->x}, (float *[]){out.x}, take->n);
        play_get(&p, &l);
        const uint32_t late = play_latency(&p);
        out.n = take->n - late;
        memmove(out.x, out.x + late, out.n * sizeof *out.x);
        play_done(&p);
    }
    return out;
}

static Spoken copy_of(const Spoken *take)
{
    Spoken copy = {.rate = take->rate, .n = take->n, .x = malloc((take->n + 1) * sizeof *copy.x)};
    assert_non_null(copy.x);
    memcpy(copy.x, take->x, take->n * sizeof *copy.x);
    return copy;
}

static void listen_after(const Spoken *take, bool compress, Heard *h)
{
    if (!compress) {
        listen(take, h);
        return;
    }
    Spoken squeezed = compressed(take);
    listen(&squeezed, h);
    spoken_free(&squeezed);
}

/* ---- A tenth is raised ---- */

typedef struct {
    uint32_t raised, caught;             /* those raised: all */
    uint32_t upper_raised, upper_caught; /* those of them from the middle of the usual range up */
} Raised;

static bool caught_in(const Heard *h, const Span *span)
{
    for (uint32_t i = 0; i < h->heard; ++i)
        if (h->caught[i] && h->span[i].start < span->end && h->span[i].end > span->start)
            return true;
    return false;
}

/* Of those long enough to be an s. */
static double middle_of(const Heard *h)
{
    double level[MOST_HEARD] = {0};
    uint32_t n = 0;
    for (uint32_t i = 0; i < h->heard; ++i)
        if (h->span[i].end - h->span[i].start >= TEACHES - (ENDS - HEARD))
            level[n++] = h->level[i];
    qsort(level, n, sizeof *level, values_by_size);
    return n ? level[n / 2] : INFINITY;
}

/* Every tenth of these spans, counted from `first` on. */
static void raise_a_tenth(Raised *sum, const Spoken *take, const float *hiss, const Heard *as_it_is, bool compress,
                          uint32_t first)
{
    static Heard h;
    const double middle = middle_of(as_it_is);
    Spoken raised = copy_of(take);
    for (uint32_t i = first; i < as_it_is->heard; i += EVERY)
        sibilants_raise(&raised, hiss, &as_it_is->span[i], 10.0);
    listen_after(&raised, compress, &h);
    for (uint32_t i = first; i < as_it_is->heard; i += EVERY) {
        const bool caught = caught_in(&h, &as_it_is->span[i]), upper = as_it_is->level[i] >= middle;
        ++sum->raised;
        sum->caught += caught;
        sum->upper_raised += upper;
        sum->upper_caught += upper && caught;
    }
    spoken_free(&raised);
}

/* ---- All voices ---- */

enum { MOST_TAKES = 4 * VOICES_ALL };

typedef struct {
    double share[MOST_TAKES];
    uint32_t takes;
    Raised raised;
} Sum;

static bool asked_for_all(void)
{
    return asked_for("tune") || asked_for("judge");
}

static void raise_in(Raised *sum, const Spoken *take, const Heard *as_it_is)
{
    Raised raised = {0};
    float *const hiss = sibilants_hiss(take);
    for (uint32_t first = 0; first < EVERY; ++first)
        raise_a_tenth(&raised, take, hiss, as_it_is, false, first);
    free(hiss);
    printf("   any tenth raised: caught %u of %u, from the middle up %u of %u\n", raised.caught, raised.raised,
           raised.upper_caught, raised.upper_raised);
    sum->raised += raised.raised;
    sum->caught += raised.caught;
    sum->upper_raised += raised.upper_raised;
    sum->upper_caught += raised.upper_caught;
}

static void add_take(Sum *sum, const char *who, const char *how, const Spoken *take)
{
    static Heard h;
    for (int compress = 0; compress < 2; ++compress) {
        listen_after(take, compress, &h);
        sum->share[sum->takes++] = share(&h);
        printf("%-9s %-5s %-16s %3u heard, %4.1f %% caught\n", who, how, compress ? "after Compressor" : "alone",
               h.heard, share(&h));
        if (!compress && asked_for_all())
            raise_in(&sum->raised, take, &h);
    }
}

static void add_voice(Sum *sum, uint32_t v, bool sung)
{
    Spoken take;
    if (voices_speak(&take, v, 0, SECONDS) && take.n)
        add_take(sum, voices[v].name, "says", &take);
    spoken_free(&take);
    VoicesSong song;
    if (!sung || !voices_sing(&song, v, 0, SECONDS, 1, 0))
        return;
    if (song.take.n)
        add_take(sum, voices[v].name, "sings", &song.take);
    voices_song_free(&song);
}

static void report(Sum *sum, const char *use)
{
    char what[128];
    qsort(sum->share, sum->takes, sizeof *sum->share, values_by_size);
    const double median = 0.5 * (sum->share[(sum->takes - 1) / 2] + sum->share[sum->takes / 2]);
    snprintf(what, sizeof what, "voices for %s, as they are: share caught, median", use);
    figure_at_most("Esses", what, median, 15.0, "%", "requirement");
    snprintf(what, sizeof what, "voices for %s, as they are: share caught, worst of %u takes", use, sum->takes);
    figure_at_most("Esses", what, sum->share[sum->takes - 1], 25.0, "%", "requirement");
    if (!asked_for_all())
        return;
    const Raised *r = &sum->raised;
    snprintf(what, sizeof what, "voices for %s, any tenth raised by 10 dB: caught, soft ones too (%u of %u)", use,
             r->caught, r->raised);
    figure_note("Esses", what, 100.0 * r->caught / r->raised, "%");
    snprintf(what, sizeof what, "voices for %s, the same: caught of those from the middle up (%u of %u)", use,
             r->upper_caught, r->upper_raised);
    figure_at_least("Esses", what, 100.0 * r->upper_caught / r->upper_raised, 80.0, "%",
                    "our own limit: how far they stand out depends on how far the voice's own are apart");
}

static void all_of(VoicesUse use, const char *word)
{
    static Sum sum;
    const bool all = asked_for_all();
    if (all && !asked_for(use == VOICES_TUNE ? "tune" : "judge"))
        skip();
    sum = (Sum){0};
    for (uint32_t v = 0; v < VOICES_ALL; ++v)
        if (voices[v].use == use)
            add_voice(&sum, v, all);
    if (!sum.takes)
        skip();
    report(&sum, word);
}

static void of_those_for_tuning(void **state)
{
    (void)state;
    all_of(VOICES_TUNE, "tuning");
}

static void of_those_for_judging(void **state)
{
    (void)state;
    all_of(VOICES_JUDGE, "judging");
}

/* ---- By labels ---- */

/* The labels s z sh zh ch jh of a spoken take; their level counts for nothing. */
static void labelled(Heard *h, const Spoken *take)
{
    *h = (Heard){0};
    for (uint32_t i = 0; i < take->phones; ++i)
        if (phone_kind(&take->phone[i]) == PHONE_SIBILANT)
            h->span[h->heard++] = (Span){take->phone[i].start, take->phone[i].end};
}

static void labelled_sibilants(void **state)
{
    (void)state;
    static Heard labels, h;
    Raised raised[2] = {{0}};
    SpanScore score = {0};
    for (uint32_t v = 0; v < SIBILANTS_VOICES; ++v) {
        Spoken take;
        if (!sibilants_say(&take, sibilants_voice[v]))
            skip();
        labelled(&labels, &take);
        float *const hiss = sibilants_hiss(&take);
        for (int compress = 0; compress < 2; ++compress)
            for (uint32_t first = 0; first < EVERY; first += 2)
                raise_a_tenth(&raised[compress], &take, hiss, &labels, compress, first);
        listen_after(&take, true, &h);
        SpanScore one;
        spans_score(&one, h.span, h.heard, &take);
        score.right += one.right;
        score.missed += one.missed;
        score.wrong += one.wrong;
        free(hiss);
        spoken_free(&take);
    }
    char what[128];
    snprintf(what, sizeof what, "F of sibilants after Compressor, flite awb, rms, slt (%u of %u, %u wrong)",
             score.right, score.right + score.missed, score.wrong);
    figure_at_least("Esses", what, spans_f(&score), 0.9, "", "requirement");
    snprintf(what, sizeof what, "any tenth of flite's sibilants raised by 10 dB: caught (%u of %u)", raised[0].caught,
             raised[0].raised);
    figure_at_least("Esses", what, 100.0 * raised[0].caught / raised[0].raised, 90.0, "%", "requirement");
    snprintf(what, sizeof what, "the same, raised before a Compressor, which turns them down too (%u of %u)",
             raised[1].caught, raised[1].raised);
    figure_note("Esses", what, 100.0 * raised[1].caught / raised[1].raised, "%");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(labelled_sibilants),
        cmocka_unit_test(of_those_for_tuning),
        cmocka_unit_test(of_those_for_judging),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
