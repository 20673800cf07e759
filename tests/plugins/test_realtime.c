/* run() is safe in an audio thread, shown from outside for every plug-in of the bundle:
 * - the kernel kills a process that makes any system call inside run() (seccomp), while every control is swept over its
 *   whole range;
 * - allocating and freeing inside run() is caught even where it needs no system call;
 * - a binary imports only pure functions of libc, libm and kissfft (so it cannot lock), and exports lv2_descriptor
 *   alone;
 * - how the costliest block compares with the usual one is noted. */
#define _DEFAULT_SOURCE 1 /* syscall(). NOLINT(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): glibc's */

#include "figure.h"
#include "glibc_names.h"
#include "seeds.h"
#include "host.h"
#include "values.h"

#include <linux/filter.h>
#include <linux/seccomp.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static volatile bool in_run;

/* Exit statuses of a child; CHILD_UNTOUCHED + n: the control at port n was not swept. */
enum { CHILD_FINE = 0, CHILD_ALLOCATED = 41, CHILD_LOST = 42, CHILD_UNTOUCHED = 100 };

#ifndef SANITIZED
static void refuse(int status)
{
    if (in_run)
        syscall(SYS_exit_group, status);
}

__attribute__((visibility("default"))) void *malloc(size_t size)
{
    refuse(CHILD_ALLOCATED);
    return __libc_malloc(size);
}

__attribute__((visibility("default"))) void *calloc(size_t nmemb, size_t size)
{
    refuse(CHILD_ALLOCATED);
    return __libc_calloc(nmemb, size);
}

__attribute__((visibility("default"))) void *realloc(void *ptr, size_t size)
{
    refuse(CHILD_ALLOCATED);
    return __libc_realloc(ptr, size);
}

__attribute__((visibility("default"))) void free(void *ptr)
{
    refuse(CHILD_ALLOCATED);
    __libc_free(ptr);
}
#endif

static void forbid_system_calls(void)
{
    struct sock_filter filter[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_exit_group, 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS),
    };
    const struct sock_fprog program = {.len = sizeof filter / sizeof *filter, .filter = filter};
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) || prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program))
        syscall(SYS_exit_group, CHILD_LOST);
}

/* ---- Material ---- */

enum { BLOCK = 64, BLOCKS = 3000 };

static uint32_t random_state;

static float random_unit(void)
{
    random_state = random_state * 1664525U + 1013904223U;
    return (float)(random_state >> 8) / 16777216.f;
}

/* Pulses with bursts of noise and rests between: every detector has something to do. */
static void make_block(uint32_t turn, float *x)
{
    const bool rests = turn / 100 % 5 == 4, hisses = turn / 50 % 7 == 3;
    for (uint32_t i = 0; i < BLOCK; ++i) {
        const uint32_t t = turn * BLOCK + i;
        x[i] = rests ? 0.f : hisses ? 0.3f * (random_unit() - 0.5f) : t % 240 == 0 ? 0.7f : 0.01f * random_unit();
    }
}

/* ---- Where the sweep has been ---- */

enum { PORTS_MOST = 100 };

/* The places a control has to visit, a bit each: every whole number of one that counts in them, else every eighth of
 * the range. Of those that this plug-in's controls still have to visit: */
static uint32_t unvisited[PORTS_MOST];

static uint32_t places_of(const Port *port)
{
    return port->integer ? (uint32_t)lrintf(port->max - port->min) + 1 : 8;
}

static uint32_t place_of(const Port *port, float value)
{
    const float share = (value - port->min) / (port->max - port->min);
    const uint32_t places = places_of(port), place = (uint32_t)(share * (float)places);
    return port->integer ? (uint32_t)lrintf(value - port->min) : place < places ? place : places - 1;
}

/* The first place from this one on, around the range, that it has not visited; this one where there is none. */
static uint32_t next_place(uint32_t unvisited_places, uint32_t places, uint32_t place)
{
    for (uint32_t k = 0; k < places; ++k)
        if (unvisited_places & (1U << (place + k) % places))
            return (place + k) % places;
    return place;
}

/* One control a block moves to an arbitrary place in its range, to one where it has not been before any other. */
static void sweep(Instance *i)
{
    const Plugin *plugin = instance_plugin(i);
    const uint32_t p = (uint32_t)(random_unit() * (float)plugin->ports) % plugin->ports;
    const Port *port = &plugin->port[p];
    if (port->kind != PORT_CONTROL)
        return;
    const uint32_t places = places_of(port),
                   place = place_of(port, port->min + (port->max - port->min) * random_unit());
    const float at = (float)next_place(unvisited[p], places, place);
    const float share = port->integer ? at / (float)(places - 1) : (at + random_unit()) / (float)places;
    instance_set(i, port->symbol, port->min + (port->max - port->min) * share);
}

static void start_visits(const Plugin *plugin)
{
    assert_true(plugin->ports <= PORTS_MOST);
    for (uint32_t p = 0; p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        unvisited[p] = 0;
        if (port->kind != PORT_CONTROL)
            continue;
        assert_in_range(places_of(port), 2, 31);
        unvisited[p] = (1U << places_of(port)) - 1;
    }
}

static void note_visits(const Instance *i)
{
    const Plugin *plugin = instance_plugin(i);
    for (uint32_t p = 0; p < plugin->ports; ++p)
        if (plugin->port[p].kind == PORT_CONTROL)
            unvisited[p] &= ~(1U << place_of(&plugin->port[p], instance_value_at(i, p)));
}

static int all_visited(const Plugin *plugin)
{
    for (uint32_t p = 0; p < plugin->ports; ++p)
        if (unvisited[p])
            return CHILD_UNTOUCHED + (int)p;
    return CHILD_FINE;
}

static void run_once(Instance *i, float block[][BLOCK])
{
    const float *in[] = {block[0], block[1]};
    float *out[] = {block[2], block[3]};
    instance_run(i, in, out, BLOCK);
}

/* ---- No system call, no allocation ---- */

static void child(Instance *i)
{
    static float block[4][BLOCK];
    random_state = seeded(1);
    make_block(0, block[0]);
    run_once(i, block); /* whatever the loader still has to resolve */
    forbid_system_calls();
    in_run = true;
    for (uint32_t turn = 0; turn < BLOCKS; ++turn) {
        make_block(turn, block[0]);
        memcpy(block[1], block[0], sizeof block[0]);
        sweep(i);
        run_once(i, block);
        note_visits(i);
    }
    syscall(SYS_exit_group, all_visited(instance_plugin(i)));
}

static const char *what_happened(const Plugin *plugin, int status)
{
    static char text[128];
    if (WIFSIGNALED(status))
        return "made a system call (or crashed) inside run()";
    if (WEXITSTATUS(status) >= CHILD_UNTOUCHED) {
        snprintf(text, sizeof text, "was not swept over the whole range of %s",
                 plugin->port[WEXITSTATUS(status) - CHILD_UNTOUCHED].symbol);
        return text;
    }
    switch (WEXITSTATUS(status)) {
    case CHILD_FINE:
        return NULL;
    case CHILD_ALLOCATED:
        return "allocated or freed inside run()";
    default:
        return "could not be watched";
    }
}

static void run_makes_no_system_call(void **state)
{
#ifdef SANITIZED
    (void)state;
    print_message("the sanitizer's own run-time makes system calls\n");
    skip();
#else
    Host *host = *state;
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        Error e;
        const Plugin *plugin = host_plugin_at(host, p);
        Instance *i = instance_new(host, plugin, 48000.0, INSTANCE_PLAIN, &e);
        assert_non_null(i);
        instance_activate(i);
        start_visits(plugin);
        fflush(NULL);
        const pid_t pid = fork();
        assert_true(pid >= 0);
        if (pid == 0)
            child(i);
        int status = 0;
        assert_int_equal(waitpid(pid, &status, 0), pid);
        if (what_happened(plugin, status))
            fail_msg("%s %s", plugin->uri, what_happened(plugin, status));
        instance_free(i);
    }
    figure_note("Suite", "plug-ins whose run() was watched for system calls", host_plugins(host), "");
#endif
}

/* ---- Symbols ---- */

/* Pure, or called only from instantiate and cleanup (calloc, free). */
static bool import_allowed(const char *name)
{
    static const char *const allowed[] = {
        "calloc",
        "malloc",
        "free",
        "memcpy",
        "memmove",
        "memset",
        "memcmp",
        "strcmp",
        "strlen",
        "strncat",
        "sin",
        "cos",
        "tan",
        "sinf",
        "cosf",
        "tanf",
        "sincos",
        "sincosf",
        "asin",
        "acos",
        "atan",
        "atan2",
        "atanf",
        "atan2f",
        "sinh",
        "cosh",
        "tanh",
        "tanhf",
        "exp",
        "expf",
        "exp2",
        "exp2f",
        "expm1",
        "expm1f",
        "log",
        "logf",
        "log2",
        "log2f",
        "log10",
        "log10f",
        "log1p",
        "log1pf",
        "pow",
        "powf",
        "sqrt",
        "sqrtf",
        "cbrt",
        "hypot",
        "hypotf",
        "floor",
        "floorf",
        "ceil",
        "ceilf",
        "round",
        "roundf",
        "lround",
        "lroundf",
        "lrint",
        "lrintf",
        "rint",
        "rintf",
        "nearbyint",
        "trunc",
        "truncf",
        "fmod",
        "fmodf",
        "fmin",
        "fminf",
        "fmax",
        "fmaxf",
        "fabs",
        "fabsf",
        "ldexp",
        "ldexpf",
        "frexp",
        "scalbn",
        "cabs",
        "cexp",
        "kiss_fft_alloc",  /* init alone calls it; */
        "kiss_fft_stride", /* allocates nothing for the sizes of stft.h */
        "__stack_chk_fail",
        "__cxa_finalize",
        "__gmon_start__",
        "_ITM_deregisterTMCloneTable",
        "_ITM_registerTMCloneTable",
    };
    for (size_t i = 0; i < sizeof allowed / sizeof *allowed; ++i)
        if (!strcmp(name, allowed[i]))
            return true;
    return false;
}

/* The symbols `nm` prints, one a line: the last word of a line, its version cut off. */
static void each_symbol(const char *command, bool (*allowed)(const char *name), const char *what)
{
    FILE *nm = popen(command, "r"); /* NOLINT(cert-env33-c): nm on our own build, no foreign text */
    assert_non_null(nm);
    char line[512], name[512];
    uint32_t seen = 0;
    while (fgets(line, sizeof line, nm)) {
        const char *last = strrchr(line, ' ');
        if (sscanf(last ? last : line, " %511[^@\n]", name) != 1)
            continue;
        ++seen;
        if (!allowed(name))
            fail_msg("%s: %s (%s)", what, name, command);
    }
    pclose(nm);
    assert_true(seen > 0);
}

static bool export_allowed(const char *name)
{
    return !strcmp(name, "lv2_descriptor");
}

static const char *bundle_folder(void)
{
    static char path[4096];
    const char *build = getenv("LINCTUS_BUILD");
    snprintf(path, sizeof path, "%s/linctus.lv2", build ? build : "build");
    return path;
}

static void binaries_import_only_pure_functions(void **state)
{
    Host *host = *state;
#if defined SANITIZED || defined COUNTED
    print_message("this binary imports the run-time of the sanitizer or of the coverage counters\n");
    (void)host;
    skip();
#else
    if (system("nm --version >/dev/null 2>&1")) { /* NOLINT(cert-env33-c): a fixed text */
        print_message("nm is not installed (package binutils)\n");
        skip();
    }
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        char command[4400];
        snprintf(command, sizeof command, "nm -D --undefined-only %s/%s.so", bundle_folder(),
                 host_plugin_at(host, p)->stem);
        each_symbol(command, import_allowed, "imports what a plug-in must not need");
        snprintf(command, sizeof command, "nm -D --defined-only %s/%s.so", bundle_folder(),
                 host_plugin_at(host, p)->stem);
        each_symbol(command, export_allowed, "exports more than lv2_descriptor");
    }
#endif
}

/* ---- Cost of a block ---- */

enum { REPEATS = 5, TIMED = 1500, WARM_UP = 200 };

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* The least time each block took over some runs of the same material: what else the machine does falls away. */
static void time_blocks(Host *host, const Plugin *plugin, double *least)
{
    static float block[4][BLOCK];
    for (uint32_t repeat = 0; repeat < REPEATS; ++repeat) {
        Error e;
        Instance *i = instance_new(host, plugin, 48000.0, INSTANCE_PLAIN, &e);
        assert_non_null(i);
        instance_activate(i);
        random_state = seeded(1);
        for (uint32_t turn = 0; turn < TIMED; ++turn) {
            make_block(turn, block[0]);
            memcpy(block[1], block[0], sizeof block[0]);
            const double start = now();
            run_once(i, block);
            const double took = now() - start;
            least[turn] = repeat ? fmin(least[turn], took) : took;
        }
        instance_free(i);
    }
}

static void costliest_block_is_noted(void **state)
{
    Host *host = *state;
    for (uint32_t p = 0; p < host_plugins(host); ++p) {
        const Plugin *plugin = host_plugin_at(host, p);
        static double least[TIMED];
        time_blocks(host, plugin, least);
        qsort(least + WARM_UP, TIMED - WARM_UP, sizeof *least, values_by_size);
        char what[128];
        snprintf(what, sizeof what, "%s: costliest block of %d over the median one", plugin->uri, BLOCK);
        figure_timed("Suite", what, least[TIMED - 1] / least[WARM_UP + (TIMED - WARM_UP) / 2], "times");
    }
}

static int open_bundle(void **state)
{
    Error e;
    *state = host_open(bundle_folder(), &e);
    if (!*state)
        print_error("%s\n", e.text);
    return *state ? 0 : -1;
}

static int close_bundle(void **state)
{
    host_close(*state);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(run_makes_no_system_call),
        cmocka_unit_test(binaries_import_only_pure_functions),
        cmocka_unit_test(costliest_block_is_noted),
    };
    return cmocka_run_group_tests(tests, open_bundle, close_bundle);
}
