/* What host.c, describe.c, instance.c and instance_state.c share. */
#ifndef LINCTUS_HARNESS_HOST_INSIDE_H
#define LINCTUS_HARNESS_HOST_INSIDE_H

#include "host.h"

#include <pthread.h>

struct Host {
    pthread_mutex_t lock; /* on the world and the URIs */
    LilvWorld *world;
    uint32_t plugins;
    Plugin *plugin;
    char **uri; /* URID - 1 is the index */
    uint32_t uris;
    LV2_URID_Map map;
    LV2_URID_Unmap unmap;
    LV2_Feature map_feature, unmap_feature;
    const LV2_Feature *features[3];
    char **voice;
    uint32_t voices;
};

struct Instance {
    Host *host;
    const Plugin *plugin;
    LilvInstance *lilv;
    float *value;    /* one a port */
    bool *connected; /* the caller's own memory, one a port */
    bool active;
};

/* What goes through lilv but for running an instance. A plug-in may map URIs only while it is held. */
void host_lock(Host *host);
void host_unlock(Host *host);

/* To be freed; NULL: no memory. */
char *copy_text(const char *text);

/* Reads everything the Turtle says about a plug-in; false: no memory. */
bool plugin_describe(Plugin *plugin, LilvWorld *world, const LilvPlugin *lilv);
void plugin_free(Plugin *plugin);

#endif
