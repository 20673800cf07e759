#include "compare_page.h"

#include "html.h"
#include "page_frame.h"
#include "plot.h"
#include "report.h"

#include <math.h>
#include <string.h>

#define WIDTH  1000.0 /* it is stretched to the page's width */
#define HEIGHT 22.0

enum { NUMBERS = 20 /* so many find room on a phone */ };

/* When the last phrase of any take is over, by the first take's clock. */
static double song_end(const Compare *c)
{
    double end = 1e-3;
    for (size_t row = 0; row < c->align.rows; ++row)
        end = fmax(end, c->align.phrase[row].span.to);
    return end;
}

/* The picture's edges: the song's, or those of a take that begins earlier. */
static Plot plot_of(const Compare *c, FILE *to)
{
    const double from = fmin(c->align.rows ? c->align.phrase[0].span.from : 0.0, 0.0);
    return (Plot){to, 0.0, WIDTH, 0.0, HEIGHT, from, song_end(c), 0.0, 1.0, false};
}

/* A bar a phrase: filled where the take is the cleanest, tall too, so that it shows without colour. */
static void draw_phrases(const Compare *c, uint32_t take, FILE *to)
{
    const Plot p = plot_of(c, to);
    for (size_t row = 0; row < c->align.rows; ++row) {
        const bool best = c->cleanest[row] == (int)take;
        const double x = plot_x(&p, c->align.phrase[row].span.from), height = best ? HEIGHT : 0.5 * HEIGHT;
        if (compare_cell(c, row, take)->part.count)
            plot_rect(to, x, HEIGHT - height, fmax(plot_x(&p, c->align.phrase[row].span.to) - x, 1.0), height,
                      best ? "after" : "before bar");
    }
}

static void draw_take(const Compare *c, uint32_t take, FILE *to)
{
    char words[COMPARE_TEXT], id[32];
    const char *name = c->take[take].name;
    compare_wins(c, take, words);
    snprintf(id, sizeof id, "c%u", (unsigned)take);
    page_put(to, "<div class=\"compared\">", words, "<span>");
    plot_begin(to, id, WIDTH, HEIGHT, true, name, words);
    draw_phrases(c, take, to);
    plot_end(to);
    fputs("</span></div>\n", to);
}

/* Which phrase of the table is where; in a long song not every one. */
static void write_numbers(const Compare *c, FILE *to)
{
    const Plot p = plot_of(c, to);
    const size_t every = c->rows / NUMBERS + 1;
    fputs("<div class=\"times\">", to);
    for (size_t row = 0; row < c->rows; row += every)
        fprintf(to, "<span style=\"left:%.2f%%\">%zu</span>",
                100.0 / WIDTH * plot_x(&p, c->align.phrase[row].span.from), row + 1);
    fputs("</div>\n<p class=\"file\">Numbers: the phrases, as below. Tall and filled: the cleanest there.</p>\n", to);
}

static void write_cell(const Compare *c, size_t row, uint32_t take, bool first, FILE *to)
{
    static const CompareKind order[] = {COMPARE_LEVEL, COMPARE_NOISE, COMPARE_POPS, COMPARE_CLIPPING, COMPARE_TUNING};
    const CompareCell *cell = compare_cell(c, row, take);
    char text[32], number[32] = "";
    if (first)
        snprintf(number, sizeof number, "%zu", compare_number(c, row, take));
    fprintf(to, "<tr class=\"%s%s\"><td>%s</td>", first ? "first " : "",
            c->cleanest[row] == (int)take ? "cleanest" : "", number);
    page_put(to, "<td>", c->take[take].name, "</td>");
    report_time(cell->from, text, sizeof text);
    fprintf(to, "<td>%s</td><td>%.1f s</td>", text, cell->to - cell->from);
    for (size_t k = 0; k < sizeof order / sizeof *order; ++k) {
        compare_figure(&cell->figures, order[k], text);
        fprintf(to, "<td>%s</td>", text);
    }
    fputs("</tr>\n", to);
}

static void write_table(const Compare *c, FILE *to)
{
    char why[COMPARE_TEXT];
    fputs("<h2>Phrase by phrase</h2>\n<div class=\"wide\"><table>\n<tr><th>phrase</th><th>take</th><th>begins</th>"
          "<th>length</th><th>level</th><th>noise</th><th>pops</th><th>clipped</th><th>tuning</th></tr>\n",
          to);
    for (size_t row = 0; row < c->align.rows; ++row) {
        bool first = true;
        for (uint32_t t = 0; t < c->takes; ++t) {
            if (!compare_cell(c, row, t)->part.count)
                continue;
            write_cell(c, row, t, first, to);
            first = false;
        }
        compare_why(c, row, why);
        if (*why)
            page_put(to, "<tr><td></td><td class=\"why\" colspan=\"8\">", why, "</td></tr>\n");
    }
    page_put(to, "</table></div>\n<p class=\"file\">", compare_legend, "</p>\n");
}

static void write_comparison(const Compare *c, FILE *to)
{
    char text[COMPARE_TEXT];
    compare_summary(c, text);
    char *strangers = strchr(text, '\n');
    if (strangers)
        *strangers++ = '\0';
    page_put(to, "<h1>Takes compared</h1>\n<p class=\"head\">", text, "</p>\n");
    if (strangers)
        page_put(to, "<p>", strangers, "</p>\n");
    fputs("<h2>The takes under each other</h2>\n", to);
    for (uint32_t t = 0; t < c->takes; ++t)
        if (!c->one[t].apart)
            draw_take(c, t, to);
    if (c->together > 1)
        write_numbers(c, to);
    for (uint32_t t = 0; t < c->takes; ++t)
        if (c->one[t].apart)
            draw_take(c, t, to);
    write_table(c, to);
}

bool compare_page_write(int handle, const char *name, const Compare *c, const char *table, Error *e)
{
    FILE *to = page_begin(handle, "Takes compared", "", e);
    if (!to)
        return false;
    if (c->takes)
        write_comparison(c, to);
    else
        fputs("<h1>Takes compared</h1>\n<p class=\"head\">Nothing to compare: that needs two takes in which a voice is "
              "heard.</p>\n",
              to);
    return page_end(to, name, table, true, e);
}
