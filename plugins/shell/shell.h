/* What every plug-in of the suite shares: everything LV2. A plug-in proper only maps its ports onto a processor of
 * common-dsp and describes itself in one ShellPlugin; the shell does the rest:
 *
 * - controls: read at grid points only, clamped to their range, whole where the port is, NaN taken for the default, an
 *   unconnected port too;
 * - audio: any block length, any overlap of input and output, unconnected ports; damage (dsp.h) becomes 0 in the
 * channel that it stands in, before the processor gets it;
 * - bypass by `enabled`, faded, with the latency kept; bit-exact once the fade is over: then every finite sample
 * passes, and others are 0;
 * - read-outs as of the last grid point of a run, held within their port's range; the latency;
 * - LV2 State for what was learned, without a lock (handover.h). */
#ifndef LINCTUS_SHELL_H
#define LINCTUS_SHELL_H

#include "dsp.h"
#include "learned.h"

#include <lv2/core/lv2.h>

#include <stddef.h>

enum {
    SHELL_VARIANTS = 2, /* mono, stereo: index of the LV2 descriptor */
    SHELL_PORTS = 64,   /* most control ports, read-outs among them */
};

typedef enum { SHELL_CONTROL, SHELL_METER } ShellPortKind;

typedef struct {
    const char *symbol;
    ShellPortKind kind;
    bool whole; /* toggles, choices and counts */
    float normal, lowest, highest;
} ShellPort;

/* Audio ports follow the control ports: inputs first. */
typedef struct {
    const char *uri;
    uint32_t ins, outs;
} ShellVariant;

/* Functions as in dsp.h, on a struct of `size` bytes. `control` and `meter` hold a value for every control port, by
 * index. */
typedef struct {
    const ShellVariant *variant; /* SHELL_VARIANTS of them */
    const ShellPort *port;
    uint32_t ports;

    size_t size;
    bool (*init)(void *dsp, double rate, uint32_t ins);
    void (*done)(void *dsp);
    void (*reset)(void *dsp);
    void (*set)(void *dsp, const float *control);
    void (*process)(void *dsp, const float *const *in, float *const *out, uint32_t n);
    void (*report)(const void *dsp, float *meter);  /* NULL: no read-outs */
    uint32_t (*latency)(const void *dsp);           /* NULL: none */
    bool (*bypass_is_silent)(const float *control); /* NULL: bypass passes the input */

    const LearnedSchema *schema;                  /* NULL: learns nothing, has no state */
    uint32_t (*learned_version)(const void *dsp); /* changes whenever what is learned changes */
    void (*learned_get)(const void *dsp, Learned *out);
    void (*learned_put)(void *dsp, const Learned *in);
} ShellPlugin;

/* Each plug-in's binary defines these two. */
extern const ShellPlugin shell_plugin;
extern const LV2_Descriptor shell_descriptor[SHELL_VARIANTS];

/* LV2's functions, for the descriptors. */
LV2_Handle shell_instantiate(const LV2_Descriptor *descriptor, double rate, const char *bundle_path,
                             const LV2_Feature *const *features);
void shell_connect_port(LV2_Handle handle, uint32_t port, void *data);
void shell_activate(LV2_Handle handle);
void shell_run(LV2_Handle handle, uint32_t n);
void shell_cleanup(LV2_Handle handle);
const void *shell_extension_data(const char *uri);

/* Defines shell_descriptor; the URIs are in the plug-in's generated header of ports. */
#define SHELL_DESCRIBE(uri)                                                                                            \
    {                                                                                                                  \
        uri, shell_instantiate, shell_connect_port, shell_activate, shell_run, NULL, shell_cleanup,                    \
            shell_extension_data                                                                                       \
    }
#define SHELL_DESCRIPTORS(mono_uri, stereo_uri)                                                                        \
    const LV2_Descriptor shell_descriptor[SHELL_VARIANTS] = {SHELL_DESCRIBE(mono_uri), SHELL_DESCRIBE(stereo_uri)}

/* A processor's functions take its own type; these give them the type above, so that no function is called through a
 * pointer of another type. SHELL_PROCESSOR(Trim, trim) defines trim_shell_init and so on. */
#define SHELL_PROCESSOR(Type, prefix)                                                                                  \
    static bool prefix##_shell_init(void *dsp, double rate, uint32_t ins)                                              \
    {                                                                                                                  \
        return prefix##_init((Type *)dsp, rate, ins);                                                                  \
    }                                                                                                                  \
    static void prefix##_shell_done(void *dsp)                                                                         \
    {                                                                                                                  \
        prefix##_done((Type *)dsp);                                                                                    \
    }                                                                                                                  \
    static void prefix##_shell_reset(void *dsp)                                                                        \
    {                                                                                                                  \
        prefix##_reset((Type *)dsp);                                                                                   \
    }                                                                                                                  \
    static void prefix##_shell_process(void *dsp, const float *const *in, float *const *out, uint32_t n)               \
    {                                                                                                                  \
        prefix##_process((Type *)dsp, in, out, n);                                                                     \
    }

#define SHELL_LATENCY(Type, prefix)                                                                                    \
    static uint32_t prefix##_shell_latency(const void *dsp)                                                            \
    {                                                                                                                  \
        return prefix##_latency((const Type *)dsp);                                                                    \
    }

#define SHELL_LEARNED(Type, prefix)                                                                                    \
    static uint32_t prefix##_shell_learned_version(const void *dsp)                                                    \
    {                                                                                                                  \
        return prefix##_learned_version((const Type *)dsp);                                                            \
    }                                                                                                                  \
    static void prefix##_shell_learned_get(const void *dsp, Learned *out)                                              \
    {                                                                                                                  \
        prefix##_learned_get((const Type *)dsp, out);                                                                  \
    }                                                                                                                  \
    static void prefix##_shell_learned_put(void *dsp, const Learned *in)                                               \
    {                                                                                                                  \
        prefix##_learned_put((Type *)dsp, in);                                                                         \
    }

#endif
