#include "like_settings.h"

#include <string.h>
#include <strings.h>

static const char *const dip_ports[TONE_EVEN_DIPS][4] = {{"dip1_freq", "dip1_depth", "dip1_width", "dip1_when"},
                                                         {"dip2_freq", "dip2_depth", "dip2_width", "dip2_when"},
                                                         {"dip3_freq", "dip3_depth", "dip3_width", "dip3_when"}};

typedef struct {
    LikeValues *values;
    Setting *set;
    uint32_t n;
} Writing;

static void put(Writing *w, const char *plugin, const char *symbol, const char *format, double value)
{
    Setting *s = &w->set[w->n];
    char *text = w->values->text[w->n++];
    snprintf(text, sizeof w->values->text[0], format, value);
    *s = (Setting){.value = text, .fitted = true};
    snprintf(s->plugin, sizeof s->plugin, "%s", plugin);
    snprintf(s->symbol, sizeof s->symbol, "%s", symbol);
}

/* The slope's choices are off, 12, 18 and 24 dB per octave: orders 0, 2, 3 and 4. */
static void put_tone(Writing *w, const ToneCurve *c)
{
    put(w, "tone", "low_cut_set_by", "%.0f", 0.0);
    put(w, "tone", "low_cut_slope", "%.0f", c->order > 0.0 ? c->order - 1.0 : 0.0);
    put(w, "tone", "low_cut", "%.1f", c->low_cut);
    put(w, "tone", "dips_placed_by", "%.0f", 0.0);
    for (uint32_t i = 0; i < TONE_EVEN_DIPS; ++i) {
        put(w, "tone", dip_ports[i][0], "%.1f", c->dip_hz[i]);
        put(w, "tone", dip_ports[i][1], "%.2f", c->dip_db[i]);
        put(w, "tone", dip_ports[i][2], "%.3f", c->dip_octaves[i]);
        put(w, "tone", dip_ports[i][3], "%.0f", 0.0);
    }
    put(w, "tone", "air_freq", "%.0f", c->air_hz);
    put(w, "tone", "air_lift", "%.2f", c->air_db);
}

uint32_t like_settings(const LikeMoves *moves, LikeValues *values, Setting *set)
{
    Writing w = {values, set, 0};
    put_tone(&w, &moves->tone);
    if (moves->compressor) {
        put(&w, "compressor", "threshold_set_by", "%.0f", 1.0);
        put(&w, "compressor", "wanted_reduction", "%.1f", moves->reduction);
    }
    return w.n;
}

bool like_sets(const char *plugin, const char *symbol)
{
    LikeValues values = {0};
    Setting set[LIKE_SETTINGS];
    const uint32_t n = like_settings(&(LikeMoves){.compressor = true}, &values, set);
    for (uint32_t i = 0; i < n; ++i)
        if (!strcasecmp(set[i].plugin, plugin) && !strcmp(set[i].symbol, symbol))
            return true;
    return false;
}
