/* What the reports say, held against figures that are put in: ports of the plug-ins with values nobody had to sing. */
#include "advice.h"
#include "preset.h"
#include "runs.h"
#include "story.h"

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

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    struct CMUnitTest tests[] = {
        cmocka_unit_test(any_dip_is_a_dip),
        BENCH_TEST(any_dip_is_kept_in_a_preset),
    };
    return only_run("words", tests, sizeof tests / sizeof *tests);
}
