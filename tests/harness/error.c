#include "error.h"

#include <stdarg.h>
#include <stdio.h>

bool error_set(Error *e, ErrorStatus status, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    e->status = status;
    vsnprintf(e->text, sizeof e->text, format, arguments);
    va_end(arguments);
    for (char *c = e->text; *c; ++c) {
        if ((unsigned char)*c < ' ' || *c == 127)
            *c = ' ';
    }
    return false;
}
