#include "story.h"

#include "advice.h"
#include "fill.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

/* ---- Lines ---- */

/* Whose ports a line is about. */
typedef enum {
    CHECK, /* Check, of the take */
    MIXED, /* Check, of the mix */
    HEARD, /* the stage, while it listened */
    STAGE, /* the stage, while it mixed */
    NONE,  /* nobody's: said where no other line of the slot was */
    LEVELS /* of the file, as the table has them; said for the text's own sake */
} Whose;

/* Every line is said whose conditions hold, those of a slot one after the other. */
typedef struct {
    Panel panel;
    Slot slot;
    Whose whose;
    const char *stage, *when, *text;
} Line;

static const char *const questions[PANELS] = {
    [PANEL_LEVEL] = "Is it loud enough?",
    [PANEL_COLOUR] = "Is anything in the way of the voice?",
    [PANEL_EVENNESS] = "Do loud and quiet belong together?",
    [PANEL_ESSES] = "Do the esses sting?",
    [PANEL_AMBIENCE] = "What room is it in?",
    [PANEL_TUNING] = "Is it in tune?",
};

#define BEFORE SLOT_BEFORE
#define AFTER  SLOT_AFTER
#define WHY    SLOT_WHY

/* Any of the three places may be free. */
#define ANY_FOUND "found1_freq|found2_freq|found3_freq"

static const Line lines[] = {
    {PANEL_LEVEL, BEFORE, CHECK, "", "voice_level>-199 too_quiet",
     "the voice at {voice_level}, {voice_level~-24} under the window; its highest peak at {peak}"},
    {PANEL_LEVEL, BEFORE, CHECK, "", "voice_level>-199 too_loud",
     "the voice at {voice_level}, {voice_level~-12} over the window; its highest peak at {peak}"},
    {PANEL_LEVEL, BEFORE, CHECK, "", "voice_level>-199 !too_quiet !too_loud",
     "the voice at {voice_level}, in the window; its highest peak at {peak}"},
    {PANEL_LEVEL, BEFORE, CHECK, "", "clipped_samples", "clipped samples: {clipped_samples}"},
    {PANEL_LEVEL, BEFORE, CHECK, "", "flat_tops !clipped_samples>3", "flat tops at {flat_tops_level}: {flat_tops}"},
    {PANEL_LEVEL, BEFORE, NONE, "", "", "no voice that could be measured"},
    {PANEL_LEVEL, AFTER, LEVELS, "", "", ""},
    {PANEL_LEVEL, WHY, STAGE, "trim", "listened voice voice_level>-199 !held_back !gain>29.99",
     "Trim heard the voice and set {+gain} of gain, to bring it to {target}, because what comes after it works best on "
     "a voice whose level it knows."},
    {PANEL_LEVEL, WHY, STAGE, "trim", "listened voice voice_level>-199 held_back",
     "Trim heard the voice and set {+gain} of gain, less than {target} asks for, because its peaks would pass the "
     "ceiling at {ceiling}."},
    {PANEL_LEVEL, WHY, STAGE, "trim", "listened voice voice_level>-199 !held_back gain>29.99",
     "Trim heard the voice and set {+gain} of gain towards {target}; by itself it goes up by 30 dB at most, because "
     "the noise comes up too."},
    {PANEL_LEVEL, WHY, STAGE, "trim", "listened !voice",
     "Trim heard no voice and left the gain at {+gain}, because noise alone says nothing of how loud a voice is."},
    {PANEL_LEVEL, WHY, STAGE, "trim", "!listened", "Trim was on hold from the start and set {+gain} of gain."},
    {PANEL_LEVEL, WHY, STAGE, "chain", "listened voice voice_level>-199 !gain>29.99",
     "Chain heard the voice and set {+gain} of gain, to bring it to {target}, because what comes after it works best "
     "on "
     "a voice whose level it knows."},
    {PANEL_LEVEL, WHY, STAGE, "chain", "listened voice voice_level>-199 gain>29.99",
     "Chain heard the voice and set {+gain} of gain towards {target}; by itself it goes up by 30 dB at most, because "
     "the noise comes up too."},
    {PANEL_LEVEL, WHY, STAGE, "chain", "listened !voice",
     "Chain heard no voice and left the gain at {+gain}, because noise alone says nothing of how loud a voice is."},
    {PANEL_LEVEL, WHY, STAGE, "chain", "!listened", "Chain was on hold from the start and set {+gain} of gain."},
    {PANEL_LEVEL, WHY, NONE, "", "", "No Trim was in this chain, so nothing set the level."},

    {PANEL_COLOUR, BEFORE, HEARD, "tone", "voice listened lowest_note", "a lowest note of {lowest_note}"},
    {PANEL_COLOUR, BEFORE, HEARD, "tone", "voice listened found1_freq",
     "a resonance at {found1_freq}, {found1_sure} sure"},
    {PANEL_COLOUR, BEFORE, HEARD, "tone", "voice listened found2_freq",
     "a resonance at {found2_freq}, {found2_sure} sure"},
    {PANEL_COLOUR, BEFORE, HEARD, "tone", "voice listened found3_freq",
     "a resonance at {found3_freq}, {found3_sure} sure"},
    {PANEL_COLOUR, BEFORE, HEARD, "tone", "voice listened !found1_freq !found2_freq !found3_freq",
     "nothing stood out for sure in {voice_heard} of voice"},
    {PANEL_COLOUR, BEFORE, HEARD, "chain", "voice listened found1_freq", "a resonance at {found1_freq}"},
    {PANEL_COLOUR, BEFORE, HEARD, "chain", "voice listened found2_freq", "a resonance at {found2_freq}"},
    {PANEL_COLOUR, BEFORE, HEARD, "chain", "voice listened found3_freq", "a resonance at {found3_freq}"},
    {PANEL_COLOUR, BEFORE, HEARD, "chain", "voice listened !found1_freq !found2_freq !found3_freq",
     "nothing stood out for sure in {voice_heard} of voice"},
    {PANEL_COLOUR, BEFORE, NONE, "", "", "nothing that could be told"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "low_cut_slope !low_cut_set_by", "L: low cut at {low_cut}, {low_cut_slope}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "low_cut_slope low_cut_set_by found_low_cut",
     "L: low cut at {found_low_cut}, {low_cut_slope}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "low_cut_slope low_cut_set_by !found_low_cut",
     "L: low cut at 60 Hz, {low_cut_slope}, as no note is sure"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "dip1_depth<0 !dips_placed_by", "1: {dip1_depth} at {dip1_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "dip2_depth<0 !dips_placed_by", "2: {dip2_depth} at {dip2_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "dip3_depth<0 !dips_placed_by", "3: {dip3_depth} at {dip3_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "found1_freq dips_placed_by", "1: {found1_depth} at {found1_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "found2_freq dips_placed_by", "2: {found2_depth} at {found2_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "found3_freq dips_placed_by", "3: {found3_depth} at {found3_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "tone", "air_lift", "A: {+air_lift} of air from {air_freq} up"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "!low_cut_set_by", "L: low cut at {low_cut}"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "low_cut_set_by found_low_cut", "L: low cut at {found_low_cut}"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "low_cut_set_by !found_low_cut", "L: low cut at 60 Hz, as no note is sure"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "!dips_placed_by", "dips where the presets of this voice have them"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "found1_freq dips_placed_by", "1: {found1_depth} at {found1_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "found2_freq dips_placed_by", "2: {found2_depth} at {found2_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "found3_freq dips_placed_by", "3: {found3_depth} at {found3_freq}"},
    {PANEL_COLOUR, AFTER, STAGE, "chain", "air_lift", "{+air_lift} of air"},
    {PANEL_COLOUR, AFTER, NONE, "", "", "no low cut, no dip, no air"},
    {PANEL_COLOUR, WHY, STAGE, "tone", "listened voice " ANY_FOUND " dips_placed_by",
     "Tone heard what stands out of this voice and dipped each resonance less deep than it is high, "
     "because a voice should be heard and not the room round it; {+makeup_now} of makeup puts back what that took."},
    {PANEL_COLOUR, WHY, STAGE, "tone", "listened voice !" ANY_FOUND " dips_placed_by",
     "Tone heard nothing that stands out for sure, so it dipped nothing, because what is not sure is left alone."},
    {PANEL_COLOUR, WHY, STAGE, "tone", "listened voice !dips_placed_by !fitted",
     "Tone heard the voice and dipped where the hand put the dips, because they were asked for there."},
    {PANEL_COLOUR, WHY, STAGE, "tone", "listened voice !dips_placed_by fitted",
     "Tone was set so that the voice has the average spectrum of the other vocal, as near as a low cut, three dips and "
     "the air lift come, because that was asked for."},
    {PANEL_COLOUR, WHY, STAGE, "tone", "listened !voice", "Tone heard no voice, so it found nothing to take out."},
    {PANEL_COLOUR, WHY, STAGE, "tone", "!listened", "Tone was on hold from the start and heard nothing."},
    {PANEL_COLOUR, WHY, STAGE, "chain", "listened voice " ANY_FOUND " dips_placed_by",
     "Chain heard what stands out of this voice and dipped each resonance less deep than it is high, because a voice "
     "should be heard and not the room round it; it keeps the loudness as it was."},
    {PANEL_COLOUR, WHY, STAGE, "chain", "listened voice !" ANY_FOUND " dips_placed_by",
     "Chain heard nothing that stands out for sure, so it dipped nothing, because what is not sure is left alone."},
    {PANEL_COLOUR, WHY, STAGE, "chain", "listened voice !dips_placed_by",
     "Chain heard the voice and dipped where the hand put the dips, because they were asked for there."},
    {PANEL_COLOUR, WHY, STAGE, "chain", "listened !voice", "Chain heard no voice, so it found nothing to take out."},
    {PANEL_COLOUR, WHY, STAGE, "chain", "!listened", "Chain was on hold from the start and heard nothing."},
    {PANEL_COLOUR, WHY, NONE, "", "", "No Tone was in this chain, so nothing changed the colour on purpose."},

    {PANEL_EVENNESS, BEFORE, CHECK, "", "phrase_spread", "phrases that spread over {phrase_spread}"},
    {PANEL_EVENNESS, BEFORE, CHECK, "", "voice loudness>-70", "a loudness range of {loudness_range}"},
    {PANEL_EVENNESS, BEFORE, NONE, "", "", "too few phrases to tell how far they spread"},
    {PANEL_EVENNESS, AFTER, MIXED, "", "phrase_spread", "phrases that spread over {phrase_spread}"},
    {PANEL_EVENNESS, AFTER, STAGE, "compressor", "voice usual_reduction",
     "{usual_reduction} of reduction where the voice is loud, {reduction>} at most"},
    {PANEL_EVENNESS, AFTER, STAGE, "compressor", "!usual_reduction", "{reduction>} of reduction at most"},
    {PANEL_EVENNESS, AFTER, STAGE, "chain", "voice usual_reduction",
     "{usual_reduction} of reduction where the voice is loud, {reduction>} at most"},
    {PANEL_EVENNESS, AFTER, STAGE, "chain", "!usual_reduction", "{reduction>} of reduction at most"},
    {PANEL_EVENNESS, AFTER, NONE, "", "", "the same: nothing compressed it"},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "listened voice threshold_set_by usual_reduction",
     "Compressor heard where the voice is loud and set the threshold at {threshold_now}, for {wanted_reduction} of "
     "reduction at {ratio}, because then no word is lost and none jumps out."},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "listened threshold_set_by !usual_reduction",
     "Compressor heard less than a second of voice, or was to turn nothing down, so it turned nothing down."},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "!listened threshold_set_by !usual_reduction",
     "Compressor was on hold from the start and had learned nothing, so it turned nothing down."},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "!listened threshold_set_by usual_reduction",
     "Compressor was on hold from the start, with the threshold at {threshold_now}, as it was learned."},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "!listened !threshold_set_by",
     "Compressor was on hold from the start, with the threshold at {threshold_now}."},
    {PANEL_EVENNESS, WHY, STAGE, "compressor", "listened !threshold_set_by",
     "Compressor kept the threshold at {threshold_now}, by hand, because it was asked to."},
    {PANEL_EVENNESS, WHY, STAGE, "chain", "listened voice usual_reduction",
     "Chain heard where the voice is loud and set the threshold at {threshold_now}, for {wanted_reduction} of "
     "reduction, because then no word is lost and none jumps out."},
    {PANEL_EVENNESS, WHY, STAGE, "chain", "listened !usual_reduction",
     "Chain heard less than a second of voice, or was to turn nothing down, so it turned nothing down."},
    {PANEL_EVENNESS, WHY, STAGE, "chain", "!listened !usual_reduction",
     "Chain was on hold from the start and had learned nothing, so it turned nothing down."},
    {PANEL_EVENNESS, WHY, STAGE, "chain", "!listened usual_reduction",
     "Chain was on hold from the start, with the threshold at {threshold_now}."},
    {PANEL_EVENNESS, WHY, NONE, "", "", "No Compressor was in this chain."},

    {PANEL_ESSES, BEFORE, HEARD, "esses", "voice", "sibilants: {heard#}"},
    {PANEL_ESSES, BEFORE, HEARD, "esses", "voice found_centre", "their centre at {found_centre}"},
    {PANEL_ESSES, BEFORE, HEARD, "chain", "voice found_centre", "sibilants, their centre at {found_centre}"},
    {PANEL_ESSES, BEFORE, NONE, "", "", "nothing that could be told"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "voice caught_share>0.5",
     "caught {caught_share} of the sibilants, cut them by {|cut<} at most"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "voice caught_share !caught_share>0.5",
     "caught less than 1 % of the sibilants, cut them by {|cut<} at most"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "voice !caught_share heard#>1", "caught none of the {heard#} sibilants"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "voice !caught_share heard# !heard#>1", "the one sibilant was not caught"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "voice !caught_share !heard#", "no sibilants, so none was caught"},
    {PANEL_ESSES, AFTER, STAGE, "esses", "!voice", "cut by {|cut<} at most"},
    {PANEL_ESSES, AFTER, STAGE, "chain", "voice caught_share>0.5",
     "caught {caught_share} of the sibilants, cut them by {|cut<} at most"},
    {PANEL_ESSES, AFTER, STAGE, "chain", "voice caught_share !caught_share>0.5",
     "caught less than 1 % of the sibilants, cut them by {|cut<} at most"},
    {PANEL_ESSES, AFTER, STAGE, "chain", "voice !caught_share", "caught no sibilant"},
    {PANEL_ESSES, AFTER, STAGE, "chain", "!voice", "cut by {|cut<} at most"},
    {PANEL_ESSES, AFTER, NONE, "", "", "the same"},
    {PANEL_ESSES, WHY, STAGE, "esses", "voice found_centre",
     "Esses heard how this voice says its s and cuts only what stands {catch_above} or more over that, because an s "
     "that belongs to the voice should stay as it is."},
    {PANEL_ESSES, WHY, STAGE, "esses", "voice !found_centre centre_set_by",
     "Esses heard too few sibilants that it is sure of to know this voice's own, so it caught none, because what is "
     "not sure is left "
     "alone."},
    {PANEL_ESSES, WHY, STAGE, "esses", "!voice", "Esses heard no voice, so there was nothing to catch."},
    {PANEL_ESSES, WHY, STAGE, "chain", "voice found_centre",
     "Chain heard how this voice says its s and cuts only what stands {catch_above} or more over that, because an s "
     "that belongs to the voice should stay as it is."},
    {PANEL_ESSES, WHY, STAGE, "chain", "voice !found_centre",
     "Chain heard too few sibilants that it is sure of to know this voice's own, so it caught none, because what is "
     "not sure is left "
     "alone."},
    {PANEL_ESSES, WHY, STAGE, "chain", "!voice", "Chain heard no voice, so there was nothing to catch."},
    {PANEL_ESSES, WHY, NONE, "", "", "No Esses was in this chain, or it found no sibilants of its own."},

    {PANEL_AMBIENCE, BEFORE, CHECK, "", "decay", "a room with a decay time of {decay}: {room}"},
    {PANEL_AMBIENCE, BEFORE, NONE, "", "",
     "too few notes die away by themselves to tell the room: no rests, or a long decay fills them"},
    {PANEL_AMBIENCE, AFTER, STAGE, "plate", "", "decay {decay}, pre-delay {pre_delay}, wet at {wet}"},
    {PANEL_AMBIENCE, AFTER, STAGE, "plate", "", "kept out under {low_cut}, half the decay at {damping}"},
    {PANEL_AMBIENCE, AFTER, STAGE, "chain", "", "decay {decay}, ambience at {wet}"},
    {PANEL_AMBIENCE, AFTER, NONE, "", "", "the same room: no Plate was in this chain"},
    {PANEL_AMBIENCE, WHY, STAGE, "plate", "",
     "Plate listens to nothing; it gives the voice {decay} of smooth decay, {=decay}, and keeps the low end out of it, "
     "because that is where an ambience turns to mud."},
    {PANEL_AMBIENCE, WHY, STAGE, "chain", "",
     "Chain gives the voice {decay} of smooth decay, {=decay}, and keeps the low end out of it, because that is where "
     "an ambience turns to mud."},
    {PANEL_AMBIENCE, WHY, NONE, "", "", "Nothing added an ambience."},

    {PANEL_TUNING, BEFORE, CHECK, "", "out_of_tune>-1",
     "a tuning {+tuning} off A4 = 440 Hz; {out_of_tune} off equal temperament on average, {far_out} of it over 30"},
    {PANEL_TUNING, BEFORE, NONE, "", "", "too little was sung to tell"},
    {PANEL_TUNING, AFTER, NONE, "", "", "the same: nothing here moves a pitch"},
    {PANEL_TUNING, WHY, CHECK, "", "lowest_pitch",
     "Check heard notes from {lowest_pitch} to {highest_pitch}; nothing was done, because a line that is off is best "
     "sung again."},
    {PANEL_TUNING, WHY, NONE, "", "", "Check heard no note that it is sure of."},
};

const char *story_question(Panel panel)
{
    return questions[panel];
}

/* Behind what is there already; cut where it does not fit. */
static void append(char text[STORY_TEXT], const char *format, ...)
{
    const size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + used, STORY_TEXT - used, format, arguments);
    va_end(arguments);
}

/* What a line is about: false: nobody was there to be asked. */
static bool about(const Line *line, const Report *r, const Readings *mixed, uint32_t index, Said *said)
{
    const StageResult *stage = *line->stage ? facts_stage(r, line->stage, NULL) : NULL;
    *said = (Said){.readings = line->whose == CHECK ? r->check : mixed,
                   .voice = !report_voiceless(r->check) && !r->take[index].voiceless,
                   .listened = stage && stage->lesson.state,
                   .fitted = r->like != NULL};
    if (stage)
        said->readings = line->whose == HEARD ? &stage->lesson.heard : &stage->effect[index].readings;
    return (stage || !*line->stage) && said->readings && said->readings->plugin;
}

static bool say(char *text, size_t size, const Line *line, const Report *r, const Readings *mixed, uint32_t index)
{
    Said said;
    if (line->whose == LEVELS) {
        report_levels(r, index, text, size);
        return true;
    }
    return about(line, r, mixed, index, &said) && fill_holds(&said, line->when) &&
           fill_in(said.readings, line->text, text, size);
}

void story_line(char text[STORY_TEXT], Panel panel, Slot slot, const Report *r, const Readings *mixed, uint32_t index)
{
    text[0] = '\0';
    for (size_t i = 0; i < sizeof lines / sizeof *lines; ++i) {
        char part[STORY_TEXT];
        if (lines[i].panel != panel || lines[i].slot != slot)
            continue;
        if (lines[i].whose == NONE)
            append(text, "%s", *text ? "" : lines[i].text);
        else if (say(part, sizeof part, &lines[i], r, mixed, index))
            append(text, "%s%s", *text ? "; " : "", part);
    }
}

/* ---- Times ---- */

enum { TOLD = 4 /* times that are named one by one */ };

/* Does nothing of it last? */
static bool are_moments(const Lane *lane)
{
    for (size_t i = 0; i < lane->marks; ++i)
        if (lane->mark[i].to - lane->mark[i].from > 1.0)
            return false;
    return true;
}

static void tell_each(char *text, size_t size, const Lane *lane)
{
    size_t used = 0;
    for (size_t i = 0; i < lane->marks && used < size; ++i) {
        char at[32];
        fill_time(lane->mark[i].from, at, sizeof at);
        used += (size_t)snprintf(text + used, size - used, "%s%s",
                                 !i                    ? "at "
                                 : i + 1 < lane->marks ? ", "
                                                       : " and ",
                                 at);
    }
}

void story_when(char *text, size_t size, const Lane *lane)
{
    char from[32], to[32];
    text[0] = '\0';
    if (!lane->marks)
        return;
    fill_time(lane->mark[0].from, from, sizeof from);
    fill_time(lane->mark[lane->marks - 1].to, to, sizeof to);
    if (lane->marks <= TOLD && are_moments(lane))
        tell_each(text, size, lane);
    else if (!strcmp(from, to))
        snprintf(text, size, "at %s", from);
    else
        snprintf(text, size, "from %s to %s", from, to);
}

/* ---- The head ---- */

/* The fault, what is said of it, and a condition besides. */
static const char *const clauses[][3] = {
    {"clipped", "{clipped_samples} clipped samples", "clipped_samples>3"},
    {"clipped", "clipped at {flat_tops_level} before it came in", "!clipped_samples>3"},
    {"too_quiet", "too quiet by {voice_level~-24}"},
    {"too_loud", "too loud by {voice_level~-12}"},
    {"noisy", "noise {signal_to_noise} under the voice"},
    {"hum", "a hum of {hum_mains} mains"},
    {"roomy", "a live room"},
    {"popping", "{pops} pops"},
    {"uneven", "phrases that spread over {phrase_spread}"},
    {"clicking", "{clicks} clicks"},
    {"breathy", "{breaths} loud breaths"},
};

static bool is_on(const Readings *check, const char *symbol)
{
    return fill_holds(&(Said){.readings = check}, symbol);
}

static const Lane *lane_of(const Facts *f, const char *fault)
{
    for (uint32_t k = 0; k < f->lanes; ++k)
        if (!strcmp(f->lane[k].fault->symbol, fault))
            return &f->lane[k];
    return NULL;
}

/* When it was heard is said where it is something that happens, and what was heard is what was counted. */
static void add_faults(char text[STORY_TEXT], const Report *r, const Facts *f, bool first)
{
    const char *between = first ? " " : "; ";
    for (size_t i = 0; i < sizeof clauses / sizeof *clauses; ++i) {
        char part[256], when[128] = "";
        const Lane *lane = lane_of(f, clauses[i][0]);
        const Port *port;
        const Reading *count = lane && lane->count ? readings_of(r->check, lane->count, &port) : NULL;
        if (!is_on(r->check, clauses[i][0]) || (clauses[i][2] && !is_on(r->check, clauses[i][2])) ||
            !fill_in(r->check, clauses[i][1], part, sizeof part))
            continue;
        if (count && (double)count->last == (double)lane->times)
            story_when(when, sizeof when, lane);
        append(text, "%s%s%s%s", between, part, *when ? " " : "", when);
        between = "; ";
    }
}

/* What is wrong between its channels. */
static void add_sides(char text[STORY_TEXT], const Take *t)
{
    if (t->opposite)
        append(text, " the channels cancel each other");
    if (t->lone)
        append(text, " only the %s channel sounds", take_side(t));
    if (t->late != 0.0)
        append(text, "%s the %s channel late by %.1f ms", t->opposite ? ";" : "", take_late_side(t), fabs(t->late));
}

/* A place that stands out. */
typedef struct {
    const Region *region;
    char hz[32];
    bool dipped;
} Place;

enum { PLACES = 3 /* as many as are found at most */ };

static uint32_t places_of(const Readings *shown, Place place[PLACES])
{
    static const char *const ports[PLACES][3] = {{"found1_freq", "found1_depth", "{found1_freq}"},
                                                 {"found2_freq", "found2_depth", "{found2_freq}"},
                                                 {"found3_freq", "found3_depth", "{found3_freq}"}};
    uint32_t n = 0;
    for (size_t i = 0; i < PLACES; ++i) {
        const Port *port;
        const Reading *freq = readings_of(shown, ports[i][0], &port), *depth = readings_of(shown, ports[i][1], &port);
        if (!freq || !depth || !(freq->last > 0.f) || !fill_in(shown, ports[i][2], place[n].hz, sizeof place[n].hz))
            continue;
        place[n].region = region_of((double)freq->last);
        place[n++].dipped = depth->last < 0.f && is_on(shown, "dips_placed_by");
    }
    return n;
}

/* Do both read alike but for the frequency? */
static bool are_alike(const Place *a, const Place *b)
{
    return a->region == b->region && a->dipped == b->dipped;
}

/* "two honking places at 600 Hz and 1.02 kHz, dipped": the first of `n` places, and those of the rest that are like it;
 * these are marked as told. */
static void add_alike(char text[STORY_TEXT], Place *place, uint32_t n)
{
    static const char *const number[PLACES + 1] = {"", "one", "two", "three"};
    uint32_t alike = 0, told = 0;
    for (uint32_t i = 0; i < n; ++i)
        alike += are_alike(&place[i], place);
    append(text, "%s %s place%s at ", number[alike], place->region->like, alike > 1 ? "s" : "");
    const Place first = *place;
    for (uint32_t i = 0; i < n; ++i) {
        if (!are_alike(&place[i], &first))
            continue;
        ++told;
        append(text, "%s%s", told == 1 ? "" : told == alike ? " and " : ", ", place[i].hz);
        place[i].region = NULL;
    }
    append(text, "%s", first.dipped ? ", dipped" : "");
}

/* "; one muddy place at 309 Hz, dipped" */
static void add_places(char text[STORY_TEXT], const Report *r, uint32_t index, bool first)
{
    Place place[PLACES];
    const StageResult *tone = facts_either(r, "tone", NULL);
    const uint32_t n = tone ? places_of(&tone->effect[index].readings, place) : 0;
    for (uint32_t i = 0; i < n; ++i) {
        if (!place[i].region)
            continue;
        append(text, "%s", first ? " " : "; ");
        add_alike(text, place + i, n - i);
        first = false;
    }
}

void story_head(char text[STORY_TEXT], const Report *r, const Facts *f, uint32_t index)
{
    text[0] = '\0';
    append(text, "%s", report_verdict(r->check, &r->take[index]));
    const size_t judged = strlen(text);
    if (!report_voiceless(r->check)) {
        add_sides(text, &r->take[index]);
        add_faults(text, r, f, strlen(text) == judged);
        add_places(text, r, index, strlen(text) == judged);
    }
    if (strlen(text) == judged)
        return;
    append(text, ".");
    if (text[judged + 1] >= 'a' && text[judged + 1] <= 'z')
        text[judged + 1] = (char)(text[judged + 1] - 'a' + 'A');
}
