/* The control ports of a plug-in between the host and the processor: controls read, clamped and rounded; read-outs
 * rounded to their step and held within their range. Which ports there are stands in shell_plugin (shell.h). */
#ifndef LINCTUS_PORTS_H
#define LINCTUS_PORTS_H

#include "shell.h"

typedef struct {
    uint32_t n_controls, n_meters;    /* ports: first all controls, then the read-outs */
    const float *wanted[SHELL_PORTS]; /* of each control: the host's value, or the default */
    float *meter[SHELL_PORTS];        /* of each read-out: where the host wants it, or `nowhere` */
    float raw[SHELL_PORTS];           /* by port: a control's value from the host; a read-out as reported */
    float shown[SHELL_PORTS];         /* of each read-out: the value for the host */
    uint32_t latency_meter;           /* number of the read-out `latency`; n_meters: none */
    uint32_t joints;                  /* read-outs that lie right behind the one before in the host's memory */
    float nowhere;
    int enabled; /* the port of that name; -1: none */

    float value[SHELL_PORTS]; /* by port: controls as read last; read-outs as the plug-in's report() puts them there */
} Ports;

/* All are unconnected and at their defaults, but for the read-out `latency`, which the processor does not report.
 * latency: samples. The struct is zeroed. */
void ports_init(Ports *ports, uint32_t latency);

/* Control port p, below shell_plugin.ports. data: the host's; NULL disconnects it. */
void ports_connect(Ports *ports, uint32_t p, float *data);

/* Reads the controls; true: one has moved. */
bool ports_read(Ports *ports);

/* Whether the control `enabled`, as read last, is on; true where there is none. */
bool ports_enabled(const Ports *ports);

/* Makes the values for the host from those of the read-outs. */
void ports_round(Ports *ports);

/* Writes every read-out where the host wants it; call it in every run, as the host may have written there itself. */
void ports_write(const Ports *ports);

/* Writes `latency` alone. */
void ports_write_latency(const Ports *ports);

#endif
