#include "setting.h"

#include "fill.h"

#include <stdio.h>
#include <string.h>

/* A figure by hand, and the conditions under which a found one is in force in its place (fill.h). */
typedef struct {
    const char *plugin, *symbol, *idle;
} ByHand;

static const ByHand by_hand[] = {
    {"tone", "low_cut", "low_cut_set_by"},
    {"tone", "dip1_freq", "dips_placed_by"},
    {"tone", "dip1_depth", "dips_placed_by"},
    {"tone", "dip1_width", "dips_placed_by"},
    {"tone", "dip2_freq", "dips_placed_by"},
    {"tone", "dip2_depth", "dips_placed_by"},
    {"tone", "dip2_width", "dips_placed_by"},
    {"tone", "dip3_freq", "dips_placed_by"},
    {"tone", "dip3_depth", "dips_placed_by"},
    {"tone", "dip3_width", "dips_placed_by"},
    {"compressor", "threshold", "threshold_set_by voice listened"},
    {"esses", "centre", "centre_set_by"},
    {"chain", "low_cut", "low_cut_set_by"},
    {"hum", "mains", "mains_set_by"},
};

static bool is_idle(const Report *r, const StageResult *s, const Readings *shown, const char *symbol)
{
    const Said said = {.readings = shown, .voice = !report_voiceless(r->check), .listened = s->lesson.state != NULL};
    for (size_t i = 0; i < sizeof by_hand / sizeof *by_hand; ++i)
        if (!strcmp(by_hand[i].plugin, s->name) && !strcmp(by_hand[i].symbol, symbol))
            return fill_holds(&said, by_hand[i].idle);
    return false;
}

void setting_text(const Report *r, const StageResult *s, uint32_t take, const Port *port, char *text, size_t size)
{
    const Readings *shown = &s->effect[take].readings;
    const Reading *value = &shown->port[port->index];
    char figure[64];
    fill_value(port, value->last, false, figure, sizeof figure);
    snprintf(text, size, "%s, %s%s", figure, fill_origin(value->origin),
             is_idle(r, s, shown, port->symbol) ? "; by hand, not in use" : "");
}
