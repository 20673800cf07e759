#include "page_frame.h"

#include "html.h"
#include "ours.h"
#include "page_parts.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

void page_put(FILE *to, const char *before, const char *text, const char *after)
{
    fputs(before, to);
    html_text(to, text);
    fputs(after, to);
}

static void put_lines(FILE *to, const char *const *line)
{
    for (; *line; ++line)
        fputs(*line, to);
}

FILE *page_begin(int handle, const char *title, const char *more, Error *e)
{
    FILE *to = fdopen(handle, "wb");
    if (!to) {
        close(handle);
        error_set(e, ERROR_INSIDE, "out of memory");
        return NULL;
    }
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
          "<meta name=\"generator\" content=\"" OURS_MARK "\">\n"
          "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
          "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
          "script-src 'unsafe-inline'; media-src 'self' file: data:\">\n",
          to);
    page_put(to, "<title>", title, more);
    fputs("</title>\n<style>\n", to);
    put_lines(to, page_style);
    fputs("</style>\n</head>\n<body>\n<main>\n", to);
    return to;
}

bool page_end(FILE *to, const char *name, const char *table, bool ok, Error *e)
{
    page_put(to, "<details class=\"table\"><summary>The whole table, as render printed it</summary><pre>", table,
             "</pre></details>\n");
    fputs("</main>\n<script>\n", to);
    put_lines(to, page_script);
    fputs("</script>\n</body>\n</html>\n", to);
    errno = 0;
    const bool lost = ferror(to) != 0;
    if ((fclose(to) || lost) && ok)
        ok = error_set(e, ERROR_WRITE, "%s: cannot write: %s", name, strerror(errno ? errno : EIO));
    return ok;
}
