#include "host_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* ---- One at a time ---- */

void host_lock(Host *host)
{
    pthread_mutex_lock(&host->lock);
}

void host_unlock(Host *host)
{
    pthread_mutex_unlock(&host->lock);
}

/* ---- URIs as numbers ---- */

static LV2_URID map_uri(LV2_URID_Map_Handle handle, const char *uri)
{
    Host *host = handle;
    for (uint32_t i = 0; i < host->uris; ++i) {
        if (!strcmp(host->uri[i], uri))
            return i + 1;
    }
    char **more = realloc(host->uri, (host->uris + 1) * sizeof *more);
    if (!more)
        return 0;
    host->uri = more;
    host->uri[host->uris] = copy_text(uri);
    return host->uri[host->uris] ? ++host->uris : 0;
}

static const char *unmap_uri(LV2_URID_Unmap_Handle handle, LV2_URID urid)
{
    const Host *host = handle;
    return urid && urid <= host->uris ? host->uri[urid - 1] : NULL;
}

static void offer_features(Host *host)
{
    host->map = (LV2_URID_Map){host, map_uri};
    host->unmap = (LV2_URID_Unmap){host, unmap_uri};
    host->map_feature = (LV2_Feature){LV2_URID__map, &host->map};
    host->unmap_feature = (LV2_Feature){LV2_URID__unmap, &host->unmap};
    host->features[0] = &host->map_feature;
    host->features[1] = &host->unmap_feature;
    host->features[2] = NULL;
}

LV2_URID host_urid(Host *host, const char *uri)
{
    return map_uri(host, uri);
}

LilvWorld *host_world(const Host *host)
{
    return host->world;
}

const LV2_Feature *const *host_features(const Host *host)
{
    return host->features;
}

/* ---- Voices ---- */

/* Does every plug-in that has presets have one of this label? */
static bool shared_by_all(const Host *host, const char *label)
{
    for (uint32_t i = 0; i < host->plugins; ++i) {
        if (host->plugin[i].presets && !plugin_preset(&host->plugin[i], label))
            return false;
    }
    return true;
}

static const Plugin *first_with_presets(const Host *host)
{
    for (uint32_t i = 0; i < host->plugins; ++i) {
        if (host->plugin[i].presets)
            return &host->plugin[i];
    }
    return NULL;
}

static bool find_voices(Host *host)
{
    const Plugin *p = first_with_presets(host);
    host->voice = calloc((p ? p->presets : 0) + 1, sizeof *host->voice);
    for (uint32_t i = 0; p && host->voice && i < p->presets; ++i) {
        if (shared_by_all(host, p->preset[i].label))
            host->voice[host->voices++] = p->preset[i].label;
    }
    return host->voice != NULL;
}

const char *host_voice_at(const Host *host, uint32_t i)
{
    return i < host->voices ? host->voice[i] : NULL;
}

static void list_voices(const Host *host, const char *start, char *text, size_t size)
{
    size_t used = 0;
    for (uint32_t i = 0; i < host->voices && used < size; ++i) {
        if (label_is(host->voice[i], start, true))
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "", host->voice[i]);
    }
}

const char *host_voice(const Host *host, const char *name, Error *e)
{
    const char *found = NULL;
    uint32_t starts = 0;
    for (uint32_t i = 0; i < host->voices; ++i) {
        if (label_is(host->voice[i], name, false))
            return host->voice[i];
        if (*name && label_is(host->voice[i], name, true)) {
            found = host->voice[i];
            ++starts;
        }
    }
    if (starts == 1)
        return found;
    char voices[512] = "none";
    list_voices(host, starts ? name : "", voices, sizeof voices);
    error_set(e, ERROR_VOICE, starts ? "\"%s\" could be more than one voice: %s" : "no voice \"%s\"; there are: %s",
              name, voices);
    return NULL;
}

/* ---- The world ---- */

static bool has_manifest(const char *folder)
{
    char path[4096];
    struct stat s;
    snprintf(path, sizeof path, "%s/manifest.ttl", folder);
    return !stat(path, &s) && S_ISREG(s.st_mode);
}

/* lilv wants the folder's URI with its slash at the end. */
static LilvNode *folder_uri(LilvWorld *world, const char *path)
{
    const size_t length = strlen(path);
    char *slashed = malloc(length + 2);
    if (!slashed)
        return NULL;
    snprintf(slashed, length + 2, "%s%s", path, length && path[length - 1] == '/' ? "" : "/");
    LilvNode *uri = lilv_new_file_uri(world, NULL, slashed);
    free(slashed);
    return uri;
}

static int by_uri(const void *a, const void *b)
{
    return strcmp(((const Plugin *)a)->uri, ((const Plugin *)b)->uri);
}

static bool describe_all(Host *host)
{
    const LilvPlugins *all = lilv_world_get_all_plugins(host->world);
    host->plugin = calloc(lilv_plugins_size(all) + 1, sizeof *host->plugin);
    if (!host->plugin)
        return false;
    bool ok = true;
    LILV_FOREACH(plugins, i, all)
    {
        if (ok)
            ok = plugin_describe(&host->plugin[host->plugins++], host->world, lilv_plugins_get(all, i));
    }
    if (ok)
        qsort(host->plugin, host->plugins, sizeof *host->plugin, by_uri);
    return ok;
}

static bool load(Host *host, const char *bundle, Error *e)
{
    host->world = lilv_world_new();
    LilvNode *uri = host->world ? folder_uri(host->world, bundle) : NULL;
    if (!uri)
        return error_set(e, ERROR_INSIDE, "out of memory");
    lilv_world_load_bundle(host->world, uri);
    lilv_node_free(uri);
    if (!describe_all(host) || !find_voices(host))
        return error_set(e, ERROR_INSIDE, "out of memory");
    return host->plugins || error_set(e, ERROR_BUNDLE, "%s: no plug-in in this bundle", bundle);
}

Host *host_open(const char *bundle, Error *e)
{
    if (!has_manifest(bundle)) {
        error_set(e, ERROR_BUNDLE, "%s: no LV2 bundle here (run make first, or name one with --bundle)", bundle);
        return NULL;
    }
    Host *host = calloc(1, sizeof *host);
    if (!host) {
        error_set(e, ERROR_INSIDE, "out of memory");
        return NULL;
    }
    pthread_mutex_init(&host->lock, NULL);
    offer_features(host);
    if (load(host, bundle, e))
        return host;
    host_close(host);
    return NULL;
}

void host_close(Host *host)
{
    if (!host)
        return;
    for (uint32_t i = 0; i < host->plugins; ++i)
        plugin_free(&host->plugin[i]);
    free(host->plugin);
    for (uint32_t i = 0; i < host->uris; ++i)
        free(host->uri[i]);
    free(host->uri);
    free(host->voice);
    lilv_world_free(host->world);
    pthread_mutex_destroy(&host->lock);
    free(host);
}

uint32_t host_plugins(const Host *host)
{
    return host->plugins;
}

const Plugin *host_plugin_at(const Host *host, uint32_t i)
{
    return &host->plugin[i];
}

const Plugin *host_plugin(const Host *host, const char *stem, uint32_t channels)
{
    for (uint32_t i = 0; i < host->plugins; ++i) {
        const Plugin *p = &host->plugin[i];
        if (p->ins == channels && (!strcmp(p->stem, stem) || !strcmp(p->uri, stem)))
            return p;
    }
    return NULL;
}
