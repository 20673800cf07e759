/* Damaged samples, that is such as are not finite or of magnitude 16 and above, do no harm in any plug-in, nor in all
 * of them in a row: no burst, no tail, nothing learned. Compared is what the same take without them gives. */
#include "takes.h"

#include "figure.h"

enum {
    PLACES = 50,
    RUN_EVERY = 10, /* every tenth place is 1 ms long */
    STAGES = 16,
    BEGIN = 1, /* s, from the start on undamaged */
    END = 2,   /* s, at the end undamaged */
    LOOKED_AT = 50,
};

static Take takes[TAKES];

/* Tone's second and third finding, which come and go, on a voice that has but one, with the smallest change; what Hum
 * does now, and did so far; the noise that Floor follows. */
#define SECOND                                                                                                         \
    " noise_now mains_drift taken_now taken_in_all found2_freq found2_depth found2_width found2_sure found3_freq "     \
    "found3_depth "                                                                                                    \
    "found3_width found3_sure "

/* A tick stands out of the 35 ms around it: where a part of those is damaged, one sound more or less does. That damage
 * itself is none is held by tests/unit/test_ticks.c. */
#define TICKED " found removed last_size last_ago "

/* ---- Damage ---- */

static float damaged_sample(uint32_t k)
{
    static const float value[] = {1e30f, -1e30f, NAN, INFINITY, -INFINITY, 16.f, -16.f, 20.f, 3e38f};
    return value[k % (sizeof value / sizeof *value)];
}

static uint32_t damage_start(const Take *t, double along)
{
    const double first = BEGIN * t->rate, last = t->audio.n - END * t->rate;
    return (uint32_t)(first + along * (last - first));
}

/* Each place in one channel; channels 1: in the first alone. *end: the first frame after the last damage. */
static Audio damaged_take(const Take *t, uint32_t channels, uint32_t seed, uint32_t *end)
{
    Audio a = audio_copy(&t->audio);
    *end = 0;
    for (uint32_t k = 0; k < PLACES; ++k) {
        const double along = 0.5 + 0.5 * every_noise(&seed);
        const uint32_t at = damage_start(t, along), n = k % RUN_EVERY ? 1 : (uint32_t)(t->rate / 1000.0);
        float *x = a.channel[channels > 1 && every_noise(&seed) > 0.0];
        for (uint32_t i = 0; i < n; ++i)
            x[at + i] = damaged_sample(k + i);
        *end = *end > at + n ? *end : at + n;
    }
    return a;
}

/* ---- One plug-in, or all of them in a row ---- */

typedef struct {
    const char *name;
    uint32_t ins, outs, stages;
    Instance *stage[STAGES];
} Row;

static void as_a_send(Instance *i)
{
    if (!plugin_port(instance_plugin(i), "dry"))
        return;
    assert_true(instance_set(i, "dry", plugin_port(instance_plugin(i), "dry")->min));
    assert_true(instance_set(i, "wet", 0.f));
}

static void row_add(Row *r, const Case *c, const Plugin *plugin, double rate, bool send)
{
    const Case one = {c->host, plugin};
    Instance *i = every_new(&one, rate, INSTANCE_PLAIN);
    if (send)
        as_a_send(i);
    instance_activate(i);
    assert_true(r->stages < STAGES);
    r->outs = plugin->outs;
    r->stage[r->stages++] = i;
}

static Row row_of_one(const Case *c, double rate, bool send)
{
    Row r = {.name = c->plugin->uri, .ins = c->plugin->ins};
    row_add(&r, c, c->plugin, rate, send);
    return r;
}

/* In the order of a session: those named here, then whatever else the bundle has. */
static Row row_of_all(const Case *c, double rate)
{
    static const char *const order[] = {"check", "trim", "tone", "compressor", "esses", "plate"};
    enum { ORDERED = sizeof order / sizeof *order };
    Row r = {.name = "all in a row", .ins = 2};
    for (uint32_t k = 0; k < ORDERED; ++k)
        if (host_plugin(c->host, order[k], 2))
            row_add(&r, c, host_plugin(c->host, order[k], 2), rate, false);
    for (uint32_t p = 0; p < host_plugins(c->host); ++p) {
        const Plugin *plugin = host_plugin_at(c->host, p);
        bool ordered = plugin->ins != 2;
        for (uint32_t k = 0; k < ORDERED; ++k)
            ordered |= !strcmp(plugin->stem, order[k]);
        if (!ordered)
            row_add(&r, c, plugin, rate, false);
    }
    return r;
}

static void row_set(const Row *r, const char *symbol, float value)
{
    for (uint32_t s = 0; s < r->stages; ++s)
        if (plugin_port(instance_plugin(r->stage[s]), symbol))
            instance_set(r->stage[s], symbol, value);
}

static Audio row_through(const Row *r, const Audio *in)
{
    Audio out = audio_copy(in);
    for (uint32_t s = 0; s < r->stages; ++s)
        instance_run(r->stage[s], audio_in(&out), out.channel, out.n);
    return out;
}

static void row_free(const Row *r)
{
    for (uint32_t s = 0; s < r->stages; ++s)
        instance_free(r->stage[s]);
}

/* ---- What is asked for ---- */

static double rms_db(const float *a, const float *b, uint32_t n)
{
    double sum = 0.0;
    for (uint32_t k = 0; k < n; ++k)
        sum += ((double)a[k] - (double)b[k]) * ((double)a[k] - (double)b[k]);
    return 10.0 * log10(sum / n + 1e-30);
}

static double peak_db(const Audio *a, uint32_t channels)
{
    float peak = 1e-15f;
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t k = 0; k < a->n; ++k)
            peak = fabsf(a->channel[c][k]) > peak ? fabsf(a->channel[c][k]) : peak;
    return 20.0 * log10((double)peak);
}

/* Largest difference over LOOKED_AT ms from a frame on, over the voice's level in what is put out. */
static double left_over(const Audio *got, const Audio *want, uint32_t channels, double rate, uint32_t from)
{
    const uint32_t window = (uint32_t)(LOOKED_AT * rate / 1000.0);
    double worst = -300.0, voice = -300.0;
    for (uint32_t c = 0; c < channels; ++c) {
        voice = fmax(voice, singer_level_db(want->channel[c], want->n, rate));
        for (uint32_t at = from; at + window <= got->n; at += window)
            worst = fmax(worst, rms_db(got->channel[c] + at, want->channel[c] + at, window));
    }
    return worst - voice;
}

#define LEFT_MOST  (-30.0) /* dB under the voice */
#define WIDER_MOST 0.1     /* of a decay or a width */

typedef struct {
    double peak, left;             /* dB */
    uint32_t plays, sooner, wider; /* how many; in how many of them a finding came sooner or later, which was heard; in
                                      how many a decay or a width was another one */
    Apart apart;
} Harm;

static void worse(Harm *worst, const Harm *h)
{
    worst->peak = fmax(worst->peak, h->peak);
    worst->left = fmax(worst->left, h->left);
    worst->plays += h->plays;
    worst->sooner += h->sooner;
    worst->wider += h->wider;
    worst->apart.points = fmax(worst->apart.points, h->apart.points);
    worst->apart.hz_share = fmax(worst->apart.hz_share, h->apart.hz_share);
    worst->apart.depth = fmax(worst->apart.depth, h->apart.depth);
    worst->apart.other_share = fmax(worst->apart.other_share, h->apart.other_share);
    if (h->apart.db > worst->apart.db) {
        worst->apart.db = h->apart.db;
        memcpy(worst->apart.worst, h->apart.worst, sizeof worst->apart.worst);
    }
}

/* What a plug-in did so far is no finding: in a row, and in Chain, it hangs on what those before it did while all of
 * them were learning, and a share in whole percent shows that at its rounding. Behind a Plate, Booth hears a room, and
 * how much of it there is from a dozen ends of words, one of which damage takes. */
static const char *left_out(const Instance *i, bool row)
{
    static const struct {
        const char *stem, *alone, *in_row;
    } but[] = {
        {"ticks", TICKED, TICKED},
        {"booth", " word_ends ", " word_ends late_level removed "},
        {"esses", SECOND, " caught_share "},
        {"chain", " caught_share " SECOND, " caught_share " SECOND},
    };
    for (size_t k = 0; k < sizeof but / sizeof *but; ++k)
        if (!strncmp(instance_plugin(i)->stem, but[k].stem, strlen(but[k].stem)))
            return row ? but[k].in_row : but[k].alone;
    return SECOND;
}

static bool has(const Row *r, const char *symbol)
{
    for (uint32_t s = 0; s < r->stages; ++s)
        if (plugin_port(instance_plugin(r->stage[s]), symbol))
            return true;
    return false;
}

static bool finds(const Row *r)
{
    return has(r, "found1_freq");
}

static bool learns(const Row *r)
{
    return instance_value(r->stage[0], "learn") > 0.f;
}

/* A dip glides to where a finding is sure only while it learns; Hum asks on hold too where the hum stands now. */
static bool turns_up(const Row *r, bool learning)
{
    return (learning && finds(r)) || has(r, "taken_now");
}

/* What is sure sooner or later than in the sound take makes a difference for that time: such plays are counted. A hum
 * then differs by no more than itself, or where it is followed wrongly at first, by twice itself. So are those in which
 * the width of a hill with a flat top is another one. */
static void note_rates(Harm *h, const Row *r)
{
    h->plays = 1;
    h->sooner = turns_up(r, learns(r)) && h->left > LEFT_MOST;
    if (h->sooner)
        h->left = -300.0;
    h->wider = finds(r) && h->apart.other_share > WIDER_MOST;
    if (h->wider)
        h->apart.other_share = 0.0;
}

/* Frames by which the row's output comes later than its input: a host makes up for them. */
static uint32_t latency_of(const Row *r)
{
    float frames = 0.f;
    for (uint32_t s = 0; s < r->stages; ++s)
        frames += instance_value(r->stage[s], "latency");
    return (uint32_t)frames;
}

static Harm harm(const Row *sound, const Row *hurt, const Take *t, uint32_t seed)
{
    uint32_t end;
    const Audio damaged = damaged_take(t, sound->ins, seed, &end);
    const Audio want = row_through(sound, &t->audio), got = row_through(hurt, &damaged);
    audio_assert_finite(&got, sound->outs, sound->name);
    const uint32_t from = end + latency_of(sound) + (uint32_t)(0.1 * t->rate);
    Harm h = {.peak = peak_db(&got, sound->outs) - peak_db(&want, sound->outs),
              .left = left_over(&got, &want, sound->outs, t->rate, from)};
    for (uint32_t s = 0; s < sound->stages; ++s) {
        const Figures want_shown = figures_of(sound->stage[s]), got_shown = figures_of(hurt->stage[s]);
        const Harm one = {.peak = -300.0,
                          .left = -300.0,
                          .apart =
                              figures_apart(&want_shown, &got_shown, left_out(sound->stage[s], sound->stages > 1))};
        figures_free(&want_shown);
        figures_free(&got_shown);
        if (*one.apart.differs)
            fail_msg("%s, %s, seed %u: %s:%s", sound->name, t->name, seed, instance_plugin(sound->stage[s])->uri,
                     one.apart.differs);
        worse(&h, &one);
    }
    note_rates(&h, sound);
    audio_free(&damaged);
    audio_free(&want);
    audio_free(&got);
    return h;
}

/* What differs in some takes: in so many of them at most. */
static void tell_rates(const Row *r, const char *how, const Harm *h, bool learning)
{
    char what[200];
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: plays in which a %s comes sooner or later", r->name, how,
             !has(r, "taken_now") ? "finding"
             : finds(r)           ? "finding or a hum"
                                  : "hum");
    if (turns_up(r, learning))
        figure_at_most("Damage", what, 100.0 * h->sooner / h->plays, 25.0, "%",
                       "our own limit; required: 0; wide: one of four plays, with other seeds");
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: plays in which a decay or a width moves by over 10 %%",
             r->name, how);
    if (finds(r))
        figure_at_most("Damage", what, 100.0 * h->wider / h->plays, 25.0, "%",
                       "our own limit; wide: one of four plays, with other seeds");
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: share of sibilants caught moves by", r->name, how);
    if (r->stages == 1 && has(r, "caught_share"))
        figure_at_most("Damage", what, h->apart.points, 3.0, "points",
                       "our own limit; wide: one or two of sixty sibilants, with other seeds");
}

static void tell(const Row *r, const char *how, const Harm *h, bool learning)
{
    const bool row = r->stages > 1;
    const char *const name = r->name;
    char what[200];
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: output peak over the sound take's", name, how);
    figure_at_most("Damage", what, h->peak, 1.0, "dB", "ours; required: 3; wide: one limit for all plug-ins");
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: left 100 ms later, under the voice", name, how);
    figure_at_most("Damage", what, h->left, LEFT_MOST, "dB", "requirement; wide: Plate on a send needs it");
    tell_rates(r, how, h, learning);
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: levels found move by (%s)", name, how, h->apart.worst);
    figure_at_most("Damage", what, h->apart.db, row ? 0.5 : 0.1, "dB",
                   row ? "our own limit; required: 0.1; wide: Phrase behind Plate and Booth"
                       : "requirement; wide: Check needs it");
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: frequencies found move by", name, how);
    figure_at_most(
        "Damage", what, 100.0 * h->apart.hz_share, row ? 2.5 : 0.5, "%",
        row ? "our own limit; required: 0.5; wide: the Tone of Chain behind twelve others, in one play of four"
            : "requirement; wide: one limit for all plug-ins");
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: depth of a found dip moves by", name, how);
    figure_at_most("Damage", what, h->apart.depth, 0.4, "dB", "our own limit; wide: the chain needs it");
    /* A rest is one of a handful; a width is that of a hill with a flat top. */
    snprintf(what, sizeof what, "%s%s: 50 damaged samples: a decay or a width found moves by", name, how);
    figure_at_most("Damage", what, 100.0 * h->apart.other_share, strstr(name, ":rests") ? 35.0 : 100.0 * WIDER_MOST,
                   "%", "our own limit; wide: one in a handful");
}

typedef Row (*MakeRow)(const Case *c, double rate);

static Row alone(const Case *c, double rate)
{
    return row_of_one(c, rate, false);
}

static Row on_a_send(const Case *c, double rate)
{
    return row_of_one(c, rate, true);
}

/* What differs by a hair after damage may catch a sibilant more or less, or be sure of a finding or not; in a row,
 * where each learns of what those before it were still learning, all do. On hold it is asked what damage does to one
 * that has the same figures. */
static void give_the_same_figures(const Row *from, const Row *to)
{
    for (uint32_t s = 0; s < from->stages; ++s) {
        Error e;
        if (from->stages == 1 && !plugin_port(instance_plugin(from->stage[s]), "found1_freq"))
            continue;
        char *text = instance_save(from->stage[s], &e);
        assert_non_null(text);
        assert_true(instance_restore(to->stage[s], text, false, &e));
        assert_true(instance_restore(from->stage[s], text, false, &e));
        free(text);
    }
}

/* First learning, then the same once more on hold. */
static void damage_does_no_harm(const Case *c, MakeRow make, const char *how)
{
    Harm learning = {.peak = -300.0, .left = -300.0}, held = learning;
    const Row row = make(c, 48000.0);
    for (uint32_t k = 0; k < TAKES; ++k) {
        const Take *t = &takes[k];
        if (!t->audio.n)
            continue;
        const uint32_t seed = seeded(100 * (k + 1));
        const Row sound = make(c, t->rate), hurt = make(c, t->rate);
        const Harm h = harm(&sound, &hurt, t, seed);
        worse(&learning, &h);
        row_set(&sound, "learn", 0.f);
        row_set(&hurt, "learn", 0.f);
        give_the_same_figures(&sound, &hurt);
        const Harm g = harm(&sound, &hurt, t, seed + 50);
        worse(&held, &g);
        row_free(&sound);
        row_free(&hurt);
    }
    tell(&row, how, &learning, true);
    char on_hold[80];
    snprintf(on_hold, sizeof on_hold, "%s, on hold", how);
    tell(&row, on_hold, &held, false);
    row_free(&row);
}

static void does_no_harm(void **state)
{
    damage_does_no_harm(*state, alone, "");
}

static void does_no_harm_on_a_send(void **state)
{
    damage_does_no_harm(*state, on_a_send, ", on a send");
}

static void does_no_harm_to_all(void **state)
{
    damage_does_no_harm(*state, row_of_all, "");
}

/* A second of it, in one channel: as a second of silence there, to the bit, and learned the same. */
static void a_long_stretch_is_silence(void **state)
{
    const Case *c = *state;
    const Take *t = &takes[0];
    const uint32_t from = t->audio.n / 3, n = (uint32_t)t->rate;
    const Audio hurt = audio_copy(&t->audio), silent = audio_copy(&t->audio);
    for (uint32_t k = from; k < from + n; ++k) {
        hurt.channel[0][k] = damaged_sample(k);
        silent.channel[0][k] = 0.f;
    }
    const Row a = row_of_one(c, t->rate, false), b = row_of_one(c, t->rate, false);
    const Audio got = row_through(&a, &hurt), want = row_through(&b, &silent);
    audio_assert_same(&want, &got, c->plugin->outs, 0, "a second of damage");
    row_free(&a);
    row_free(&b);
    audio_free(&hurt);
    audio_free(&silent);
    audio_free(&got);
    audio_free(&want);
}

enum { TRIED = 4800, ON_THE_WAY = TRIED / 8 };

/* What bypass_passes_what_is_finite() has played by then: all of `in`, a part of it, and again from its beginning. */
static float played(const Audio *in, int64_t at)
{
    const int64_t again = at - TRIED, once_more = again - ON_THE_WAY;
    const float x = in->channel[0][once_more >= 0 ? once_more : again >= 0 ? again : at];
    return isfinite(x) ? x : 0.f;
}

/* Bypassed, every finite sample passes and others are 0, also those that came in before the switch; on the way there
 * and back nothing huge comes out. */
static void bypass_passes_what_is_finite(void **state)
{
    const Case *c = *state;
    enum { N = TRIED };
    const Audio in = audio_new(N), out = audio_new(N);
    for (uint32_t k = 0; k < N; ++k)
        in.channel[0][k] = in.channel[1][k] = k % 3 ? 0.1f : damaged_sample(k / 3);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    instance_activate(i);
    instance_run(i, audio_in(&in), out.channel, N);
    instance_set(i, "enabled", 0.f);
    instance_run(i, audio_in(&in), out.channel, ON_THE_WAY); /* the fade takes 960 frames */
    assert_true(peak_db(&out, c->plugin->outs) < 20.0);
    instance_run(i, audio_in(&in), out.channel, N);
    const uint32_t late = instance_latency(i);
    for (uint32_t o = 0; o < c->plugin->outs && plugin_port(c->plugin, "enabled"); ++o)
        for (uint32_t k = 500; k < N; ++k)
            assert_true(out.channel[o][k] == played(&in, (int64_t)N + ON_THE_WAY + k - late));
    instance_run(i, audio_in(&in), out.channel, N);
    for (uint32_t o = 0; o < c->plugin->outs && plugin_port(c->plugin, "enabled"); ++o)
        for (uint32_t k = late; k < N; ++k) {
            const float x = in.channel[0][k - late];
            assert_true(out.channel[o][k] == (isfinite(x) ? x : 0.f));
        }
    instance_set(i, "enabled", 1.f);
    instance_run(i, audio_in(&in), out.channel, ON_THE_WAY);
    assert_true(isfinite(out.channel[0][ON_THE_WAY - 1]));
    instance_free(i);
    audio_free(&in);
    audio_free(&out);
}

static bool is_for_a_send(const Plugin *plugin)
{
    return plugin_port(plugin, "dry") != NULL;
}

/* Once is enough. */
static bool is_first(const Plugin *plugin)
{
    return !strcmp(plugin->uri, "urn:linctus:trim-stereo");
}

int main(void)
{
    static const Property properties[] = {
        {"a long stretch of damage is silence", a_long_stretch_is_silence, NULL},
        {"bypass passes what is finite", bypass_passes_what_is_finite, NULL},
        {"damage does no harm", does_no_harm, NULL},
        {"damage does no harm on a send", does_no_harm_on_a_send, is_for_a_send},
        {"damage does no harm to all plug-ins in a row", does_no_harm_to_all, is_first},
    };
    takes_make(takes);
    const int failed = every_run("damage", properties, sizeof properties / sizeof *properties);
    takes_free(takes);
    return failed;
}
