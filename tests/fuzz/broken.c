#include "broken.h"

#include "dsp.h"
#include "host.h"
#include "rendering.h"
#include "soundfile.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST_PLUGINS = 64, MOST_FRAMES = 4000000, PATH = 4096 };

struct Broken {
    char folder[PATH - 64], in[PATH], out[PATH], bundle[PATH];
    Host *host;
    Instance *idle[MOST_PLUGINS]; /* one of each, so that no binary is unloaded: the fuzzer's counters live in them */
    BrokenTotals totals;
};

const BrokenTotals *broken_totals(const Broken *b)
{
    return &b->totals;
}

/* ---- Life ---- */

static bool make_folder(Broken *b)
{
    const char *under = getenv("TMPDIR");
    snprintf(b->folder, sizeof b->folder, "%s/linctus-broken-XXXXXX", under && *under ? under : "/tmp");
    if (!mkdtemp(b->folder))
        return false;
    snprintf(b->in, sizeof b->in, "%s/take.wav", b->folder);
    snprintf(b->out, sizeof b->out, "%s/mix", b->folder);
    return true;
}

Broken *broken_open(const char *bundle)
{
    Error e = {.text = "no memory, or no folder to work in"};
    Broken *b = calloc(1, sizeof *b);
    if (b && make_folder(b)) {
        snprintf(b->bundle, sizeof b->bundle, "%s", bundle);
        b->host = host_open(bundle, &e);
    }
    if (!b || !b->host) {
        fprintf(stderr, "%s\n", e.text);
        broken_close(b);
        return NULL;
    }
    for (uint32_t p = 0; p < host_plugins(b->host) && p < MOST_PLUGINS; ++p)
        b->idle[p] = instance_new(b->host, host_plugin_at(b->host, p), 48000.0, INSTANCE_PLAIN, &e);
    return b;
}

void broken_close(Broken *b)
{
    if (!b)
        return;
    for (uint32_t p = 0; p < MOST_PLUGINS; ++p)
        instance_free(b->idle[p]);
    host_close(b->host);
    unlink(b->in);
    rmdir(b->folder);
    free(b);
}

/* ---- Reading ---- */

static bool complain(const char *what, const char *detail)
{
    fprintf(stderr, "render on a broken file: %s: %s\n", what, detail);
    return false;
}

static bool all_finite(float *const *block, uint32_t channels, uint32_t n)
{
    for (uint32_t c = 0; c < channels; ++c)
        for (uint32_t i = 0; i < n; ++i)
            if (!isfinite(block[c][i]))
                return false;
    return true;
}

/* Frames read, at most MOST_FRAMES and a block; false: a demand was not met. */
static bool read_all(SoundIn *s, uint64_t *frames)
{
    float memory[DSP_CHANNELS][SOUND_BLOCK];
    float *const block[DSP_CHANNELS] = {memory[0], memory[1]};
    if (s->channels < 1 || s->channels > DSP_CHANNELS || !dsp_rate_ok(s->rate))
        return complain("opened", "channels or rate out of range");
    for (uint32_t n = SOUND_BLOCK; n && s->frames < MOST_FRAMES;) {
        n = sound_read(s, block, SOUND_BLOCK);
        if (n > SOUND_BLOCK || !all_finite(block, s->channels, n))
            return complain("read", "not finite, or too much at once");
    }
    *frames = s->frames;
    return true;
}

static bool read_only(Broken *b, const char *path, bool must_open)
{
    SoundIn s;
    Error e = {0};
    uint64_t frames = 0;
    if (!sound_open(&s, path, -1, &e)) {
        ++b->totals.refused;
        return !must_open && e.status != ERROR_NONE && *e.text ? true : complain("not opened", e.text);
    }
    const bool ok = read_all(&s, &frames);
    sound_close(&s);
    b->totals.frames += frames;
    return ok;
}

/* ---- Rendering ---- */

static bool one_line(const char *text)
{
    const char *end = strchr(text, '\n');
    return !strncmp(text, "render: ", 8) && end && !end[1] && end > text + 9;
}

/* Takes OUT's files away and counts them; anything else in the folder, hidden or not, is a demand not met. */
static bool clear_folder(const Broken *b, bool rendered, Broken *reader)
{
    DIR *folder = opendir(b->folder);
    bool ok = folder != NULL;
    uint32_t mixes = 0;
    for (const struct dirent *entry; folder && (entry = readdir(folder));) {
        char path[PATH + 256];
        if (!strcmp(entry->d_name, ".") || !strcmp(entry->d_name, "..") || !strcmp(entry->d_name, "take.wav"))
            continue;
        snprintf(path, sizeof path, "%s/%s", b->folder, entry->d_name);
        if (strncmp(entry->d_name, "mix", 3) != 0 || !rendered)
            ok = complain("left behind", entry->d_name);
        else
            ok = read_only(reader, path, true) && ok;
        ++mixes;
        unlink(path);
    }
    if (folder)
        closedir(folder);
    return ok && (!rendered || mixes > 0 ? true : complain("rendered", "no OUT"));
}

static bool check_run(Broken *b, int status, const char *told, bool writes)
{
    const bool done = status == ERROR_NONE || status == ERROR_NO_VOICE;
    if (status < ERROR_NONE || status > ERROR_NO_VOICE)
        return complain("exit status", told);
    if (status == ERROR_STOPPED)
        _exit(0); /* somebody wants this to end */
    if (status == ERROR_INSIDE)
        return complain("something inside broke", told);
    if (!done && !one_line(told))
        return complain("not one line", told);
    b->totals.rendered += done;
    b->totals.refused += !done;
    return !writes || clear_folder(b, done, b);
}

static bool render_it(Broken *b, BrokenWay way)
{
    char bundle[PATH + 16], mix[PATH + 8];
    snprintf(bundle, sizeof bundle, "--bundle=%s", b->bundle);
    snprintf(mix, sizeof mix, "%s.wav", b->out);
    /* A short tail: it is the file that matters. */
    char *chain[] = {"render", bundle, "--set=plate.decay=0.3", b->in, "-o", mix, NULL};
    char *apart[] = {
        "render", bundle, "--apart", "--float", "--voice=mezzo", "--stages=trim,plate", "--set=plate.decay=0.3",
        b->in,    "-o",   mix,       NULL};
    char *advise[] = {"render", bundle, "--advise", "--together", b->in, b->in, NULL};
    char **argv = way == BROKEN_CHAIN ? chain : way == BROKEN_APART ? apart : advise;
    int argc = 0;
    while (argv[argc])
        ++argc;
    char *told = NULL, *wrong = NULL;
    size_t told_size = 0, wrong_size = 0;
    FILE *out = open_memstream(&told, &told_size), *err = open_memstream(&wrong, &wrong_size);
    const bool opened = out && err;
    const int status = opened ? render_run(argc, argv, out, err) : 0;
    if (out)
        fclose(out);
    if (err)
        fclose(err);
    const bool ok = opened && check_run(b, status, wrong ? wrong : "", way != BROKEN_ADVISE);
    free(told);
    free(wrong);
    return ok;
}

bool broken_case(Broken *b, BrokenWay way, const uint8_t *bytes, size_t size)
{
    FILE *file = fopen(b->in, "wb");
    if (!file)
        return complain("cannot write", b->in);
    const size_t written = fwrite(bytes, 1, size, file);
    if (fclose(file) || written != size)
        return complain("cannot write", b->in);
    ++b->totals.files;
    return way == BROKEN_READ ? read_only(b, b->in, false) : render_it(b, way);
}

/* ---- Whole files to start from ---- */

static const struct {
    const char *name;
    int format, rate, channels;
} whole[WHOLE_KINDS] = {
    {"WAV, 16 bit", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 8000, 1},
    {"WAV, 24 bit, stereo", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 44100, 2},
    {"WAV, float", SF_FORMAT_WAV | SF_FORMAT_FLOAT, 48000, 1},
    {"WAV, mu-law", SF_FORMAT_WAV | SF_FORMAT_ULAW, 8000, 1},
    {"WAV, IMA ADPCM", SF_FORMAT_WAV | SF_FORMAT_IMA_ADPCM, 16000, 1},
    {"WAV, extensible", SF_FORMAT_WAVEX | SF_FORMAT_PCM_16, 48000, 2},
    {"RF64", SF_FORMAT_RF64 | SF_FORMAT_PCM_16, 96000, 1},
    {"W64", SF_FORMAT_W64 | SF_FORMAT_FLOAT, 32000, 1},
    {"AIFF, 16 bit", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 44100, 1},
    {"AIFF, float, stereo", SF_FORMAT_AIFF | SF_FORMAT_FLOAT, 22050, 2},
    {"AU", SF_FORMAT_AU | SF_FORMAT_PCM_32, 48000, 1},
    {"CAF", SF_FORMAT_CAF | SF_FORMAT_PCM_16, 48000, 1},
    {"FLAC", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 44100, 1},
    {"Ogg Vorbis", SF_FORMAT_OGG | SF_FORMAT_VORBIS, 16000, 1},
};

/* A file in memory. */
typedef struct {
    uint8_t *bytes;
    sf_count_t size, at;
} Memory;

static sf_count_t memory_size(void *user)
{
    return ((Memory *)user)->size;
}

static sf_count_t memory_tell(void *user)
{
    return ((Memory *)user)->at;
}

static sf_count_t memory_seek(sf_count_t offset, int whence, void *user)
{
    Memory *m = user;
    const sf_count_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? m->at : m->size;
    m->at = from + offset;
    return m->at;
}

static sf_count_t memory_read(void *to, sf_count_t count, void *user)
{
    Memory *m = user;
    const sf_count_t left = m->at < m->size ? m->size - m->at : 0, n = count < left ? count : left;
    memcpy(to, m->bytes + m->at, (size_t)n);
    m->at += n;
    return n;
}

static sf_count_t memory_write(const void *from, sf_count_t count, void *user)
{
    Memory *m = user;
    if (m->at + count > WHOLE_ROOM)
        return 0;
    memcpy(m->bytes + m->at, from, (size_t)count);
    m->at += count;
    m->size = m->at > m->size ? m->at : m->size;
    return count;
}

enum { WHOLE_FRAMES = 700 };

size_t whole_file(uint32_t i, uint8_t *bytes)
{
    static SF_VIRTUAL_IO io = {memory_size, memory_seek, memory_read, memory_write, memory_tell};
    if (i >= WHOLE_KINDS)
        return 0;
    float x[WHOLE_FRAMES * DSP_CHANNELS];
    for (int k = 0; k < WHOLE_FRAMES * whole[i].channels; ++k)
        x[k] = 0.4f * sinf(0.05f * (float)k) + 0.1f * sinf(0.9f * (float)k);
    Memory m = {.bytes = bytes};
    memset(bytes, 0, WHOLE_ROOM);
    SF_INFO info = {.samplerate = whole[i].rate, .channels = whole[i].channels, .format = whole[i].format};
    SNDFILE *file = sf_open_virtual(&io, SFM_WRITE, &info, &m);
    if (!file)
        return 0;
    sf_command(file, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE); /* it holds the time of day */
    const sf_count_t written = sf_writef_float(file, x, WHOLE_FRAMES);
    return !sf_close(file) && written == WHOLE_FRAMES ? (size_t)m.size : 0;
}

const char *whole_name(uint32_t i)
{
    return whole[i % WHOLE_KINDS].name;
}
