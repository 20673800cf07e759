#include "sheet.h"

#include "ours.h"
#include "retype.h"
#include "setting.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* "  Low cut slope          18 dB per octave, the preset's": controls alone, and learn is none of the sound. */
static void print_settings(const Report *r, const StageResult *s, uint32_t take, FILE *to)
{
    const Plugin *plugin = s->effect[take].readings.plugin;
    for (uint32_t p = 0; plugin && p < plugin->ports; ++p) {
        const Port *port = &plugin->port[p];
        char text[128];
        if (port->kind != PORT_CONTROL || !strcmp(port->symbol, "learn"))
            continue;
        setting_text(r, s, take, port, text, sizeof text);
        fprintf(to, "  %-34s %s\n", port->name, text);
    }
}

/* Whoever gets the sheet gets no names of folders, but for those that tell takes of one name apart. */
static void print_command(const Options *o, FILE *to)
{
    char *line = retype_bare(o);
    fprintf(to, "\nto make it again, from where the takes lie\n  %s\n",
            line ? line : "(a name in it has no place in a line)");
    free(line);
}

void sheet_print(const Report *r, uint32_t take, FILE *to)
{
    fputs(OURS_MARK ": what was done\n\n", to);
    report_print_result(r, take, to);
    for (uint32_t s = 0; s < r->stages; ++s)
        report_print_stage_of(r, &r->stage[s], take, to);
    fputs("\nevery setting\n", to);
    for (uint32_t s = 0; s < r->stages; ++s) {
        fprintf(to, "\n%s\n", r->stage[s].name);
        print_settings(r, &r->stage[s], take, to);
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
