/* What teaches nothing new: digital silence before, in and after a take, the same take over and over, a dead channel of
 * two, a channel that drops out for a while. What was found stays within 0.1 dB. */
#include "takes.h"

#include "figure.h"

#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

static Take takes[TAKES];

/* Left out: read-outs of this moment and of what was done so far; Tone's second and third finding, which come and go,
 * on a voice that has but one, with where a frame happens to begin; counts, which add up by right; the range of
 * loudness, as EBU Tech 3342 counts the 3 s that are partly silent too; a hum where silence cuts one of its few windows
 * in two. The widths and the decay, which are neither levels nor frequencies, may move. */
#define NOW                                                                                                            \
    " reduction usual_reduction cut heard gain caught_share resting down at_rest level_now farthest noise_now "        \
    "turned_down "                                                                                                     \
    "raw_raised " TAKEN SECOND
#define TAKEN  " mains_drift taken_now taken_in_all caught found removed last_size last_ago word_ends "
#define SECOND " found2_freq found2_depth found2_width found2_sure found3_freq found3_depth found3_width found3_sure "
#define COUNTS " clipped_samples clipped pops popping verdict voice_heard "
#define RANGE  " loudness_range "
#define LIMIT  " too_quiet too_quiet_at " /* the woman reads at the very level that is the limit: -24.0 dB */

enum { SILENCE = 20 }; /* s */

/* ---- Playing ---- */

enum { PIECE = 8192 }; /* frames: the blocks do not matter (test_bundle.c), and so much stays in the cache */

/* From two channels; NULL: silence there. */
static void hear(Instance *i, const float *left, const float *right, uint32_t n)
{
    static const float silence[PIECE];
    static float out[2][PIECE];
    for (uint32_t at = 0; at < n; at += PIECE) {
        const float *const in[] = {left ? left + at : silence, right ? right + at : silence};
        instance_run(i, in, (float *[]){out[0], out[1]}, n - at < PIECE ? n - at : PIECE);
    }
}

static void hear_silence(Instance *i, const Take *t, double seconds)
{
    hear(i, NULL, NULL, (uint32_t)(seconds * t->rate));
}

/* The same on both channels. */
static void hear_part(Instance *i, const Take *t, uint32_t from, uint32_t to)
{
    hear(i, t->audio.channel[0] + from, t->audio.channel[0] + from, to - from);
}

static void hear_all(Instance *i, const Take *t)
{
    hear_part(i, t, 0, t->audio.n);
}

static bool is_tone(const Plugin *plugin)
{
    return !strcmp(plugin->stem, "tone") || !strcmp(plugin->stem, "tone-stereo");
}

/* What Tone's finder is at work on when a take ends lacks the last notes, and how many of them hangs on when it set
 * out. Digital silence until it has heard them all: then what was learned from a take is the same whenever it came. */
static void let_it_finish(Instance *i, const Take *t)
{
    if (plugin_port(instance_plugin(i), "found1_freq"))
        hear_silence(i, t, SILENCE);
}

static Instance *fresh(const Case *c, const Take *t)
{
    Instance *i = every_new(c, t->rate, INSTANCE_PLAIN);
    instance_activate(i);
    return i;
}

static Figures finished(Instance *i, const Take *t)
{
    let_it_finish(i, t);
    const Figures f = figures_of(i);
    instance_free(i);
    return f;
}

typedef void (*Then)(Instance *, const Take *);

/* In the child. It fails no test: it would go on with the parent's. */
static void tell_parent(Instance *i, const Take *t, Then then, int pipe_end)
{
    then(i, t);
    let_it_finish(i, t);
    const Figures f = figures_of(i);
    const size_t size = f.plugin->ports * sizeof *f.value;
    _exit(write(pipe_end, f.value, size) == (ssize_t)size ? 0 : 1);
}

/* Ways to play a take begin alike: they are played once as far as that goes. Here one of them leaves the others, in a
 * process of its own, which says what the ports show at its end; this instance goes on from where it is. */
static Figures branch(Instance *i, const Take *t, Then then)
{
    int ends[2], status = -1;
    const Figures f = figures_new(instance_plugin(i));
    const size_t size = f.plugin->ports * sizeof *f.value;
    assert_true(size <= 4096); /* a pipe holds as much without a reader */
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        tell_parent(i, t, then, ends[1]);
    assert_int_equal(waitpid(child, &status, 0), child);
    if (status || read(ends[0], f.value, size) != (ssize_t)size)
        fail_msg("%s, %s: what was branched off ended with status %d", f.plugin->uri, t->name, status);
    close(ends[0]);
    close(ends[1]);
    return f;
}

/* ---- Ways to play a take ---- */

/* The middle of the quietest 200 ms of the middle third. */
static uint32_t a_rest(const Take *t)
{
    const uint32_t window = (uint32_t)(0.2 * t->rate);
    uint32_t best = t->audio.n / 3;
    double least = HUGE_VAL;
    for (uint32_t at = t->audio.n / 3; at < 2 * (t->audio.n / 3); at += window / 2) {
        double sum = 0.0;
        for (uint32_t k = at; k < at + window; ++k)
            sum += (double)t->audio.channel[0][k] * (double)t->audio.channel[0][k];
        if (sum < least) {
            least = sum;
            best = at;
        }
    }
    return best + window / 2;
}

static void nothing_more(Instance *i, const Take *t)
{
    (void)i;
    (void)t;
}

static void silence_and_the_rest(Instance *i, const Take *t)
{
    hear_silence(i, t, SILENCE);
    hear_part(i, t, a_rest(t), t->audio.n);
}

/* A second of silence ends the note and the phrase under way. */
static void ending(Instance *i, const Take *t)
{
    hear_silence(i, t, 1.0);
}

static void long_silence(Instance *i, const Take *t)
{
    hear_silence(i, t, SILENCE);
}

static uint32_t along(const Take *t, double share)
{
    return (uint32_t)(share * t->audio.n);
}

static void second_dies(Instance *i, const Take *t)
{
    const uint32_t from = along(t, 0.4);
    hear(i, t->audio.channel[0] + from, NULL, t->audio.n - from);
}

static void second_drops_out(Instance *i, const Take *t)
{
    static float broken[PIECE];
    const uint32_t from = along(t, 0.4), to = along(t, 0.43);
    for (uint32_t k = 0; k < PIECE; ++k)
        broken[k] = INFINITY;
    for (uint32_t at = from; at < to; at += PIECE)
        hear(i, t->audio.channel[0] + at, broken, to - at < PIECE ? to - at : PIECE);
    hear_part(i, t, to, t->audio.n);
}

static void first_is_no_number(Instance *i, const Take *t)
{
    static float broken[PIECE];
    for (uint32_t k = 0; k < PIECE; ++k)
        broken[k] = NAN;
    for (uint32_t at = 0; at < t->audio.n; at += PIECE)
        hear(i, broken, t->audio.channel[0] + at, t->audio.n - at < PIECE ? t->audio.n - at : PIECE);
}

/* What is known of a plug-in and a take: what its ports show at the end of each way. */
typedef enum {
    ALONE,
    SILENCE_BEFORE,
    SILENCE_BETWEEN,
    SILENCE_AFTER,
    ENDED,
    FIVE_TIMES,
    ONCE_OR_TWICE, /* a spoken take, pieces in a row, has no rest at its ends: the first seam makes one. So it is twice
                    * that five times has to equal */
    ON_BOTH,
    SECOND_DEAD,
    SECOND_DIES,
    FIRST_IS_NO_NUMBER,
    SECOND_DROPS_OUT,
    WAYS
} Played;

/* The silences and the loops. */
static void play_one_channel(const Case *c, const Take *t, Figures shown[WAYS])
{
    Instance *i = fresh(c, t);
    hear_silence(i, t, SILENCE);
    hear_all(i, t);
    shown[SILENCE_BEFORE] = finished(i, t);

    i = fresh(c, t);
    hear_part(i, t, 0, a_rest(t));
    shown[SILENCE_BETWEEN] = branch(i, t, silence_and_the_rest);
    hear_part(i, t, a_rest(t), t->audio.n);
    shown[ALONE] = branch(i, t, nothing_more);
    shown[ENDED] = branch(i, t, ending);
    shown[SILENCE_AFTER] = branch(i, t, long_silence);
    if (!t->spoken)
        shown[ONCE_OR_TWICE] = branch(i, t, ending);
    hear_all(i, t);
    if (t->spoken)
        shown[ONCE_OR_TWICE] = branch(i, t, ending);
    for (int times = 2; times < 5; ++times)
        hear_all(i, t);
    ending(i, t);
    shown[FIVE_TIMES] = finished(i, t);
}

static void play_two_channels(const Case *c, const Take *t, Figures shown[WAYS])
{
    Instance *i = fresh(c, t);
    hear(i, t->audio.channel[0], NULL, t->audio.n);
    shown[SECOND_DEAD] = finished(i, t);

    i = fresh(c, t);
    first_is_no_number(i, t);
    shown[FIRST_IS_NO_NUMBER] = finished(i, t);

    i = fresh(c, t);
    hear_part(i, t, 0, along(t, 0.4));
    shown[SECOND_DIES] = branch(i, t, second_dies);
    shown[SECOND_DROPS_OUT] = branch(i, t, second_drops_out);
    hear_part(i, t, along(t, 0.4), t->audio.n);
    shown[ON_BOTH] = finished(i, t);
}

/* Each plug-in and take is played once, for all tests. */
enum { MOST_PLUGINS = 64 };
static Figures shown[MOST_PLUGINS][TAKES][WAYS];

static const Figures *at_the_end(const Case *c, uint32_t k, Played way)
{
    uint32_t p = 0;
    while (host_plugin_at(c->host, p) != c->plugin)
        ++p;
    assert_true(p < MOST_PLUGINS);
    if (!shown[p][k][way].value && c->plugin->ins == 1)
        play_one_channel(c, &takes[k], shown[p][k]);
    else if (!shown[p][k][way].value)
        play_two_channels(c, &takes[k], shown[p][k]);
    return &shown[p][k][way];
}

static void forget_all(void)
{
    for (uint32_t p = 0; p < MOST_PLUGINS; ++p)
        for (uint32_t k = 0; k < TAKES; ++k)
            for (uint32_t w = 0; w < WAYS; ++w)
                figures_free(&shown[p][k][w]);
}

/* ---- What is asked for ---- */

typedef struct {
    const char *name;
    Played got, want;
    const char *but; /* read-outs that may move */
    bool loop;       /* it is a loop */
} Way;

/* Esses' centre is rounded to 1/24 octave. Where its sibilants make two groups, the higher one is taken if a quarter of
 * them or more are in it: one at a seam may decide that, and such takes are counted. */
#define CENTRE_STEP 0.03

typedef struct {
    Apart apart;
    uint32_t takes, regrouped;
} Worst;

static bool regroups(const Case *c, const Way *way, const Apart *a)
{
    return way->loop && plugin_port(c->plugin, "found_centre") && a->hz_share > CENTRE_STEP;
}

static Worst worst_apart(const Case *c, const Way *way)
{
    Worst all = {0};
    Apart *const worst = &all.apart;
    for (uint32_t k = 0; k < TAKES; ++k) {
        if (!takes[k].audio.n)
            continue;
        const Apart a = figures_apart(at_the_end(c, k, way->want), at_the_end(c, k, way->got), way->but);
        if (*a.differs || a.points > 0.0)
            fail_msg("%s, %s, %s:%s shares by %g points", c->plugin->uri, way->name, takes[k].name, a.differs,
                     a.points);
        if (a.db > worst->db)
            snprintf(worst->worst, sizeof worst->worst, "%.40s, %.40s", a.worst, takes[k].name);
        worst->db = fmax(worst->db, a.db);
        ++all.takes;
        if (regroups(c, way, &a))
            ++all.regrouped;
        else
            worst->hz_share = fmax(worst->hz_share, a.hz_share);
        worst->depth = fmax(worst->depth, a.depth);
        worst->other_share = fmax(worst->other_share, a.other_share);
    }
    return all;
}

/* In a loop Chain's Esses hears other dips and thresholds the second time. */
static void tell_findings(const Case *c, const Way *way, const Apart *a)
{
    const bool chain_loops = way->loop && !is_tone(c->plugin);
    char what[200];
    snprintf(what, sizeof what, "%s: %s: frequencies found move by", c->plugin->uri, way->name);
    figure_at_most("Invariance", what, 100.0 * a->hz_share, chain_loops ? 4.0 : 0.1, "%",
                   chain_loops ? "our own limit; required: 0.5; wide: the centre of its Esses" : "ours; required: 0.5");
    snprintf(what, sizeof what, "%s: %s: depth of a found dip moves by", c->plugin->uri, way->name);
    figure_at_most("Invariance", what, a->depth, chain_loops ? 0.2 : 0.1, "dB",
                   chain_loops ? "our own limit; required: 0.1; its Tone hears the first seconds at another gain"
                               : "requirement; wide: one limit for all takes");
}

static void tell(const Case *c, const Way *way)
{
    const Worst all = worst_apart(c, way);
    const Apart a = all.apart;
    const bool steps = way->loop && plugin_port(c->plugin, "found_centre");
    char what[200];
    snprintf(what, sizeof what, "%s: %s: levels found move by (%s)", c->plugin->uri, way->name, a.worst);
    const bool chain = strstr(c->plugin->uri, "chain") != NULL;
    figure_at_most("Invariance", what, a.db, chain ? 1.5 : 0.1, "dB",
                   chain ? "our own limit; required: 0.1; wide: its Compressor hears through its Tone, whose dips come"
                         : "requirement; wide: one limit for all plug-ins");
    if (plugin_port(c->plugin, "found1_freq")) {
        tell_findings(c, way, &a);
        return;
    }
    snprintf(what, sizeof what, "%s: %s: frequencies found move by", c->plugin->uri, way->name);
    figure_at_most("Invariance", what, 100.0 * a.hz_share, steps ? 100.0 * CENTRE_STEP : 0.5, "%",
                   steps ? "ours; required: 0.5; wide: one step of 1/24 octave, with other seeds"
                         : "requirement; wide: one limit for all plug-ins");
    snprintf(what, sizeof what, "%s: %s: takes in which another group is the centre's", c->plugin->uri, way->name);
    if (steps)
        figure_at_most("Invariance", what, 100.0 * all.regrouped / all.takes, 25.0, "%",
                       "ours; required: 0; wide: one of four takes, with other seeds");
}

static void silence_teaches_nothing(void **state)
{
    tell(*state, &(Way){"20 s of silence before", SILENCE_BEFORE, ALONE, NOW RANGE, false});
    tell(*state, &(Way){"20 s of silence between", SILENCE_BETWEEN, ALONE, NOW RANGE " hum_level ", false});
    tell(*state, &(Way){"20 s of silence after", SILENCE_AFTER, ENDED, NOW RANGE, false});
}

static void a_loop_teaches_nothing(void **state)
{
    tell(*state, &(Way){"five times over", FIVE_TIMES, ONCE_OR_TWICE, NOW COUNTS RANGE LIMIT, true});
}

static void a_dead_channel_teaches_nothing(void **state)
{
    tell(*state, &(Way){"channel 2 dead", SECOND_DEAD, ON_BOTH, NOW COUNTS, false});
    tell(*state, &(Way){"channel 2 dies", SECOND_DIES, ON_BOTH, NOW COUNTS, false});
    tell(*state, &(Way){"channel 1 is no number", FIRST_IS_NO_NUMBER, ON_BOTH, NOW COUNTS, false});
    tell(*state, &(Way){"channel 2 drops out for 1 s", SECOND_DROPS_OUT, ON_BOTH, NOW COUNTS, false});
}

/* What a stereo plug-in listens to is one sound too: for silence and loops the mono variant stands for both. */
static bool learns_one(const Plugin *plugin)
{
    return every_learns(plugin) && plugin->ins == 1;
}

static bool learns_two(const Plugin *plugin)
{
    return every_learns(plugin) && plugin->ins == 2;
}

int main(void)
{
    static const Property properties[] = {
        {"a dead channel teaches nothing", a_dead_channel_teaches_nothing, learns_two},
        {"silence teaches nothing", silence_teaches_nothing, learns_one},
        {"a loop teaches nothing", a_loop_teaches_nothing, learns_one},
    };
    takes_make(takes);
    const int failed = every_run("invariance", properties, sizeof properties / sizeof *properties);
    forget_all();
    takes_free(takes);
    return failed;
}
