#include "sheet.h"

#include "fill.h"
#include "retype.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* "  Low cut, slope          18 dB per octave, the preset's": controls alone, and learn is none of the sound. */
static void print_settings(const Readings *r, FILE *to)
{
    for (uint32_t p = 0; r->plugin && p < r->plugin->ports; ++p) {
        const Port *port = &r->plugin->port[p];
        char value[64];
        if (port->kind != PORT_CONTROL || !strcmp(port->symbol, "learn"))
            continue;
        fill_value(port, r->port[p].last, false, value, sizeof value);
        fprintf(to, "  %-34s %s, %s\n", port->name, value, fill_origin(r->port[p].origin));
    }
}

static void print_command(const Options *o, FILE *to)
{
    char *line = retype_whole(o, (Change){.replace = true});
    fprintf(to, "\nto make it again, where this was typed\n  %s\n",
            line ? line : "(a name in it has no place in a line)");
    free(line);
}

void sheet_print(const Report *r, uint32_t take, FILE *to)
{
    report_print_result(r, take, to);
    for (uint32_t s = 0; s < r->stages; ++s)
        report_print_stage_of(r, &r->stage[s], take, to);
    fputs("\nevery setting\n", to);
    for (uint32_t s = 0; s < r->stages; ++s) {
        fprintf(to, "\n%s\n", r->stage[s].name);
        print_settings(&r->stage[s].effect[take].readings, to);
    }
    print_command(r->plan->options, to);
}

bool sheet_write(int handle, const char *name, const Report *r, uint32_t take, Error *e)
{
    FILE *to = fdopen(handle, "wb");
    if (!to) {
        close(handle);
        return error_set(e, ERROR_INSIDE, "out of memory");
    }
    errno = 0;
    sheet_print(r, take, to);
    const bool lost = ferror(to) != 0;
    if (!fclose(to) && !lost)
        return true;
    return error_set(e, ERROR_WRITE, "%s: cannot write: %s", name, strerror(errno ? errno : EIO));
}
