/* The pictures of a report, as SVG inside its page: shapes and names of classes; colours are the page's. What a picture
 * shows stands in its `desc` too. */
#ifndef LINCTUS_HARNESS_DRAW_H
#define LINCTUS_HARNESS_DRAW_H

#include "story.h"

#include <stdio.h>

typedef struct {
    FILE *to;
    const Facts *facts;
    const Look *look;
    const Report *report;
    uint32_t index;  /* of the take within the report */
    uint32_t number; /* of the take within the page: ids are made of it */
} Drawing;

/* The answer to a question; desc: in words. */
void draw_panel(const Drawing *d, Panel panel, const char *desc);

/* The take along the time: phrases before above and after below, faults where they were heard. Stretches with the
 * page's width; its words are HTML. */
void draw_ribbon(const Drawing *d, const char *desc);

#endif
