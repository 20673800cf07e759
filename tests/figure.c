#include "figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

static void write_row(FILE *to, const char *group, const char *what, double value, const char *unit, const char *limit,
                      const char *source, const char *verdict)
{
    fprintf(to, "%-11s | %-66s | %12.7g %-8s | %-22s | %-32s | %s\n", group, what, value, unit, limit, source, verdict);
}

static void row(const char *group, const char *what, double value, const char *unit, const char *limit,
                const char *source, const char *verdict)
{
    write_row(stdout, group, what, value, unit, limit, source, verdict);
    fflush(stdout);
    const char *path = getenv("LINCTUS_REPORT");
    FILE *report = path ? fopen(path, "a") : NULL;
    if (!report)
        return;
    write_row(report, group, what, value, unit, limit, source, verdict);
    fclose(report);
}

static void judge(const char *group, const char *what, double value, const char *unit, const char *limit,
                  const char *source, const char *verdict, int ok)
{
    row(group, what, value, unit, limit, source, ok ? verdict : "OUT OF LIMIT");
    if (!ok)
        fail_msg("%s: %s: %g %s, limit %s", group, what, value, unit, limit);
}

void figure_at_most(const char *group, const char *what, double value, double limit, const char *unit,
                    const char *source)
{
    char text[64];
    snprintf(text, sizeof text, "at most %g", limit);
    judge(group, what, value, unit, text, source, "ok", value <= limit);
}

void figure_at_least(const char *group, const char *what, double value, double limit, const char *unit,
                     const char *source)
{
    char text[64];
    snprintf(text, sizeof text, "at least %g", limit);
    judge(group, what, value, unit, text, source, "ok", value >= limit);
}

void figure_within(const char *group, const char *what, double value, double expected, double tolerance,
                   const char *unit, const char *source)
{
    char text[64];
    snprintf(text, sizeof text, "%g +-%g", expected, tolerance);
    judge(group, what, value, unit, text, source, "ok", fabs(value - expected) <= tolerance);
}

void figure_note(const char *group, const char *what, double value, const char *unit)
{
    row(group, what, value, unit, "-", "-", "noted");
}

void figure_timed(const char *group, const char *what, double value, const char *unit)
{
    row(group, what, value, unit, "-", "-", "timed");
}

void figure_here_at_most(const char *group, const char *what, double value, double limit, const char *unit,
                         const char *source)
{
    char text[64];
    snprintf(text, sizeof text, "at most %g", limit);
    judge(group, what, value, unit, text, source, "ok here", value <= limit);
}
