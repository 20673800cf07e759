#include "preset.h"

#include "fill.h"
#include "newfile.h"

#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- The folder ---- */

static const char ending[] = ".lv2";

/* Characters of a name without slashes at its end and without ".lv2". */
static size_t bare_length(const char *name)
{
    size_t length = strlen(name);
    while (length && name[length - 1] == '/')
        --length;
    const size_t end = sizeof ending - 1;
    return length > end && !strncasecmp(name + length - end, ending, end) ? length - end : length;
}

/* The label stands in quotes in the Turtle and in the host's list. */
static bool label_is_plain(const char *label)
{
    for (const char *c = label; *c; ++c)
        if ((unsigned char)*c < 0x20 || *c == 0x7f || strchr("\"\\<>", *c))
            return false;
    return *label && strcmp(label, ".") != 0 && strcmp(label, "..") != 0;
}

static bool cannot_make(const PresetBundle *b, const char *why, Error *e)
{
    return error_set(e, ERROR_WRITE, "%s: this folder cannot be made: %s", b->folder, why);
}

/* "/songs/lead.lv2" -> "/songs", with room for a name behind it. */
static char *parent_of(const char *target, size_t room)
{
    const size_t length = (size_t)(strrchr(target, '/') - target);
    char *parent = malloc(length + room + 1);
    if (parent)
        snprintf(parent, length + room + 1, "%.*s", (int)length, target);
    return parent;
}

static bool look_at_target(PresetBundle *b, Error *e)
{
    struct stat st;
    b->target = path_target(b->folder);
    if (!b->target)
        return cannot_make(
            b, errno == ENOENT ? "the folder it shall lie in is not there; make that first" : strerror(errno), e);
    b->there = !lstat(b->target, &st);
    if (b->there && !S_ISDIR(st.st_mode))
        return cannot_make(b, "a file is in its place", e);
    char *parent = parent_of(b->target, 1);
    const bool ok = parent && !access(*parent ? parent : "/", W_OK | X_OK);
    free(parent);
    return ok || cannot_make(b, strerror(errno), e);
}

bool preset_bundle_plan(PresetBundle *b, const char *name, Error *e)
{
    const size_t length = bare_length(name), size = length + sizeof ending;
    *b = (PresetBundle){.folder = malloc(size), .label = malloc(size)};
    if (!b->folder || !b->label)
        return error_set(e, ERROR_INSIDE, "out of memory");
    snprintf(b->label, size, "%.*s", (int)length, name);
    snprintf(b->folder, size, "%s%s", b->label, ending);
    const char *slash = strrchr(b->label, '/');
    if (slash)
        memmove(b->label, slash + 1, strlen(slash + 1) + 1);
    if (!label_is_plain(b->label))
        return error_set(e, ERROR_USAGE, "--save-preset: \"%s\" is no name for a preset", name);
    return look_at_target(b, e);
}

static bool is_turtle(const char *path, const char *const *take, uint32_t takes)
{
    struct stat st;
    const char *dot = strrchr(path, '.');
    for (uint32_t t = 0; t < takes; ++t)
        if (same_file(path, take[t]))
            return false;
    return dot && !strcmp(dot, ".ttl") && !lstat(path, &st) && S_ISREG(st.st_mode) && (st.st_mode & 0222);
}

bool preset_bundle_is_plain(const PresetBundle *b, const char *const *take, uint32_t takes, Error *e)
{
    DIR *d = opendir(b->target);
    bool plain = d != NULL;
    for (struct dirent *entry; d && (entry = readdir(d)) && plain;) {
        char path[4096];
        const int length = snprintf(path, sizeof path, "%s/%s", b->target, entry->d_name);
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            plain = length > 0 && length < (int)sizeof path && is_turtle(path, take, takes);
    }
    if (d)
        closedir(d);
    return plain || error_set(e, ERROR_WRITE,
                              "%s: holds more than presets, so it is not replaced; take another name for --save-preset",
                              b->folder);
}

/* A new folder under a hidden name, beside the target. */
static char *hidden_beside(const char *target)
{
    static const char mark[] = "/.render-XXXXXX";
    char *hidden = parent_of(target, sizeof mark);
    if (!hidden)
        return NULL;
    memcpy(hidden + strlen(hidden), mark, sizeof mark);
    if (mkdtemp(hidden))
        return hidden;
    free(hidden);
    return NULL;
}

bool preset_bundle_make(PresetBundle *b, Error *e)
{
    b->temporary = hidden_beside(b->target);
    if (!b->temporary)
        return cannot_make(b, strerror(errno), e);
    chmod(b->temporary, usual_mode(0777));
    return true;
}

/* All Turtle in it was written here, or was looked at before. */
static void take_away(const char *folder)
{
    DIR *d = opendir(folder);
    for (struct dirent *entry; d && (entry = readdir(d));) {
        char path[4096];
        const int length = snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        const char *dot = strrchr(entry->d_name, '.');
        if (dot && !strcmp(dot, ".ttl") && length < (int)sizeof path)
            unlink(path);
    }
    if (d)
        closedir(d);
    rmdir(folder);
}

/* The old folder steps aside, and comes back where the new one cannot take its place. */
static bool change_places(PresetBundle *b)
{
    char *aside = hidden_beside(b->target);
    if (!aside)
        return false;
    const bool cleared = !rename(b->target, aside);
    const bool ok = cleared && !rename(b->temporary, b->target);
    if (ok)
        take_away(aside);
    else if (!cleared || rename(aside, b->target))
        rmdir(aside);
    free(aside);
    return ok;
}

bool preset_bundle_keep(PresetBundle *b, Error *e)
{
    if (!b->temporary)
        return true;
    if (b->there ? !change_places(b) : rename(b->temporary, b->target))
        return cannot_make(b, strerror(errno), e);
    free(b->temporary);
    b->temporary = NULL;
    return true;
}

void preset_bundle_free(PresetBundle *b)
{
    if (b->temporary)
        take_away(b->temporary);
    free(b->temporary);
    free(b->target);
    free(b->folder);
    free(b->label);
    *b = (PresetBundle){0};
}

/* ---- The presets ---- */

/* A found figure and the control that holds such a figure when it is set by hand. */
typedef struct {
    const char *plugin;
    const char *by;   /* while this control is above 0 the hand control is left aside */
    const char *when; /* and this condition (fill.h) tells that there is a figure */
    const char *found, *hand;
} Found;

/* Where there is a dip, the free ones of the three are to have no depth; any of them may be free. */
#define ANY_FOUND "found1_freq|found2_freq|found3_freq"

static const Found founds[] = {
    {"tone", "dips_placed_by", "found1_freq", "found1_freq", "dip1_freq"},
    {"tone", "dips_placed_by", ANY_FOUND, "found1_depth", "dip1_depth"},
    {"tone", "dips_placed_by", "found1_freq", "found1_width", "dip1_width"},
    {"tone", "dips_placed_by", "found2_freq", "found2_freq", "dip2_freq"},
    {"tone", "dips_placed_by", ANY_FOUND, "found2_depth", "dip2_depth"},
    {"tone", "dips_placed_by", "found2_freq", "found2_width", "dip2_width"},
    {"tone", "dips_placed_by", "found3_freq", "found3_freq", "dip3_freq"},
    {"tone", "dips_placed_by", ANY_FOUND, "found3_depth", "dip3_depth"},
    {"tone", "dips_placed_by", "found3_freq", "found3_width", "dip3_width"},
    {"tone", "low_cut_set_by", "found_low_cut", "found_low_cut", "low_cut"},
    {"compressor", "threshold_set_by", "threshold_now<10", "threshold_now", "threshold"}, /* 10: nothing is known */
    {"esses", "centre_set_by", "found_centre", "found_centre", "centre"},
};

static void set_by_hand(Instance *i, const Found *f, const Readings *mixed)
{
    const Port *port, *hand = plugin_port(instance_plugin(i), f->hand);
    const Reading *found = readings_of(mixed, f->found, &port);
    if (!hand || !found || !fill_holds(&(Said){.readings = mixed}, f->when) || !(instance_value(i, f->by) > 0.f))
        return;
    instance_set(i, f->hand, fminf(fmaxf(found->last, hand->min), hand->max));
}

static bool save_variant(const PresetBundle *b, Instance *i, const char *stem, const char *state, const Readings *mixed,
                         Error *e)
{
    char file[128];
    preset_file(instance_plugin(i), file, sizeof file);
    if (state && !instance_restore(i, state, false, e))
        return false;
    instance_set(i, "learn", 0.f);
    for (size_t f = 0; f < sizeof founds / sizeof *founds; ++f)
        if (!strcmp(founds[f].plugin, stem))
            set_by_hand(i, &founds[f], mixed);
    return instance_save_preset(i, b->label, b->temporary, file, e);
}

bool preset_bundle_add(PresetBundle *b, const StagePlan *plan, const char *state, const Readings *mixed, double rate,
                       Error *e)
{
    for (uint32_t channels = 1; channels <= 2; ++channels) {
        if (!host_plugin(plan->host, plan->name, channels))
            continue;
        Instance *i = stage_instance(plan, channels, rate, e);
        const bool ok = i && save_variant(b, i, instance_plugin(i)->stem, state, mixed, e);
        instance_free(i);
        if (!ok)
            return false;
    }
    return true;
}
