/* The control ports of a plug-in between the host and the processor: controls read, clamped and rounded; read-outs
 * rounded to their step and held within their range. shell_plugin (shell.h) lists the ports. */
#ifndef LINCTUS_PORTS_H
#define LINCTUS_PORTS_H

#include "shell.h"

typedef struct {
    uint32_t n_controls, n_meters; /* ports: first all controls, then the read-outs */
    uint32_t latency_meter;        /* number of the read-out `latency`; n_meters: none */
    uint32_t joints;               /* how many read-outs lie right behind the one before in the host's memory */
    float nowhere;
    int enabled; /* the port of that name; -1: none */

    void *memory;         /* holds all of the following, and some entries more (ports_init()): */
    const float **wanted; /* where each control is read: the host's value, or the default */
    float **meter;        /* where each read-out is written: the host's memory, or `nowhere` */
    float *raw;           /* by port: a control's value from the host; a read-out as reported */
    float *shown;         /* of each read-out: the value for the host */
    float *value;         /* by port: controls as read last; read-outs as the plug-in's report() wrote them */
} Ports;

/* Every port starts unconnected and at its default, except the read-out `latency`: the processor does not report it, so
 * it is set here. latency: samples. The struct is zeroed. Allocates; false: no memory. */
bool ports_init(Ports *ports, uint32_t latency);
void ports_done(Ports *ports); /* safe on a zeroed one */

/* Control port p, below shell_plugin.ports. data: the host's; NULL disconnects it. */
void ports_connect(Ports *ports, uint32_t p, float *data);

/* Reads the controls; true: one has moved. */
bool ports_read(Ports *ports);

/* Whether the control `enabled`, as read last, is on; true where there is none. */
bool ports_enabled(const Ports *ports);

/* Rounds the read-outs for the host. */
void ports_round(Ports *ports);

/* Writes every read-out where the host wants it; call it in every run, as the host may have written there itself. */
void ports_write(const Ports *ports);

/* Writes `latency` alone. */
void ports_write_latency(const Ports *ports);

#endif
