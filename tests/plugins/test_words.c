/* What the reports say, held against figures that are put in: ports of the plug-ins with values nobody had to sing. */
#include "advice.h"
#include "fill.h"
#include "preset.h"
#include "runs.h"
#include "story.h"

#include <ctype.h>

/* ---- Ports ---- */

/* A plug-in's ports, all at 0 but those that are put. */
typedef struct {
    Host *host;
    Readings ports;
} Shown;

static Shown shown_open(const char *plugin)
{
    char path[4096];
    Error e;
    snprintf(path, sizeof path, "%s/linctus.lv2", every_build());
    Shown s = {.host = host_open(path, &e)};
    if (!s.host || !readings_start(&s.ports, host_plugin(s.host, plugin, 2), &e))
        fail_msg("%s", e.text);
    return s;
}

static void shown_close(Shown *s)
{
    readings_free(&s->ports);
    host_close(s->host);
}

static void put(Shown *s, const char *symbol, double value)
{
    const Port *port = plugin_port(s->ports.plugin, symbol);
    assert_non_null(port);
    s->ports.port[port - s->ports.plugin->port].last = (float)value;
}

/* ---- Dips ---- */

/* The first place is free, as when a resonance went that was found before the others. */
static void put_dips(Shown *s, bool any)
{
    put(s, "enabled", 1.0);
    put(s, "dips_placed_by", 1.0);
    put(s, "found2_freq", any ? 185.0 : 0.0);
    put(s, "found2_depth", any ? -5.0 : 0.0);
    put(s, "found3_freq", any ? 390.0 : 0.0);
    put(s, "found3_depth", any ? -4.0 : 0.0);
}

/* What the card about the colour says of one stage with these ports. */
static void colour_lines(const char *plugin, const Shown *s, char line[SLOTS][STORY_TEXT])
{
    char state[] = "learned";
    Effect effect = {.readings = s->ports};
    const StageResult stage = {.name = plugin, .lesson = {.state = state, .heard = s->ports}, .effect = &effect};
    const Take take = {.name = "a.wav", .rate = RATE};
    const Readings nothing = {0};
    const Report report = {.check = &nothing, .stage = &stage, .stages = 1, .take = &take, .takes = 1};
    for (Slot slot = 0; slot < SLOTS; ++slot)
        story_line(line[slot], PANEL_COLOUR, slot, &report, &nothing, 0);
}

static void expect(const char *text, const char *said)
{
    if (!strstr(text, said))
        fail_msg("no \"%s\" in \"%s\"", said, text);
}

static void any_dip_is_a_dip(void **state)
{
    (void)state;
    static const char *const plugins[][2] = {{"tone", "Tone"}, {"chain", "Chain"}};
    for (size_t i = 0; i < 2; ++i) {
        char line[SLOTS][STORY_TEXT], said[64];
        Shown s = shown_open(plugins[i][0]);
        put_dips(&s, true);
        colour_lines(plugins[i][0], &s, line);
        expect(line[SLOT_BEFORE], "a resonance at 185 Hz");
        expect(line[SLOT_AFTER], "2: -5.0 dB at 185 Hz; 3: -4.0 dB at 390 Hz");
        snprintf(said, sizeof said, "%s heard what stands out of this voice and dipped", plugins[i][1]);
        expect(line[SLOT_WHY], said);
        assert_null(strstr(line[SLOT_WHY], "nothing"));
        put_dips(&s, false);
        colour_lines(plugins[i][0], &s, line);
        snprintf(said, sizeof said, "%s heard nothing that stands out for sure", plugins[i][1]);
        expect(line[SLOT_BEFORE], "nothing stood out for sure");
        assert_int_equal(strncmp(line[SLOT_WHY], said, strlen(said)), 0);
        shown_close(&s);
    }
}

/* The value that a preset in the bench's folder has for a control. */
static double preset_value(const Bench *b, const char *file, const char *symbol)
{
    char path[256], mark[64], text[TEXT];
    snprintf(path, sizeof path, "%s/kept.lv2/%s", b->folder, file);
    slurp(path, text);
    snprintf(mark, sizeof mark, "lv2:symbol \"%s\"", symbol);
    const char *port = strstr(text, mark), *value = port ? strstr(port, "pset:value ") : NULL;
    if (!value)
        fail_msg("no value of %s in: %s", symbol, text);
    return strtod(value + strlen("pset:value "), NULL);
}

/* A preset for hosts that load controls alone has the dips by hand, wherever they were found. */
static void any_dip_is_kept_in_a_preset(void **state)
{
    const Bench *b = *state;
    char name[128];
    Error e;
    Shown s = shown_open("tone");
    PresetBundle bundle = {0};
    const StagePlan plan = {.host = s.host, .name = "tone"};
    put_dips(&s, true);
    snprintf(name, sizeof name, "%s/kept", b->folder);
    if (!preset_bundle_plan(&bundle, name, &e) || !preset_bundle_make(&bundle, &e) ||
        !preset_bundle_add(&bundle, &plan, NULL, &s.ports, RATE, &e) || !preset_bundle_keep(&bundle, &e))
        fail_msg("%s", e.text);
    assert_true(preset_value(b, "tone-stereo.ttl", "dip1_depth") == 0.0);
    assert_true(preset_value(b, "tone-stereo.ttl", "dip2_depth") == -5.0);
    assert_true(preset_value(b, "tone-stereo.ttl", "dip2_freq") == 185.0);
    assert_true(preset_value(b, "tone-stereo.ttl", "dip3_depth") == -4.0);
    preset_bundle_free(&bundle);
    shown_close(&s);
}

/* ---- Names ---- */

/* README's Words names the resonances and says near which frequency each lies: the very names that are used. */
static void resonances_are_called_what_the_readme_says(void **state)
{
    (void)state;
    static const char names[] = "*Boom, mud, box, honk, nose*: resonances near ";
    char text[TEXT] = "", said[128] = "";
    slurp("README.md", text);
    for (char *end = text; (end = strchr(end, '\n')) != NULL;)
        *end = ' ';
    const char *at = strstr(text, names);
    if (!at)
        fail_msg("README.md has no \"%s\"", names);
    at = at ? at + strlen(names) : "";
    for (size_t k = 0; k < 5; ++k) {
        char *end, name[16];
        const double near = strtod(at, &end);
        snprintf(name, sizeof name, "%s", region_of(near)->name);
        name[0] = (char)(k ? tolower((unsigned char)name[0]) : name[0]);
        snprintf(said + strlen(said), sizeof said - strlen(said), "%s%s", k ? ", " : "*", name);
        assert_true(region_of(near)->near == near);
        assert_int_equal(*end, k < 4 ? ',' : ' ');
        at = end + 1;
    }
    assert_int_equal(strncmp(at, "Hz.", 3), 0);
    assert_int_equal(strncmp(names, said, strlen(said)), 0);
}

/* The nearest in octaves: 316 Hz lies between mud and box. */
static void a_resonance_has_the_nearest_name(void **state)
{
    (void)state;
    static const struct {
        double hz;
        const char *like;
    } called[] = {{20.0, "booming"},  {185.0, "booming"},  {212.0, "booming"}, {213.0, "muddy"},
                  {316.0, "muddy"},   {317.0, "boxy"},     {399.0, "boxy"},    {583.0, "boxy"},
                  {584.0, "honking"}, {1051.0, "honking"}, {1052.0, "nasal"},  {20000.0, "nasal"}};
    for (size_t k = 0; k < sizeof called / sizeof *called; ++k)
        assert_string_equal(region_of(called[k].hz)->like, called[k].like);
}

static void head_of_take(const Shown *tone, Take take, char head[STORY_TEXT])
{
    Effect effect = {.readings = tone->ports};
    const StageResult stage = {.name = "tone", .effect = &effect};
    const Readings nothing = {0};
    const Report report = {.check = &nothing, .stage = &stage, .stages = 1, .take = &take, .takes = 1};
    const Facts facts = {.seconds = 1.0};
    story_head(head, &report, &facts, 0);
}

static void head_of(const Shown *tone, char head[STORY_TEXT])
{
    head_of_take(tone, (Take){.name = "a.wav", .rate = RATE}, head);
}

static void sides_are_told_first(void **state)
{
    (void)state;
    char head[STORY_TEXT];
    Shown s = shown_open("tone");
    put_dips(&s, true);
    head_of_take(&s, (Take){.late = 3.04}, head);
    expect(head, " The right channel late by 3.0 ms; one booming place at 185 Hz");
    head_of_take(&s, (Take){.late = -0.31}, head);
    expect(head, " The left channel late by 0.3 ms; one booming place at 185 Hz");
    head_of_take(&s, (Take){.lone = 2}, head);
    expect(head, " Only the right channel sounds; one booming place at 185 Hz");
    head_of_take(&s, (Take){.late = 3.04, .opposite = true}, head);
    expect(head, " The channels cancel each other; the right channel late by 3.0 ms; one booming");
    shown_close(&s);
}

/* Two of one name are told as two. */
static void places_of_one_name_are_told_together(void **state)
{
    (void)state;
    char head[STORY_TEXT];
    Shown s = shown_open("tone");
    put_dips(&s, true);
    head_of(&s, head);
    expect(head, " One booming place at 185 Hz, dipped; one boxy place at 390 Hz, dipped.");
    put(&s, "found1_freq", 600.0);
    put(&s, "found1_depth", -3.0);
    put(&s, "found3_freq", 1020.0);
    head_of(&s, head);
    expect(head, " Two honking places at 600 Hz and 1.02 kHz, dipped; one booming place at 185 Hz, dipped.");
    put(&s, "found2_freq", 800.0);
    head_of(&s, head);
    expect(head, " Three honking places at 600 Hz, 800 Hz and 1.02 kHz, dipped.");
    put(&s, "found2_depth", 0.0);
    head_of(&s, head);
    expect(head, " Two honking places at 600 Hz and 1.02 kHz, dipped; one honking place at 800 Hz.");
    shown_close(&s);
}

/* ---- Advice ---- */

static void advise_of(const Shown *check, const Shown *tone, bool lopsided, char *text)
{
    const Readings nothing = {0};
    memset(text, 0, TEXT);
    FILE *to = fmemopen(text, TEXT, "w");
    assert_non_null(to);
    advice_print(check ? &check->ports : &nothing, tone ? &tone->ports : &nothing, &nothing, 40.9, lopsided, to);
    fclose(to);
}

static void advise(const Shown *check, const Shown *tone, char *text)
{
    advise_of(check, tone, false, text);
}

/* "Nothing to put right" would be the last word on a take of which one channel is dead or late. */
static void advice_does_not_forget_the_channels(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "verdict", 1.0);
    put(&check, "signal_to_noise", 50.0);
    advise_of(&check, NULL, false, text);
    expect(text, "\nNothing to put right:");
    advise_of(&check, NULL, true, text);
    expect(text, "\nWhat is wrong between the channels stands above");
    assert_null(strstr(text, "Nothing to put right"));
    put(&check, "verdict", 0.0);
    advise_of(&check, NULL, true, text);
    expect(text, "\nThat was too little voice for a verdict");
    shown_close(&check);
}

static void advice_says_when_as_the_page_does(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check"), tone = shown_open("tone");
    put(&check, "verdict", 1.0);
    put(&check, "popping", 1.0);
    put(&check, "popping_at", 36.95);
    put(&check, "clipped", 1.0);
    put(&check, "clipped_samples", 65535.0);
    put(&tone, "found1_freq", 700.0);
    put(&tone, "found2_freq", 900.0);
    advise(&check, &tone, text);
    expect(text, "  last heard     at 0:37\n");
    expect(text, "  found          More than 65 thousand samples sit flat");
    expect(text, "  found          Honk: 700 Hz");
    expect(text, "\n                 Honk too: 900 Hz");
    shown_close(&check);
    shown_close(&tone);
}

/* Check hears on for a moment after the take, and that is no time of it. */
static void nothing_is_heard_past_the_end(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "popping", 1.0);
    put(&check, "popping_at", 41.3);
    advise(&check, NULL, text);
    expect(text, "  last heard     at 0:40\n");
    shown_close(&check);
}

typedef struct {
    double level, peak, verdict; /* of the voice, -200: none was heard; of the take; 0: none yet */
    const char *head, *advice;   /* how they begin */
} Quiet;

static const Quiet quiets[] = {
    {-27.0, -16.0, 3.0, "Usable.", NULL},
    {-47.9, -36.0, 3.0, "Usable.", NULL},
    {-48.1, -36.0, 3.0, "Far too quiet: record it again with more gain.", NULL},
    {-58.0, -46.0, 0.0, "Too quiet to judge: record it again with more gain.", NULL},
    {-18.0, -6.0, 0.0, "Too little voice for a verdict.", NULL},
    {-200.0, -44.0, 0.0, "No voice was heard.", "No voice was heard, so nothing was learned:"},
    {-200.0, -46.0, 0.0, "No voice was heard: the take is too quiet to judge.", "The take is too quiet to judge:"},
    {-200.0, -198.0, 0.0, "No voice was heard: the take is too quiet to judge.", "The take is too quiet to judge:"},
    {-200.0, -200.0, 0.0, "No voice was heard: the take is silent.", "The take is silent:"},
};

static void too_quiet_is_told_by_how_much(void **state)
{
    (void)state;
    Shown check = shown_open("check");
    for (size_t k = 0; k < sizeof quiets / sizeof *quiets; ++k) {
        const Quiet *q = &quiets[k];
        put(&check, "voice_level", q->level);
        put(&check, "peak", q->peak);
        put(&check, "verdict", q->verdict);
        assert_string_equal(report_verdict(&check.ports, &(Take){0}), q->head);
        if (q->advice)
            assert_int_equal(strncmp(advice_voiceless(&check.ports), q->advice, strlen(q->advice)), 0);
    }
    put(&check, "voice_level", -18.0);
    put(&check, "peak", -6.0);
    put(&check, "verdict", 1.0);
    put(&check, "signal_to_noise", 50.0);
    assert_string_equal(report_verdict(&check.ports, &(Take){0}), "Ready.");
    assert_string_equal(report_verdict(&check.ports, &(Take){.late = -1.0}), "Usable.");
    assert_string_equal(report_verdict(&check.ports, &(Take){.opposite = true}), "Usable.");
    assert_string_equal(report_verdict(&check.ports, &(Take){.lone = 2}), "Usable.");
    shown_close(&check);
}

/* What sits flat under full scale is told as such, and not as clipped samples, of which there are none. */
static void advice_tells_what_was_clipped_before(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "verdict", 2.0);
    put(&check, "clipped", 1.0);
    put(&check, "clipped_samples", 0.0);
    put(&check, "flat_tops", 40.0);
    put(&check, "flat_tops_level", -6.1);
    advise(&check, NULL, text);
    expect(text, "\n  found          40 tops of the wave are flat at -6.1 dB: it was clipped there");
    assert_null(strstr(text, "at full scale"));
    put(&check, "clipped_samples", 9.0);
    advise(&check, NULL, text);
    expect(text, "\n  found          9 samples sit flat at full scale.");
    assert_null(strstr(text, "tops"));
    shown_close(&check);
}

/* ---- Times ---- */

static void a_time_is_the_nearest_second(void **state)
{
    (void)state;
    static const struct {
        double seconds;
        const char *text;
    } told[] = {{0.0, "0:00"}, {16.4, "0:16"}, {16.93, "0:17"}, {34.99, "0:35"}, {59.6, "1:00"}, {3599.7, "60:00"}};
    Stretch mark[] = {{16.93, 16.93}, {34.99, 34.99}};
    const Lane lane = {.mark = mark, .marks = 2, .times = 2};
    char text[64];
    for (size_t k = 0; k < sizeof told / sizeof *told; ++k) {
        fill_time(told[k].seconds, text, sizeof text);
        assert_string_equal(text, told[k].text);
    }
    story_when(text, sizeof text, &lane);
    assert_string_equal(text, "at 0:17 and 0:35");
    mark[0].from = 2.2;
    story_when(text, sizeof text, &lane);
    assert_string_equal(text, "from 0:02 to 0:35");
}

/* ---- Figures ---- */

static void shows(const Shown *s, const char *pattern, const char *text)
{
    char filled[128];
    assert_true(fill_in(&s->ports, pattern, filled, sizeof filled));
    assert_string_equal(filled, text);
}

/* A nought has no sign. */
static void nothing_has_no_sign(void **state)
{
    (void)state;
    Shown booth = shown_open("booth");
    put(&booth, "makeup_now", -0.04);
    shows(&booth, "{makeup_now}", "0.0 dB");
    shows(&booth, "{+makeup_now}", "+0.0 dB");
    put(&booth, "makeup_now", -0.06);
    shows(&booth, "{+makeup_now}", "-0.1 dB");
    shown_close(&booth);
}

/* A count that goes no further: in round figures where it is large. */
static void a_ceiling_is_told_in_round_figures(void **state)
{
    (void)state;
    Shown check = shown_open("check");
    put(&check, "clipped_samples", 65535.0);
    shows(&check, "{clipped_samples}", "more than 65 thousand");
    put(&check, "clipped_samples", 65534.0);
    shows(&check, "{clipped_samples}", "65534");
    const Port *pops = plugin_port(check.ports.plugin, "pops");
    char text[64], told[64];
    fill_value(pops, pops->max, false, text, sizeof text);
    snprintf(told, sizeof told, "%.0f or more", (double)pops->max);
    assert_string_equal(text, pops->max > 10000.f ? "more than 65 thousand" : told);
    shown_close(&check);
}

/* What one stage says that it did, with these ports. */
static void stage_table(const char *plugin, const Shown *s, Ride *ride, char *text)
{
    Effect effect = {.readings = s->ports};
    const StageResult stage = {.name = plugin, .lesson = {.heard = s->ports}, .effect = &effect, .ride = ride};
    const Take take = {.name = "a.wav", .rate = RATE};
    const Readings nothing = {0};
    const Report report = {.check = &nothing, .stage = &stage, .stages = 1, .take = &take, .takes = 1};
    memset(text, 0, TEXT);
    FILE *to = fmemopen(text, TEXT, "w");
    assert_non_null(to);
    report_print_stage(&report, &stage, to);
    fclose(to);
}

/* Less than half a per cent is shown as 0 %, and is not nothing. */
static void a_little_is_not_nothing(void **state)
{
    (void)state;
    char text[TEXT];
    static const char *const plugins[] = {"booth", "floor"};
    for (size_t k = 0; k < 2; ++k) {
        Shown s = shown_open(plugins[k]);
        put(&s, "enabled", 1.0);
        if (!k)
            put(&s, "found_decay", 0.6);
        stage_table(plugins[k], &s, NULL, text);
        expect(text, k ? "  did    took away less than 1 % of the energy"
                       : "  did    took less than 1 % of the take's energy");
        assert_null(strstr(text, "0 %"));
        put(&s, "removed", 2.0);
        stage_table(plugins[k], &s, NULL, text);
        expect(text, k ? "  did    took away 2 % of the energy" : "  did    took 2 % of the take's energy");
        assert_null(strstr(text, "less than"));
        shown_close(&s);
    }
}

/* What Check's part of the table says. */
static void check_table_of(const Shown *s, Take take, char *text)
{
    memset(text, 0, TEXT);
    FILE *to = fmemopen(text, TEXT, "w");
    assert_non_null(to);
    report_print_heard(&take, 1, &s->ports, false, to);
    fclose(to);
}

static void check_table(const Shown *s, char *text)
{
    check_table_of(s, (Take){.name = "a.wav", .rate = RATE, .channels = 1}, text);
}

static void a_take_is_told_as_it_is(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "voice_level", -18.0);
    check_table_of(&check, (Take){.name = "a.wav", .rate = RATE, .channels = 1, .format = "Unsigned 8 bit PCM"}, text);
    expect(text, "\n  Its 8 bits make noise of their own");
    expect(text, "  heard  no verdict: it takes some 3 seconds of voice\n");
    put(&check, "signal_to_noise", 50.0);
    put(&check, "verdict", 1.0);
    check_table_of(&check, (Take){.name = "a.wav", .rate = RATE, .channels = 1, .format = "Signed 16 bit PCM"}, text);
    expect(text, "  heard  verdict: ready\n");
    assert_null(strstr(text, "make noise"));
    assert_null(strstr(text, "no verdict"));
    shown_close(&check);
}

typedef struct {
    const char *fault, *port; /* Check's yes or no, and what it is about */
    double value;
    const char *marked, *plain; /* the row with and without the fault */
} Fault;

static const Fault faults[] = {
    {"too_quiet", "voice_level", -27.3, "the voice at -27.3 dB, 3.3 dB under the window;",
     "the voice at -27.3 dB, its"},
    {"too_loud", "voice_level", -8.5, "the voice at -8.5 dB, 3.5 dB over the window;", "the voice at -8.5 dB, its"},
    {"clipped", "clipped_samples", 40.0, "clipped samples: 40\n", "clipped samples: 40\n"},
    {"noisy", "signal_to_noise", 31.5, "31.5 dB under the voice; 40 dB is the least\n", "31.5 dB under the voice\n"},
    {"hum", "hum_mains", 50.0, "a hum of 50 Hz mains at 0.0 dB, 0.0 dB under the voice; 50 dB is the least\n",
     "a hum of 50 Hz mains at 0.0 dB, 0.0 dB under the voice\n"},
    {"roomy", "decay", 0.7, "a decay time of 0.7 s, ", "a decay time of 0.7 s: "},
    {"popping", "pops", 3.0, "pops: 3; one is the most\n", "pops: 3\n"},
    {"clicking", "clicks", 12.0, "clicks: 12; eight in a minute", "clicks: 12\n"},
    {"breathy", "breaths", 9.0, "loud breaths: 9, at 0.0 dB; four in a minute", "loud breaths: 9, at 0.0 dB\n"},
    {"uneven", "phrase_spread", 9.2, "spread over 9.2 dB; 8 dB is the most\n", "spread over 9.2 dB\n"},
};

/* The table marks what is a fault, with how far off it is or what the most is, and nothing else. */
static void faults_are_marked(void **state)
{
    (void)state;
    char text[TEXT];
    for (size_t k = 0; k < sizeof faults / sizeof *faults; ++k) {
        const Fault *f = &faults[k];
        Shown s = shown_open("check");
        put(&s, f->port, f->value);
        check_table(&s, text);
        expect(text, f->plain);
        assert_null(strchr(text, '!'));
        put(&s, f->fault, 1.0);
        check_table(&s, text);
        expect(text, "; ! marks a fault\n");
        const char *mark = strstr(text, "\n       ! ");
        assert_non_null(mark);
        assert_null(strstr(mark + 1, "\n       ! "));
        const char *row = strstr(mark, f->marked);
        assert_true(row && row < strchr(mark + 1, '\n'));
        shown_close(&s);
    }
}

/* Of a voice that is not known, a hum lies nowhere. */
static void a_hum_is_told_against_the_voice(void **state)
{
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "hum_mains", 60.0);
    put(&check, "hum_level", -58.5);
    put(&check, "voice_level", -20.25);
    check_table(&check, text);
    expect(text, "a hum of 60 Hz mains at -58.5 dB, 38.2 dB under the voice\n");
    put(&check, "voice_level", -200.0);
    check_table(&check, text);
    expect(text, "a hum of 60 Hz mains at -58.5 dB\n");
    shown_close(&check);
}

/* A room of which no decay is known is not passed over: it may be the longest of all. */
static void a_decay_that_is_not_known_is_told(void **state)
{
    static const char *const untold = "no decay time: too few notes die away by themselves, as where there are no "
                                      "rests or a long decay fills them\n";
    (void)state;
    char text[TEXT];
    Shown check = shown_open("check");
    put(&check, "voice_level", -20.0);
    check_table(&check, text);
    expect(text, untold);
    put(&check, "decay", 0.4);
    check_table(&check, text);
    expect(text, "a decay time of 0.4 s: ");
    assert_null(strstr(text, untold));
    put(&check, "decay", 0.0);
    put(&check, "voice_level", -200.0);
    check_table(&check, text);
    assert_null(strstr(text, untold)); /* no voice, no notes */
    shown_close(&check);
}

typedef struct {
    const char *plugin;
    double share;   /* %, that were caught, */
    uint32_t heard; /* of so many */
    const char *row;
} Caught;

static const Caught caughts[] = {
    {"esses", 19.0, 18, "caught 19 % of the sibilants, cut them by 3.9 dB at most\n"},
    {"esses", 0.4, 300, "caught less than 1 % of the sibilants, cut them by 3.9 dB at most\n"},
    {"esses", 0.0, 18, "caught none of the 18 sibilants\n"},
    {"esses", 0.0, 1, "the one sibilant was not caught\n"},
    {"esses", 0.0, 0, "no sibilants, so none was caught\n"},
    {"chain", 19.0, 0, "caught 19 % of the sibilants, cut them by 3.9 dB at most\n"},
    {"chain", 0.0, 0, "caught no sibilant\n"},
};

/* One row says it, in the table and on the page. */
static void what_was_caught_is_told(void **state)
{
    (void)state;
    char text[TEXT];
    for (size_t k = 0; k < sizeof caughts / sizeof *caughts; ++k) {
        const Caught *c = &caughts[k];
        Shown s = shown_open(c->plugin);
        put(&s, "enabled", 1.0);
        put(&s, "caught_share", c->share);
        s.ports.port[plugin_port(s.ports.plugin, "cut") - s.ports.plugin->port].lowest = -3.9f;
        if (!strcmp(c->plugin, "esses"))
            s.ports.port[plugin_port(s.ports.plugin, "heard") - s.ports.plugin->port].rises = c->heard;
        stage_table(c->plugin, &s, NULL, text);
        expect(text, c->row);
        const char *row = strstr(text, c->row);
        assert_null(strstr(row + strlen(c->row), "caught"));
        shown_close(&s);
    }
}

/* How much of a hum went is told against the take, and as no negative amount. */
static void a_hum_is_told_against_the_take(void **state)
{
    (void)state;
    char text[TEXT];
    Shown hum = shown_open("hum");
    put(&hum, "enabled", 1.0);
    put(&hum, "taken_in_all", -44.9);
    stage_table("hum", &hum, NULL, text);
    expect(text, "  did    took out a hum that lay 44.9 dB under the take\n");
    assert_null(strstr(text, "what came in"));
    put(&hum, "taken_in_all", 0.5);
    stage_table("hum", &hum, NULL, text);
    expect(text, "  did    took out what came in: it was hum\n");
    put(&hum, "taken_in_all", -200.0);
    stage_table("hum", &hum, NULL, text);
    expect(text, "  did    nothing was taken out\n");
    shown_close(&hum);
}

/* A phrase moves within what was asked for; what keeps the loudness moves all of them, and is told apart. */
static void phrases_move_within_what_is_set(void **state)
{
    (void)state;
    char text[TEXT];
    PhraseSpan span[] = {{.from = 0.0, .to = 2.0, .level = -20.0, .voiced = 2.0},
                         {.from = 4.0, .to = 6.0, .level = -40.0, .voiced = 2.0}};
    Ride ride = {.span = span,
                 .plan = {.span = span,
                          .spans = 2,
                          .evening = {.usual = -30.0, .within = 1.0, .most_up = 6.0, .most_down = 3.0},
                          .makeup = 0.3}};
    Shown phrase = shown_open("phrase");
    put(&phrase, "enabled", 1.0);
    stage_table("phrase", &phrase, &ride, text);
    expect(text, "by gains of -3.0 to +6.0 dB\n");
    expect(text, "\n         and all of them by +0.3 dB, which keeps the loudness\n");
    ride.plan.makeup = 0.0;
    stage_table("phrase", &phrase, &ride, text);
    expect(text, "by gains of -3.0 to +6.0 dB\n");
    assert_null(strstr(text, "keeps the loudness"));
    shown_close(&phrase);
}

/* ---- Levels ---- */

/* A square wave as high as `high`, through a chain that is off. */
static void run_square(Bench *b, float high, uint32_t frames)
{
    float *x = every_floats(frames);
    for (uint32_t k = 0; k < frames; ++k)
        x[k] = k / 50 % 2 ? high : -high;
    save(b, "in.wav", WAV_FLOAT, RATE, 1, x, frames);
    free(x);
    run_well(b, "--replace --float --stages trim --set trim.enabled=off in.wav -o out.wav");
}

/* Three levels that differ: what is silent, what is too short to have a level, and what lies next to nothing under full
 * scale. */
static void a_level_that_is_none_says_why(void **state)
{
    Bench *b = *state;
    run_square(b, 0.28f, 3 * RATE / 10);
    expect(b->out, "\ntrim             too short too short         -         -     -11.1     -11.1\n");
    expect(b->out, "\nout.wav\n  too short for a level, peak -11.1 dBFS\n");
    run_square(b, 0.f, 3 * RATE / 10);
    expect(b->out, "\ntrim               silence   silence         -         -   silence   silence\n");
    run_square(b, 1e-4f, RATE);
    expect(b->out, "\ntrim               silence   silence         -         -     -80.0     -80.0\n");
    expect(b->out, "\nout.wav\n  too quiet for a level, peak -80.0 dBFS\n");
    run_square(b, 0.997f, RATE);
    expect(b->out, "\ntrim                   0.0       0.0      +0.0      +0.0       0.0       0.0\n");
    expect(b->out, "\nout.wav\n  level 0.0 dB, loudness ");
    assert_null(strstr(b->out, "-0.0"));
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_dip_is_a_dip),
        cmocka_unit_test(resonances_are_called_what_the_readme_says),
        cmocka_unit_test(a_resonance_has_the_nearest_name),
        cmocka_unit_test(places_of_one_name_are_told_together),
        cmocka_unit_test(sides_are_told_first),
        cmocka_unit_test(advice_says_when_as_the_page_does),
        cmocka_unit_test(advice_tells_what_was_clipped_before),
        cmocka_unit_test(nothing_is_heard_past_the_end),
        cmocka_unit_test(advice_does_not_forget_the_channels),
        cmocka_unit_test(a_take_is_told_as_it_is),
        cmocka_unit_test(too_quiet_is_told_by_how_much),
        cmocka_unit_test(a_time_is_the_nearest_second),
        cmocka_unit_test(nothing_has_no_sign),
        cmocka_unit_test(a_little_is_not_nothing),
        cmocka_unit_test(a_ceiling_is_told_in_round_figures),
        cmocka_unit_test(faults_are_marked),
        cmocka_unit_test(a_hum_is_told_against_the_take),
        cmocka_unit_test(a_hum_is_told_against_the_voice),
        cmocka_unit_test(a_decay_that_is_not_known_is_told),
        cmocka_unit_test(what_was_caught_is_told),
        cmocka_unit_test(phrases_move_within_what_is_set),
        BENCH_TEST(a_level_that_is_none_says_why),
        BENCH_TEST(any_dip_is_kept_in_a_preset),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
