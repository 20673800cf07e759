/* Words with figures in them, and the conditions under which they are said. */
#ifndef LINCTUS_HARNESS_FILL_H
#define LINCTUS_HARNESS_FILL_H

#include "readings.h"

#include <stddef.h>

/* A port's value as a person reads it: "-18.0 dB", "3.2 kHz", the label of a choice, on or off. sign: with a + where it
 * has none of its own. A count that is at its ceiling reads "255 or more", or "more than 65 thousand". */
void fill_value(const Port *port, float number, bool sign, char *text, size_t size);

/* When in a take: "0:37", to the nearest second. */
void fill_time(double seconds, char *text, size_t size);

/* For "%.1f": what would read "-0.0" becomes 0. */
double fill_tenths(double value);

/* Who set a control: "as asked", "as --like found", "the preset's", "the default". */
const char *fill_origin(Origin origin);

/* The pattern with figures in the place of its braces:
 *
 *     {symbol}    what the port showed last       {+symbol}   with its sign
 *     {symbol<}   the lowest it showed            {|symbol}   without one
 *     {symbol>}   the highest                     {symbol#}   how often it came up from 0
 *     {symbol&}   what it showed at the end of each take, added up
 *     {=symbol}   who set the control: fill_origin()
 *     {symbol~-24}  how far it lies from -24
 *     {symbol~port} how far it lies from what that port shows
 *
 * A text that does not fit is cut. false: the plug-in lacks one of the ports. */
bool fill_in(const Readings *r, const char *pattern, char *text, size_t size);

/* What the conditions are about. */
typedef struct {
    const Readings *readings;
    bool voice;    /* Check heard one, or was not asked */
    bool listened; /* the plug-in listened to the takes before it mixed them */
    bool fitted;   /* --like has set it */
} Said;

/* Do all of the conditions hold? They stand with blanks between them; "" always holds.
 *
 *     symbol      the port shows more than 0 (symbol&: the sum of all takes)
 *     symbol>-60  more than -60                   symbol<0    less than 0
 *     voice, listened, fitted                     see above
 *     this|that   one of them holds
 *     !condition  it does not hold; !this|that: none of them does
 *
 * A port that the plug-in lacks shows neither more nor less than anything. */
bool fill_holds(const Said *s, const char *conditions);

#endif
