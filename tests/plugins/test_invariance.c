/* What teaches nothing new: digital silence before, in and after a take, the same take over and over, a dead channel of
 * two, a channel that drops out for a while. What was found stays within 0.1 dB. */
#include "takes.h"

#include "figure.h"

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

/* ---- Ways to play a take ---- */

static uint32_t silent_frames(const Take *t)
{
    return (uint32_t)(SILENCE * t->rate);
}

/* Pieces of the take and of silence, one after the other. from == n: silence. */
typedef struct {
    uint32_t from, n;
} Piece;

static Audio played(const Take *t, const Piece *piece, uint32_t pieces)
{
    uint32_t n = 0, at = 0;
    for (uint32_t p = 0; p < pieces; ++p)
        n += piece[p].n;
    Audio a = audio_new(n);
    for (uint32_t p = 0; p < pieces; at += piece[p++].n)
        for (uint32_t c = 0; c < 2 && piece[p].from < t->audio.n; ++c)
            memcpy(a.channel[c] + at, t->audio.channel[c] + piece[p].from, piece[p].n * sizeof(float));
    return a;
}

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

static Audio alone(const Take *t)
{
    return audio_copy(&t->audio);
}

static Audio silence_before(const Take *t)
{
    return played(t, (const Piece[]){{t->audio.n, silent_frames(t)}, {0, t->audio.n}}, 2);
}

static Audio silence_between(const Take *t)
{
    const uint32_t rest = a_rest(t), n = t->audio.n;
    return played(t, (const Piece[]){{0, rest}, {n, silent_frames(t)}, {rest, n - rest}}, 3);
}

static Audio silence_after(const Take *t)
{
    return played(t, (const Piece[]){{0, t->audio.n}, {t->audio.n, silent_frames(t)}}, 2);
}

/* A second of silence ends the note and the phrase under way. */
static Audio ended(const Take *t)
{
    return played(t, (const Piece[]){{0, t->audio.n}, {t->audio.n, (uint32_t)t->rate}}, 2);
}

static Audio five_times(const Take *t)
{
    const Piece whole = {0, t->audio.n}, silence = {t->audio.n, (uint32_t)t->rate};
    return played(t, (const Piece[]){whole, whole, whole, whole, whole, silence}, 6);
}

/* A spoken take, pieces in a row, has no rest at its ends: the first seam makes one. So it is twice that five times has
 * to equal. */
static Audio once_or_twice(const Take *t)
{
    const Piece whole = {0, t->audio.n}, silence = {t->audio.n, (uint32_t)t->rate};
    return t->spoken ? played(t, (const Piece[]){whole, whole, silence}, 3) : ended(t);
}

static Audio on_both(const Take *t)
{
    const Audio a = audio_copy(&t->audio);
    memcpy(a.channel[1], a.channel[0], a.n * sizeof(float));
    return a;
}

static Audio with_channel(const Take *t, uint32_t channel, double from, double to, float value)
{
    const Audio a = on_both(t);
    for (uint32_t k = (uint32_t)(from * a.n); k < (uint32_t)(to * a.n); ++k)
        a.channel[channel][k] = value;
    return a;
}

static Audio second_dead(const Take *t)
{
    return with_channel(t, 1, 0.0, 1.0, 0.f);
}

static Audio second_dies(const Take *t)
{
    return with_channel(t, 1, 0.4, 1.0, 0.f);
}

static Audio first_is_no_number(const Take *t)
{
    return with_channel(t, 0, 0.0, 1.0, NAN);
}

static Audio second_drops_out(const Take *t)
{
    return with_channel(t, 1, 0.4, 0.43, INFINITY);
}

/* ---- What is asked for ---- */

typedef struct {
    const char *name;
    Audio (*play)(const Take *);
    Audio (*beside)(const Take *); /* what it has to equal */
    const char *but;               /* read-outs that may move */
    bool loop;                     /* five times as much of Tone's memory is thinned out */
} Way;

static bool is_tone(const Plugin *plugin)
{
    return !strcmp(plugin->stem, "tone") || !strcmp(plugin->stem, "tone-stereo");
}

/* What Tone's finder is at work on when a take ends lacks the last notes, and how many of them hangs on when it set
 * out. Digital silence until it has heard them all: then what was learned from a take is the same whenever it came. */
static void let_it_finish(Instance *i, double rate)
{
    if (!is_tone(instance_plugin(i)))
        return;
    const Audio silence = audio_new((uint32_t)(SILENCE * rate)), out = audio_through(i, &silence);
    audio_free(&silence);
    audio_free(&out);
}

static Instance *hear(const Case *c, const Take *t, Audio (*play)(const Take *))
{
    Instance *i = every_new(c, t->rate, INSTANCE_PLAIN);
    instance_activate(i);
    const Audio in = play(t), out = audio_through(i, &in);
    audio_free(&in);
    audio_free(&out);
    let_it_finish(i, t->rate);
    return i;
}

/* What several ways have to equal is heard once: as of the last call, a take each. */
typedef struct {
    Audio (*play)(const Take *);
    Instance *heard[TAKES];
} Beside;

static void forget(Beside *b)
{
    for (uint32_t k = 0; k < TAKES; ++k)
        if (b->heard[k])
            instance_free(b->heard[k]);
    *b = (Beside){0};
}

static Instance *beside(Beside *b, const Case *c, uint32_t k, Audio (*play)(const Take *))
{
    if (b->play != play)
        forget(b);
    b->play = play;
    if (!b->heard[k])
        b->heard[k] = hear(c, &takes[k], play);
    return b->heard[k];
}

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

static Worst worst_apart(const Case *c, const Way *way, Beside *b)
{
    Worst all = {0};
    Apart *const worst = &all.apart;
    for (uint32_t k = 0; k < TAKES; ++k) {
        if (!takes[k].audio.n)
            continue;
        Instance *want = beside(b, c, k, way->beside), *got = hear(c, &takes[k], way->play);
        const Apart a = figures_apart(want, got, way->but);
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
        instance_free(got);
    }
    return all;
}

/* Chain's Tone is not let finish: its findings are those of up to half a minute before the end. */
static void tell_findings(const Case *c, const Way *way, const Apart *a)
{
    const bool waits = is_tone(c->plugin) && !way->loop;
    const double looped = is_tone(c->plugin) ? 1.5 : 4.0;
    char what[200];
    snprintf(what, sizeof what, "%s: %s: frequencies found move by", c->plugin->uri, way->name);
    figure_at_most("Invariance", what, 100.0 * a->hz_share, waits ? 0.5 : looped, "%",
                   waits ? "requirement; wide: one limit for all takes"
                         : "our own limit; wide: where its frames begin moves what Tone finds");
    snprintf(what, sizeof what, "%s: %s: depth of a found dip moves by", c->plugin->uri, way->name);
    figure_at_most("Invariance", what, a->depth, waits ? 0.5 : 1.0, "dB",
                   waits ? "our own limit; required: 0.1; wide: where its frames begin moves what Tone finds"
                         : "our own limit; required: 0.1; wide: other pieces are in a memory that is thinned out");
}

static void tell(const Case *c, const Way *way, Beside *b)
{
    const Worst all = worst_apart(c, way, b);
    const Apart a = all.apart;
    const bool steps = way->loop && plugin_port(c->plugin, "found_centre");
    char what[200];
    snprintf(what, sizeof what, "%s: %s: levels found move by (%s)", c->plugin->uri, way->name, a.worst);
    const bool chain = strstr(c->plugin->uri, "chain") != NULL;
    figure_at_most("Invariance", what, a.db, chain ? 1.0 : 0.1, "dB",
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

static void tell_all(const Case *c, const Way *way, size_t ways)
{
    Beside b = {0};
    for (size_t w = 0; w < ways; ++w)
        tell(c, &way[w], &b);
    forget(&b);
}

static void silence_teaches_nothing(void **state)
{
    static const Way ways[] = {{"20 s of silence before", silence_before, alone, NOW RANGE, false},
                               {"20 s of silence between", silence_between, alone, NOW RANGE " hum_level ", false},
                               {"20 s of silence after", silence_after, ended, NOW RANGE, false}};
    tell_all(*state, ways, sizeof ways / sizeof *ways);
}

static void a_loop_teaches_nothing(void **state)
{
    static const Way way = {"five times over", five_times, once_or_twice, NOW COUNTS RANGE LIMIT, true};
    tell_all(*state, &way, 1);
}

static void a_dead_channel_teaches_nothing(void **state)
{
    static const Way ways[] = {{"channel 2 dead", second_dead, on_both, NOW COUNTS, false},
                               {"channel 2 dies", second_dies, on_both, NOW COUNTS, false},
                               {"channel 1 is no number", first_is_no_number, on_both, NOW COUNTS, false},
                               {"channel 2 drops out for 1 s", second_drops_out, on_both, NOW COUNTS, false}};
    tell_all(*state, ways, sizeof ways / sizeof *ways);
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
    takes_free(takes);
    return failed;
}
