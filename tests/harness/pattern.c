#include "pattern.h"

#include "names.h"
#include "source.h"

#include <math.h>
#include <string.h>

enum { FIELD = 256 /* more than a name can have */ };

static bool no_field(const char *field, Error *e)
{
    return error_set(e, ERROR_USAGE, "--name knows {take}, {number}, {voice}, {rate} and {bits}, not %s", field);
}

static bool put_take(char *text, const Options *o, uint32_t take, Error *e)
{
    const char *name = name_base(o->in[take]);
    (void)e;
    snprintf(text, FIELD, "%.*s", (int)name_stem(name), name);
    return true;
}

static bool put_number(char *text, const Options *o, uint32_t take, Error *e)
{
    (void)e;
    snprintf(text, FIELD, "%0*u", snprintf(NULL, 0, "%u", (unsigned)o->ins), (unsigned)take + 1);
    return true;
}

static bool put_voice(char *text, const Options *o, uint32_t take, Error *e)
{
    (void)take;
    if (!o->voice)
        return error_set(e, ERROR_USAGE, "--name: {voice} is what --voice says, so --voice NAME is needed too");
    snprintf(text, FIELD, "%s", o->voice);
    return true;
}

static bool put_rate(char *text, const Options *o, uint32_t take, Error *e)
{
    SoundIn s = {0};
    double rate = o->rate;
    if (!(rate > 0.0) && source_is_pipe(o->in[take]))
        return error_set(e, ERROR_USAGE, "--name: the {rate} of %s, a pipe, is not known yet: add --rate HZ",
                         o->in[take]);
    if (!(rate > 0.0)) {
        if (!sound_open(&s, o->in[take], -1, e))
            return false;
        rate = s.rate;
        sound_close(&s);
    }
    snprintf(text, FIELD, "%.0f", rate);
    return true;
}

/* "16", not "16 bit". */
static bool put_bits(char *text, const Options *o, uint32_t take, Error *e)
{
    const char *name = sound_bits_name(o->bits);
    (void)take, (void)e;
    snprintf(text, FIELD, "%.*s", (int)strcspn(name, " "), name);
    return true;
}

static const struct {
    const char *field;
    bool (*put)(char *text, const Options *o, uint32_t take, Error *e);
} fields[] = {
    {"{take}", put_take}, {"{number}", put_number}, {"{voice}", put_voice}, {"{rate}", put_rate}, {"{bits}", put_bits}};

/* What stands at `at`, a field or a character, and how long it is in the pattern. */
static bool put_part(char *text, const char *at, size_t *length, const Options *o, uint32_t take, Error *e)
{
    char field[FIELD];
    *length = 1;
    snprintf(text, FIELD, "%c", *at);
    if (*at != '{' && *at != '}')
        return true;
    *length = strcspn(at, "}") + 1;
    snprintf(field, sizeof field, "%.*s", (int)*length, at);
    for (size_t i = 0; i < sizeof fields / sizeof *fields; ++i)
        if (!strcmp(field, fields[i].field))
            return fields[i].put(text, o, take, e);
    return no_field(field, e);
}

bool pattern_name(char *name, size_t size, const Options *o, uint32_t take, Error *e)
{
    char part[FIELD];
    size_t used = 0, length;
    for (const char *at = o->pattern; *at; at += length) {
        if (!put_part(part, at, &length, o, take, e))
            return false;
        const int wrote = snprintf(name + used, size - used, "%s", part);
        if (wrote < 0 || (size_t)wrote >= size - used)
            return error_set(e, ERROR_USAGE, "--name %s: too long a name", o->pattern);
        used += (size_t)wrote;
    }
    return !strchr(name, '/') ||
           error_set(e, ERROR_USAGE, "--name names files in OUT's folder: %s would leave it", name);
}
