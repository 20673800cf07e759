/* A small offline LV2 host on lilv: it sees the plug-ins of one bundle and nothing else on the machine.
 *
 *     Error e;
 *     Host *host = host_open("build/linctus.lv2", &e);
 *     const Plugin *trim = host_plugin(host, "trim", 1);
 *     Instance *i = instance_new(host, trim, 48000.0, INSTANCE_PLAIN, &e);
 *     instance_set_text(i, "target", "-20", &e);
 *     instance_activate(i);
 *     instance_run(i, in, out, n);
 *     char *state = instance_save(i, &e);
 *
 * A function that can fail takes an Error and returns false or NULL with it filled in. Nothing here is for a
 * real-time thread, but instance_run() itself allocates nothing. A host is opened and closed by one thread; in between,
 * several may work, each on instances of its own, with all but what saves to a folder or restores from one. */
#ifndef LINCTUS_HARNESS_HOST_H
#define LINCTUS_HARNESS_HOST_H

#include "error.h"

#include <lilv/lilv.h>
#include <lv2/state/state.h>
#include <lv2/urid/urid.h>
#include <stdint.h>

/* ---- What the Turtle says ---- */

typedef enum { PORT_CONTROL, PORT_METER, PORT_AUDIO_IN, PORT_AUDIO_OUT, PORT_OTHER } PortKind;

typedef struct {
    char *label;
    float value;
} Choice;

/* Texts are "" where the Turtle has none, numbers NaN. */
typedef struct {
    uint32_t index;
    PortKind kind;
    char *symbol, *name, *comment;
    char *unit;        /* as it is written behind a number: "dB", "Hz", "ms" ... */
    char *designation; /* URI */
    char *group;       /* URI */
    float min, max, def;
    bool choice, toggle, integer, logarithmic, reports_latency, not_on_gui;
    uint32_t choices; /* scale points, from the lowest value up */
    Choice *choose;
} Port;

typedef struct {
    char *uri, *label; /* the label without a number in front of it */
    char *full_label;  /* as the host lists it */
    char *plugin;      /* URI of the plug-in it names */
} Preset;

typedef struct {
    const LilvPlugin *lilv;
    char *uri;                 /* "urn:linctus:trim-stereo" */
    char *stem;                /* "trim": the URI's last part, without "-stereo" */
    char *name;                /* doap:name */
    bool reverb;               /* it rings on after the take */
    uint32_t ports, ins, outs; /* ins and outs: audio ports */
    Port *port;
    uint32_t presets; /* by label in the full form */
    Preset *preset;
} Plugin;

const Port *plugin_port(const Plugin *plugin, const char *symbol);           /* NULL: none */
const Preset *plugin_preset(const Plugin *plugin, const char *uri_or_label); /* the exact text; NULL: none */

/* Turns what a person writes into a value: a number within the port's range, with its unit behind it or
 * without; or a choice's label (letter case, and blanks against - and _, do not matter); or on / off for a toggle. A
 * number for a choice must be one of its values. */
bool port_parse(const Plugin *plugin, const Port *port, const char *text, float *value, Error *e);

/* The label of a choice at this value; NULL where the port has none for it. */
const char *port_label(const Port *port, float value);

/* Do two labels say the same? Letter case does not matter, nor do blanks against - and _. With `start`, `part` may be
 * the beginning of `whole`. */
bool label_is(const char *whole, const char *part, bool start);

/* ---- The world ---- */

typedef struct Host Host;

Host *host_open(const char *bundle, Error *e);
void host_close(Host *host); /* after the last of its instances; NULL is fine */

uint32_t host_plugins(const Host *host);
const Plugin *host_plugin_at(const Host *host, uint32_t i); /* by URI */

/* The variant of a plug-in that takes this many channels: by stem, or by URI. NULL: none. */
const Plugin *host_plugin(const Host *host, const char *stem, uint32_t channels);

LV2_URID host_urid(Host *host, const char *uri);
LilvWorld *host_world(const Host *host); /* for what is not covered here */

/* What a preset holds, as lilv reads it. */
enum { PRESET_VALUES = 64 };
typedef struct {
    char plugin[256]; /* URI of the plug-in lilv takes it for */
    uint32_t values;  /* port values; those past PRESET_VALUES are counted only */
    struct {
        char symbol[64];
        float value; /* NaN: not a number */
    } value[PRESET_VALUES];
    uint32_t properties; /* of the plug-in's own state */
} PresetContent;

bool host_preset_read(Host *host, const Preset *preset, PresetContent *content, Error *e);

/* A voice: a label that the presets of every plug-in that has presets know. The exact label, or an unmistakable
 * beginning of it. Returns the label. */
const char *host_voice(const Host *host, const char *name, Error *e);

/* The i-th voice's label; NULL past the last. */
const char *host_voice_at(const Host *host, uint32_t i);

/* ---- An instance ---- */

typedef enum {
    INSTANCE_PLAIN, /* offers urid:map and urid:unmap */
    INSTANCE_BARE   /* offers no feature at all */
} InstanceKind;

typedef struct Instance Instance;

/* Every control port is connected to a value of the instance's own that starts at the Turtle's default, every meter
 * to one that starts at 0; audio ports are connected by instance_run(). Not activated. */
Instance *instance_new(Host *host, const Plugin *plugin, double rate, InstanceKind kind, Error *e);
void instance_free(Instance *i); /* deactivates first where needed; NULL is fine */

const Plugin *instance_plugin(const Instance *i);
void instance_activate(Instance *i);
void instance_deactivate(Instance *i);

/* Connects one port to memory of the caller's (NULL leaves the plug-in without), until instance_reconnect(). An audio
 * port connected so stays so through instance_run(). */
void instance_connect(Instance *i, uint32_t port, float *memory);
void instance_reconnect(Instance *i, uint32_t port);

/* Any value at all, in range or not. false: no such control. */
bool instance_set(Instance *i, const char *symbol, float value);
bool instance_set_text(Instance *i, const char *symbol, const char *value, Error *e);

/* A control as it is set, a meter as it was last written. NaN: no such port. */
float instance_value(const Instance *i, const char *symbol);
float instance_value_at(const Instance *i, uint32_t port);

/* n frames, in[0..ins) to out[0..outs); any n, 0 too. An output may be an input. */
void instance_run(Instance *i, const float *const *in, float *const *out, uint32_t n);

/* The same in blocks of the given lengths, over and over, until all n frames are done. */
void instance_run_cut(Instance *i, const float *const *in, float *const *out, uint32_t n, const uint32_t *lengths,
                      uint32_t how_many);

/* Samples, read from the port after a run of 0 frames. */
uint32_t instance_latency(Instance *i);

/* Sets the controls of a preset: by URI, the full label, or the label without its number. */
bool instance_preset(Instance *i, const char *uri_or_label, Error *e);

/* State as Turtle text, controls included; to be freed. */
char *instance_save(Instance *i, Error *e);
/* The other way; with `controls`, the controls' values too, else only what the plug-in itself stored. */
bool instance_restore(Instance *i, const char *text, bool controls, Error *e);

/* The same through a folder (made where it is missing), the way sessions are stored. */
bool instance_save_to(Instance *i, const char *folder, Error *e);
bool instance_restore_from(Instance *i, const char *folder, bool controls, Error *e);

/* The controls of a preset that instance_save_preset() wrote into this folder under the name that preset_file() gives;
 * but Learn stays as it is. Without such a file nothing changes. false: there is one, and it cannot be read. */
bool instance_controls_from(Instance *i, const char *folder, Error *e);

/* "trim.ttl", "trim-stereo.ttl": the plug-in's file in a bundle of presets. */
void preset_file(const Plugin *plugin, char *file, size_t size);

/* Adds a preset of the instance as it stands, learned state included, to a bundle in a folder that is there: FILE.ttl,
 * and its lines in manifest.ttl. Whether the plug-in is on is no part of it, but that it is bypassed is. */
bool instance_save_preset(Instance *i, const char *label, const char *folder, const char *file, Error *e);

/* For tests that speak to the plug-in without lilv between. The interface is NULL where there is none. */
const LV2_State_Interface *instance_state(const Instance *i);
LV2_Handle instance_handle(const Instance *i);
const LV2_Feature *const *host_features(const Host *host);

#endif
