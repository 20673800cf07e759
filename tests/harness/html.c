#include "html.h"

#include <stdarg.h>
#include <stdbool.h>
#include <string.h>
#include <unistd.h>

/* Bytes of the UTF-8 character that begins here; 0: there is none. Overlong forms and surrogates are none. */
static size_t utf8_length(const unsigned char *c)
{
    static const struct {
        unsigned char from, to, low, high; /* first byte, and what the second may be */
        size_t length;
    } form[] = {{0x20, 0x7e, 0, 0, 1},       {0xc2, 0xdf, 0x80, 0xbf, 2}, {0xe0, 0xe0, 0xa0, 0xbf, 3},
                {0xe1, 0xec, 0x80, 0xbf, 3}, {0xed, 0xed, 0x80, 0x9f, 3}, {0xee, 0xef, 0x80, 0xbf, 3},
                {0xf0, 0xf0, 0x90, 0xbf, 4}, {0xf1, 0xf3, 0x80, 0xbf, 4}, {0xf4, 0xf4, 0x80, 0x8f, 4}};
    for (size_t i = 0; i < sizeof form / sizeof *form; ++i) {
        if (*c < form[i].from || *c > form[i].to)
            continue;
        if (form[i].length > 1 && (c[1] < form[i].low || c[1] > form[i].high))
            return 0;
        for (size_t k = 2; k < form[i].length; ++k)
            if (c[k] < 0x80 || c[k] > 0xbf)
                return 0;
        return form[i].length;
    }
    return *c == '\n' ? 1 : 0;
}

void html_text(FILE *to, const char *text)
{
    static const char *const escaped[][2] = {
        {"&", "&amp;"}, {"<", "&lt;"}, {">", "&gt;"}, {"\"", "&quot;"}, {"'", "&#39;"}};
    for (size_t length; *text; text += length ? length : 1) {
        length = utf8_length((const unsigned char *)text);
        size_t i = 0;
        while (i < sizeof escaped / sizeof *escaped && *escaped[i][0] != *text)
            ++i;
        if (i < sizeof escaped / sizeof *escaped)
            fputs(escaped[i][1], to);
        else if (length)
            fwrite(text, 1, length, to);
        else
            fputs("\xef\xbf\xbd", to);
    }
}

void html_say(FILE *to, const char *format, ...)
{
    char text[1001];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    html_text(to, text);
}

void html_address(FILE *to, const char *name)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.";
    fputs("./", to);
    for (; *name; ++name) {
        if (strchr(plain, *name))
            fputc(*name, to);
        else
            fprintf(to, "%%%02X", (unsigned)(unsigned char)*name);
    }
}

static void encode(const unsigned char *in, size_t n, char out[4])
{
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const unsigned bits = (unsigned)in[0] << 16 | (n > 1 ? (unsigned)in[1] << 8 : 0u) | (n > 2 ? (unsigned)in[2] : 0u);
    for (unsigned k = 0; k < 4; ++k)
        out[k] = k <= n ? digit[bits >> (18 - 6 * k) & 63] : '=';
}

bool html_base64(FILE *to, int handle)
{
    unsigned char in[3 * 1024];
    char out[4];
    size_t filled = 0;
    if (lseek(handle, 0, SEEK_SET))
        return false;
    for (ssize_t got = 1; got > 0;) {
        got = read(handle, in + filled, sizeof in - filled);
        filled += got > 0 ? (size_t)got : 0;
        if (got < 0)
            return false;
        if (got > 0 && filled < sizeof in)
            continue;
        for (size_t at = 0; at < filled; at += 3) {
            encode(in + at, filled - at < 3 ? filled - at : 3, out);
            fwrite(out, 1, sizeof out, to);
        }
        filled = 0;
    }
    return true;
}
