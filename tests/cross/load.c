/* The barest host: loads a plug-in's library by itself, on machines that lilv is not there for, and plays a take
 * through it.
 *
 *     load play LIBRARY URI PORTS IN.raw OUT.raw    at 48 kHz, in blocks of many lengths, no feature offered
 *     load compare A.raw B.raw DB                   the largest difference, which must lie DB under A's peak
 *
 * PORTS is a text with a word a port, in the order of their index: a number, the value of a control; "meter"; "in";
 * "out" (build/reference ports writes it). Raw files: 32-bit floats, little-endian on every machine; IN is one channel,
 * which goes into every input; OUT has the outputs one after the other. Exit status 0: done, every sample finite and
 * not all of them 0; or near enough. One line says so. */
#include <lv2/core/lv2.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef _WIN32
#include <windows.h>
#else
#include <dlfcn.h>
#endif

enum { PORTS = 64, LANES = 2, LONGEST = 1000 };

static int fail(const char *what, const char *name)
{
    printf("%s: %s\n", name, what);
    return 1;
}

/* ---- Files ---- */

typedef struct {
    size_t n;
    float *x;
} Sound;

static bool load_raw(Sound *s, const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        return false;
    size_t room = 0;
    unsigned char b[4];
    *s = (Sound){0};
    while (fread(b, 1, 4, file) == 4) {
        if (s->n == room) {
            room = room ? 2 * room : 65536;
            float *more = realloc(s->x, room * sizeof *more);
            if (!more)
                break;
            s->x = more;
        }
        const uint32_t bits = b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
        memcpy(&s->x[s->n++], &bits, 4);
    }
    fclose(file);
    return s->n > 0;
}

static bool save_raw(const Sound *s, const char *path)
{
    FILE *file = fopen(path, "wb");
    if (!file)
        return false;
    bool done = true;
    for (size_t i = 0; i < s->n && done; ++i) {
        uint32_t bits;
        memcpy(&bits, &s->x[i], 4);
        const unsigned char b[4] = {(unsigned char)bits, (unsigned char)(bits >> 8), (unsigned char)(bits >> 16),
                                    (unsigned char)(bits >> 24)};
        done = fwrite(b, 1, 4, file) == 4;
    }
    return fclose(file) == 0 && done;
}

/* ---- The library ---- */

static LV2_Descriptor_Function entry(const char *path)
{
    LV2_Descriptor_Function f = NULL;
#ifdef _WIN32
    HMODULE library = LoadLibraryA(path);
    FARPROC symbol = library ? GetProcAddress(library, "lv2_descriptor") : NULL;
#else
    void *library = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (!library)
        printf("%s\n", dlerror());
    void *symbol = library ? dlsym(library, "lv2_descriptor") : NULL;
#endif
    memcpy(&f, &symbol, sizeof f); /* C has no cast from an object pointer to a function's */
    return f;
}

static const LV2_Descriptor *find(LV2_Descriptor_Function f, const char *uri)
{
    const LV2_Descriptor *d;
    for (uint32_t i = 0; (d = f(i)); ++i)
        if (!strcmp(d->URI, uri))
            return d;
    return NULL;
}

/* ---- Playing ---- */

typedef struct {
    uint32_t ports, outs;
    float control[PORTS];
    bool in[PORTS], out[PORTS];
} Layout;

static bool read_layout(Layout *l, const char *path)
{
    FILE *file = fopen(path, "r");
    if (!file)
        return false;
    char word[32];
    *l = (Layout){0};
    while (l->ports < PORTS && fscanf(file, "%31s", word) == 1) {
        l->in[l->ports] = !strcmp(word, "in");
        l->out[l->ports] = !strcmp(word, "out");
        l->outs += l->out[l->ports];
        l->control[l->ports++] = strtof(word, NULL);
    }
    fclose(file);
    return l->outs > 0 && l->outs <= LANES;
}

static void play_through(const LV2_Descriptor *d, LV2_Handle h, Layout *l, const Sound *in, Sound *out)
{
    static const uint32_t lengths[] = {LONGEST, 1, 64, 333, 512, 0, 7};
    static float heard[LONGEST], made[LANES][LONGEST];
    for (uint32_t p = 0, o = 0; p < l->ports; ++p)
        d->connect_port(h, p, l->in[p] ? heard : l->out[p] ? made[o++] : &l->control[p]);
    if (d->activate)
        d->activate(h);
    size_t at = 0;
    for (size_t k = 0; at < in->n; ++k) {
        const size_t length = lengths[k % (sizeof lengths / sizeof *lengths)];
        const size_t n = in->n - at < length ? in->n - at : length;
        memcpy(heard, in->x + at, n * sizeof *heard);
        d->run(h, (uint32_t)n);
        for (uint32_t o = 0; o < l->outs; ++o)
            memcpy(out->x + o * in->n + at, made[o], n * sizeof *heard);
        at += n;
    }
    if (d->deactivate)
        d->deactivate(h);
}

static bool sound_is_fine(const Sound *s)
{
    double sum = 0.0;
    for (size_t i = 0; i < s->n; ++i)
        sum += fabs((double)s->x[i]);
    return isfinite(sum) && sum > 0.0;
}

/* A new instance plays `in`; its output goes to a file. */
static int play_to(const LV2_Descriptor *d, Layout *l, const Sound *in, const char *path)
{
    Sound out = {.n = in->n * l->outs};
    out.x = calloc(out.n, sizeof *out.x);
    if (!out.x)
        return fail("no memory", d->URI);
    const LV2_Feature *none[] = {NULL};
    LV2_Handle h = d->instantiate(d, 48000.0, "", none);
    int status = h ? 0 : fail("does not instantiate", d->URI);
    if (h) {
        play_through(d, h, l, in, &out);
        d->cleanup(h);
    }
    if (!status && !sound_is_fine(&out))
        status = fail("silent, or not finite", d->URI);
    if (!status && !save_raw(&out, path))
        status = fail("cannot be written", path);
    free(out.x);
    return status;
}

static int play(char **argv)
{
    const LV2_Descriptor_Function f = entry(argv[0]);
    if (!f)
        return fail("does not load, or has no lv2_descriptor", argv[0]);
    const LV2_Descriptor *d = find(f, argv[1]);
    if (!d)
        return fail("not in the library", argv[1]);
    Layout l;
    if (!read_layout(&l, argv[2]))
        return fail("cannot be read", argv[2]);
    Sound in = {0};
    const int status = load_raw(&in, argv[3]) ? play_to(d, &l, &in, argv[4]) : fail("cannot be read", argv[3]);
    free(in.x);
    return status;
}

static int judge(const Sound *a, const Sound *b, double limit)
{
    double peak = 0.0, most = 0.0;
    for (size_t i = 0; i < a->n; ++i) {
        const double off = fabs((double)a->x[i] - (double)b->x[i]);
        peak = fmax(peak, fabs((double)a->x[i]));
        most = isfinite(off) ? fmax(most, off) : (double)INFINITY;
    }
    if (most == 0.0)
        return printf("equal to the bit\n") < 0;
    const double db = 20.0 * log10(most / peak);
    printf("differs by %.0f dB of the peak (at most %.0f)\n", db, limit);
    return !(db <= limit);
}

static int compare(const char *a_path, const char *b_path, double limit)
{
    Sound a = {0}, b = {0};
    const bool there = load_raw(&a, a_path) && load_raw(&b, b_path) && a.n == b.n;
    const int status = there ? judge(&a, &b, limit) : fail("not there, or of another length", b_path);
    free(a.x);
    free(b.x);
    return status;
}

int main(int argc, char **argv)
{
    if (argc == 7 && !strcmp(argv[1], "play"))
        return play(argv + 2);
    if (argc == 5 && !strcmp(argv[1], "compare"))
        return compare(argv[2], argv[3], strtod(argv[4], NULL));
    return fail("usage: load play|compare ... (see the source)", "load");
}
