/* What render and the demo do to the files that are there: nothing. By 200 command lines as hands type them, wrong in
 * every way, and by hand, sentence by sentence. LINCTUS_SEEDS=N adds N to the seed of the command lines. */
#include "figure.h"
#include "runs.h"
#include "seeds.h"

#include <signal.h>
#include <sys/socket.h>
#include <sys/un.h>

/* ---- Running ---- */

/* A script in the bench's folder, with render as $R. What it prints goes to b->out and b->err. */
static int script(Bench *b, const char *text)
{
    char command[8192], build[3000];
    build_folder(build, sizeof build);
    snprintf(command, sizeof command, "cd '%s' && R='%s/render' && { %s\n} >.stdout 2>.stderr", b->folder, build, text);
    return run_command(b, command);
}

static void expect(Bench *b, const char *text, int status)
{
    if (script(b, text) != status)
        fail_msg("%s: status %d, expected %d; %s%s", text, b->status, status, b->out, b->err);
}

/* The take is a twentieth of a second: it is the names that matter. */
static void save_short(const Bench *b, const char *name, float pitch)
{
    enum { N = 400 };
    float x[N];
    for (int k = 0; k < N; ++k)
        x[k] = 0.3f * sinf(pitch * (float)k);
    save(b, name, SF_FORMAT_WAV | SF_FORMAT_PCM_16, 8000, 1, x, N);
}

#define DONE ERROR_NO_VOICE /* a twentieth of a second is no voice */

/* ---- What is there ---- */

typedef struct {
    char path[200]; /* in the bench's folder */
    mode_t mode;
    ino_t inode;
    uint64_t content; /* of a file, or where a link leads */
    bool seen;
} Entry;

enum { MOST_ENTRIES = 300 };

typedef struct {
    uint32_t n;
    Entry entry[MOST_ENTRIES];
} Snapshot;

#define FIRST 14695981039346656037u

static uint64_t hash(uint64_t h, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; ++i)
        h = (h ^ (unsigned char)bytes[i]) * 1099511628211u; /* FNV-1a */
    return h;
}

/* Where a link leads. */
static uint64_t link_content(const char *path)
{
    char bytes[4096];
    const ssize_t n = readlink(path, bytes, sizeof bytes);
    return hash(FIRST, bytes, n > 0 ? (size_t)n : 0);
}

static uint64_t file_content(const char *path)
{
    char bytes[4096];
    uint64_t h = FIRST;
    FILE *f = fopen(path, "rb");
    for (size_t n = 1; f && n;) {
        n = fread(bytes, 1, sizeof bytes, f);
        h = hash(h, bytes, n);
    }
    if (f)
        fclose(f);
    return h;
}

static void note(const Bench *b, const char *folder, Snapshot *s) /* NOLINT(misc-no-recursion): three levels */
{
    char path[400];
    snprintf(path, sizeof path, "%s/%s", b->folder, folder);
    DIR *d = opendir(path);
    assert_non_null(d);
    for (struct dirent *e; d && (e = readdir(d));) {
        struct stat st;
        if (!strcmp(e->d_name, ".") || !strcmp(e->d_name, ".."))
            continue;
        assert_true(s->n < MOST_ENTRIES);
        Entry *x = &s->entry[s->n++];
        snprintf(x->path, sizeof x->path, "%s%s%.100s", folder, *folder ? "/" : "", e->d_name);
        snprintf(path, sizeof path, "%s/%s", b->folder, x->path);
        assert_int_equal(lstat(path, &st), 0);
        x->mode = st.st_mode;
        x->inode = st.st_ino;
        x->content = S_ISLNK(st.st_mode) ? link_content(path) : S_ISREG(st.st_mode) ? file_content(path) : 0;
        x->seen = false;
        if (S_ISDIR(st.st_mode))
            note(b, x->path, s);
    }
    if (d)
        closedir(d);
}

static Entry *entry_at(Snapshot *s, const char *path)
{
    for (uint32_t i = 0; i < s->n; ++i)
        if (!strcmp(s->entry[i].path, path))
            return &s->entry[i];
    return NULL;
}

static void take_away(const Bench *b, const char *path)
{
    char command[400];
    snprintf(command, sizeof command, "rm -rf './%s'", path);
    prepare(b, command);
}

/* Everything that was there is there as it was. What is new is counted, and taken away again. */
static uint32_t compare(const Bench *b, Snapshot *was, const char *line)
{
    static Snapshot is;
    uint32_t fresh = 0;
    is.n = 0;
    note(b, "", &is);
    for (uint32_t i = 0; i < is.n; ++i) {
        Entry *old = entry_at(was, is.entry[i].path), *now = &is.entry[i];
        const bool same = old && old->mode == now->mode && old->inode == now->inode && old->content == now->content;
        if (old && !same)
            fail_msg("%s: changes %s", line, now->path);
        if (!old && strstr(now->path, ".render-"))
            fail_msg("%s: leaves %s", line, now->path);
        if (old)
            old->seen = true;
        else
            ++fresh;
    }
    for (uint32_t i = 0; i < is.n; ++i)
        if (!entry_at(was, is.entry[i].path))
            take_away(b, is.entry[i].path);
    for (uint32_t i = 0; i < was->n; ++i) {
        if (!was->entry[i].seen)
            fail_msg("%s: takes away %s", line, was->entry[i].path);
        was->entry[i].seen = false;
    }
    return fresh;
}

/* ---- Lines that hands type ---- */

static const char *const takes[] = {"a.wav",
                                    "b.wav",
                                    "'my take.wav'",
                                    "sub/a.wav",
                                    "sub/c.flac",
                                    "hard.wav",
                                    "soft.wav",
                                    "kept.wav",
                                    "./a.wav",
                                    "sub/../b.wav",
                                    "-1.wav",
                                    "./-1.wav",
                                    "dangling.wav",
                                    "loop.wav",
                                    "none.wav",
                                    "mixes",
                                    "words.txt",
                                    "''",
                                    "/dev/null",
                                    "mixes/a.wav",
                                    "/dev/stdin",
                                    "pipe.wav",
                                    "*.wav",
                                    "sub/*",
                                    "build/demo/raw.wav",
                                    "old.lv2/t.ttl"};
static const char *const outs[] = {"new.wav",
                                   "new.wav",
                                   "new",
                                   "new/",
                                   "fresh/x.wav",
                                   "a.wav",
                                   "b.wav",
                                   "hard.wav",
                                   "soft.wav",
                                   "dangling.wav",
                                   "loop.wav",
                                   "kept.wav",
                                   "pipe.wav",
                                   "mixes",
                                   "mixes/",
                                   "mixes/a.wav",
                                   "mixes/n.wav",
                                   ".",
                                   "sub",
                                   "words.txt",
                                   "old.lv2",
                                   "old.lv2/t.wav",
                                   "locked/x.wav",
                                   "''",
                                   "--replaced",
                                   "out.mp3",
                                   "/dev/full",
                                   "'my take.wav'",
                                   "./a.wav",
                                   "mixes-link",
                                   "mixes-link/x.wav",
                                   "nowhere-link",
                                   "parts.wav",
                                   "build/demo",
                                   "build/linctus.lv2"};
static const char *const presets[] = {"old",           "old.lv2", "taken",    "fresh", "mixes/p", "none/p",
                                      "build/linctus", "/",       "old-link", "''",    "new",     "a.wav"};

static const char *const pages[] = {
    "page.html", "mixes/p.html", "new/p.html", "none/p.html", "words.txt", "a.wav", "new.html --report-audio",
    "''",        "taken.lv2",    "sub/c.htm"};

static uint32_t dice;

static uint32_t roll(uint32_t sides)
{
    dice = dice * 1664525u + 1013904223u;
    return (dice >> 8) % sides;
}

static bool chance(uint32_t percent)
{
    return roll(100) < percent;
}

enum { LINE = 2048, COMMAND = 2 * LINE };

static void put(char *line, const char *word)
{
    const size_t used = strlen(line);
    snprintf(line + used, LINE - used, " %s", word);
}

#define PICK(list) (list)[roll(sizeof(list) / sizeof *(list))]

/* Half of the names are such that they can be read. */
static const char *some_take(void)
{
    return chance(50) ? takes[roll(8)] : PICK(takes);
}

static void put_out(char *line)
{
    put(line, chance(10) ? "--out" : "-o");
    if (!chance(4))
        put(line, chance(25) ? "new.wav" : PICK(outs));
}

static void put_option(char *line)
{
    static const char *const options[] = {"--float",
                                          "--together",
                                          "--voice none",
                                          "--voice alto",
                                          "--stages trim,tone",
                                          "--matched",
                                          "--sheet",
                                          "--sheet --matched",
                                          "--rate 11025",
                                          "--name '{take}-{rate}'",
                                          "--name '{number}' --sheet",
                                          "--name ../{take}",
                                          "--name a",
                                          "--jobs 3",
                                          "--backing"};
    put(line, PICK(options));
}

/* -o before, between or after the takes; none, one or two. */
static void type_render(char *line)
{
    const uint32_t many = chance(60) ? 1 : roll(4), where = roll(many + 1);
    const bool second = chance(6), out = !chance(20), apart = chance(15);
    put(line, "\"$R\"");
    put(line, apart ? "--apart --stages trim,plate --set plate.decay=0.3" : "--stages trim");
    if (chance(30))
        put_option(line);
    if (chance(6))
        put(line, chance(50) ? "--advise" : "--compare");
    for (uint32_t t = 0; t <= many; ++t) {
        if ((out && t == where) || (second && t == many))
            put_out(line);
        if (t == many && chance(25)) {
            put(line, "--save-preset");
            put(line, PICK(presets));
        }
        if (t == many && chance(10)) {
            put(line, "--report");
            put(line, PICK(pages));
        }
        if (t == many && chance(8)) {
            put(line, "--stages trim,tone --like");
            put(line, some_take());
        }
        if (t == many && chance(4))
            put(line, "--");
        if (t < many)
            put(line, some_take());
    }
}

static void type_demo(char *line)
{
    put(line, "sh demo.sh build");
    put(line, some_take());
    if (chance(30))
        put(line, chance(50) ? "alto" : "basso");
}

static void type_line(char *line)
{
    line[0] = '\0';
    if (chance(20))
        type_demo(line);
    else
        type_render(line);
    if (chance(5))
        put(line, ">/dev/full");
}

/* With what its pipes get: standard input is a file or a pipe, and whoever writes to pipe.wav goes with the line. */
static void feed(char *command, const char *line)
{
    const bool named = strstr(line, "pipe.wav"), standard = strstr(line, "/dev/stdin"), through = chance(50);
    snprintf(command, COMMAND, "%s%s%s%s%s", named ? "cat a.wav >pipe.wav & w=$!; " : "",
             standard && through ? "cat b.wav |" : "", line, standard && !through ? " <b.wav" : "",
             named ? "; s=$?; kill $w 2>/dev/null; exit $s" : "");
}

/* A home studio's folder. */
static void lay_out(Bench *b)
{
    char here[900], build[3000], command[4200];
    prepare(
        b, "mkdir sub mixes old.lv2 locked build build/demo build/linctus.lv2 && echo words >words.txt && "
           "echo x >taken.lv2 && echo x >old.lv2/manifest.ttl && echo x >mixes/note.txt && echo x >build/demo/raw.txt");
    save_short(b, "a.wav", 0.21f);
    save_short(b, "b.wav", 0.22f);
    save_short(b, "my take.wav", 0.23f);
    save_short(b, "sub/a.wav", 0.24f);
    save_short(b, "mixes/a.wav", 0.25f);
    save_short(b, "kept.wav", 0.26f);
    save_short(b, "-1.wav", 0.27f);
    save_short(b, "build/demo/raw.wav", 0.28f);
    prepare(
        b, "cp b.wav sub/c.flac && cp a.wav old.lv2/t.ttl && cp a.wav new-voice.wav && chmod a-w kept.wav locked && "
           "cp a.wav parts-ambience.wav && ln a.wav hard.wav && ln -s b.wav soft.wav && ln -s gone.wav dangling.wav && "
           "ln -s loop.wav loop.wav && ln -s mixes mixes-link && ln -s nowhere nowhere-link && "
           "ln -s old.lv2 old-link.lv2 && mkfifo pipe.wav && ln -s ../mixes build/demo-2");
    assert_non_null(getcwd(here, sizeof here));
    build_folder(build, sizeof build);
    snprintf(command, sizeof command, "ln -s '%s/tests/harness/demo.sh' demo.sh && ln -s '%s/render' build/", here,
             build);
    prepare(b, command);
}

/* The command line that an error says to type, without what replaces; "": it says none. */
static void suggestion(const Bench *b, char *line)
{
    const char *typed = strstr(b->err, "ype: ");
    snprintf(line, LINE, "%s", typed ? typed + strlen("ype: ") : "");
    line[strcspn(line, "\n")] = '\0';
    if (strstr(line, "--replace") || strstr(line, "the same again") || strstr(line, "--help"))
        line[0] = '\0';
}

typedef struct {
    uint32_t done, refused, suggested;
} Tally;

static void try_line(Bench *b, Snapshot *was, const char *line, Tally *tally)
{
    char command[COMMAND];
    feed(command, line);
    script(b, command);
    const bool done = b->status == ERROR_NONE || b->status == ERROR_NO_VOICE,
               lost_table = strstr(b->err, "the table cannot");
    if (b->status < 0 || b->status > ERROR_NO_VOICE || b->status == ERROR_INSIDE)
        if (!strstr(line, "demo.sh"))
            fail_msg("%s: status %d, %s", line, b->status, b->err);
    if (!done && !strstr(line, "demo.sh") && (strncmp(b->err, "render: ", 8) != 0 || b->err[strcspn(b->err, "\n") + 1]))
        fail_msg("%s: not one line: %s", line, b->err);
    const uint32_t fresh = compare(b, was, line);
    if (!done && !lost_table && fresh && !strstr(line, "demo.sh"))
        fail_msg("%s: refused, and yet something new is there", line);
    if (done && !fresh && !strstr(line, "--advise"))
        fail_msg("%s: done, and nothing is there: %s", line, b->out);
    tally->done += done;
    tally->refused += !done;
}

enum { LINES = 200 };

static void no_line_changes_what_is_there(void **state)
{
    Bench *b = *state;
    static Snapshot was;
    Tally tally = {0};
    char line[LINE], next[LINE];
    dice = seeded(11);
    lay_out(b);
    was.n = 0;
    note(b, "", &was);
    for (int k = 0; k < LINES; ++k) {
        type_line(line);
        try_line(b, &was, line, &tally);
        suggestion(b, next);
        if (*next)
            try_line(b, &was, next, &(Tally){0});
        tally.suggested += *next != '\0';
    }
    figure_note("Suite", "command lines that hands type: done", tally.done, "lines");
    figure_note("Suite", "command lines that hands type: refused", tally.refused, "lines");
    figure_note("Suite", "of those, told what to type, and that tried too", tally.suggested, "lines");
    assert_true(tally.done > LINES / 8 && tally.refused > LINES / 4 && tally.suggested > LINES / 20);
}

/* With --replace a file may go, but never one that is a take of this line, under whatever name. */
static void replacing_spares_the_takes(void **state)
{
    Bench *b = *state;
    char line[LINE], path[400], command[COMMAND];
    uint32_t done = 0;
    dice = seeded(12);
    lay_out(b);
    for (int k = 0; k < LINES / 4; ++k) {
        const char *take = takes[roll(10)];
        snprintf(path, sizeof path, "%s/%s", b->folder, *take == '\'' ? "my take.wav" : take);
        const uint64_t was = file_content(path);
        snprintf(line, sizeof line, "\"$R\" --replace --stages trim %s -o %s %s %s", take, PICK(outs),
                 chance(30) ? "--apart --stages trim,plate" : "", chance(30) ? "--save-preset old" : "");
        feed(command, line);
        script(b, command);
        done += b->status == ERROR_NO_VOICE;
        if (file_content(path) != was)
            fail_msg("%s: changes its take", line);
        prepare(b, "! find . -name '.render-*' | grep .");
    }
    assert_true(done > LINES / 40);
}

/* A slip of a hand names a recording, or somebody's text, where a result would go. */
static void replacing_spares_what_render_did_not_write(void **state)
{
    Bench *b = *state;
    static Snapshot was;
    static const char *const lines[] = {"a.wav -o b.wav",
                                        "a.wav -o aiff.wav",
                                        "a.wav -o flac.wav",
                                        "a.wav -o ogg.wav",
                                        "a.wav -o soft.wav",
                                        "a.wav -o words.wav",
                                        "sub/a.wav -o mixes",
                                        "--apart --stages trim,plate a.wav -o parts.wav",
                                        "--matched a.wav -o m.wav",
                                        "--sheet a.wav -o t.wav",
                                        "a.wav -o new.wav --report own.html",
                                        "a.wav -o new.wav --report near.html"};
    char line[LINE], next[LINE];
    const float x[4000] = {0.f, 0.1f};
    lay_out(b);
    save(b, "aiff.wav", SF_FORMAT_AIFF | SF_FORMAT_PCM_24, 8000, 1, x, 4000);
    save(b, "flac.wav", SF_FORMAT_FLAC | SF_FORMAT_PCM_24, 8000, 1, x, 4000);
    save(b, "ogg.wav", SF_FORMAT_OGG | SF_FORMAT_VORBIS, 8000, 1, x, 4000);
    prepare(b, "cp words.txt words.wav && cp a.wav m-before.wav && cp words.txt t.txt && cp words.txt own.html && "
               "cp flac.wav near-after.flac");
    was.n = 0;
    note(b, "", &was);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i) {
        snprintf(line, sizeof line, "\"$R\" --replace --stages trim %s", lines[i]);
        expect(b, line, ERROR_WRITE);
        assert_non_null(strstr(b->err, "is there already, and as render did not write it, it is never replaced"));
        assert_int_equal(compare(b, &was, line), 0);
        const char *typed = strstr(b->err, "type: ");
        assert_true(!typed == (i >= 6));
        snprintf(next, sizeof next, "%s", typed ? typed + strlen("type: ") : "");
        if (typed)
            expect(b, next, DONE);
        assert_int_equal(compare(b, &was, next), i < 6);
    }
}

/* All that render writes carries its mark, and an empty file holds nothing to lose. */
static void replacing_replaces_what_render_wrote(void **state)
{
    Bench *b = *state;
    static const char *const lines[] = {"--matched --sheet --report page.html --save-preset fresh -o new.wav",
                                        "--matched --sheet --report page.html -o fresh/ --bits float",
                                        "--apart --stages trim,plate -o parted.wav --bits 16 --rate 11025"};
    char line[LINE];
    lay_out(b);
    prepare(b, "mkdir fresh && : >page.html && : >new.wav && : >new.txt");
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i)
        for (int again = 0; again < 2; ++again) {
            snprintf(line, sizeof line, "\"$R\" --stages trim --replace a.wav %s", lines[i]);
            expect(b, line, DONE);
        }
}

/* The vocal that a take is to be like is as safe as the take, under whatever name the result would go there. */
static void replacing_spares_the_vocal_to_be_like(void **state)
{
    Bench *b = *state;
    static const char *const names[][2] = {{"b.wav", "b.wav"},
                                           {"b.wav", "soft.wav"},
                                           {"soft.wav", "b.wav"},
                                           {"hard.wav", "./hard.wav"},
                                           {"sub/a.wav", "sub"},
                                           {"mixes/a.wav", "mixes"},
                                           {"sub/../b.wav", "soft.wav"},
                                           {"mixes/a.wav", "mixes-link/a.wav"},
                                           {"kept.wav", "kept.wav"},
                                           {"./-1.wav", "./-1.wav"},
                                           {"'my take.wav'", "'my take.wav'"}};
    char line[LINE], path[400];
    lay_out(b);
    for (size_t i = 0; i < sizeof names / sizeof *names; ++i) {
        const char *like = names[i][0];
        snprintf(path, sizeof path, "%s/%s", b->folder, *like == '\'' ? "my take.wav" : like);
        const uint64_t was = file_content(path);
        snprintf(line, sizeof line, "\"$R\" --replace --like %s new-voice.wav -o %s", like, names[i][1]);
        expect(b, line, i == 4 || i == 5 ? ERROR_AUDIO : ERROR_USAGE);
        if (file_content(path) != was)
            fail_msg("%s: changes the vocal to be like", line);
    }
    prepare(b, "rm old.lv2/t.ttl && cp b.wav old.lv2/t.ttl");
    expect(b, "\"$R\" --replace --like old.lv2/t.ttl a.wav -o new.wav --save-preset old", ERROR_WRITE);
    prepare(b, "cmp b.wav old.lv2/t.ttl");
}

/* ---- Sentence by sentence ---- */

static void what_is_typed_then_works(void **state)
{
    Bench *b = *state;
    static const char *const wrong[] = {
        "\"$R\" --stages trim a.wav",
        "\"$R\" --stages trim a.wav b.wav",
        "\"$R\" --stages trim a.wav none.wav",
        "\"$R\" --stages trim a.wav b.wav fresh",
        "\"$R\" --stages trim 'my take.wav'",
        "\"$R\" --stages trim -- -1.wav",
        "\"$R\" --stages trim a.wav -o x.mp3",
        "\"$R\" --stages trim a.wav b.wav -o all.wav",
        "\"$R\" --stages trim a.wav -o ./a.wav",
        "\"$R\" --stages trim a.wav hard.wav b.wav -o fresh",
        "\"$R\" --stages trim sub/a.wav a.wav -o sub",
    };
    static Snapshot was;
    char line[LINE];
    lay_out(b);
    was.n = 0;
    note(b, "", &was);
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; ++i) {
        expect(b, wrong[i], ERROR_USAGE);
        suggestion(b, line);
        if (i + 1 == sizeof wrong / sizeof *wrong) { /* two of one name stay so */
            assert_non_null(strstr(b->err, "sub/a.wav is a take"));
            break;
        }
        expect(b, line, DONE);
        assert_true(compare(b, &was, line) > 0);
    }
    expect(b, "\"$R\" --stages trim a.wav -o sub/a.wav", ERROR_WRITE);
    snprintf(line, sizeof line, "%s", strstr(b->err, "type: ") + strlen("type: "));
    expect(b, line, DONE);
    prepare(b, "! cmp -s sub/a.wav a.wav");
}

static void replacing_keeps_what_a_file_is(void **state)
{
    Bench *b = *state;
    lay_out(b);
    expect(b, "\"$R\" --stages trim sub/a.wav -o other.wav", DONE);
    prepare(b, "ln other.wav second.wav && cp second.wav was.wav && chmod 640 other.wav");
    expect(b, "\"$R\" --stages trim a.wav -o other.wav --replace && exit 99", DONE);
    prepare(b, "cmp second.wav was.wav && ! cmp -s other.wav second.wav && test $(stat -c %a other.wav) = 640");
    expect(b, "\"$R\" --stages trim a.wav -o new.wav", DONE);
    prepare(b, "cmp new.wav other.wav && umask 027 && : >by-hand && test $(stat -c %a by-hand) = 640");
    expect(b, "umask 027; \"$R\" --stages trim a.wav -o careful.wav", DONE);
    prepare(b, "test $(stat -c %a careful.wav) = 640 && test $(stat -c %a new.wav) = $(stat -c %a a.wav)");
}

static void a_link_as_out_is_followed(void **state)
{
    Bench *b = *state;
    lay_out(b);
    expect(b, "\"$R\" --stages trim a.wav -o target.wav", DONE);
    prepare(b, "cp target.wav was.wav && ln -s ../target.wav sub/link.wav && ln -s sub/link.wav far.wav && "
               "ln -s mixes/fresh.wav ahead.wav");
    expect(b, "\"$R\" --stages trim b.wav -o far.wav", ERROR_WRITE);
    prepare(b, "cmp target.wav was.wav");
    expect(b, "\"$R\" --stages trim b.wav -o far.wav --replace", DONE);
    expect(b, "\"$R\" --stages trim b.wav -o ahead.wav", DONE);
    prepare(b, "test -L far.wav && test -L sub/link.wav && test -L ahead.wav && test ! -L target.wav && "
               "cmp target.wav mixes/fresh.wav && ! cmp -s target.wav was.wav");
    expect(b, "\"$R\" --stages trim b.wav a.wav -o mixes-link", ERROR_WRITE); /* mixes/a.wav */
    expect(b, "\"$R\" --stages trim b.wav sub/c.flac -o mixes-link", DONE);
    expect(b, "\"$R\" --stages trim b.wav a.wav -o nowhere-link", DONE);
    prepare(b, "test -L mixes-link && test -f mixes/c.wav && test -L nowhere-link && test -f nowhere/a.wav");
    prepare(b, "! find . -name '.render-*' | grep .");
}

static void a_pipe_is_a_take(void **state)
{
    Bench *b = *state;
    lay_out(b);
    expect(b, "\"$R\" --stages trim a.wav -o file.wav", DONE);
    expect(b, "cat a.wav >pipe.wav & \"$R\" --stages trim pipe.wav -o named.wav", DONE);
    expect(b,
           "(exec >pipe.wav; head -c 100 a.wav; sleep 0.5; tail -c +101 a.wav) & \"$R\" --stages trim pipe.wav -o "
           "slow.wav",
           DONE);
    expect(b, "cat a.wav | \"$R\" --stages trim /dev/stdin -o standard.wav", DONE);
    expect(b, "cat a.wav | \"$R\" --stages trim /dev/stdin b.wav -o fresh", DONE);
    expect(b, "cat a.wav | \"$R\" --advise /dev/stdin", DONE);
    prepare(
        b,
        "cmp file.wav named.wav && cmp file.wav slow.wav && cmp file.wav standard.wav && cmp file.wav fresh/stdin.wav");
    expect(b, ": | \"$R\" /dev/stdin -o none.wav", ERROR_AUDIO);
    expect(b, "timeout 60 \"$R\" pipe.wav b.wav -o none", ERROR_FILE);
    assert_non_null(strstr(b->err, "pipe.wav: a pipe that nobody writes to"));
    expect(
        b,
        "(exec >pipe.wav; sleep 60) & w=$!; timeout -s TERM 0.7 \"$R\" pipe.wav b.wav -o none; s=$?; kill $w; exit $s",
        124);
    assert_non_null(strstr(b->err, "stopped; nothing was written"));
    assert_false(is_there(b, "none"));
    prepare(b, "! find . -name '.render-*' | grep .");
}

static void a_socket_is_no_take(void **state)
{
    Bench *b = *state;
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    save_short(b, "a.wav", 0.2f);
    snprintf(at.sun_path, sizeof at.sun_path, "%s/socket.wav", b->folder);
    const int s = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(s, (const struct sockaddr *)&at, sizeof at), 0);
    expect(b, "\"$R\" socket.wav -o new.wav", ERROR_FILE);
    assert_non_null(strstr(b->err, "socket.wav: a socket, not a take"));
    expect(b, "\"$R\" a.wav -o socket.wav --replace", ERROR_WRITE);
    close(s);
}

/* The writer of the pipe runs when everything is planned: it makes a file where OUT will be. */
static void what_comes_meanwhile_stays(void **state)
{
    Bench *b = *state;
    lay_out(b);
    expect(b, "(exec >pipe.wav; echo mine >new.wav; cat a.wav) & \"$R\" --stages trim pipe.wav -o new.wav",
           ERROR_WRITE);
    assert_non_null(strstr(b->err, "new.wav: cannot write: meanwhile a file of this name has come"));
    prepare(b, "test \"$(cat new.wav)\" = mine");
    expect(b, "(exec >pipe.wav; echo mine >fresh/pipe.wav; cat a.wav) & \"$R\" --stages trim b.wav pipe.wav -o fresh",
           ERROR_WRITE);
    assert_int_equal(files_in(b, "fresh"), 1);
    expect(b,
           "(exec >pipe.wav; mkdir p.lv2; echo mine >p.lv2/x; cat a.wav) & \"$R\" --stages trim pipe.wav -o n.wav "
           "--save-preset p",
           ERROR_WRITE);
    assert_int_equal(files_in(b, "p.lv2"), 1);
    assert_false(is_there(b, "n.wav"));
    prepare(b, "! find . -name '.render-*' | grep .");
}

static void a_table_that_is_lost_is_an_error(void **state)
{
    Bench *b = *state;
    lay_out(b);
    static const char *const lines[] = {"--help", "--list", "--advise a.wav", "--stages trim a.wav -o one.wav"};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i) {
        char line[LINE];
        snprintf(line, sizeof line, "\"$R\" %s >/dev/full", lines[i]);
        expect(b, line, ERROR_WRITE);
        assert_non_null(strstr(b->err, "render: the table cannot be written: "));
    }
    assert_non_null(strstr(b->err, "the result is written: one.wav"));
    expect(b, "\"$R\" --stages trim a.wav -o two.wav >&-", ERROR_WRITE);
    expect(b, "\"$R\" --stages trim a.wav -o three.wav <&- 2>&-", DONE);
    prepare(b, "cmp one.wav two.wav && cmp one.wav three.wav");
}

/* Whoever starts render decides what may end it: nohup ignores SIGHUP. */
static void ignored_signals_stay_ignored(void **state)
{
    Bench *b = *state;
    save_take(b, "in.wav", WAV_24, RATE, 2, 20.0, 0.0);
    static const char send[] = "\"$R\" --stages trim,tone in.wav -o out.wav & p=$!; n=0\n"
                               "until ls .render-* >/dev/null 2>&1; do\n"
                               "    n=$((n + 1)); test $n -lt 2000 || exit 97; sleep 0.002\n"
                               "done; kill -%s $p; wait $p";
    static const char *const ends[] = {"HUP", "TERM", "INT"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; ++i) {
        char line[LINE], sent[LINE - 64];
        snprintf(sent, sizeof sent, send, ends[i]);
        if (strcmp(ends[i], "INT") != 0) { /* a shell lets no background job have it */
            expect(b, sent, ERROR_STOPPED);
            assert_int_equal(files_in(b, "."), 1);
        }
        snprintf(line, sizeof line, "trap '' %s; %s", ends[i], sent);
        expect(b, line, 0);
        assert_true(is_there(b, "out.wav"));
        prepare(b, "rm out.wav");
    }
}

/* A run that was killed cannot take its hidden file away. A later one says what to type, but not while the file belongs
 * to a run that goes on, here one that is stopped in the middle. */
static void what_a_killed_run_left_is_told(void **state)
{
    Bench *b = *state;
    static const char stop[] = "\"$R\" --stages trim,tone in.wav -o out.wav >/dev/null 2>&1 & p=$!; n=0\n"
                               "until ls .render-* && sleep 0.002 && ls .render-*; do\n"
                               "    n=$((n + 1)); test $n -lt 2000 || exit 97; sleep 0.002\n"
                               "done >/dev/null 2>&1; kill -STOP $p; echo $p >pid";
    save_take(b, "in.wav", WAV_24, RATE, 2, 20.0, 0.0);
    save_short(b, "a.wav", 0.2f);
    expect(b, stop, 0);
    expect(b, "\"$R\" --stages trim a.wav -o one.wav", DONE);
    assert_null(strstr(b->err, "hidden"));
    prepare(b, "kill -KILL $(cat pid); while kill -0 $(cat pid) 2>/dev/null; do sleep 0.01; done; rm pid");
    expect(b, "\"$R\" --stages trim a.wav -o two.wav", DONE);
    const char *told = strstr(b->err, "render: 1 hidden file was left there by a run that was killed; to take it away, "
                                      "type: ");
    assert_non_null(told);
    char line[400];
    snprintf(line, sizeof line, "%s", strstr(told, "type: ") + 6);
    line[strcspn(line, "\n")] = '\0';
    prepare(b, line);
    prepare(b, "! find . -name '.render-*' | grep .");
    assert_int_equal(files_in(b, "."), 4);
    prepare(b, "for k in 1 2 3 4 5; do : >.render-abcde$k; done; : >.render-abc; mkdir .render-folder");
    expect(b, "\"$R\" --stages trim a.wav -o three.wav", DONE);
    assert_non_null(strstr(b->err, "render: 5 hidden files were left"));
    assert_non_null(strstr(b->err, " and so on\n"));
}

static void a_preset_bundle_is_replaced_whole(void **state)
{
    Bench *b = *state;
    lay_out(b);
    expect(b, "\"$R\" --stages trim,esses a.wav -o one.wav --save-preset fresh", DONE);
    assert_int_equal(files_in(b, "fresh.lv2"), 5);
    prepare(b, "cp -r fresh.lv2 was && ln -s fresh.lv2 lead.lv2 && test $(stat -c %a fresh.lv2) = $(stat -c %a mixes)");
    expect(b, "\"$R\" --stages trim a.wav -o two.wav --save-preset fresh", ERROR_WRITE);
    expect(b, "\"$R\" --stages trim a.wav -o two.wav --save-preset lead", ERROR_WRITE);
    prepare(b, "diff -r fresh.lv2 was && ! grep -rl render- fresh.lv2");
    expect(b, "\"$R\" --replace --stages trim a.wav -o two.wav --save-preset lead", DONE);
    assert_int_equal(files_in(b, "fresh.lv2"), 3);
    prepare(b, "test -L lead.lv2 && grep -q lead fresh.lv2/trim.ttl && ! find . -name '.render-*' | grep .");
    prepare(b, "echo x >fresh.lv2/notes.txt && cp -r fresh.lv2 is");
    expect(b, "\"$R\" --replace --stages trim a.wav -o two.wav --save-preset fresh", ERROR_WRITE);
    prepare(b, "diff -r fresh.lv2 is");
}

/* ---- What the table says of several takes, and of none ---- */

static double number_after(const char *text, const char *mark)
{
    const char *found = strstr(text, mark);
    if (!found)
        fail_msg("no \"%s\" in: %s", mark, text);
    return found ? strtod(found + strlen(mark), NULL) : NAN;
}

/* As an interface records what is too loud. */
static void save_clipped(const Bench *b, const char *name, const SingerSpec *spec)
{
    SingerTake take;
    assert_true(singer_sing(spec, &take));
    for (uint32_t k = 0; k < take.frames; ++k)
        take.audio[k] = fminf(fmaxf(take.audio[k], -1.f), 1.f);
    save(b, name, WAV_FLOAT, (int)take.rate, 1, take.audio, take.frames);
    singer_free(&take);
}

/* What the table says of a stage that gets these takes as they came. */
static const char *table_of(Bench *b, const char *stage, const char *names)
{
    char line[LINE];
    snprintf(line, sizeof line, "\"$R\" --replace --stages %s %s", stage, names);
    expect(b, line, 0);
    snprintf(line, sizeof line, "\n%s\n", stage);
    const char *table = strstr(b->out, line);
    assert_non_null(table);
    return table;
}

typedef struct {
    double peak, clipped, sibilants;
} Told;

static Told told_of(Bench *b, const char *names, bool clipped)
{
    Told t = {0};
    const char *trim = table_of(b, "trim", names);
    t.peak = number_after(trim, "its highest peak at ");
    t.clipped = clipped ? number_after(trim, "clipped samples: ") : 0.0;
    t.sibilants = number_after(table_of(b, "esses", names), "sibilants: ");
    return t;
}

/* A loud take with sibilants and clipped samples, and a soft one with fewer: figures of both, in either order. */
static void together_counts_all_takes(void **state)
{
    Bench *b = *state;
    save_clipped(b, "loud.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 4, .seconds = 10, .gain_db = 12});
    save_singer(b, "soft.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 3, .seconds = 8, .gain_db = -12});
    const Told loud = told_of(b, "loud.wav -o mix.wav", true), soft = told_of(b, "soft.wav -o mix.wav", false);
    assert_true(loud.peak > soft.peak && loud.clipped > 10.0 && loud.sibilants > 0.0 && soft.sibilants > 0.0);
    static const char *const both[] = {"loud.wav soft.wav --together -o ab", "soft.wav loud.wav --together -o ba"};
    for (int i = 0; i < 2; ++i) {
        const Told all = told_of(b, both[i], true);
        if (all.peak != loud.peak || all.clipped != loud.clipped || all.sibilants != loud.sibilants + soft.sibilants)
            fail_msg("%s: peak %g of %g, %g clipped of %g, %g sibilants of %g + %g", both[i], all.peak, loud.peak,
                     all.clipped, loud.clipped, all.sibilants, loud.sibilants, soft.sibilants);
    }
}

static void no_voice_is_told(void **state)
{
    Bench *b = *state;
    float *x = every_floats(5 * RATE);
    uint32_t noise = 1;
    save(b, "silent.wav", WAV_24, RATE, 1, x, 5 * RATE);
    for (uint32_t k = 0; k < 5 * RATE; ++k) {
        noise = noise * 1664525u + 1013904223u;
        x[k] = 0.01f * ((float)(noise >> 8) / 8388608.f - 1.f);
    }
    save(b, "noise.wav", WAV_24, RATE, 1, x, 5 * RATE);
    free(x);
    save_singer(b, "sung.wav", &(SingerSpec){.voice = SINGER_ALTO, .seed = 4, .seconds = 8});
    static const char *const found[] = {
        "found for", "where the voice is loud", "of the sibilants", "sibilants: ", "-200", "-70.0",
        "verdict: ", "loudness range"};
    static const char *const lines[] = {"\"$R\" silent.wav -o 1.wav", "\"$R\" noise.wav -o 2.wav",
                                        "\"$R\" --together silent.wav noise.wav -o 3", "\"$R\" --advise noise.wav"};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i) {
        expect(b, lines[i], ERROR_NO_VOICE);
        assert_non_null(strstr(b->out, "No voice was heard in it"));
        assert_non_null(strstr(b->err, "no voice was heard in it, and nothing was learned from it"));
        for (size_t f = 0; f < sizeof found / sizeof *found; ++f)
            if (strstr(b->out, found[f]))
                fail_msg("%s tells \"%s\": %s", lines[i], found[f], b->out);
    }
    expect(b, "\"$R\" --together sung.wav noise.wav -o 4", ERROR_NO_VOICE);
    assert_non_null(strstr(b->err, "render: noise.wav: no voice"));
    assert_null(strstr(b->err, "sung.wav"));
    assert_non_null(strstr(b->out, "found for"));
    expect(b, "\"$R\" sung.wav -o 5.wav", 0);
    assert_null(strstr(b->out, "No voice"));
}

/* ---- The demo ---- */

/* VOCAL may be a link, a pipe, in the demo's own folder; a run that fails is told by its status, one without a voice in
 * words. */
static void the_demo_touches_nothing(void **state)
{
    Bench *b = *state;
    static Snapshot was;
    lay_out(b);
    was.n = 0;
    note(b, "", &was);
    static const struct {
        const char *line;
        int status;
    } demos[] = {
        {"sh demo.sh build soft.wav", 0},
        {"sh demo.sh build build/demo/raw.wav", 0},
        {"cat a.wav >pipe.wav & sh demo.sh build pipe.wav", 0},
        {"sh demo.sh build -1.wav", 0},
        {"sh demo.sh build build/demo", ERROR_FILE},
        {"sh demo.sh build none.wav", ERROR_FILE},
        {"sh demo.sh build dangling.wav", ERROR_FILE},
        {"sh demo.sh build words.txt", ERROR_AUDIO},
        {"sh demo.sh build a.wav basso", ERROR_VOICE},
        {"sh demo.sh none a.wav", 1},
        {"sh demo.sh words.txt a.wav", 1},
    };
    for (size_t i = 0; i < sizeof demos / sizeof *demos; ++i) {
        expect(b, demos[i].line, demos[i].status);
        assert_int_equal(compare(b, &was, demos[i].line), demos[i].status ? 0 : 6);
        assert_int_equal(strstr(b->out, "No voice was heard in this take") != NULL, !demos[i].status);
    }
}

#define BENCH_TEST(test) cmocka_unit_test_setup_teardown(test, bench_start, bench_end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        BENCH_TEST(no_line_changes_what_is_there),
        BENCH_TEST(replacing_spares_the_takes),
        BENCH_TEST(replacing_spares_what_render_did_not_write),
        BENCH_TEST(replacing_replaces_what_render_wrote),
        BENCH_TEST(replacing_spares_the_vocal_to_be_like),
        BENCH_TEST(what_is_typed_then_works),
        BENCH_TEST(replacing_keeps_what_a_file_is),
        BENCH_TEST(a_link_as_out_is_followed),
        BENCH_TEST(a_pipe_is_a_take),
        BENCH_TEST(a_socket_is_no_take),
        BENCH_TEST(what_comes_meanwhile_stays),
        BENCH_TEST(a_table_that_is_lost_is_an_error),
        BENCH_TEST(ignored_signals_stay_ignored),
        BENCH_TEST(what_a_killed_run_left_is_told),
        BENCH_TEST(a_preset_bundle_is_replaced_whole),
        BENCH_TEST(together_counts_all_takes),
        BENCH_TEST(no_voice_is_told),
        BENCH_TEST(the_demo_touches_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
