/* Text on its way into a page: whatever it holds, it stays text. */
#ifndef LINCTUS_HARNESS_HTML_H
#define LINCTUS_HARNESS_HTML_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* With what has a meaning in HTML and SVG escaped, quotes too. What is no UTF-8, or a control character, becomes
 * U+FFFD.
 */
void html_text(FILE *to, const char *text);

/* The same for text that is put together first; one longer than 1000 characters is cut. */
void html_say(FILE *to, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The name of a file in the page's own folder as an address. */
void html_address(FILE *to, const char *name);

/* From a handle that can be read from its start, in base 64. Returns false where it cannot be read. */
_Bool html_base64(FILE *to, int handle);

#endif
