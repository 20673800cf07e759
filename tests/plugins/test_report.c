/* The page that render --report writes: whole, small, true to the table, harmless whatever a take is called; and in
 * headless Chromium, where that is installed, its players. */
#include "figure.h"
#include "runs.h"

#include <ctype.h>

#ifdef HAVE_EBUR128
#include <ebur128.h>
#endif

/* ---- A page ---- */

static char *page_load(const Bench *b, const char *name)
{
    char path[256];
    struct stat st;
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    assert_int_equal(stat(path, &st), 0);
    char *text = malloc((size_t)st.st_size + 1);
    FILE *f = fopen(path, "rb");
    assert_true(text && f);
    assert_int_equal(fread(text, 1, (size_t)st.st_size, f), st.st_size);
    fclose(f);
    text[st.st_size] = '\0';
    return text;
}

/* ---- Well-formed ---- */

typedef struct {
    char open[64][16]; /* elements that are still open */
    uint32_t depth, svg_nodes, pictures, ids;
    bool in_svg;
} Walk;

static bool is_void(const char *name)
{
    return !strcmp(name, "meta") || !strcmp(name, "input") || !strcmp(name, "!DOCTYPE");
}

/* Past the tag at `at`, with its attributes looked at: each with a value in quotes, or a word alone. */
static const char *past_tag(const char *at, bool *closed_itself)
{
    *closed_itself = false;
    while (*at != '>') {
        assert_true(*at && *at != '<');
        *closed_itself = *at == '/';
        if (*at == '"') {
            const size_t length = strcspn(at + 1, "\"<");
            assert_int_equal(at[1 + length], '"');
            at += length + 1;
        }
        ++at;
    }
    return at + 1;
}

static void open_tag(Walk *w, const char *name, bool closed_itself)
{
    w->in_svg |= !strcmp(name, "svg");
    w->pictures += !strcmp(name, "svg");
    w->svg_nodes += w->in_svg;
    if (closed_itself || is_void(name))
        return;
    assert_true(w->depth < 64);
    snprintf(w->open[w->depth++], sizeof w->open[0], "%s", name);
}

static void close_tag(Walk *w, const char *name)
{
    assert_true(w->depth > 0);
    assert_string_equal(w->open[--w->depth], name);
    w->in_svg &= strcmp(name, "svg") != 0;
}

/* Style and script hold no "<" that opens anything. */
static const char *past_content(const char *at, const char *name)
{
    char end[24];
    if (strcmp(name, "style") != 0 && strcmp(name, "script") != 0)
        return at;
    snprintf(end, sizeof end, "</%s>", name);
    const char *found = strstr(at, end);
    assert_non_null(found);
    return found;
}

/* Every element is closed, in order. */
static Walk walk(const char *page)
{
    Walk w = {0};
    for (const char *at = page; (at = strchr(at, '<')) != NULL;) {
        char name[16] = "";
        bool closed_itself;
        const bool closes = at[1] == '/';
        const size_t length = strcspn(at + 1 + closes, " >/\n");
        assert_true(length < sizeof name);
        memcpy(name, at + 1 + closes, length);
        at = past_tag(at + 1 + closes + length, &closed_itself);
        if (closes)
            close_tag(&w, name);
        else
            open_tag(&w, name, closed_itself);
        at = closes ? at : past_content(at, name);
    }
    assert_int_equal(w.depth, 0);
    return w;
}

/* No place that a browser would fetch from, but for the sounds beside the page or in it. */
static void expect_alone(const char *page)
{
    static const char *const never[] = {"http:", "https:",  "//",   "@import", "url(",
                                        "<link", "<iframe", "<img", "fetch("};
    const char *end = strstr(page, "base64,") ? strstr(page, "base64,") : page + strlen(page);
    for (size_t i = 0; i < sizeof never / sizeof *never; ++i) {
        const char *found = strstr(page, never[i]);
        if (found && found < end)
            fail_msg("the page has \"%s\": %.60s", never[i], found);
    }
    for (const char *at = page; (at = strstr(at, "src=\"")) != NULL; ++at)
        assert_true(!strncmp(at + 5, "./", 2) || !strncmp(at + 5, "data:audio/flac;base64,", 23));
    assert_non_null(strstr(page, "default-src 'none'"));
}

/* ---- Numbers ---- */

/* The text of an element without what is in tags; an entity is left out. */
static void text_from(const char *at, const char *end_tag, char *text, size_t size)
{
    const char *end = strstr(at, end_tag);
    size_t used = 0;
    bool in_tag = false;
    assert_non_null(end);
    for (; at < end && used + 1 < size; ++at) {
        in_tag = *at == '<' || (in_tag && *at != '>');
        if (*at == '&')
            at += strcspn(at, ";");
        else if (!in_tag && *at != '>')
            text[used++] = *at;
    }
    text[used] = '\0';
}

/* What is no figure of this take: the window, the tuning fork; and times, which the table has not. */
static bool is_fixed(const char *figure)
{
    static const char *const fixed[] = {"-24", "-12", "440 Hz"};
    for (size_t i = 0; i < sizeof fixed / sizeof *fixed; ++i)
        if (!strncmp(figure, fixed[i], strlen(fixed[i])))
            return true;
    const char *colon = strchr(figure, ':');
    return colon && isdigit((unsigned char)colon[1]) && isdigit((unsigned char)colon[2]);
}

/* As it stands, and no part of a longer number. */
static bool stands_in(const char *table, const char *figure)
{
    const size_t length = strlen(figure);
    for (const char *at = table; (at = strstr(at, figure)) != NULL; ++at) {
        const bool begins = at == table || !strchr("0123456789.-+", at[-1]);
        const bool ends = !isdigit((unsigned char)at[length]);
        if (begins && ends)
            return true;
    }
    return false;
}

/* Each figure, with the word behind it, stands in the table as it stands here. Returns how many there were. */
static uint32_t compare_figures(const char *text, const char *table)
{
    uint32_t n = 0;
    for (const char *at = text; *at; ++at) {
        char figure[64];
        const bool begins = isdigit((unsigned char)*at) && (at == text || !isalnum((unsigned char)at[-1]));
        if (!begins)
            continue;
        const char *from = at > text && strchr("+-", at[-1]) ? at - 1 : at;
        size_t length = strcspn(at, " ;,") + (size_t)(at - from);
        const size_t word = strspn(from + length + 1, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ%");
        length += from[length] == ' ' && word <= 8 ? word + 1 : 0;
        while (length && strchr(".,;: ", from[length - 1]))
            --length;
        snprintf(figure, sizeof figure, "%.*s", (int)length, from);
        if (!is_fixed(figure) && !stands_in(table, figure)) {
            char *blank = strrchr(figure, ' '); /* the word may be the sentence's, and no unit */
            if (blank)
                *blank = '\0';
            if (!blank || !stands_in(table, figure))
                fail_msg("\"%s\" of \"%.300s\" is not in the table: %s", figure, text, table);
        }
        ++n;
        at = from + length - 1;
    }
    return n;
}

/* All that is said of the takes. */
static uint32_t compare_said(const char *page, const char *table)
{
    uint32_t n = 0;
    char text[2000];
    for (const char *at = page; (at = strstr(at, "<p class=\"")) != NULL; ++at) {
        const bool head = !strncmp(at + 10, "head", 4), said = !strncmp(at + 10, "said", 4);
        if (!head && !said)
            continue;
        text_from(at, "</p>", text, sizeof text);
        n += compare_figures(text, table);
    }
    return n;
}

/* And in the pictures: what stands there as a value or as a name with one, and over the lanes of the faults. */
static uint32_t compare_values(const char *page, const char *table)
{
    static const struct {
        const char *begin, *end;
    } part[] = {{"class=\"value\">", "</text>"}, {"class=\"name\">", "</text>"}, {"class=\"lane\"><b>", "</b>"}};
    uint32_t n = 0;
    char text[320];
    for (size_t k = 0; k < sizeof part / sizeof *part; ++k)
        for (const char *at = page; (at = strstr(at, part[k].begin)) != NULL; ++at) {
            text_from(at + strlen(part[k].begin), part[k].end, text, sizeof text);
            n += compare_figures(text, table);
        }
    return n;
}

/* ---- Takes of every kind ---- */

enum { MOST_BYTES = 2 << 20, MOST_NODES = 5000 };

/* The page of the last run. Returns how many figures of it were compared with the table. */
static uint32_t expect_good(const Bench *b, const char *name)
{
    char *page = page_load(b, name);
    const Walk w = walk(page);
    assert_true(strlen(page) < MOST_BYTES);
    assert_true(w.svg_nodes <= MOST_NODES);
    expect_alone(page);
    const uint32_t n = compare_said(page, b->out) + compare_values(page, b->out);
    free(page);
    return n;
}

static const SingerSpec faulty = {.voice = SINGER_MEZZO,
                                  .seed = 7,
                                  .rate = 16000.0,
                                  .seconds = 24.0,
                                  .gain_db = -14.0,
                                  .uneven_db = 5.0,
                                  .boxy = {{330.0, 7.0, 3.0}},
                                  .esses_db = 13.0,
                                  .esses_share = 0.25,
                                  .pops = 2,
                                  .pop_db = 15.0,
                                  .hiss_db = -52.0};

/* How many dots a path of this class has. */
static double dots(const char *page, const char *class)
{
    char begin[64];
    snprintf(begin, sizeof begin, "<path class=\"%s\" d=\"", class);
    const char *at = strstr(page, begin);
    assert_non_null(at);
    double n = 0.0;
    for (at += strlen(begin); *at != '"'; ++at)
        n += *at == 'M';
    return n;
}

/* So many dots are filled as the table says, which it returns: the share is told in whole per cents, of at most one s
 * fewer or more. */
static double expect_esses_as_told(const char *page, const char *table)
{
    const double filled = dots(page, "dot caught"), all = filled + dots(page, "dot");
    const char *told = strstr(table, "caught ");
    assert_non_null(told);
    const double share = strtod(told + 7, NULL) / 100.0;
    assert_true(all > 5.0);
    assert_true(fabs(filled - share * all) <= 0.5 + 0.01 * all);
    return filled;
}

/* In the first an s lies on the edge of what counts. In some takes none is caught, in three of them some are. */
static void esses_are_filled_as_told(void **state)
{
    Bench *b = *state;
    SingerSpec spec = faulty;
    double filled = 0.0;
    spec.pops = 0;
    for (spec.seed = 8; spec.seed < 11; ++spec.seed) {
        save_singer(b, "in.wav", &spec);
        run_well(b, "--replace in.wav -o out.wav --report r.html");
        char *page = page_load(b, "r.html");
        filled += expect_esses_as_told(page, b->out);
        free(page);
    }
    assert_true(filled > 0.0);
}

static void a_faulty_take_is_told(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &faulty);
    run_well(b, "in.wav -o out.wav --report r.html");
    assert_true(expect_good(b, "r.html") > 30);
    char *page = page_load(b, "r.html");
    assert_non_null(strstr(page, "<p class=\"head\">Usable. Too quiet by "));
    assert_non_null(strstr(page, "<dd class=\"said\">Wanted reduction: the threshold is found "));
    assert_int_equal(strncmp(b->out, "Is in.wav usable? Usable.\n", 26), 0);
    assert_non_null(strstr(b->out, "The report is r.html; open it in a browser."));
    assert_non_null(strstr(b->out, "do next\n  1. At the source: "));
    assert_non_null(strstr(b->out, "/render --replace in.wav -o out.wav --report r.html\n"));
    free(page);
}

/* The five in one insert answer the same questions, with Chain's own figures. The take is long enough, and boxy enough,
 * for a finding whatever was sung. */
static void chain_answers_every_question(void **state)
{
    Bench *b = *state;
    static const char *const told[] = {"Chain heard the voice and set +",
                                       "where Chain cuts, and how deep",
                                       "1: ",
                                       "reduction along the take, dB",
                                       "of reduction where the voice is loud",
                                       "each s that was cut, ",
                                       "sibilants, their centre at",
                                       "caught ",
                                       "ambience at -20.0 dB",
                                       ">after: ",
                                       " place at "};
    static const char *const never[] = {"no Tone",  "No Tone",      "no Compressor", "No Compressor",
                                        "no Esses", "No Esses",     "No Trim",       "no Plate",
                                        "No Plate", "nothing that", "Nothing added"};
    SingerSpec spec = faulty;
    spec.voice = SINGER_TENOR;
    spec.seconds = 36.0;
    spec.boxy[0].db = 10.0;
    save_singer(b, "in.wav", &spec);
    run_well(b, "--stages chain in.wav -o out.wav --report r.html");
    assert_true(expect_good(b, "r.html") > 25);
    char *page = page_load(b, "r.html");
    for (size_t i = 0; i < sizeof told / sizeof *told; ++i)
        if (!strstr(page, told[i]))
            fail_msg("no \"%s\" in the page", told[i]);
    for (size_t i = 0; i < sizeof never / sizeof *never; ++i)
        if (strstr(page, never[i]))
            fail_msg("\"%s\" in the page: %.200s", never[i], strstr(page, never[i]));
    free(page);
}

/* A take of three minutes; how much it grows with the rate is nothing, as the pictures have their columns. */
static void three_minutes_stay_small(void **state)
{
    Bench *b = *state;
    SingerSpec spec = faulty;
    spec.seconds = 180.0;
    spec.pops = 12;
    save_singer(b, "in.wav", &spec);
    run_well(b, "in.wav -o out.wav --report r.html");
    expect_good(b, "r.html");
    char *page = page_load(b, "r.html");
    const Walk w = walk(page);
    figure_here_at_most("Report", "page of a take of 3 minutes, sounds beside it", (double)strlen(page) / 1024.0,
                        2048.0, "KiB", "requirement; wide: room for what is to come");
    figure_here_at_most("Report", "elements in its pictures", w.svg_nodes, MOST_NODES, "",
                        "requirement; wide: room for what is to come");
    free(page);
}

/* A stretch of a tone with silence round it is what it takes to try the edges. */
static void save_tone(const Bench *b, const char *name, int channels, uint32_t frames, float gain)
{
    float *x = every_floats(2 * frames + 2);
    for (uint32_t k = 0; k < frames; ++k)
        for (int c = 0; c < channels; ++c)
            x[k * (uint32_t)channels + (uint32_t)c] = fmaxf(fminf(gain * sinf(0.05f * (float)k), 1.f), -1.f);
    save(b, name, WAV_24, 16000, channels, x, frames);
    free(x);
}

static void takes_of_any_kind_make_a_page(void **state)
{
    Bench *b = *state;
    save_tone(b, "one.wav", 1, 1, 0.5f);
    save_tone(b, "short.wav", 1, 700, 0.5f);
    save_tone(b, "silent.wav", 1, 40000, 0.f);
    save_tone(b, "clipped.wav", 2, 40000, 3.f);
    save_take(b, "stereo.wav", WAV_24, 16000, 2, 8.0, -10.0);
    run_well(b, "stereo.wav clipped.wav silent.wav short.wav one.wav -o mixes --report all.html");
    expect_good(b, "all.html");
    assert_int_equal(files_in(b, "."), 5 + 1 + 1 + 2 * 5);
    assert_true(is_there(b, "all-silent-before.flac") && is_there(b, "all-one-after.flac"));
    run_well(b, "--together stereo.wav clipped.wav -o both --report both/page.html --report-audio");
    expect_good(b, "both/page.html");
    assert_int_equal(files_in(b, "both"), 3);
    run_well(b, "--stages trim --set trim.enabled=off silent.wav -o off.wav --report off.html");
    expect_good(b, "off.html");
    run_well(b, "--stages check,trim silent.wav -o other.wav --report other.html");
    expect_good(b, "other.html");
    prepare(b, "grep -q '<pre class=\"other\">check' other.html");
    run_well(
        b,
        "--voice none --stages trim,plate --set trim.learn=hold --apart silent.wav -o parts.wav --report parts.html");
    expect_good(b, "parts.html");
    run_well(b, "--stages chain stereo.wav -o held.wav --report held.html");
    expect_good(b, "held.html");
    prepare(b, "grep -q 'Chain heard' held.html && ! grep -q 'no low cut\\|no Plate\\|No Trim' held.html");
    char *page = page_load(b, "all.html");
    assert_non_null(strstr(page, "No voice was heard."));
    assert_non_null(strstr(page, "id=\"take4\""));
    free(page);
}

/* ---- Names ---- */

static void a_name_stays_text(void **state)
{
    Bench *b = *state;
    static const char *const name = "<b onload='x'>&\"\x01\xff %41 take.wav";
    save_tone(b, name, 1, 4000, 0.5f);
    save_tone(b, "b.wav", 1, 4000, 0.5f);
    run_well(b, "--stages trim ./*take.wav b.wav -o mixes --report 'a#b?.html'");
    expect_good(b, "a#b?.html");
    char *page = page_load(b, "a#b?.html");
    assert_null(strstr(page, "<b onload"));
    assert_non_null(
        strstr(page, "<h1>&lt;b onload=&#39;x&#39;&gt;&amp;&quot;\xef\xbf\xbd\xef\xbf\xbd %41 take.wav</h1>"));
    assert_non_null(
        strstr(page, "src=\"./a%23b%3F-%3Cb%20onload%3D%27x%27%3E%26%22%01%FF%20%2541%20take-before.flac\""));
    free(page);
}

/* ---- Files ---- */

typedef struct {
    const char *arguments;
    int status;
    const char *says;
} Refusal;

static const Refusal refusals[] = {
    {"in.wav -o out.wav --report", ERROR_USAGE, "--report needs the name of the page"},
    {"in.wav -o out.wav --report ''", ERROR_USAGE, "--report needs the name of the page"},
    {"in.wav -o out.wav --report a.html --report b.html", ERROR_USAGE, "--report is given twice, a.html and b.html"},
    {"in.wav -o out.wav --report-audio", ERROR_USAGE, "--report-audio needs the name of the page"},
    {"--advise in.wav --report a.html", ERROR_USAGE, "--advise writes nothing: leave out --report a.html"},
    {"in.wav -o out.wav --report page", ERROR_USAGE, "render --report page.html in.wav -o out.wav\n"},
    {"in.wav -o out.wav --report=out.wav --report-audio", ERROR_USAGE,
     "render --report out.html in.wav -o out.wav --report-audio\n"},
    {"in.wav -o out.wav --report old.html", ERROR_WRITE, "old.html is there already"},
    {"in.wav -o out.wav --report old.html", ERROR_WRITE, "render --replace in.wav -o out.wav --report old.html\n"},
    {"in.wav -o out.wav --report near.html", ERROR_WRITE, "near-after.flac is there already"},
    {"in.html -o out.wav --report in.html --replace", ERROR_USAGE, "in.html: a take, and a take is never written over"},
    {"in.wav -o out.wav --report none/a.html", ERROR_WRITE, "none/a.html: its folder is not there; make it first"},
    {"in.wav -o out.wav --report kept.html --replace", ERROR_WRITE, "it is write-protected"},
    {"in.wav -o out.wav --report folder.html --replace", ERROR_WRITE, "folder.html: cannot write: "},
};

static void nothing_is_written_over(void **state)
{
    Bench *b = *state;
    save_tone(b, "in.wav", 1, 4000, 0.5f);
    prepare(b, "cp in.wav in.html && : >old.html && : >near-after.flac && echo x >kept.html && "
               "chmod -w kept.html && mkdir folder.html");
    const uint32_t files = files_in(b, ".");
    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; ++i) {
        run(b, refusals[i].arguments);
        if (b->status != refusals[i].status || !strstr(b->err, refusals[i].says))
            fail_msg("%s: status %d, %s", refusals[i].arguments, b->status, b->err);
        assert_int_equal(files_in(b, "."), files);
    }
    run_well(b, "--stages trim in.wav -o out.wav --report old.html --replace");
    expect_good(b, "old.html");
}

/* The page and what it plays are the same to the byte each time, and the mix is what it is without them. */
static void the_same_run_makes_the_same_page(void **state)
{
    Bench *b = *state;
    save_singer(b, "in.wav", &(SingerSpec){.voice = SINGER_TENOR, .seed = 3, .rate = 16000.0, .seconds = 6.0});
    run_well(b, "in.wav -o out.wav --report r.html");
    prepare(b, "mkdir first && mv r.html r-before.flac r-after.flac out.wav first");
    run_well(b, "in.wav -o out.wav --report r.html");
    prepare(b, "for f in r.html r-before.flac r-after.flac out.wav; do cmp $f first/$f || exit 1; done");
    run_well(b, "in.wav -o out.wav --replace");
    prepare(b, "cmp out.wav first/out.wav");
}

/* ---- Faults where they are ---- */

/* "2 pops at 0:13 and 0:21" */
static void pops_are_where_they_were_put(void **state)
{
    Bench *b = *state;
    SingerTake take;
    assert_true(singer_sing(&faulty, &take));
    save(b, "in.wav", WAV_FLOAT, (int)take.rate, 1, take.audio, take.frames);
    run_well(b, "in.wav -o out.wav --report r.html");
    char *page = page_load(b, "r.html");
    const char *lane = strstr(page, "<title id=\"f0-1-t\">Popping");
    assert_non_null(lane);
    const char *mark = strstr(lane, "class=\"fault\" d=\"");
    uint32_t pops = 0;
    double worst = 0.0;
    for (size_t i = 0; mark && i < take.plosive_count; ++i) {
        if (!(take.plosives[i].raised_db > 0.0))
            continue;
        mark = strchr(mark, 'M');
        assert_non_null(mark);
        const double at = strtod(mark ? mark + 1 : "", NULL) / 1000.0 * take.frames / take.rate;
        worst = fmax(worst, fabs(at - take.plosives[i].start));
        mark = mark ? mark + 1 : NULL;
        ++pops;
    }
    assert_int_equal(pops, 2);
    figure_at_most("Report", "pops, from where they were put to their flags", worst, 0.5, "s",
                   "our own: Check tells a pop a quarter of a second late, in steps of an eighth");
    free(page);
    singer_free(&take);
}

/* ---- Loudness ---- */

#ifdef HAVE_EBUR128
static double loudness_of(const Bench *b, const char *name)
{
    Sound s = sound_load(b, name);
    double lufs = NAN;
    ebur128_state *e = ebur128_init(s.channels, (unsigned long)s.info.samplerate, EBUR128_MODE_I);
    assert_non_null(e);
    assert_int_equal(ebur128_add_frames_float(e, s.x, s.n), EBUR128_SUCCESS);
    ebur128_loudness_global(e, &lufs);
    ebur128_destroy(&e);
    for (uint32_t k = 0; k < s.n * s.channels; ++k)
        assert_true(fabsf(s.x[k]) < 0.9f); /* -1 dBFS and what the dither adds */
    sound_free(&s);
    return lufs;
}
#endif

static void both_play_at_one_loudness(void **state)
{
    Bench *b = *state;
#ifdef HAVE_EBUR128
    double worst = 0.0;
    save_singer(b, "quiet.wav", &faulty);
    save_singer(b, "loud.wav",
                &(SingerSpec){.voice = SINGER_BARITONE, .seed = 2, .rate = 22050.0, .seconds = 8.0, .gain_db = 20.0});
    save_take(b, "stereo.wav", WAV_24, 44100, 2, 8.0, -20.0);
    run_well(b, "quiet.wav loud.wav stereo.wav -o mixes --report r.html");
    static const char *const names[] = {"quiet", "loud", "stereo"};
    for (size_t i = 0; i < 3; ++i) {
        char before[64], after[64];
        snprintf(before, sizeof before, "r-%s-before.flac", names[i]);
        snprintf(after, sizeof after, "r-%s-after.flac", names[i]);
        worst = fmax(worst, fabs(loudness_of(b, before) - loudness_of(b, after)));
    }
    figure_at_most("Report", "loudness of what its players play, before and after", worst, 0.2, "LU",
                   "requirement, by libebur128; wide: what is asked for");
#else
    (void)b;
    skip();
#endif
}

/* ---- In a browser ---- */

static const char *const browsers[] = {"chromium", "chromium-browser"};

/* Where there is none, the test ends here as a skip. */
static const char *find_browser(void)
{
    for (size_t i = 0; i < sizeof browsers / sizeof *browsers; ++i) {
        char command[128];
        snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", browsers[i]);
        if (!shell(command))
            return browsers[i];
    }
    printf("skipped: no %s\n", browsers[0]);
    skip();
    return NULL;
}

/* Put before all else in a copy of the page: notes what goes wrong. */
static const char watch[] =
    "<head><script>window.wrong = [];\n"
    "addEventListener('error', function (e) { wrong.push('error ' + e.message); }, true);\n"
    "addEventListener('securitypolicyviolation', function (e) { wrong.push('blocked ' + e.blockedURI); });</script>";

/* And at its end: plays, switches there and back, and notes how it went. The frame that is open until then holds back
 * the moment at which the browser takes the page for loaded. */
static const char try[] =
    "<script>(async function () {\n"
    "  var hold = document.body.appendChild(document.createElement('iframe')), told = [];\n"
    "  hold.contentDocument.open();\n"
    "  var box = document.querySelector('.players'), sound = box.querySelectorAll('audio'),\n"
    "      pick = box.querySelectorAll('.pick');\n"
    "  function wait(ms) { return new Promise(function (r) { setTimeout(r, ms); }); }\n"
    "  async function until(f) { for (var i = 0; i < 400 && !f(); ++i) await wait(20); return f(); }\n"
    "  function apart() { return Math.abs(sound[0].currentTime - sound[1].currentTime); }\n"
    "  function heard(k) { return sound[k].volume === 1 && !sound[k].muted && sound[1 - k].volume === 0; }\n"
    "  told.push(await until(function () { return sound[0].readyState > 3 && sound[1].readyState > 3; }) ? 'loaded' : "
    "'not loaded');\n"
    "  told.push(Math.abs(sound[0].duration - sound[1].duration) < 0.001 ? 'as long' : 'not as long');\n"
    "  told.push(heard(1) ? 'after' : 'not after');\n"
    "  box.querySelector('.play').click();\n"
    "  told.push(await until(function () { return sound[0].currentTime > 0.2 && sound[1].currentTime > 0.2; }) ? "
    "'play' : 'do not play');\n"
    "  for (var k = 0; k < 2; ++k) {\n"
    "    await until(function () { return !sound[0].seeking && !sound[1].seeking && apart() < 0.04; });\n"
    "    var halts = 0, note = function () { ++halts; };\n"
    "    ['pause', 'seeking', 'ended'].forEach(function (n) { sound[k].addEventListener(n, note); });\n"
    "    var was = sound[k].currentTime;\n"
    "    pick[k].click();\n"
    "    told.push(await until(function () { return heard(k) && sound[k].currentTime > was; }) ? 'switch' : 'no "
    "switch');\n"
    "    told.push(halts ? 'a gap' : 'no gap');\n"
    "    told.push(await until(function () { return apart() < 0.05; }) ? 'together' : 'apart');\n"
    "    told.push(pick[k].getAttribute('aria-pressed') === 'true' ? 'shown' : 'not shown');\n"
    "  }\n"
    "  box.querySelector('.play').click();\n"
    "  told.push(sound[0].paused && sound[1].paused ? 'halted' : 'not halted');\n"
    "  document.body.setAttribute('data-told', told.concat(wrong).join(', '));\n"
    "  hold.contentDocument.close();\n"
    "})();</script></body>";

static void write_trial(const Bench *b, const char *name, const char *page)
{
    char path[256];
    const char *head = strstr(page, "<head>"), *end = strstr(page, "</body>");
    snprintf(path, sizeof path, "%s/%s", b->folder, name);
    FILE *f = fopen(path, "wb");
    assert_true(f && head && end);
    if (!f || !head || !end)
        return;
    fwrite(page, 1, (size_t)(head - page), f);
    fputs(watch, f);
    fwrite(head + 6, 1, (size_t)(end - head - 6), f);
    fputs(try, f);
    fputs(end + 7, f);
    fclose(f);
}

/* The browser in the bench's folder, without a window or a network; more: what it is to do. The output goes to `told`.
 */
static void browse(const Bench *b, const char *browser, const char *more)
{
    char command[2000];
    snprintf(
        command, sizeof command,
        "cd '%s' && mkdir user && HOME=$PWD/user timeout 60 %s --headless --no-sandbox --disable-gpu --no-first-run "
        "--disable-background-networking --disable-component-update --disable-sync --disable-quic "
        "--user-data-dir=$PWD/user %s >told 2>user/err; s=$?; rm -rf user; exit $s",
        b->folder, browser, more);
    if (shell(command))
        fail_msg("%s %s failed", browser, more);
}

static void expect_played(Bench *b, const char *browser, const char *name)
{
    char *page = page_load(b, name);
    write_trial(b, "trial.html", page);
    free(page);
    browse(b, browser,
           "--mute-audio --autoplay-policy=no-user-gesture-required --timeout=20000 --dump-dom file://$PWD/trial.html");
    prepare(b, "mv told dom; grep -o 'data-told=\"[^\"]*\"' dom >told; rm -f dom trial.html");
    char *told = page_load(b, "told");
    assert_string_equal(told,
                        "data-told=\"loaded, as long, after, play, switch, no gap, together, shown, switch, no gap, "
                        "together, shown, halted\"\n");
    free(told);
}

static void its_players_switch(void **state)
{
    Bench *b = *state;
    const char *browser = find_browser();
    save_take(b, "in.wav", WAV_24, 16000, 1, 20.0, -10.0);
    run_well(b, "in.wav -o out.wav --report r.html");
    expect_played(b, browser, "r.html");
    run_well(b, "in.wav -o out.wav --replace --report whole.html --report-audio");
    expect_played(b, browser, "whole.html");
}

/* ---- On paper, and on a phone ---- */

enum { MOST_PAGES = 7, PHONE = 390 };

/* No heading without what belongs to it, and no half empty pages: six for this take, which were nine. */
static void expect_on_paper(const Bench *b, const char *browser)
{
    browse(b, browser, "--no-pdf-header-footer --print-to-pdf=r.pdf file://$PWD/r.html");
    prepare(b, "grep -a -c '/Type /Page$' r.pdf >pages");
    char *pages = page_load(b, "pages");
    const double n = strtod(pages, NULL);
    free(pages);
    assert_true(n > 1.0);
    figure_at_most("Report", "pages of paper, a take with three faults", n, MOST_PAGES, "", "ours");
}

/* Nothing lies past the side of a window as narrow as a phone's. */
static void expect_on_a_phone(const Bench *b, const char *browser)
{
    prepare(b, "sed 's|</body>|<script>onload = function () { parent.postMessage(document.documentElement.scrollWidth, "
               "\"*\"); }</script></body>|' r.html >inner.html");
    char command[400];
    snprintf(
        command, sizeof command,
        "echo '<body><script>onmessage = function (m) { document.body.setAttribute(\"data-wide\", m.data); }"
        "</script><iframe src=\"inner.html\" style=\"width:%dpx;height:700px;border:0\"></iframe></body>' >outer.html",
        PHONE);
    prepare(b, command);
    browse(b, browser, "--virtual-time-budget=4000 --dump-dom file://$PWD/outer.html");
    char *told = page_load(b, "told"), *wide = strstr(told, "data-wide=\"");
    assert_non_null(wide);
    const double width = strtod(wide + 11, NULL);
    assert_true(width >= PHONE - 20 && width <= PHONE);
    free(told);
}

static void it_fits_paper_and_phone(void **state)
{
    Bench *b = *state;
    const char *browser = find_browser();
    save_singer(b, "in.wav", &faulty);
    run_well(b, "in.wav -o out.wav --report r.html");
    expect_on_paper(b, browser);
    expect_on_a_phone(b, browser);
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        BENCH_TEST(a_faulty_take_is_told),
        BENCH_TEST(esses_are_filled_as_told),
        BENCH_TEST(chain_answers_every_question),
        BENCH_TEST(three_minutes_stay_small),
        BENCH_TEST(takes_of_any_kind_make_a_page),
        BENCH_TEST(a_name_stays_text),
        BENCH_TEST(nothing_is_written_over),
        BENCH_TEST(the_same_run_makes_the_same_page),
        BENCH_TEST(pops_are_where_they_were_put),
        BENCH_TEST(both_play_at_one_loudness),
        BENCH_TEST(its_players_switch),
        BENCH_TEST(it_fits_paper_and_phone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
