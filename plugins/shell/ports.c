#include "ports.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int find_port(const char *symbol)
{
    for (uint32_t p = 0; p < shell_plugin.ports; ++p)
        if (!strcmp(shell_plugin.port[p].symbol, symbol))
            return (int)p;
    return -1;
}

/* ---- Controls ---- */

static float clamped(const ShellPort *port, float value)
{
    if (isnan(value))
        return port->normal;
    const float held = fminf(fmaxf(value, port->lowest), port->highest);
    return port->whole ? roundf(held) : held;
}

static uint32_t bits_of(float x)
{
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* Equal to the bit, so that NaN equals itself. */
static bool same_bits(float a, float b)
{
    return bits_of(a) == bits_of(b);
}

static inline uint32_t differ(const Ports *ports, uint32_t k)
{
    return bits_of(*ports->wanted[k]) ^ bits_of(ports->raw[k]);
}

/* Whether no control has moved, the usual case. Compares four at a time (ports_init()). */
static bool all_stand_still(const Ports *ports)
{
    uint32_t moved = 0;
    for (uint32_t k = 0; k < ports->n_controls; k += 4)
        moved |= differ(ports, k) | differ(ports, k + 1) | differ(ports, k + 2) | differ(ports, k + 3);
    return !moved;
}

/* Reads a control; true: it has moved. */
static bool read_control(Ports *ports, uint32_t p)
{
    const float before = ports->value[p];
    ports->raw[p] = *ports->wanted[p];
    ports->value[p] = clamped(&shell_plugin.port[p], ports->raw[p]);
    return ports->value[p] != before;
}

bool ports_read(Ports *ports)
{
    if (all_stand_still(ports))
        return false;
    bool moved = false;
    for (uint32_t p = 0; p < ports->n_controls; ++p)
        moved = read_control(ports, p) || moved;
    return moved;
}

bool ports_enabled(const Ports *ports)
{
    return ports->enabled < 0 || ports->value[ports->enabled] > 0.f;
}

/* ---- Read-outs ---- */

/* Rounds a read-out to its step, since a host shows every digit. Holds it within its port's range, since a host draws
 * it by that range: a true peak between samples may lie beyond it. */
static float rounded(const ShellPort *port, float exact)
{
    const float value = (float)(rint((double)exact / port->step) * port->step);
    return value < port->lowest ? port->lowest : value > port->highest ? port->highest : value;
}

void ports_round(Ports *ports)
{
    for (uint32_t k = 0; k < ports->n_meters; ++k) {
        const uint32_t p = ports->n_controls + k;
        if (same_bits(ports->value[p], ports->raw[p]))
            continue;
        ports->raw[p] = ports->value[p];
        ports->shown[k] = rounded(&shell_plugin.port[p], ports->raw[p]);
    }
}

/* Copies all at once where they lie in a row in the host's memory; else writes four at a time (ports_init()). */
void ports_write(const Ports *ports)
{
    if (ports->joints + 1 == ports->n_meters) {
        memcpy(ports->meter[0], ports->shown, ports->n_meters * sizeof *ports->shown);
        return;
    }
    for (uint32_t k = 0; k < ports->n_meters; k += 4) {
        *ports->meter[k] = ports->shown[k];
        *ports->meter[k + 1] = ports->shown[k + 1];
        *ports->meter[k + 2] = ports->shown[k + 2];
        *ports->meter[k + 3] = ports->shown[k + 3];
    }
}

void ports_write_latency(const Ports *ports)
{
    if (ports->latency_meter < ports->n_meters)
        *ports->meter[ports->latency_meter] = ports->shown[ports->latency_meter];
}

/* ---- Connections ---- */

static uint32_t is_joint(const Ports *ports, uint32_t k)
{
    return k > 0 && k < ports->n_meters && ports->meter[k] == ports->meter[k - 1] + 1;
}

static void connect_meter(Ports *ports, uint32_t k, float *data)
{
    ports->joints -= is_joint(ports, k) + is_joint(ports, k + 1);
    ports->meter[k] = data ? data : &ports->nowhere;
    ports->joints += is_joint(ports, k) + is_joint(ports, k + 1);
}

void ports_connect(Ports *ports, uint32_t p, float *data)
{
    if (p >= ports->n_controls)
        connect_meter(ports, p - ports->n_controls, data);
    else
        ports->wanted[p] = data ? data : &shell_plugin.port[p].normal;
}

/* ---- The list ---- */

/* Finds `latency`, the one read-out that the processor does not report. */
static void list_latency(Ports *ports, uint32_t latency)
{
    const int port = find_port("latency");
    ports->latency_meter = port < 0 ? ports->n_meters : (uint32_t)port - ports->n_controls;
    if (port >= 0)
        ports->value[port] = (float)latency;
}

/* Loops take four ports at a time. So the last control is followed by entries that never move, and the last read-out by
 * entries that lead nowhere. */
static bool share_out_memory(Ports *ports)
{
    const size_t room = ((size_t)shell_plugin.ports + 3) / 4 * 4;
    ports->memory = calloc(room, 2 * sizeof(float *) + 3 * sizeof(float));
    if (!ports->memory)
        return false;
    ports->wanted = ports->memory;
    ports->meter = (void *)(ports->wanted + room);
    ports->raw = (void *)(ports->meter + room);
    ports->shown = ports->raw + room;
    ports->value = ports->shown + room;
    for (size_t p = 0; p < room; ++p) {
        ports->wanted[p] = &ports->raw[p];
        ports->meter[p] = &ports->nowhere;
    }
    return true;
}

bool ports_init(Ports *ports, uint32_t latency)
{
    if (!share_out_memory(ports))
        return false;
    for (uint32_t p = 0; p < shell_plugin.ports; ++p) {
        const ShellPort *port = &shell_plugin.port[p];
        ports->value[p] = ports->raw[p] = port->normal;
        if (port->kind == SHELL_CONTROL)
            ports->wanted[ports->n_controls++] = &port->normal;
        else
            ports->shown[ports->n_meters++] = rounded(port, port->normal);
    }
    ports->enabled = find_port("enabled");
    list_latency(ports, latency);
    ports_round(ports);
    return true;
}

void ports_done(Ports *ports)
{
    free(ports->memory);
}
