/* What the Turtle has to say so that every host, generic interface and batch tool can use the plug-ins, and the
 * presets. Each rule that comes from what a host was seen to do names it. lv2_validate and sord_validate (make
 * validate) check the rest. */
#include "every.h"

#include "dsp.h"

#include <lv2/core/lv2.h>

#define FAIL_PORT(port, text) fail_msg("%s: %s", (port)->symbol, text)

/* ---- Ports ---- */

typedef void (*PortCheck)(const Plugin *plugin, const Port *port);

static void each_port(void **state, PortCheck check)
{
    const Case *c = *state;
    for (uint32_t p = 0; p < c->plugin->ports; ++p)
        check(c->plugin, &c->plugin->port[p]);
}

static bool is_control(const Port *port)
{
    return port->kind == PORT_CONTROL || port->kind == PORT_METER;
}

static void check_known(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (port->kind == PORT_OTHER)
        FAIL_PORT(port, "neither control nor audio"); /* batch hosts take no other kinds */
}

static void ports_are_control_or_audio(void **state)
{
    each_port(state, check_known);
}

static void check_symbol(const Plugin *plugin, const Port *port)
{
    static const char *const taken[] = {"name", "parent", "qos"}; /* GStreamer's own properties */
    const char *s = port->symbol;
    if (!*s || strspn(s, "abcdefghijklmnopqrstuvwxyz_0123456789") != strlen(s) || (*s >= '0' && *s <= '9'))
        FAIL_PORT(port, "not a symbol of a-z, 0-9 and _");
    for (size_t i = 0; i < sizeof taken / sizeof *taken; ++i)
        if (!strcmp(s, taken[i]))
            FAIL_PORT(port, "a symbol that GStreamer uses itself");
    if (plugin_port(plugin, s) != port)
        FAIL_PORT(port, "two ports of this symbol");
}

static void symbols_are_safe_everywhere(void **state)
{
    each_port(state, check_symbol);
}

/* Ardour and others refuse defaults that are missing or out of range. */
static void check_range(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (!is_control(port))
        return;
    if (!isfinite(port->min) || !isfinite(port->max) || !(port->min < port->max))
        FAIL_PORT(port, "no range");
    if (!(port->def >= port->min && port->def <= port->max)) /* "true" for 1 reads as no number */
        FAIL_PORT(port, "no default within its range");
    if (port->logarithmic && !(port->min > 0.f))
        FAIL_PORT(port, "logarithmic from 0 down");
}

static void ranges_and_defaults_are_whole(void **state)
{
    each_port(state, check_range);
}

/* A range that lies above 0 as a whole is one of ratios, as frequencies, times and widths are: half of the way along it
 * has to be half as far to the ear, so hosts are told to step it so. Read-outs are drawn by their own scale. */
static void check_scale(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (port->kind != PORT_CONTROL || port->integer)
        return;
    if (port->logarithmic != (port->min > 0.f))
        FAIL_PORT(port, port->logarithmic ? "logarithmic, and not all above 0" : "all above 0, and not logarithmic");
}

static void ratios_step_as_ratios(void **state)
{
    each_port(state, check_scale);
}

/* ---- Read-outs ---- */

#define LEVEL_LOWEST  (-200.0) /* what units.h makes of silence */
#define LEVEL_HIGHEST 24.0     /* of DSP_BROKEN: nothing louder is let in */

/* What a processor can report: from, to, and the unit. "not yet" and "none" are in it. */
typedef struct {
    const char *stem, *symbol;
    double from, to;
    const char *unit;
} ReadOut;

/* Widths, depths and frequencies that were found are such as a hand can set: see found_as_by_hand. */
static const ReadOut read_outs[] = {
    {"chain", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"chain", "gain", -48.0, 54.0, "dB"},
    {"chain", "turned_down", 0.0, 72.0, "dB"},
    {"chain", "found_low_cut", 0.0, 150.0, "Hz"},
    {"chain", "found1_freq", 0.0, 4000.0, "Hz"},
    {"chain", "found1_depth", -12.0, 0.0, "dB"},
    {"chain", "found2_freq", 0.0, 4000.0, "Hz"},
    {"chain", "found2_depth", -12.0, 0.0, "dB"},
    {"chain", "found3_freq", 0.0, 4000.0, "Hz"},
    {"chain", "found3_depth", -12.0, 0.0, "dB"},
    {"chain", "voice_heard", 0.0, 1310.0, "s"},
    {"chain", "threshold_now", -60.0, 10.0, "dB"},
    {"chain", "usual_reduction", 0.0, 64.0, "dB"},
    {"chain", "reduction", 0.0, 90.0, "dB"},
    {"chain", "found_centre", 0.0, 10000.0, "Hz"},
    {"chain", "caught_share", 0.0, 100.0, "%"},
    {"chain", "cut", -20.0, 0.0, "dB"},
    {"chain", "raw_raised", -72.0, 72.0, "dB"}, /* Trim's gain, and 18 dB to either side */
    {"booth", "found_decay", 0.0, 8.0, "s"},    /* booth_falls.c takes no fall for slower */
    {"booth", "late_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"booth", "word_ends", 0.0, 1000.0, ""},
    {"booth", "down_now", -20.0, 0.0, "dB"},
    {"booth", "makeup_now", 0.0, 9.0, "dB"},
    {"booth", "removed", 0.0, 100.0, "%"},
    {"booth", "latency", 0.0, 16384.0, "samples"}, /* frames of 12 288 at 384 kHz, and a hop */
    {"check", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"check", "peak", LEVEL_LOWEST, LEVEL_HIGHEST, "dBTP"},
    {"check", "clipped_samples", 0.0, 65535.0, ""},
    {"check", "flat_tops", 0.0, 65535.0, ""},
    {"check", "flat_tops_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"check", "voice_heard", 0.0, 65535.0, "s"},
    {"check", "rest_heard", 0.0, 65535.0, "s"},
    {"check", "noise_floor", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"check", "signal_to_noise", -24.0, 200.0, "dB"},
    {"check", "hum_mains", 0.0, 60.0, "Hz"}, /* the higher of the two mains frequencies */
    {"check", "hum_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"check", "decay", 0.0, 8.0, "s"}, /* decay.c takes no fall for slower */
    {"check", "pops", 0.0, 65535.0, ""},
    {"check", "clicks", 0.0, 65535.0, ""},
    {"check", "breaths", 0.0, 65535.0, ""},
    {"check", "breath_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"check", "lowest_note", 0.0, 127.0, "MIDI note"},
    {"check", "highest_note", 0.0, 127.0, "MIDI note"},
    {"check", "lowest_pitch", 0.0, 1300.0, "Hz"}, /* pitch.h gives up to 1100 Hz */
    {"check", "highest_pitch", 0.0, 1300.0, "Hz"},
    {"check", "phrase_spread", 0.0, 100.0, "dB"},
    {"check", "loudness", -70.0, LEVEL_HIGHEST, "LUFS"}, /* from the absolute gate of BS.1770 up */
    {"check", "tuning", -100.0, 50.0, "cents"},          /* -100: not yet; half a semitone to either side else */
    {"check", "out_of_tune", -1.0, 50.0, "cents"},
    {"check", "far_out", -1.0, 100.0, "%"},
    {"check", "loudness_range", 0.0, 100.0, "LU"},
    {"check", "too_quiet_at", -1.0, 65535.0, "s"},
    {"check", "too_loud_at", -1.0, 65535.0, "s"},
    {"check", "clipped_at", -1.0, 65535.0, "s"},
    {"check", "noisy_at", -1.0, 65535.0, "s"},
    {"check", "hum_at", -1.0, 65535.0, "s"},
    {"check", "roomy_at", -1.0, 65535.0, "s"},
    {"check", "popping_at", -1.0, 65535.0, "s"},
    {"check", "uneven_at", -1.0, 65535.0, "s"},
    {"check", "clicking_at", -1.0, 65535.0, "s"},
    {"check", "breathy_at", -1.0, 65535.0, "s"},
    {"compressor", "reduction", 0.0, 90.0, "dB"},
    {"compressor", "usual_reduction", 0.0, 64.0, "dB"},
    {"compressor", "threshold_now", -60.0, 10.0, "dB"},
    {"compressor", "makeup_now", -12.0, 64.0, "dB"},
    {"esses", "cut", -20.0, 0.0, "dB"},
    {"esses", "caught_share", 0.0, 100.0, "%"},
    {"esses", "found_centre", 0.0, 10000.0, "Hz"},
    {"phrase", "usual_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"phrase", "level_now", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"phrase", "gain", -24.0, 24.0, "dB"},
    {"phrase", "makeup_now", -12.0, 12.0, "dB"},
    {"phrase", "farthest", 0.0, 12.0, "dB"},
    {"pops", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"pops", "found", 0.0, 65535.0, ""},
    {"pops", "cut", -30.0, 0.0, "dB"},
    {"pops", "caught", 0.0, 65535.0, ""},
    {"ticks", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"ticks", "found", 0.0, 65535.0, ""},
    {"ticks", "removed", 0.0, 65535.0, ""},
    {"ticks", "last_size", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"ticks", "last_ago", -1.0, 3600.0, "s"},
    {"ticks", "latency", 0.0, 32768.0, "samples"}, /* 48 ms at 384 kHz */
    {"hum", "found_mains", 0.0, 60.0, "Hz"},       /* the higher of the two mains frequencies */
    {"hum", "found_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"hum", "voice_heard", 0.0, 65535.0, "s"},
    {"hum", "mains_drift", -30.0, 30.0, "cents"}, /* 1.3 % to either side */
    {"hum", "taken_now", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"hum", "taken_in_all", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"rests", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"rests", "noise_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"rests", "down", 0.0, 40.0, "dB"},
    {"rests", "at_rest", 0.0, 65535.0, "s"},
    {"floor", "noise_now", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"floor", "noise_heard", 0.0, 60.0, "s"},
    {"floor", "down_now", -20.0, 0.0, "dB"},
    {"floor", "latency", 0.0, 16384.0, "samples"}, /* frames of 12 288 at 384 kHz, and a hop */
    {"floor", "removed", 0.0, 100.0, "%"},
    {"tone", "found1_freq", 0.0, 4000.0, "Hz"},
    {"tone", "found1_depth", -12.0, 0.0, "dB"},
    {"tone", "found1_width", 0.0, 3.0, "octaves"},
    {"tone", "found1_sure", 0.0, 100.0, "%"},
    {"tone", "found2_freq", 0.0, 4000.0, "Hz"},
    {"tone", "found2_depth", -12.0, 0.0, "dB"},
    {"tone", "found2_width", 0.0, 3.0, "octaves"},
    {"tone", "found2_sure", 0.0, 100.0, "%"},
    {"tone", "found3_freq", 0.0, 4000.0, "Hz"},
    {"tone", "found3_depth", -12.0, 0.0, "dB"},
    {"tone", "found3_width", 0.0, 3.0, "octaves"},
    {"tone", "found3_sure", 0.0, 100.0, "%"},
    {"tone", "lowest_note", 0.0, 1200.0, "Hz"}, /* pitch.h gives up to 1100 Hz */
    {"tone", "found_low_cut", 0.0, 150.0, "Hz"},
    {"tone", "voice_heard", 0.0, 1310.0, "s"}, /* resonance_memory.h counts no further */
    {"tone", "makeup_now", -24.0, 24.0, "dB"},
    {"trim", "voice_level", LEVEL_LOWEST, LEVEL_HIGHEST, "dB"},
    {"trim", "gain", -48.0, 54.0, "dB"},
    {"trim", "peak", LEVEL_LOWEST, LEVEL_HIGHEST, "dBTP"},
    {"trim", "clipped", 0.0, 1e6, ""},
    {"trim", "turned_down", 0.0, 72.0, "dB"},
};

static const ReadOut *read_out_of(const Plugin *plugin, const Port *port)
{
    for (size_t i = 0; i < sizeof read_outs / sizeof *read_outs; ++i)
        if (!strcmp(read_outs[i].stem, plugin->stem) && !strcmp(read_outs[i].symbol, port->symbol))
            return &read_outs[i];
    return NULL;
}

/* A range too narrow would hide what was found: the shell holds read-outs within it. One too wide leaves a meter's
 * needle at its end. */
static void check_read_out(const Plugin *plugin, const Port *port)
{
    if (port->kind != PORT_METER || port->choice)
        return;
    const ReadOut latency = {.from = 0.0, .to = 8192.0, .unit = "samples"}, lamp = {.from = 0.0, .to = 1.0, .unit = ""};
    const ReadOut *own = read_out_of(plugin, port), *is = own                     ? own
                                                          : port->reports_latency ? &latency
                                                          : port->toggle          ? &lamp
                                                                                  : NULL;
    if (!is)
        FAIL_PORT(port, "a read-out without a row in read_outs");
    if ((double)port->min != is->from || (double)port->max != is->to)
        FAIL_PORT(port, "its range is not what the processor can report");
    if (strcmp(port->unit, is->unit) != 0)
        FAIL_PORT(port, "its unit is not what the processor reports in");
    if (*is->unit == 0 && !port->integer)
        FAIL_PORT(port, "a count or a lamp, and not whole");
}

static void read_outs_span_what_is_reported(void **state)
{
    each_port(state, check_read_out);
}

static void same_end(const Plugin *plugin, const char *found, const char *by_hand, bool upper)
{
    const Port *a = plugin_port(plugin, found), *b = plugin_port(plugin, by_hand);
    if (a && b && (upper ? a->max != b->max : a->min != b->min))
        fail_msg("%s does not end where %s does", found, by_hand);
}

/* What is found can be set by hand. */
static void found_as_by_hand(void **state)
{
    const Plugin *plugin = ((const Case *)*state)->plugin;
    static const char *const pair[][2] = {{"found1_freq", "dip1_freq"}, {"found1_width", "dip1_width"},
                                          {"found2_freq", "dip2_freq"}, {"found2_width", "dip2_width"},
                                          {"found3_freq", "dip3_freq"}, {"found3_width", "dip3_width"},
                                          {"found_centre", "centre"}};
    for (size_t i = 0; i < sizeof pair / sizeof *pair; ++i)
        same_end(plugin, pair[i][0], pair[i][1], true);
    same_end(plugin, "threshold_now", "threshold", false);
    same_end(plugin, "makeup_now", "makeup", false);
    same_end(plugin, "cut", "most_cut", false);
    same_end(plugin, "found1_depth", "dip1_depth", false);
}

static bool is_sentence(const char *text)
{
    const size_t length = strlen(text);
    return length > 10 && text[0] >= 'A' && text[0] <= 'Z' && text[length - 1] == '.';
}

static void check_words(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (!*port->name)
        FAIL_PORT(port, "no name");
    if (!is_control(port))
        return;
    if (!is_sentence(port->comment))
        FAIL_PORT(port, "no comment in whole sentences");
    if (!port->choice && !port->toggle && !port->integer && !*port->unit)
        FAIL_PORT(port, "no unit");
}

static void ports_explain_themselves(void **state)
{
    each_port(state, check_words);
}

/* GStreamer turns any port with scale points into a fixed list. */
static void check_choices(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (!port->choice && port->choices)
        FAIL_PORT(port, "scale points, and no choice");
    if (!port->choice)
        return;
    if (port->choices < 2 || !port->integer || port->toggle)
        FAIL_PORT(port, "a choice needs two or more labels, and is a whole number");
    for (uint32_t k = 0; k < port->choices; ++k)
        if (port->choose[k].value != (float)k || !*port->choose[k].label)
            FAIL_PORT(port, "choices are 0, 1, 2 ... each with a label");
    if (port->min != 0.f || port->max != (float)(port->choices - 1))
        FAIL_PORT(port, "the range is not that of the choices");
}

static void choices_have_all_their_labels(void **state)
{
    each_port(state, check_choices);
}

/* A host may show a read-out's default before it has run the plug-in: it is what the plug-in says before anything was
 * heard. */
static void read_outs_begin_at_their_defaults(void **state)
{
    const Case *c = *state;
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    const Audio silence = audio_new(64), out = audio_new(64);
    instance_activate(i);
    instance_run(i, audio_in(&silence), out.channel, silence.n);
    for (uint32_t p = 0; p < c->plugin->ports; ++p) {
        const Port *port = &c->plugin->port[p];
        const double said = (double)instance_value_at(i, p);
        if (port->kind == PORT_METER && !port->reports_latency && said != (double)port->def)
            fail_msg("%s %s: says %g, its default is %g", c->plugin->uri, port->symbol, said, (double)port->def);
    }
    instance_free(i);
    audio_free(&silence);
    audio_free(&out);
}

/* GStreamer starts every toggle off, whatever its default. */
static void check_toggle(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (!port->toggle || port->kind != PORT_CONTROL)
        return;
    if (port->min != 0.f || port->max != 1.f || !port->integer)
        FAIL_PORT(port, "a toggle is 0 or 1");
    if (strcmp(port->symbol, "enabled") != 0 && port->def != 0.f)
        FAIL_PORT(port, "a toggle that is on by default; make it a choice");
}

static void toggles_start_off(void **state)
{
    each_port(state, check_toggle);
}

static void check_group(const Plugin *plugin, const Port *port)
{
    (void)plugin;
    if (is_control(port) && *port->group)
        FAIL_PORT(port, "a group on a control: GStreamer takes it for audio");
    if (port->not_on_gui != port->reports_latency)
        FAIL_PORT(port, "notOnGUI is for latency alone");
}

static void groups_are_for_audio(void **state)
{
    each_port(state, check_group);
}

static const char *group_of(const Plugin *plugin, PortKind kind, uint32_t which)
{
    for (uint32_t p = 0; p < plugin->ports; ++p)
        if (plugin->port[p].kind == kind && !which--)
            return plugin->port[p].group;
    return "";
}

/* Without groups GStreamer does not register a stereo plug-in. */
static void stereo_sides_are_grouped(void **state)
{
    const Case *c = *state;
    const char *in = c->plugin->ins == 2 ? group_of(c->plugin, PORT_AUDIO_IN, 0) : "in";
    const char *out = c->plugin->outs == 2 ? group_of(c->plugin, PORT_AUDIO_OUT, 0) : "out";
    assert_true(*in && *out && strcmp(in, out) != 0);
    if (c->plugin->ins == 2)
        assert_string_equal(in, group_of(c->plugin, PORT_AUDIO_IN, 1));
    if (c->plugin->outs == 2)
        assert_string_equal(out, group_of(c->plugin, PORT_AUDIO_OUT, 1));
}

/* ---- The plug-in ---- */

static void has_the_common_ports(void **state)
{
    const Case *c = *state;
    const Port *enabled = plugin_port(c->plugin, "enabled"), *latency = plugin_port(c->plugin, "latency");
    assert_non_null(enabled);
    assert_true(enabled->toggle && enabled->kind == PORT_CONTROL && enabled->def == 1.f);
    assert_string_equal(enabled->designation, LV2_CORE__enabled);
    assert_non_null(latency);
    assert_true(latency->reports_latency && latency->integer && latency->kind == PORT_METER && latency->max > 0.f);
    assert_string_equal(latency->designation, LV2_CORE__latency);
}

static void learn_is_hold_or_learn(void **state)
{
    const Case *c = *state;
    const Port *learn = plugin_port(c->plugin, "learn");
    assert_true(learn->choice && learn->choices == 2 && learn->def == 1.f);
    assert_string_equal(learn->choose[0].label, "hold");
    assert_string_equal(learn->choose[1].label, "learn");
}

static uint32_t count_of(LilvNodes *nodes)
{
    const uint32_t n = lilv_nodes_size(nodes);
    lilv_nodes_free(nodes);
    return n;
}

/* How often the plug-in's description says this of it. */
static uint32_t times_said(const Case *c, const char *predicate)
{
    LilvNode *uri = lilv_new_uri(host_world(c->host), predicate);
    const uint32_t n = count_of(lilv_plugin_get_value(c->plugin->lilv, uri));
    lilv_node_free(uri);
    return n;
}

static bool has(const Case *c, bool (*ask)(const LilvPlugin *, const LilvNode *), const char *what)
{
    LilvNode *uri = lilv_new_uri(host_world(c->host), what);
    const bool is = ask(c->plugin->lilv, uri);
    lilv_node_free(uri);
    return is;
}

static void describes_itself(void **state)
{
    static const char *const wanted[] = {
        LILV_NS_DOAP "name",        LILV_NS_DOAP "license",     LILV_NS_LV2 "project",
        LILV_NS_LV2 "minorVersion", LILV_NS_LV2 "microVersion", LILV_NS_RDFS "comment",
    };
    const Case *c = *state;
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; ++i)
        if (times_said(c, wanted[i]) != 1)
            fail_msg("says %s %u times", wanted[i], times_said(c, wanted[i]));
    assert_int_equal(times_said(c, LILV_NS_RDF "type"), 2); /* lv2:Plugin and its class */
}

static void assert_text(LilvNode *node, const char *what, const char *want)
{
    const char *text = node ? lilv_node_as_string(node) : "";
    if (!*text || (want && strcmp(text, want) != 0))
        fail_msg("a host shows \"%s\" as %s", text, what);
    lilv_node_free(node);
}

static LilvNode *said_of(const Case *c, const LilvNode *subject, const char *predicate)
{
    LilvNode *uri = lilv_new_uri(host_world(c->host), predicate);
    LilvNode *value = subject ? lilv_world_get(host_world(c->host), subject, uri, NULL) : NULL;
    lilv_node_free(uri);
    return value;
}

/* As a host's list of plug-ins shows them: through lilv, which reads no files but those that the manifest names. */
static void hosts_show_whose_it_is(void **state)
{
    const Case *c = *state;
    const LilvPlugin *p = c->plugin->lilv;
    assert_text(lilv_plugin_get_name(p), "its name", c->plugin->name);
    assert_text(lilv_plugin_get_author_name(p), "its author", "The Linctus authors");
    assert_text(said_of(c, lilv_plugin_get_uri(p), LILV_NS_DOAP "license"), "its licence",
                "http://opensource.org/licenses/isc");
    LilvNode *project = lilv_plugin_get_project(p);
    assert_text(said_of(c, project, LILV_NS_DOAP "name"), "its project's name", "Linctus");
    assert_text(said_of(c, project, LILV_NS_DOAP "license"), "its project's licence",
                "http://opensource.org/licenses/isc");
    assert_text(project, "its project", "urn:linctus");
    assert_null(lilv_plugin_get_author_email(p)); /* there is no such host */
}

/* A host may offer nothing; a block-size feature, even an optional one, makes FFmpeg send longer blocks. */
static void asks_for_nothing(void **state)
{
    const Case *c = *state;
    assert_int_equal(count_of(lilv_plugin_get_required_features(c->plugin->lilv)), 0);
    assert_true(has(c, lilv_plugin_has_feature, LV2_CORE__hardRTCapable));
    assert_false(has(c, lilv_plugin_has_feature, "http://lv2plug.in/ns/ext/buf-size#boundedBlockLength"));
    assert_false(has(c, lilv_plugin_has_feature, LV2_CORE__inPlaceBroken));
}

static void has_state_where_it_learns(void **state)
{
    const Case *c = *state;
    const bool learns = every_learns(c->plugin);
    assert_int_equal(has(c, lilv_plugin_has_extension_data, LV2_STATE__interface), learns);
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    assert_int_equal(instance_state(i) != NULL, learns);
    instance_free(i);
    if (learns)
        assert_true(has(c, lilv_plugin_has_feature, LV2_STATE__threadSafeRestore));
}

static void its_name_is_its_own(void **state)
{
    const Case *c = *state;
    for (uint32_t i = 0; i < host_plugins(c->host); ++i) {
        const Plugin *other = host_plugin_at(c->host, i);
        assert_true(other == c->plugin || strcmp(other->name, c->plugin->name) != 0);
    }
}

/* Controls, then read-outs, audio last, and the same in the mono and the stereo variant: a session can change from one
 * to the other. */
static void variants_share_their_ports(void **state)
{
    const Case *c = *state;
    const Plugin *other = host_plugin(c->host, c->plugin->stem, 3 - c->plugin->ins);
    assert_non_null(other);
    uint32_t controls = c->plugin->ports - c->plugin->ins - c->plugin->outs;
    assert_int_equal(other->ports - other->ins - other->outs, controls);
    PortKind last = PORT_CONTROL;
    for (uint32_t p = 0; p < c->plugin->ports; ++p) {
        const Port *a = &c->plugin->port[p];
        assert_true(a->kind >= last);
        last = a->kind;
        if (p >= controls)
            continue;
        const Port *b = &other->port[p];
        assert_string_equal(a->symbol, b->symbol);
        assert_string_equal(a->comment, b->comment);
        assert_true(a->min == b->min && a->max == b->max && a->def == b->def && a->choice == b->choice);
    }
}

/* ---- Presets ---- */

static const char *const voices[] = {"Bass",          "Baritone", "Tenor",      "Alto",
                                     "Mezzo-soprano", "Soprano",  "Spoken low", "Spoken high"};

enum { VOICES = sizeof voices / sizeof *voices };

static void check_preset(const Case *c, const Preset *preset)
{
    Error e;
    PresetContent content;
    if (!host_preset_read(c->host, preset, &content, &e))
        fail_msg("%s", e.text);
    assert_string_equal(content.plugin, c->plugin->uri);
    assert_in_range(content.values, 1, PRESET_VALUES);
    assert_int_equal(content.properties, 0); /* nothing learned */
    for (uint32_t v = 0; v < content.values; ++v) {
        const char *symbol = content.value[v].symbol;
        const float value = content.value[v].value;
        const Port *port = plugin_port(c->plugin, symbol);
        if (!port || port->kind != PORT_CONTROL) {
            fail_msg("%s sets %s, which is no control", preset->uri, symbol);
            return;
        }
        if (!strcmp(symbol, "enabled") || !strcmp(symbol, "learn"))
            fail_msg("%s sets %s", preset->uri, symbol);
        if (!(value >= port->min && value <= port->max) || (port->choice && !port_label(port, value)))
            fail_msg("%s sets %s to %g", preset->uri, symbol, (double)value);
    }
}

/* Hosts list presets by their label: a number in front sorts them. */
static void presets_are_sound(void **state)
{
    const Case *c = *state;
    for (uint32_t i = 0; i < c->plugin->presets; ++i) {
        const Preset *p = &c->plugin->preset[i];
        if (p->full_label[0] < '0' || p->full_label[0] > '9' || p->label == p->full_label || !*p->label)
            fail_msg("%s has the label \"%s\"", p->uri, p->full_label);
        if (i && !strcmp(p->full_label, p[-1].full_label))
            fail_msg("two presets \"%s\"", p->full_label);
        check_preset(c, p);
    }
}

static void every_voice_has_its_preset(void **state)
{
    const Case *c = *state;
    Instance *i = every_new(c, 48000.0, INSTANCE_PLAIN);
    for (int v = 0; v < VOICES; ++v) {
        Error e;
        const char *label = host_voice(c->host, voices[v], &e);
        if (!label || !instance_preset(i, label, &e))
            fail_msg("%s: %s", voices[v], e.text);
    }
    assert_null(host_voice_at(c->host, VOICES)); /* and there is no ninth */
    instance_free(i);
}

/* A preset means the same for both variants. */
static void variants_share_their_presets(void **state)
{
    const Case *c = *state;
    const Plugin *other = host_plugin(c->host, c->plugin->stem, 3 - c->plugin->ins);
    assert_int_equal(other->presets, c->plugin->presets);
    for (uint32_t p = 0; p < c->plugin->presets; ++p) {
        Error e;
        PresetContent a, b;
        const Preset *twin = plugin_preset(other, c->plugin->preset[p].full_label);
        assert_non_null(twin);
        assert_true(host_preset_read(c->host, &c->plugin->preset[p], &a, &e));
        assert_true(host_preset_read(c->host, twin, &b, &e));
        assert_int_equal(a.values, b.values);
        for (uint32_t v = 0; v < a.values; ++v) {
            uint32_t w = 0;
            while (w < b.values && strcmp(a.value[v].symbol, b.value[w].symbol) != 0)
                ++w;
            assert_true(w < b.values && a.value[v].value == b.value[w].value);
        }
    }
}

static const Property properties[] = {
    {"ports are control or audio", ports_are_control_or_audio, NULL},
    {"symbols are safe everywhere", symbols_are_safe_everywhere, NULL},
    {"ranges and defaults are whole", ranges_and_defaults_are_whole, NULL},
    {"read-outs begin at their defaults", read_outs_begin_at_their_defaults, NULL},
    {"ratios step as ratios", ratios_step_as_ratios, NULL},
    {"read-outs span what is reported", read_outs_span_what_is_reported, NULL},
    {"found as by hand", found_as_by_hand, NULL},
    {"ports explain themselves", ports_explain_themselves, NULL},
    {"choices have all their labels", choices_have_all_their_labels, NULL},
    {"toggles start off", toggles_start_off, NULL},
    {"groups are for audio", groups_are_for_audio, NULL},
    {"stereo sides are grouped", stereo_sides_are_grouped, NULL},
    {"has the common ports", has_the_common_ports, NULL},
    {"learn is hold or learn", learn_is_hold_or_learn, every_learns},
    {"describes itself", describes_itself, NULL},
    {"hosts show whose it is", hosts_show_whose_it_is, NULL},
    {"asks for nothing", asks_for_nothing, NULL},
    {"has state where it learns", has_state_where_it_learns, NULL},
    {"its name is its own", its_name_is_its_own, NULL},
    {"variants share their ports", variants_share_their_ports, NULL},
    {"presets are sound", presets_are_sound, NULL},
    {"every voice has its preset", every_voice_has_its_preset, every_has_settings},
    {"variants share their presets", variants_share_their_presets, NULL},
};

int main(void)
{
    return every_run("descriptors and presets", properties, sizeof properties / sizeof *properties);
}
