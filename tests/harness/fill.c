#include "fill.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Values as text ---- */

static void hertz(char *text, size_t size, double value)
{
    if (value < 1000.0)
        snprintf(text, size, "%.0f Hz", value);
    else
        snprintf(text, size, "%.3g kHz", value / 1000.0);
}

void fill_time(double seconds, char *text, size_t size)
{
    const double whole = rint(seconds);
    snprintf(text, size, "%.0f:%02.0f", floor(whole / 60.0), fmod(whole, 60.0));
}

double fill_tenths(double value)
{
    return fabs(value) < 0.05 ? 0.0 : value;
}

/* The highest that a port can count to: there may be more. */
static void ceiling(char *text, size_t size, double value)
{
    if (value > 10000.0)
        snprintf(text, size, "more than %.0f thousand", floor(value / 1000.0));
    else
        snprintf(text, size, "%.0f or more", value);
}

void fill_value(const Port *port, float number, bool sign, char *text, size_t size)
{
    const double value = (double)number, tenths = fill_tenths(value);
    const char *label = port->choice ? port_label(port, number) : NULL;
    if (label)
        snprintf(text, size, "%s", label);
    else if (port->toggle)
        snprintf(text, size, "%s", number > 0.f ? "on" : "off");
    else if (!strcmp(port->unit, "Hz"))
        hertz(text, size, value);
    else if (!strncmp(port->unit, "dB", 2) && value < -199.0)
        snprintf(text, size, "silence");
    else if (!strncmp(port->unit, "dB", 2))
        snprintf(text, size, sign ? "%+.1f %s" : "%.1f %s", tenths, port->unit);
    else if (!strcmp(port->unit, "%"))
        snprintf(text, size, "%.0f %%", value);
    else if (!strncmp(port->unit, "LU", 2))
        snprintf(text, size, "%.1f %s", tenths, port->unit);
    else if (!strcmp(port->unit, "s"))
        snprintf(text, size, value < 10.0 ? "%.2g s" : "%.0f s", value);
    else if (!strcmp(port->unit, "octaves"))
        snprintf(text, size, "%.2g octave%s", value, value == 1.0 ? "" : "s");
    else if (port->kind == PORT_METER && port->integer && number >= port->max) /* a count goes no further */
        ceiling(text, size, value);
    else if (!strcmp(port->unit, "cents"))
        snprintf(text, size, sign && rint(value) != 0.0 ? "%+.0f cent%s" : "%.0f cent%s", rint(value) + 0.0,
                 fabs(rint(value)) == 1.0 ? "" : "s");
    else if (value == rint(value) && fabs(value) < 1e9) /* a count: all of its digits */
        snprintf(text, size, "%.0f%s%s", value, *port->unit && *port->unit != ':' ? " " : "", port->unit);
    else
        snprintf(text, size, "%.4g%s%s", value, *port->unit && *port->unit != ':' ? " " : "", port->unit);
}

/* "symbol>" and the like: which of a port's figures is meant. '\0': what it showed last. */
typedef struct {
    char symbol[64];
    char mark;
} Wanted;

static Wanted wanted_from(const char *text)
{
    Wanted w = {.mark = '\0'};
    snprintf(w.symbol, sizeof w.symbol, "%s", text);
    const size_t length = strlen(w.symbol);
    if (length && strchr("<>#&", w.symbol[length - 1])) {
        w.mark = w.symbol[length - 1];
        w.symbol[length - 1] = '\0';
    }
    return w;
}

static float reading_as(const Reading *r, char mark)
{
    return mark == '<'   ? r->lowest
           : mark == '>' ? r->highest
           : mark == '&' ? r->total
           : mark == '#' ? (float)r->rises
                         : r->last;
}

const char *fill_origin(Origin origin)
{
    static const char *const text[] = {[ORIGIN_DEFAULT] = "the default",
                                       [ORIGIN_PRESET] = "the preset's",
                                       [ORIGIN_ASKED] = "as asked",
                                       [ORIGIN_FITTED] = "as --like found",
                                       [ORIGIN_LEAD] = "from the lead's"};
    return text[origin];
}

/* What a figure is told from: a number, or what another port shows. */
static float told_from(const Readings *r, const char *text)
{
    const Port *port;
    const Reading *other = readings_of(r, text, &port);
    return other ? other->last : strtof(text, NULL);
}

/* What stands between the braces; false: the plug-in has no such port. */
static bool expand(const Readings *r, const char *inside, char *text, size_t size)
{
    const char sign = *inside && strchr("+|=", *inside) ? *inside : '\0';
    const char *from = strchr(inside, '~');
    char symbol[64];
    snprintf(symbol, sizeof symbol, "%.*s", (int)strcspn(inside, "~") - (sign ? 1 : 0), inside + (sign ? 1 : 0));
    const Wanted w = wanted_from(symbol);
    const Port *port;
    const Reading *reading = readings_of(r, w.symbol, &port);
    if (!reading)
        return false;
    const float shown = reading_as(reading, w.mark), value = from ? fabsf(shown - told_from(r, from + 1)) : shown;
    if (sign == '=')
        snprintf(text, size, "%s", fill_origin(reading->origin));
    else if (w.mark == '#')
        snprintf(text, size, "%" PRIu32, reading->rises);
    else
        fill_value(port, sign == '|' ? fabsf(value) : value, sign == '+', text, size);
    return true;
}

bool fill_in(const Readings *r, const char *pattern, char *text, size_t size)
{
    size_t used = 0;
    while (*pattern && used + 1 < size) {
        if (*pattern != '{') {
            text[used++] = *pattern++;
            continue;
        }
        char inside[64];
        const size_t length = strcspn(pattern + 1, "}");
        snprintf(inside, sizeof inside, "%.*s", (int)length, pattern + 1);
        if (!expand(r, inside, text + used, size - used))
            return false;
        used += strlen(text + used);
        pattern += length + 2;
    }
    text[used] = '\0';
    return true;
}

/* ---- Conditions ---- */

/* "symbol", "symbol>-60" or "symbol<0". */
static bool port_holds(const Readings *r, const char *condition)
{
    char symbol[64];
    const size_t length = strcspn(condition, "<>");
    const char *compare = condition + length;
    /* A mark of a figure may be < or > too, but stands in no condition. */
    snprintf(symbol, sizeof symbol, "%.*s", (int)length, condition);
    const Wanted w = wanted_from(symbol);
    const Port *port;
    const Reading *reading = readings_of(r, w.symbol, &port);
    const double limit = *compare ? strtod(compare + 1, NULL) : 0.0;
    if (!reading)
        return false;
    const double value = (double)reading_as(reading, w.mark);
    return *compare == '<' ? value < limit : value > limit;
}

static bool word_holds(const Said *s, const char *condition)
{
    if (!strcmp(condition, "voice"))
        return s->voice;
    if (!strcmp(condition, "listened"))
        return s->listened;
    if (!strcmp(condition, "fitted"))
        return s->fitted;
    return port_holds(s->readings, condition);
}

/* "this|that": one of them is enough. */
static bool one_holds(const Said *s, const char *condition)
{
    for (const char *from = condition; from; from = strchr(from, '|') ? strchr(from, '|') + 1 : NULL) {
        char word[64];
        snprintf(word, sizeof word, "%.*s", (int)strcspn(from, "|"), from);
        if (word_holds(s, word))
            return true;
    }
    return false;
}

bool fill_holds(const Said *s, const char *conditions)
{
    while (*conditions) {
        char condition[64];
        const bool negated = *conditions == '!';
        const char *from = conditions + (negated ? 1 : 0);
        const size_t length = strcspn(from, " ");
        snprintf(condition, sizeof condition, "%.*s", (int)length, from);
        if (one_holds(s, condition) == negated)
            return false;
        conditions = from + length;
        conditions += strspn(conditions, " ");
    }
    return true;
}
