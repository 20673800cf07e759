/* Shapes of SVG on axes. Coordinates are those of the picture: x from the left, y from the top. */
#ifndef LINCTUS_HARNESS_PLOT_H
#define LINCTUS_HARNESS_PLOT_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

/* A box in a picture, and what its edges stand for. */
typedef struct {
    FILE *to;
    double left, right, top, bottom;
    double from, until; /* along x; logarithmic: both above 0 */
    double low, high;   /* along y */
    bool logarithmic;   /* x */
} Plot;

/* Begins a picture: id is its own within the page. stretch: as wide as the page, whatever that does to the shapes. */
void plot_begin(FILE *to, const char *id, double width, double height, bool stretch, const char *title,
                const char *desc);
void plot_end(FILE *to);

/* Places in the box; what lies beyond an edge stands at it. */
double plot_x(const Plot *p, double value);
double plot_y(const Plot *p, double value);

/* anchor: "start", "middle" or "end". */
void plot_text(FILE *to, double x, double y, const char *anchor, const char *css, const char *format, ...)
    __attribute__((format(printf, 6, 7)));
void plot_rect(FILE *to, double x, double y, double width, double height, const char *css);
void plot_line(FILE *to, double x1, double y1, double x2, double y2, const char *css);

/* A path of one class: begin, then "M"s and "L"s, then end. */
void plot_path(FILE *to, const char *css);
void plot_to(FILE *to, char command, double x, double y);
void plot_path_end(FILE *to);

/* The box's frame, and lines at these values along x with their labels under it, and along y with labels at the left.
 */
void plot_frame(const Plot *p);
void plot_tick_x(const Plot *p, double value, const char *label);
void plot_tick_y(const Plot *p, double value, const char *label);

#endif
