/* Shell: everything LV2, shared by all plug-ins of the suite. A plug-in itself only maps its ports onto a processor of
 * common-dsp (processor.h) in one ShellPlugin. The shell does the rest:
 *
 * - controls: read at grid points only, clamped to their range, rounded where the port is whole; NaN and unconnected
 *   ports read as the default. The plug-in gets them at the first grid point after activate, and when one has moved;
 * - audio: any block length, any overlap of inputs and outputs, unconnected ports. Damage (dsp.h) becomes 0 in its
 *   channel before the processor gets it;
 * - bypass by `enabled`: faded, with the latency kept. Once the fade is over, finite samples pass to the bit and others
 *   become 0; the processor sleeps (bypass.h), and its read-outs stand still;
 * - read-outs, and `latency`: as of the last grid point of a run, rounded to the port's step, held within its range;
 * - LV2 State for what was learned, as of the last grid point of a run, without a lock (handover.h). */
#ifndef LINCTUS_SHELL_H
#define LINCTUS_SHELL_H

#include "processor.h"

#include <lv2/core/lv2.h>

enum { SHELL_VARIANTS = 2 }; /* mono, stereo: index of the LV2 descriptor */

typedef enum { SHELL_CONTROL, SHELL_METER } ShellPortKind;

typedef struct {
    const char *symbol;
    ShellPortKind kind;
    bool whole;                    /* takes whole numbers only: toggles, choices and counts */
    float normal, lowest, highest; /* normal: the default */
    double step;                   /* of a read-out: the finest difference that a person can read */
} ShellPort;

/* Mono or stereo. Audio ports follow the control ports, inputs first. */
typedef struct {
    const char *uri;
    uint32_t ins, outs;
} ShellVariant;

/* A plug-in. Controls come before read-outs; `control` and `meter` hold a value for every control port, by index. */
typedef struct {
    const Processor *processor;
    const ShellVariant *variant; /* SHELL_VARIANTS of them */
    const ShellPort *port;
    uint32_t ports;

    void (*set)(void *dsp, const float *control);   /* calls the processor's set() with the values of the ports */
    void (*report)(const void *dsp, float *meter);  /* puts the processor's report() on the ports; NULL: no read-outs */
    bool (*bypass_is_silent)(const float *control); /* false, or NULL: bypass passes the input */
    bool runs_when_off; /* true: it listens while off; false: nothing is run or learned then */
} ShellPlugin;

/* Each plug-in's binary defines these two. */
extern const ShellPlugin shell_plugin;
extern const LV2_Descriptor shell_descriptor[SHELL_VARIANTS];

/* The functions of the LV2 descriptors; lv2.h has their contracts. This one gives NULL if memory is short or the rate
 * is outside DSP_RATE_MIN..DSP_RATE_MAX. */
LV2_Handle shell_instantiate(const LV2_Descriptor *descriptor, double rate, const char *bundle_path,
                             const LV2_Feature *const *features);

/* Any port, at any time between two runs; data: NULL disconnects it. Audio ports may share a buffer, in and out too. */
void shell_connect_port(LV2_Handle handle, uint32_t port, void *data);

/* Forgets the audio heard before, but not what was learned. */
void shell_activate(LV2_Handle handle);

/* Processes n frames, any number; with 0 only `latency` is written. */
void shell_run(LV2_Handle handle, uint32_t n);

/* Frees the instance; NULL is safe. */
void shell_cleanup(LV2_Handle handle);

/* The LV2 State interface, of a plug-in that learns; else NULL. */
const void *shell_extension_data(const char *uri);

/* Defines shell_descriptor; the URIs are in the plug-in's generated header of ports. */
#define SHELL_DESCRIBE(uri)                                                                                            \
    {                                                                                                                  \
        uri, shell_instantiate, shell_connect_port, shell_activate, shell_run, NULL, shell_cleanup,                    \
            shell_extension_data                                                                                       \
    }
#define SHELL_DESCRIPTORS(mono_uri, stereo_uri)                                                                        \
    const LV2_Descriptor shell_descriptor[SHELL_VARIANTS] = {SHELL_DESCRIBE(mono_uri), SHELL_DESCRIBE(stereo_uri)}

/* Ends a plug-in's file: defines shell_plugin and shell_descriptor from the processor `name` and from what the
 * generated header has under NAME, followed by the plug-in's own functions: SHELL_PLUGIN(trim, TRIM, .set = set). */
#define SHELL_PLUGIN(name, NAME, ...)                                                                                  \
    const ShellPlugin shell_plugin = {                                                                                 \
        .processor = &(name), .variant = name##_variant, .port = name##_port, .ports = NAME##_PORTS, __VA_ARGS__};     \
    SHELL_DESCRIPTORS(NAME##_URI, NAME##_STEREO_URI)

#endif
