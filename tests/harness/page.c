#include "page.h"

#include "fill.h"
#include "html.h"
#include "page_frame.h"
#include "names.h"
#include "setting.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- Panels ---- */

/* How near it came to the vocal that it was fitted to. */
static void write_like(const Drawing *d, Panel panel)
{
    char text[160];
    const Like *like = d->report->like;
    if (!like || panel != PANEL_COLOUR)
        return;
    like_line(like, text, sizeof text);
    page_put(d->to, "<p class=\"said\"><b>Like ", like->other.name, ":</b> ");
    page_put(d->to, "", text, ".</p>\n");
}

static void write_panel(const Drawing *d, Panel panel)
{
    char before[STORY_TEXT], after[STORY_TEXT], why[STORY_TEXT], desc[2 * STORY_TEXT + 80];
    const Readings *mixed = &d->look->mixed.heard;
    story_line(before, panel, SLOT_BEFORE, d->report, mixed, d->index);
    story_line(after, panel, SLOT_AFTER, d->report, mixed, d->index);
    story_line(why, panel, SLOT_WHY, d->report, mixed, d->index);
    snprintf(desc, sizeof desc, "Before: %s. After: %s.%s", before, after,
             d->report->like && panel == PANEL_COLOUR ? " Dotted: the vocal that it was fitted to." : "");
    page_put(d->to, "<section class=\"panel\"><h3>", story_question(panel), "</h3>\n");
    draw_panel(d, panel, desc);
    page_put(d->to, "<p class=\"said\"><b>Before:</b> ", before, ".</p>\n");
    page_put(d->to, "<p class=\"said\"><b>After:</b> ", after, ".</p>\n");
    write_like(d, panel);
    page_put(d->to, "<p class=\"said why\">", why, "</p></section>\n");
}

/* ---- Other plug-ins ---- */

static bool has_panel(const char *stage)
{
    static const char *const known[] = {"trim", "tone", "compressor", "esses", "plate"};
    for (size_t i = 0; i < sizeof known / sizeof *known; ++i)
        if (!strcmp(known[i], stage))
            return true;
    return false;
}

/* A repair, or whatever else is in the chain, says what the table has of it. */
static bool write_other(const Drawing *d, const StageResult *s, Error *e)
{
    char *text = NULL;
    size_t size = 0;
    FILE *rows = open_memstream(&text, &size);
    if (!rows)
        return error_set(e, ERROR_INSIDE, "out of memory");
    report_print_stage(d->report, s, rows);
    if (!fclose(rows))
        page_put(d->to, "<pre class=\"other\">", text + strspn(text, "\n"), "</pre>\n");
    free(text);
    return true;
}

static bool write_others(const Drawing *d, Error *e)
{
    bool any = false;
    for (uint32_t s = 0; s < d->report->stages; ++s) {
        if (has_panel(d->report->stage[s].name))
            continue;
        fputs(any ? "" : "<h2>Besides, in this chain</h2>\n", d->to);
        any = true;
        if (!write_other(d, &d->report->stage[s], e))
            return false;
    }
    return true;
}

/* ---- Players ---- */

static bool write_source(FILE *to, const PageTake *t, uint32_t side, const char *name, Error *e)
{
    fprintf(to, "<audio controls preload=\"auto\" aria-label=\"%s\" src=\"", side ? "after" : "before");
    if (t->audio[side]) {
        html_address(to, name_base(t->audio[side]));
    } else {
        fputs("data:audio/flac;base64,", to);
        if (!html_base64(to, t->look->audio[side]))
            return error_set(e, ERROR_WRITE, "%s: cannot write: %s", name, strerror(errno));
    }
    fputs("\"></audio>\n", to);
    return true;
}

static bool write_players(FILE *to, const PageTake *t, const char *name, Error *e)
{
    fputs("<h2 class=\"hear\">Hear it</h2>\n<div class=\"players\">\n", to);
    if (!write_source(to, t, LOOK_BEFORE, name, e) || !write_source(to, t, LOOK_AFTER, name, e))
        return false;
    fputs("<div class=\"desk\" hidden><button type=\"button\" class=\"play\">Play</button>\n"
          "<button type=\"button\" class=\"pick\" aria-pressed=\"false\">Before</button>\n"
          "<button type=\"button\" class=\"pick\" aria-pressed=\"true\">After</button>\n"
          "<input type=\"range\" min=\"0\" max=\"1000\" value=\"0\" aria-label=\"place in the take\">\n"
          "<span class=\"clock\"></span></div>\n",
          to);
    fputs(t->look->gains.matched
              ? "<p>Both play at the same loudness, so that you compare the sound and not the level. "
                "Begin with your monitors low.</p>\n"
              : "<p>Too quiet or too short for a loudness: they play as they are. Begin with your "
                "monitors low.</p>\n",
          to);
    fputs("</div>\n", to);
    return true;
}

/* ---- Settings ---- */

/* Where the sentence begins that tells what is set: "Hand: it lies at Low cut."; else the first one. */
static const char *sentence_about(const char *comment, const char *label)
{
    char begin[64];
    snprintf(begin, sizeof begin, "%s: ", label ? label : "");
    begin[0] = (char)toupper((unsigned char)begin[0]);
    const char *found = label ? strstr(comment, begin) : NULL;
    return found ? found : comment;
}

/* One sentence of what the Turtle says of a port. */
static void write_sentence(FILE *to, const Port *port, float value)
{
    const char *from = sentence_about(port->comment, port->choice ? port_label(port, value) : NULL);
    const char *end = strstr(from, ". ");
    char text[600];
    snprintf(text, sizeof text, "%.*s", end ? (int)(end - from) + 1 : (int)strlen(from), from);
    page_put(to, "<dd class=\"said\">", text, "</dd>\n");
}

static void write_setting(FILE *to, const Report *r, const StageResult *s, uint32_t index, const Port *port)
{
    char text[128];
    setting_text(r, s, index, port, text, sizeof text);
    page_put(to, "<dt>", port->name, "</dt>");
    page_put(to, "<dd>", text, "</dd>");
    write_sentence(to, port, s->effect[index].readings.port[port - s->effect[index].readings.plugin->port].last);
}

static void write_stage(FILE *to, const Report *r, const StageResult *s, uint32_t index)
{
    const Readings *shown = &s->effect[index].readings;
    const Plugin *plugin = shown->plugin;
    page_put(to, "<details><summary>", s->name,
             report_bypassed(shown) ? ", bypassed</summary><dl>\n" : "</summary><dl>\n");
    for (uint32_t p = 0; plugin && p < plugin->ports; ++p)
        if (plugin->port[p].kind == PORT_CONTROL && strcmp(plugin->port[p].symbol, "learn") != 0)
            write_setting(to, r, s, index, &plugin->port[p]);
    fputs("</dl></details>\n", to);
}

/* ---- A take ---- */

static void write_next(FILE *to, const Next *next)
{
    fputs("<h2>Do next</h2>\n<ol class=\"next\">\n", to);
    for (uint32_t k = 0; k < next->steps; ++k) {
        page_put(to, "<li>", next->step[k].what, "");
        if (*next->step[k].command)
            page_put(to, "<code>", next->step[k].command, "</code>");
        fputs("</li>\n", to);
    }
    fputs(next->steps ? "</ol>\n" : "</ol>\n<p>Nothing: it is kept already.</p>\n", to);
}

static void write_head(const Drawing *d, const char *head)
{
    char length[32];
    const Take *t = &d->report->take[d->index];
    report_time((double)t->frames / t->rate, length, sizeof length);
    fprintf(d->to, "<article id=\"take%u\">\n", (unsigned)d->number);
    page_put(d->to, "<h1>", t->name, "</h1>\n");
    page_put(d->to, "<p class=\"head\">", head, "</p>\n<p class=\"file\">");
    html_say(d->to, "%s, %s, %.0f Hz, %s", length, t->channels == 1 ? "mono" : "stereo", t->rate, t->format);
    if (d->report->takes > 1)
        fputs("; what was learned, it shares with the other takes", d->to);
    fputs("</p>\n<h2>The take, before above and after below</h2>\n", d->to);
}

static bool write_take(const Drawing *d, const PageTake *t, const char *name, Error *e)
{
    char head[STORY_TEXT];
    story_head(head, d->report, d->facts, d->index);
    write_head(d, head);
    draw_ribbon(d, head);
    if (!write_players(d->to, t, name, e))
        return false;
    fputs("<h2>Question by question</h2>\n<div class=\"panels\">\n", d->to);
    for (Panel panel = 0; panel < PANELS; ++panel)
        write_panel(d, panel);
    fputs("</div>\n", d->to);
    if (!write_others(d, e))
        return false;
    write_next(d->to, t->next);
    fputs("<h2>Every setting</h2>\n", d->to);
    for (uint32_t s = 0; s < d->report->stages; ++s)
        write_stage(d->to, d->report, &d->report->stage[s], d->index);
    fputs("</article>\n", d->to);
    return true;
}

static bool draw_take(FILE *to, const PageTake *t, uint32_t number, const char *name, Error *e)
{
    Facts facts;
    bool ok = facts_make(&facts, t->look, t->report, t->index, e);
    const Drawing d = {to, &facts, t->look, t->report, t->index, number};
    ok = ok && write_take(&d, t, name, e);
    facts_free(&facts);
    return ok;
}

/* ---- The page ---- */

static void write_nav(FILE *to, const PageTake *take, uint32_t takes)
{
    fputs("<nav>", to);
    for (uint32_t t = 0; t < takes; ++t) {
        fprintf(to, "%s<a href=\"#take%u\">", t ? " \xc2\xb7 " : "", (unsigned)t);
        page_put(to, "", take[t].report->take[take[t].index].name, "</a>");
    }
    fputs("</nav>\n", to);
}

bool page_write(int handle, const char *name, const PageTake *take, uint32_t takes, const char *table, Error *e)
{
    const char *title = take[0].report->take[take[0].index].name;
    FILE *to = page_begin(handle, title, takes > 1 ? " and others" : "", e);
    bool ok = to != NULL;
    if (takes > 1 && ok)
        write_nav(to, take, takes);
    for (uint32_t t = 0; ok && t < takes; ++t)
        ok = draw_take(to, &take[t], t, name, e);
    return to && page_end(to, name, table, ok, e);
}
