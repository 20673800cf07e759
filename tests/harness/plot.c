#include "plot.h"

#include "html.h"

#include <math.h>
#include <stdarg.h>

void plot_begin(FILE *to, const char *id, double width, double height, bool stretch, const char *title,
                const char *desc)
{
    fprintf(to, "<svg viewBox=\"0 0 %.0f %.0f\"%s role=\"img\" aria-labelledby=\"%s-t %s-d\"><title id=\"%s-t\">",
            width, height, stretch ? " preserveAspectRatio=\"none\"" : "", id, id, id);
    html_text(to, title);
    fprintf(to, "</title><desc id=\"%s-d\">", id);
    html_text(to, desc);
    fputs("</desc>\n", to);
}

void plot_end(FILE *to)
{
    fputs("</svg>\n", to);
}

static double within(double x, double a, double b)
{
    return fmin(fmax(x, fmin(a, b)), fmax(a, b));
}

double plot_x(const Plot *p, double value)
{
    const double share = p->logarithmic ? log(fmax(value, 1e-9) / p->from) / log(p->until / p->from)
                                        : (value - p->from) / (p->until - p->from);
    return within(p->left + share * (p->right - p->left), p->left, p->right);
}

double plot_y(const Plot *p, double value)
{
    return within(p->bottom - (value - p->low) / (p->high - p->low) * (p->bottom - p->top), p->top, p->bottom);
}

void plot_text(FILE *to, double x, double y, const char *anchor, const char *css, const char *format, ...)
{
    char text[200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    fprintf(to, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\" class=\"%s\">", x, y, anchor, css);
    html_text(to, text);
    fputs("</text>\n", to);
}

void plot_rect(FILE *to, double x, double y, double width, double height, const char *css)
{
    fprintf(to, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" class=\"%s\"/>\n", x, y, fmax(width, 0.0),
            fmax(height, 0.0), css);
}

void plot_line(FILE *to, double x1, double y1, double x2, double y2, const char *css)
{
    fprintf(to, "<line x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\" class=\"%s\"/>\n", x1, y1, x2, y2, css);
}

void plot_path(FILE *to, const char *css)
{
    fprintf(to, "<path class=\"%s\" d=\"", css);
}

void plot_to(FILE *to, char command, double x, double y)
{
    fprintf(to, "%c%.1f %.1f", command, x, y);
}

void plot_path_end(FILE *to)
{
    fputs("\"/>\n", to);
}

void plot_frame(const Plot *p)
{
    plot_line(p->to, p->left, p->bottom, p->right, p->bottom, "axis");
}

void plot_tick_x(const Plot *p, double value, const char *label)
{
    const double x = plot_x(p, value);
    plot_line(p->to, x, p->top, x, p->bottom, "grid");
    if (*label)
        plot_text(p->to, x, p->bottom + 12.0, "middle", "scale", "%s", label);
}

void plot_tick_y(const Plot *p, double value, const char *label)
{
    const double y = plot_y(p, value);
    plot_line(p->to, p->left, y, p->right, y, "grid");
    plot_text(p->to, p->left - 4.0, y + 3.5, "end", "scale", "%s", label);
}
