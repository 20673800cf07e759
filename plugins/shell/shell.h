/* What every plug-in of the suite shares: everything LV2. A plug-in proper only maps its ports onto a processor of
 * common-dsp (processor.h) in one ShellPlugin; the shell does the rest:
 *
 * - controls: read at grid points only, clamped to their range, whole where the port is, NaN taken for the default, an
 *   unconnected port too; the plug-in hears of them at the first grid point after activate and then where one moved;
 * - audio: any block length, any overlap of input and output, unconnected ports; damage (dsp.h) becomes 0 in the
 * channel that it stands in, before the processor gets it;
 * - bypass by `enabled`, faded, with the latency kept; bit-exact once the fade is over: then every finite sample
 * passes, and others are 0; the processor sleeps then (bypass.h), and its read-outs stand still;
 * - read-outs as of the last grid point of a run, rounded to their port's step, held within its range; the latency;
 * - LV2 State for what was learned, as of the last grid point of a run, without a lock (handover.h). */
#ifndef LINCTUS_SHELL_H
#define LINCTUS_SHELL_H

#include "processor.h"

#include <lv2/core/lv2.h>

enum {
    SHELL_VARIANTS = 2, /* mono, stereo: index of the LV2 descriptor */
    SHELL_PORTS = 56,   /* most control ports, read-outs among them: whole fours */
};

typedef enum { SHELL_CONTROL, SHELL_METER } ShellPortKind;

typedef struct {
    const char *symbol;
    ShellPortKind kind;
    bool whole; /* toggles, choices and counts */
    float normal, lowest, highest;
    double step; /* of a read-out: what a person can read of it */
} ShellPort;

/* Audio ports follow the control ports: inputs first. */
typedef struct {
    const char *uri;
    uint32_t ins, outs;
} ShellVariant;

/* Controls come before read-outs. `control` and `meter` hold a value for every control port, by index. */
typedef struct {
    const Processor *processor;
    const ShellVariant *variant; /* SHELL_VARIANTS of them */
    const ShellPort *port;
    uint32_t ports;

    void (*set)(void *dsp, const float *control);   /* the processor's set(), with what the ports say */
    void (*report)(const void *dsp, float *meter);  /* its report(), onto the ports; NULL: no read-outs */
    bool (*bypass_is_silent)(const float *control); /* NULL: bypass passes the input */
    bool runs_when_off;                             /* it goes on listening; false: nothing is run or learned then */
} ShellPlugin;

/* Each plug-in's binary defines these two. */
extern const ShellPlugin shell_plugin;
extern const LV2_Descriptor shell_descriptor[SHELL_VARIANTS];

/* LV2's functions, for the descriptors; what each has to keep to stands in lv2.h. NULL: no memory, or a rate out of
 * range. */
LV2_Handle shell_instantiate(const LV2_Descriptor *descriptor, double rate, const char *bundle_path,
                             const LV2_Feature *const *features);

/* Any port, at any time between two runs; audio ports may share a buffer, in and out too. */
void shell_connect_port(LV2_Handle handle, uint32_t port, void *data);

/* Forgets the audio that went before, not what was learned. */
void shell_activate(LV2_Handle handle);

/* n frames, any number; 0: only `latency` is written. */
void shell_run(LV2_Handle handle, uint32_t n);

/* Frees it. */
void shell_cleanup(LV2_Handle handle);

/* The state interface; NULL for any other. */
const void *shell_extension_data(const char *uri);

/* Defines shell_descriptor; the URIs are in the plug-in's generated header of ports. */
#define SHELL_DESCRIBE(uri)                                                                                            \
    {                                                                                                                  \
        uri, shell_instantiate, shell_connect_port, shell_activate, shell_run, NULL, shell_cleanup,                    \
            shell_extension_data                                                                                       \
    }
#define SHELL_DESCRIPTORS(mono_uri, stereo_uri)                                                                        \
    const LV2_Descriptor shell_descriptor[SHELL_VARIANTS] = {SHELL_DESCRIBE(mono_uri), SHELL_DESCRIBE(stereo_uri)}

/* The end of a plug-in's file: defines shell_plugin and shell_descriptor from the processor of that name and from what
 * the generated header has under NAME. Then the plug-in's own functions: SHELL_PLUGIN(trim, TRIM, .set = set). */
#define SHELL_PLUGIN(name, NAME, ...)                                                                                  \
    const ShellPlugin shell_plugin = {                                                                                 \
        .processor = &(name), .variant = name##_variant, .port = name##_port, .ports = NAME##_PORTS, __VA_ARGS__};     \
    SHELL_DESCRIPTORS(NAME##_URI, NAME##_STEREO_URI)

#endif
